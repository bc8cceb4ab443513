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
