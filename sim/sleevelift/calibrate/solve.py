"""Least squares from several starts, each kept on disk as it ends.

The case as it stands is one start; the others are the best of `SCREENED` points spread evenly over the ranges. The loss is
soft L1 beyond `BEND` noise widths, so that a spike of the sensor, or a stretch that the model does not know, pulls little.
scipy.optimize.least_squares (trust region reflective) works on the compiled solver.

Steps are those of reweighted least squares (Holland and Welsch, Communications in Statistics A6, 1977, 813): far from the end most
residuals lie on the straight part of the loss, whose own curvature is next to none and sends every other step too far. From
afar the loss bends later (`WIDE_BEND`). On five values and six channels both together take two thirds of the runs.
"""

import hashlib
import io
import json
import math
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.calibrate.data import NOTHING_KNOWN, Experiment, Settings
from sleevelift.calibrate.free import Free
from sleevelift.calibrate.problem import ZERO, Problem
from sleevelift.report.files import json_text, write_text_atomically
from sleevelift.study.mark import computing_mark
from sleevelift.study.store import ALONE, DIGEST, PARTS, Piece, Work, finished

STARTS = 3
SCREENED = 32
"""points of which the best become starts"""
BEND = 3.0
"""-. Noise widths beyond which a residual counts in proportion, no more by its square."""
FEW = 3
"""Parameters below which steps are solved exactly, by a decomposition that starts threads and then takes longer than the runs; from
here on iteratively (scipy's iterative one needs two)."""
MOST_STEPS = 40
WIDE_BEND, ON_THE_WAY = 100.0, 0.1
"""-. Noise widths beyond which a residual counts in proportion at first; relative change of cost at which that is enough."""
REUSED_WITHIN, REUSED_WITHIN_MS = 0.01, 0.1
"""-, ms. Two-sided differences serve all points where no free value and no clock or lag is farther from where they were made:
two and a half of their steps."""
NEAR, CLOSE_ENOUGH = 3e-4, 1e-6
"""-. Relative change of cost and of parameters at which one-sided differences give way to two-sided ones, and at which the end is
reached: of a few thousand samples a hundredth of what one standard deviation changes."""
TAKEN_ON, RIVAL = 2, 1.05
"""Starts that are taken to their end at most; cost, over the best one's, up to which a start is."""


Slopes = Callable[[np.ndarray], np.ndarray]
"""p -> Jacobian"""


class Ended(NamedTuple):
    """What one start came to."""

    p: np.ndarray
    cost: float
    steps: int
    runs: int


def cost(residuals: np.ndarray) -> float:
    """Half the sum of the losses, as scipy counts it."""
    z = (residuals / BEND) ** 2
    return float(0.5 * BEND**2 * np.sum(2.0 * (np.sqrt(1.0 + z) - 1.0)))


def reweighted(z: np.ndarray) -> np.ndarray:
    """Soft L1 of z = (residual / bend)^2 and its slope, (3, n); no curvature of its own."""
    root = np.sqrt(1.0 + z)
    return np.array([2.0 * (root - 1.0), 1.0 / root, np.zeros_like(z)])


def _descended(problem: Problem, slopes: Slopes, p: np.ndarray, close: float, bend: float = BEND) -> Ended:
    """Least squares from p with these derivatives, until a step changes less than `close`."""
    from scipy.optimize import least_squares

    few = len(p) < FEW
    found = least_squares(
        problem.residuals, p, jac=slopes, bounds=problem.bounds(), loss=reweighted, f_scale=bend, x_scale="jac", ftol=close,
        xtol=close, gtol=None, max_nfev=MOST_STEPS, tr_solver="exact" if few else "lsmr",
        tr_options={} if few else {"regularize": False, "atol": 1e-12, "btol": 1e-12, "maxiter": 100},
    )  # fmt: skip
    return Ended(found.x, float(found.cost), int(found.nfev), problem.runs_made)


def _inside(problem: Problem, p: np.ndarray, share: float) -> np.ndarray:
    """p, no nearer to the ends of its ranges than a share of them."""
    low, high = problem.bounds()
    return np.clip(p, low + share * (high - low), high - share * (high - low))


def from_start(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, start: np.ndarray, pool: Executor | None = None
) -> Ended:
    """From one start to near its end, with one-sided differences. pool: threads that make the runs of each Jacobian."""
    problem = Problem(tests, free, settings)

    def slopes(p: np.ndarray) -> np.ndarray:
        return problem.jacobian(p, False, pool)

    on_the_way = _descended(problem, slopes, _inside(problem, start, 1e-4), ON_THE_WAY, WIDE_BEND)
    near = _descended(problem, slopes, _inside(problem, on_the_way.p, 1e-6), NEAR)
    return near._replace(steps=on_the_way.steps + near.steps)


def to_end(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, near: np.ndarray, pool: Executor | None = None
) -> Ended:
    """From near the end to it, with two-sided differences, made anew where they are too far off."""
    problem = Problem(tests, free, settings)
    linear = [math.inf if one.what == ZERO else REUSED_WITHIN_MS for one in problem.nuisances]
    reach = np.array([REUSED_WITHIN] * problem.n_free + linear)
    made: list[tuple[np.ndarray, np.ndarray]] = []

    def slopes(p: np.ndarray) -> np.ndarray:
        if not made or np.any(np.abs(p - made[-1][0]) > reach):
            made[:] = [(p.copy(), problem.jacobian(p, pool=pool))]
        return made[-1][1].copy()

    return _descended(problem, slopes, _inside(problem, near, 1e-9), CLOSE_ENOUGH)


def screened(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, point: np.ndarray, pool: Executor | None = None
) -> Ended:
    """A point of the ranges, its clocks and lags as they begin: its cost."""
    problem = Problem(tests, free, settings)
    return Ended(point, cost(problem.residuals(point)), 0, problem.runs_made)


def points(problem: Problem, count: int, seed: int) -> list[np.ndarray]:
    """The case as it stands, then points over the ranges of the free values.

    They are those of the additive recurrence k a mod 1 with a_i = g^-i, g the positive root of g^(n + 1) = g + 1, the golden ratio
    in n dimensions, shifted by the seed's own random numbers: evenly spread, however many there are.
    """
    first = problem.start()
    n = problem.n_free
    if count == 0 or n == 0:
        return [first]
    g = 2.0
    for _ in range(60):
        g = (1.0 + g) ** (1.0 / (n + 1.0))
    shift = np.random.default_rng(seed).random(n)
    rows = (shift + np.arange(1, count + 1)[:, None] * g ** -np.arange(1.0, n + 1.0)) % 1.0
    return [first, *[np.concatenate([row, first[n:]]) for row in rows]]


def ended_bytes(ended: Ended) -> bytes:
    """A start as checksum and npz."""
    buffer = io.BytesIO()
    np.savez_compressed(buffer, p=ended.p, rest=np.array([ended.cost, ended.steps, ended.runs]))
    content = buffer.getvalue()
    return hashlib.sha256(content).digest() + content


def ended_of(content: bytes, size: int) -> Ended | None:
    """The start in a part; None where it is damaged."""
    mark, body = content[:DIGEST], content[DIGEST:]
    if hashlib.sha256(body).digest() != mark:
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as data:
        if data["p"].shape != (size,):
            return None
        value, steps, runs = data["rest"].tolist()
        return Ended(data["p"].copy(), value, int(steps), int(runs))


def own_mark() -> str:
    """Hash of the sources that a fit depends on beside the program's (`computing_mark`)."""
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def fit_key(tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, seed: int) -> str:
    """Hash of everything that the numbers of a fit depend on."""
    told: list[Any] = [computing_mark(), own_mark(), [one._asdict() for one in free], seed]
    told.append([dict(settings.noise), dict(settings.lag), dict(settings.zero), settings.offset])
    for test in tests:
        digest = hashlib.sha256(test.case.model_dump_json(warnings=False).encode())
        for one in test.series:
            digest.update(one.value.tobytes() + one.bins.start.tobytes() + repr((one.header, one.sigma)).encode())
        told.append([digest.hexdigest(), [one._asdict() for one in test.numbers], list(test.clock)])
    return hashlib.sha256(json.dumps(told, default=repr, sort_keys=True).encode()).hexdigest()[:24]


def fitted(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings = NOTHING_KNOWN, work: Work = ALONE, seed: int = 0,
    starts: int = STARTS, pool: Executor | None = None,
) -> list[Ended]:  # fmt: skip
    """What each start came to, the best first. pool: threads that make the runs of each Jacobian; the starts have their own."""
    problem = Problem(tests, free, settings)
    size = len(problem.start())
    place = None
    if work.folder is not None:
        place = work.folder / PARTS / fit_key(tests, free, settings, seed)
        place.mkdir(parents=True, exist_ok=True)
        told = {"program": computing_mark(), "study": {"free": [one.path for one in free], "seed": seed}}
        write_text_atomically(place / "manifest.json", json_text(told))

    def read(path: Path, lanes: int) -> Ended | None:
        try:
            return ended_of(path.read_bytes(), size)
        except (OSError, ValueError, KeyError):
            return None

    def pieces(make: Any, each: Sequence[np.ndarray], name: str) -> list[Piece]:
        paths = [None if place is None else place / f"{name}-{k:02d}.npz" for k in range(len(each))]
        return [Piece(make, (list(tests), list(free), settings, point, pool), 1, path) for point, path in zip(each, paths)]

    first = points(problem, SCREENED if starts > 1 else 0, seed)
    chosen = first[:1]
    if len(first) > 1:
        seen = finished(pieces(screened, first, "point"), work._replace(progress=None), read, ended_bytes)
        order = sorted(range(1, len(first)), key=lambda k: seen[k].cost)
        chosen += [first[k] for k in order[: starts - 1]]
    found = sorted(finished(pieces(from_start, chosen, "start"), work, read, ended_bytes), key=lambda one: one.cost)
    taken = [one for one in found[:TAKEN_ON] if is_rival(one, found[0])]
    ends = finished(pieces(to_end, [one.p for one in taken], "end"), work._replace(progress=None), read, ended_bytes)
    ends = [end._replace(steps=end.steps + one.steps, runs=end.runs + one.runs) for end, one in zip(ends, taken)]
    return sorted(ends, key=lambda one: one.cost) + found[len(taken) :]


def is_rival(one: Ended, best: Ended) -> bool:
    """Whether a start came about as far as the best."""
    return one.cost <= RIVAL * best.cost + BEND**2
