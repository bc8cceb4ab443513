"""Noise of a measured channel, from its quiet parts.

Blocks of samples that follow one another are each compared with their own straight line; where nothing happens only noise is
left, so the quietest blocks show it. Before a command, where that is known, all blocks are quiet. A coarse converter hides
noise in its step: no channel is taken as finer than q / sqrt(12), the spread of values rounded to steps q.
"""

import numpy as np

BLOCK = 12
"""samples of a block: enough to fit a line, few enough to find quiet parts"""
QUIET_SHARE = 0.3
"""-. Of the blocks, the quietest are taken as quiet."""
LOW_BY = 0.56
"""-. Variance of the median of those blocks over the noise's, if all of the record is quiet: the 15th percentile of a chi-square
of 10 over 10 (scipy.stats.chi2). Where less of it is quiet the noise comes out up to a tenth too large."""
FEWEST = 3 * BLOCK
"""samples below which no noise is estimated"""
STEPS_AT_LEAST = 4
"""samples per distinct value, on average, from which a signal counts as rounded to steps"""


def quantum(values: np.ndarray) -> float:
    """Step of the converter, in the unit of the values; 0 where none shows.

    >>> quantum(np.array([0.0, 0.5, 0.5, 1.0, 0.5, 0.0, 0.0, 0.5, 0.5, 1.0, 1.0, 1.0]))
    0.5
    """
    levels = np.unique(values)
    if len(levels) < 2 or len(levels) * STEPS_AT_LEAST > len(values):
        return 0.0
    return float(np.diff(levels).min())


def block_variances(values: np.ndarray) -> np.ndarray:
    """Variance about its own line of each block, unit squared."""
    count = len(values) // BLOCK
    if count == 0:
        return np.zeros(0)
    blocks = values[: count * BLOCK].reshape(count, BLOCK)
    x = np.linspace(-1.0, 1.0, BLOCK)
    rest = blocks - blocks.mean(axis=1, keepdims=True)
    rest = rest - np.outer(rest @ x / (x @ x), x)
    return (rest**2).sum(axis=1) / (BLOCK - 2)


def noise(values: np.ndarray, quiet: int = 0) -> float:
    """Standard deviation of the noise, in the unit of the values; NaN of too few samples.

    quiet: so many samples from the first are known to be quiet; with fewer than `FEWEST` of them the quietest blocks of the whole
    are taken.
    """
    if len(values) < FEWEST:
        return float("nan")
    if quiet >= FEWEST:
        found = float(np.sqrt(block_variances(values[:quiet]).mean()))
    else:
        variances = np.sort(block_variances(values))
        found = float(np.sqrt(np.median(variances[: max(1, round(QUIET_SHARE * len(variances)))]) / LOW_BY))
    return max(found, quantum(values) / np.sqrt(12.0))


ALONE_NOISE, ALONE_SHARE = 20.0, 0.05
"""-. Times the noise, and share of the span, by which a sample that stands alone is off both neighbours."""
TOGETHER = 0.2
"""-. Share of that by which its neighbours may differ."""


def _beside(values: np.ndarray) -> np.ndarray:
    """(n,) each value, but between the two beside it: of the three the one in the middle; ends as they are."""
    out = values.copy()
    if len(values) > 2:
        out[1:-1] = np.median(np.column_stack([values[:-2], values[1:-1], values[2:]]), axis=1)
    return out


def robust_span(values: np.ndarray) -> float:
    """Highest less lowest, samples that stand alone left out.

    >>> robust_span(np.array([1.0, 1.0, 943.0, 1.5, 2.0, 2.0]))
    1.0
    """
    middle = _beside(values)[1:-1] if len(values) > 4 else values
    return float(middle.max() - middle.min())


def lone(values: np.ndarray) -> np.ndarray:
    """Places of samples that stand alone: far from two neighbours that agree. None of a signal that is as steep from sample to
    sample, nor of the ends, nor of so few samples that their noise is not known.

    >>> lone(np.concatenate([np.ones(40), [943.0], np.ones(40)])).tolist()
    [40]
    """
    if len(values) < FEWEST + 2:
        return np.zeros(0, dtype=np.int64)
    off = np.minimum(np.abs(values[1:-1] - values[:-2]), np.abs(values[1:-1] - values[2:]))
    apart = np.abs(values[2:] - values[:-2])
    sigma = noise(_beside(values))
    least = max(ALONE_NOISE * sigma, ALONE_SHARE * robust_span(values))
    return np.flatnonzero((off > least) & (apart < TOGETHER * off)) + 1
