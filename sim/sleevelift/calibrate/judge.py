"""What a fit is worth: intervals, pairs that the data cannot tell apart, misfits that no value mends, and where in time.

    covariance = H^-1 B H^-1,   H = sum over channels of mean(psi') J' J,   B = sum over channels of mean(psi^2) tau J' J

psi: the residuals as the robust loss counts them, psi' its slope (Huber, Proc. 5th Berkeley Symp. 1, 1967, 221). tau: how many
samples of a channel count as one, from the residuals' own correlation. A value at the end of its range is taken as fixed there.
What the data leave open is held by the width of its range, as one standard deviation.
"""

import math
from collections.abc import Sequence
from concurrent.futures import Executor
from typing import NamedTuple

import numpy as np

from sleevelift.calibrate.data import TWO_SIDED
from sleevelift.calibrate.problem import ZERO, Problem
from sleevelift.calibrate.runs import first_on
from sleevelift.calibrate.solve import BEND

ALIKE = 0.95
"""-. Correlation from which two values are called not told apart."""
RESOLVED = 0.01
"""-. Relative error of the differences by which a fit sees what a value does: a grid of 0.1 ms and steps of the solver."""
WIDE = 0.1
"""-. Half-width of an interval, as a share of the range, from which it matters that values are not told apart."""
IN_DIRECTION = 0.3
"""-. Part of a value in the least known direction from which it belongs to it."""
AT_END = 2e-3
"""-. Share of its range within which a value is at its end."""
RMS_EXPLAINED = 1.3
"""-. A channel whose residuals are wider than this times its noise is not explained."""
STRETCH = 5.5
"""-. Standard deviations of the mean over a stretch from which it is no chance: once in 1e7 stretches."""
MATTERS = 0.01
"""-. Share of a channel's span below which a stretch is of no consequence, however sure."""
LEAST_SCALE = 0.25
"""-. A channel's noise is not taken as less than half of what was estimated or given."""
LAG_PRIOR, U_PRIOR = 20.0, 1.0
"""ms, -. One standard deviation of what nothing is known of."""
NUMBER_OFF = 2.0
"""-. Standard deviations from which a single number is called not explained."""
MOST_LAGS = 200
TAKEN_OVER = 2.0
"""-. Times by which a value's interval is wider for a zero that is found with it, from which that is said."""


class Interval(NamedTuple):
    """One fitted value."""

    name: str
    u: float
    sigma: float
    """of u (free values) or ms (clocks, lags)"""
    at_end: str
    """"low", "high", or empty"""
    open: bool
    """whether the data leave it as wide as half its range"""


class Group(NamedTuple):
    """Values that the data tell apart badly: one rises with the other and nothing is seen of it."""

    names: tuple[str, ...]
    correlation: float
    """largest between two of them, by size"""
    wide: bool
    """whether the interval of one of them is wider than `WIDE` of its range for it"""


class Taken(NamedTuple):
    """A zero that takes over what a value of the case should explain."""

    zero: str
    value: str
    times: float
    """by so much narrower the value's interval is with that zero held"""


class Rest(NamedTuple):
    """What a channel whose zero is found shows before the first command; SI."""

    zero: str
    off: float
    """mean above the model without that zero"""
    sigma: float


class Stretch(NamedTuple):
    """Where in time a channel leaves the model."""

    begin: float
    """s of the run"""
    end: float
    mean: float
    """SI, measured less model"""
    sigmas: float


class Judged(NamedTuple):
    """A channel after the fit."""

    test: str
    header: str
    quantity: str
    rms: float
    """of the residuals, in noise widths"""
    together: float
    """samples that count as one"""
    stretches: tuple[Stretch, ...]
    explained: bool


class Verdict(NamedTuple):
    """What a fit is worth."""

    intervals: tuple[Interval, ...]
    groups: tuple[Group, ...]
    channels: tuple[Judged, ...]
    numbers: tuple[tuple[str, str, float], ...]
    """(test, measure, residual in standard deviations)"""
    covariance: np.ndarray
    """(n, n) of all parameters"""
    taken: tuple[Taken, ...] = ()
    rests: tuple[Rest, ...] = ()

    @property
    def explained(self) -> bool:
        """Whether the model explains everything that was measured."""
        return all(one.explained for one in self.channels) and all(abs(rest) < NUMBER_OFF for _, _, rest in self.numbers)


def samples_together(rest: np.ndarray) -> float:
    """How many samples of a residual count as one: 1 + 2 x the sum of its autocorrelation while it stands out; at least 1."""
    x = rest - rest.mean()
    power = float(x @ x)
    if power <= 0.0 or len(x) < 10:
        return 1.0
    total = 1.0
    for k in range(1, min(MOST_LAGS, len(x) // 4)):
        share = float(x[:-k] @ x[k:]) / power
        if share <= 2.0 / math.sqrt(len(x)):
            break
        total += 2.0 * share
    return total


def stretches(rest: np.ndarray, sigma: float, span: float, middle: np.ndarray) -> list[Stretch]:
    """Stretches whose mean is no chance and matters, the surest first, none inside another.

    rest: (n,) in noise widths, measured less model; sigma: SI; middle: (n,) s of the run.
    """
    total = np.concatenate([[0.0], np.cumsum(np.clip(rest, -20.0, 20.0))])
    found: list[tuple[float, int, int]] = []
    width = 3
    while width <= len(rest) // 2:
        mean = (total[width:] - total[:-width]) / width
        sure = np.abs(mean) * math.sqrt(width)
        sure[np.abs(mean) * sigma < MATTERS * span] = 0.0
        for k in np.argsort(sure)[::-1][:5]:
            if sure[k] > STRETCH:
                found.append(_sharpened(total, int(k), int(k) + width))
        width = int(1.5 * width) + 1
    kept: list[tuple[float, int, int]] = []
    for one in sorted(found, reverse=True):
        if all(one[2] <= other[1] or one[1] >= other[2] for other in kept):
            kept.append(one)
    return [Stretch(float(middle[a]), float(middle[b - 1]), float(rest[a:b].mean()) * sigma, sure) for sure, a, b in kept[:3]]


def _sharpened(total: np.ndarray, a: int, b: int) -> tuple[float, int, int]:
    """(standard deviations, first, last + 1) of a stretch whose ends were moved until its mean stands out most."""

    def sure(ends: tuple[int, int]) -> float:
        begin, end = ends
        if begin < 0 or end >= len(total) or end - begin < 3:
            return 0.0
        return abs(float(total[end] - total[begin])) / math.sqrt(end - begin)

    here = (a, b)
    while True:
        near = [(here[0] + i, here[1] + j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        best = max(near, key=sure)
        if sure(best) <= sure(here):
            return sure(here), *here
        here = best


def _ends(problem: Problem, p: np.ndarray) -> list[str]:
    low, high = problem.bounds()
    width = high - low
    return ["low" if x - a < AT_END * w else "high" if b - x < AT_END * w else "" for x, a, b, w in zip(p, low, high, width)]


def names_of(problem: Problem) -> list[str]:
    """Name of every parameter."""
    tests = [test.name for test in problem.tests]
    free = [one.path if one.owner is None else f"{one.path} ({tests[one.owner]})" for one in problem.free]
    return free + [one.name for one in problem.nuisances]


def _resolved(h: np.ndarray) -> np.ndarray:
    """Projection, (n, n), that takes out the directions of which channels only seem to say something: differences are good to
    `RESOLVED`, so what is less of a parameter's own effect may be their error."""
    size = np.sqrt(np.maximum(np.diag(h), 1e-300))
    values, vectors = np.linalg.eigh(h / np.outer(size, size))
    lost = vectors[:, values < RESOLVED**2]
    return (np.eye(len(h)) - lost @ lost.T) * size[None, :] / size[:, None]


def covariance(problem: Problem, p: np.ndarray, jacobian: np.ndarray, rest: np.ndarray, fixed: Sequence[bool]) -> np.ndarray:
    """(n, n); rows and columns of fixed parameters are 0."""
    moves = [k for k in range(len(p)) if not fixed[k]]
    psi = rest / np.sqrt(1.0 + (rest / BEND) ** 2)
    slope = (1.0 + (rest / BEND) ** 2) ** -1.5
    j = jacobian[:, moves]
    zeros = {problem.n_free + k: one.high for k, one in enumerate(problem.nuisances) if one.what == ZERO}
    prior = np.array([U_PRIOR if k < problem.n_free else zeros.get(k, LAG_PRIOR) for k in moves])
    h, b = np.zeros((len(moves), len(moves))), np.zeros((len(moves), len(moves)))
    known = np.diag(prior**-2.0)
    for _, series, place in problem.places():
        if place.stop == place.start:
            continue
        square = j[place].T @ j[place]
        if series < 0:  # numbers and clocks: their spread is known
            known += square
        else:
            h += float(np.mean(slope[place])) * square
            b += max(float(np.mean(psi[place] ** 2)), LEAST_SCALE) * samples_together(psi[place]) * square
    told = _resolved(h)
    h, b = told.T @ h @ told + known, told.T @ b @ told + known
    inverse = np.linalg.inv(h)
    out = np.zeros((len(p), len(p)))
    out[np.ix_(moves, moves)] = inverse @ b @ inverse
    return out


def judged(problem: Problem, p: np.ndarray, pool: Executor | None = None) -> Verdict:
    """The worth of a fit at its parameters p. pool: threads that make its runs."""
    rest, jacobian = problem.residuals(p), problem.jacobian(p, pool=pool)
    ends = _ends(problem, p)
    cov = covariance(problem, p, jacobian, rest, [bool(end) for end in ends])
    names = names_of(problem)
    sigma = np.sqrt(np.diag(cov))
    intervals = tuple(
        Interval(name, float(p[k]), float(sigma[k]), ends[k], k < problem.n_free and not ends[k] and TWO_SIDED * sigma[k] > 0.5)
        for k, name in enumerate(names)
    )
    channels, numbers = [], []
    for test, series, place in problem.places():
        mine = problem.tests[test]
        if series == -1:
            numbers += [(mine.name, one.measure, float(r)) for one, r in zip(mine.numbers, rest[place])]
        elif series >= 0:
            one = mine.series[series]
            clock = problem.clock_offset(p, test)
            rms = float(np.sqrt(np.mean(np.minimum(rest[place] ** 2, 400.0))))
            found = stretches(-rest[place], one.sigma, one.span, one.bins.middle - clock)
            good = rms < RMS_EXPLAINED and not found
            small = rms * one.sigma < 0.3 * MATTERS * one.span and not found
            channels.append(
                Judged(mine.name, one.header, one.quantity, rms, samples_together(rest[place]), tuple(found), good or small)
            )
    groups = tuple(groups_of(names, cov, problem.n_free))
    taken = tuple(taken_over(problem, p, jacobian, rest, [bool(end) for end in ends]))
    return Verdict(intervals, groups, tuple(channels), tuple(numbers), cov, taken, tuple(rests_of(problem, p)))


def taken_over(problem: Problem, p: np.ndarray, jacobian: np.ndarray, rest: np.ndarray, fixed: Sequence[bool]) -> list[Taken]:
    """Values of the case whose interval is `TAKEN_OVER` times narrower, or more, with one zero held. A value at its end counts as
    free here: a zero may have sent it there."""
    names, found = names_of(problem), []
    loose = [end and k >= problem.n_free for k, end in enumerate(fixed)]

    def spread(at: int, hold: bool) -> np.ndarray:
        """Standard deviation of each parameter with the zero at this place free or held."""
        held = [hold if j == at else end for j, end in enumerate(loose)]
        return np.sqrt(np.diag(covariance(problem, p, jacobian, rest, held)))

    for k, one in enumerate(problem.nuisances):
        at = problem.n_free + k
        if one.what != ZERO:
            continue
        with_zero, held = spread(at, False), spread(at, True)
        for j in range(problem.n_free):
            if with_zero[j] > TAKEN_OVER * held[j] > 0.0:
                found.append(Taken(names[at], names[j], float(with_zero[j] / held[j])))
    return found


def rests_of(problem: Problem, p: np.ndarray) -> list[Rest]:
    """What channels whose zero is found show at rest, where the clock is known and samples precede the first command."""
    found = []
    for one in problem.nuisances:
        if one.what != ZERO or not math.isfinite(problem.tests[one.test].clock.sigma):
            continue
        series = problem.tests[one.test].series[one.series]
        on = first_on(problem.tests[one.test].case)
        early = series.bins.end < problem.clock_offset(p, one.test) + on
        if early.sum() >= 3:
            model = problem.model(p, one.test, one.series) - problem.zero(p, one.test, one.series)
            off = float(np.mean((series.value - model)[early]))
            found.append(Rest(one.name, off, series.sigma / math.sqrt(float(early.sum()))))
    return found


def groups_of(names: Sequence[str], cov: np.ndarray, n_free: int) -> list[Group]:
    """Values that hang together: by pairs, and by the direction in which the data say least (singular vector of the scaled
    Jacobian with the least singular value), where that is wide."""
    sigma = np.sqrt(np.diag(cov))
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.nan_to_num(cov / np.outer(sigma, sigma))
    near = np.abs(share) > ALIKE
    spread, direction = np.linalg.eigh(cov[:n_free, :n_free])
    if n_free and TWO_SIDED * math.sqrt(max(float(spread[-1]), 0.0)) > WIDE:
        strong = np.flatnonzero(np.abs(direction[:, -1]) > IN_DIRECTION)
        if len(strong) > 2:  # of two the correlation says it
            near[np.ix_(strong, strong)] = True
    left, found = set(range(n_free)), []
    while left:
        members, fresh = set(), {left.pop()}
        while fresh:
            members |= fresh
            fresh = {int(j) for i in fresh for j in np.flatnonzero(near[i])} - members
        left -= members
        if len(members) > 1:
            order = sorted(members)
            block = share[np.ix_(order, order)] - np.eye(len(order))
            largest = float(block.flat[int(np.argmax(np.abs(block)))])
            wide = bool(any(TWO_SIDED * sigma[k] > WIDE for k in order if k < n_free))
            found.append(Group(tuple(names[k] for k in order), largest, wide))
    return sorted(found, key=lambda one: -abs(one.correlation))


def value_interval(problem: Problem, verdict: Verdict, k: int) -> tuple[float, float, float]:
    """(value, low, high) of free value k with its 90 % interval, SI, inside its range."""
    free, one = problem.free[k], verdict.intervals[k]
    half = TWO_SIDED * one.sigma
    return tuple(free.value(min(max(one.u + d, 0.0), 1.0)) for d in (0.0, -half, half))  # type: ignore[return-value]
