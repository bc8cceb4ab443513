"""Least squares from several starts, each kept on disk as it ends.

The case as it stands is one start; the others are the best of `SCREENED` points of a Sobol' sequence over the ranges. The loss is
soft L1 beyond `BEND` noise widths, so that a spike of the sensor, or a stretch that the model does not know, pulls little.
scipy.optimize.least_squares (trust region reflective) works on the compiled solver.
"""

import hashlib
import io
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.calibrate.data import NOTHING_KNOWN, Experiment, Settings
from sleevelift.calibrate.free import Free
from sleevelift.calibrate.problem import Problem
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
NEAR, CLOSE_ENOUGH = 3e-4, 1e-6
"""-. Relative change of cost and of parameters at which one-sided differences give way to two-sided ones, and at which the end is
reached: of a few thousand samples a hundredth of what one standard deviation changes."""
TAKEN_ON, RIVAL = 2, 1.05
"""Starts that are taken to their end at most; cost, over the best one's, up to which a start is."""


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


def _descended(problem: Problem, slopes: Any, p: np.ndarray, close: float) -> Ended:
    """Least squares from p with these derivatives, until a step changes less than `close`."""
    from scipy.optimize import least_squares

    low, high = problem.bounds()
    few = len(p) < FEW
    found = least_squares(
        problem.residuals, p, jac=slopes, bounds=(low, high), loss="soft_l1", f_scale=BEND, x_scale="jac", ftol=close, xtol=close,
        gtol=None, max_nfev=MOST_STEPS, tr_solver="exact" if few else "lsmr",
        tr_options={} if few else {"regularize": False, "atol": 1e-12, "btol": 1e-12, "maxiter": 100},
    )  # fmt: skip
    return Ended(found.x, float(found.cost), int(found.nfev), problem.runs_made)


def from_start(tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, start: np.ndarray) -> Ended:
    """From one start to near its end, with one-sided differences."""
    problem = Problem(tests, free, settings)
    low, high = problem.bounds()
    inside = np.clip(start, low + 1e-4 * (high - low), high - 1e-4 * (high - low))
    return _descended(problem, problem.slopes, inside, NEAR)


def to_end(tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, near: np.ndarray) -> Ended:
    """From near the end to it, with two-sided differences."""
    problem = Problem(tests, free, settings)
    low, high = problem.bounds()
    return _descended(problem, problem.jacobian, np.clip(near, low + 1e-9 * (high - low), high - 1e-9 * (high - low)), CLOSE_ENOUGH)


def screened(tests: Sequence[Experiment], free: Sequence[Free], settings: Settings, point: np.ndarray) -> Ended:
    """A point of the ranges, its clocks and lags as they begin: its cost."""
    problem = Problem(tests, free, settings)
    return Ended(point, cost(problem.residuals(point)), 0, problem.runs_made)


def points(problem: Problem, count: int, seed: int) -> list[np.ndarray]:
    """The case as it stands, then points of a Sobol' sequence over the ranges of the free values."""
    from scipy.stats import qmc

    first = problem.start()
    if count == 0 or problem.n_free == 0:
        return [first]
    sobol = qmc.Sobol(problem.n_free, rng=seed).random_base2(int(np.ceil(np.log2(count))))
    return [first, *[np.concatenate([row, first[problem.n_free :]]) for row in sobol[:count]]]


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
    told.append([dict(settings.noise), dict(settings.lag), settings.offset])
    for test in tests:
        digest = hashlib.sha256(test.case.model_dump_json(warnings=False).encode())
        for one in test.series:
            digest.update(one.value.tobytes() + one.bins.start.tobytes() + repr((one.header, one.sigma)).encode())
        told.append([digest.hexdigest(), [one._asdict() for one in test.numbers], list(test.clock)])
    return hashlib.sha256(json.dumps(told, default=repr, sort_keys=True).encode()).hexdigest()[:24]


def fitted(
    tests: Sequence[Experiment], free: Sequence[Free], settings: Settings = NOTHING_KNOWN, work: Work = ALONE, seed: int = 0,
    starts: int = STARTS,
) -> list[Ended]:  # fmt: skip
    """What each start came to, the best first."""
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
        return [Piece(make, (list(tests), list(free), settings, point), 1, path) for point, path in zip(each, paths)]

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
