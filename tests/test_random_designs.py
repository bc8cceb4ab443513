"""Random valid designs over the whole practical range: each run ends with an outcome of MODEL.md section 7, closes gas
mass and energy, holds only finite numbers, and agrees with a run at a hundredth of its tolerance.

Two runs of one design may take another branch where a threshold is met almost exactly: a sleeve that just breaks away
or just does not, one bounce more or fewer. Such branch changes are told from their paths of modes, counted and listed;
all others are compared in opening and closing time, to 10 microseconds.

The default tolerance of 2e-4 is not enough for that in every design: how many miss it is bounded by what was counted, so that
it can only get better. The same claim at a tolerance of 1e-5 is held in the ordinary run."""

from __future__ import annotations

import time
import warnings
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import pytest
from mode_paths import first_difference, mode_path, without_cascades
from sleevelift import simulate
from wide_designs import wide_design

ORDINARY, SLOW = 40, 2000
BLOCK = 100
"""Designs in one slow test."""
OUTCOMES = {
    "left-gas-range", "lifted-without-command", "valve-never-shifted", "never-broke-away", "hung-part-way",
    "opened-and-closed", "opened-no-off-command", "did-not-close",
}  # fmt: skip
"""MODEL.md section 7; `failed` is none of them."""
GAS_ALLOWED, MACHINE_ALLOWED = 1e-6, 1e-4
"""-. Left over of gas mass and energy, and of the machine's energy (MODEL.md section 8)."""
TIMES = ("opening_time", "closing_time")
TIME_ALLOWED = 10e-6
"""s. Against a hundredth of the tolerance (MODEL.md section 8)."""
TIGHTER = 0.01
FINER = 1e-5
"""Tolerance at which the ordinary run's designs hold what the default one does not hold for all."""
LONGEST = 20.0
"""s of wall time for one run at the default tolerance, on a slow shared core."""
MOST_BRANCHES = 0.1
"""-. Share of branch changes above which the comparison of times would say too little."""
MISSES = {
    0: 1, 40: 10, 140: 6, 240: 8, 340: 6, 440: 4, 540: 9, 640: 4, 740: 6, 840: 7, 940: 7, 1040: 5, 1140: 8, 1240: 6, 1340: 8,
    1440: 8, 1540: 3, 1640: 4, 1740: 8, 1840: 7, 1940: 5,
}  # fmt: skip
"""First design of a block -> designs that miss `TIME_ALLOWED` at the default tolerance: regression, counted 27 November 2026, of
some 45 with a time in a block of a hundred (17 in the first, of forty). More means that the integrator or its events got worse."""
SPARE = {False: 0, True: 2}
"""Designs more that may miss on another machine, whose sums round otherwise; none in the first block."""
WORST_TIME = 1e-3
"""s. The largest miss; 0.62 ms was counted."""
UNDEFINED = {"mixture_ratio"}
"""Traces that are not a number where the quantity is not defined (MODEL.md section 7)."""


class Finding(NamedTuple):
    """What two runs of one design showed."""

    name: str
    outcome: str
    faults: list[str]
    """What no run may show."""
    inaccurate: list[str]
    """What is beyond the bounds of accuracy: the machine's energy, and the times unless the branch changed."""
    branch: str
    """Empty, or where the paths of the two runs part."""
    errors: dict[str, float]
    """Gas mass, gas energy, machine energy (relative), opening_time and closing_time (s); what did not happen is absent."""
    seconds: float


def faults_of(result: Any) -> Iterable[str]:
    """What is wrong with one run by itself."""
    if result.outcome not in OUTCOMES:
        yield f"outcome {result.outcome}: {result.failure}"
    for name, value in result.measures.items():
        if value is not None and not np.isfinite(value):
            yield f"measure {name} is {value}"
    for name, value in result.balances.items():
        if not np.isfinite(value):
            yield f"balance {name} is {value}"
    if len(result.traces.get("time", ())) < 2:
        yield "no traces"
    for name, values in result.traces.items():
        if name not in UNDEFINED and not np.all(np.isfinite(values)):
            yield f"trace {name} is not finite"
    if (result.outcome == "left-gas-range") != (result.failure is not None):
        yield f"outcome {result.outcome} with the failure: {result.failure}"


def share(left: float, whole: float) -> float:
    """Left over, relative; 0 where there is nothing at all."""
    return abs(left) / whole if whole > 0.0 else abs(left)


def errors_of(result: Any) -> dict[str, float]:
    """Relative errors of the balances."""
    b = result.balances
    return {
        "gas mass": share(b["gas_mass"], b["gas_moved"]),
        "gas energy": share(b["gas_energy"], b["gas_energy_moved"]),
        "machine energy": share(b["machine_energy"], b["work_moved"]),
    }


@lru_cache(maxsize=4 * BLOCK)
def examine(number: int, tolerance: float | None = None) -> Finding:
    """Run a design at a tolerance (None: as a user runs it) and at a hundredth of the tolerance, and say what is wrong."""
    name, case = wide_design(number)
    used = case.run.tolerance if tolerance is None else tolerance
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        # the tight run goes first: it may have to compile, which is not the run's time
        tight = simulate(case, tolerance=TIGHTER * used)
        began = time.perf_counter()
        result = simulate(case, tolerance=tolerance)
        seconds = time.perf_counter() - began
    faults = [*faults_of(result), *(f"tight: {fault}" for fault in faults_of(tight))]
    errors = errors_of(result)
    faults += [f"{what} left over {errors[what]:.2g}" for what in ("gas mass", "gas energy") if not errors[what] <= GAS_ALLOWED]
    if seconds > LONGEST:
        faults.append(f"took {seconds:.0f} s")
    branch = branch_change(result, tight)
    inaccurate = []
    if not errors["machine energy"] <= MACHINE_ALLOWED:
        inaccurate.append(f"machine energy left over {errors['machine energy']:.2g}")
    for what in TIMES:
        a, b = result.measures[what], tight.measures[what]
        if a is not None and b is not None:
            errors[what] = abs(a - b)
        if not branch and ((a is None) != (b is None) or errors.get(what, 0.0) > TIME_ALLOWED):
            inaccurate.append(f"{what} {a} s, at a hundredth of the tolerance {b} s")
    return Finding(name, result.outcome, faults, inaccurate, branch, errors, seconds)


def branch_change(result: Any, tight: Any) -> str:
    """Where two runs of one design part, in words: in outcome, in the path, or only in the number of bounces."""
    if result.outcome != tight.outcome:
        return f"outcome {result.outcome} | {tight.outcome}"
    one, other = mode_path(result), mode_path(tight)
    if one == other:
        return ""
    bounces = without_cascades(one) == without_cascades(other)
    return f"{'bounces' if bounces else 'path'} {first_difference(one, other)}"


def report(findings: list[Finding]) -> str:
    """Counts, worst errors, branch changes and faults as text."""
    kinds = Counter(f.branch.split()[0] for f in findings if f.branch)
    lines = [
        f"{len(findings)} designs: " + ", ".join(f"{n} {what}" for what, n in Counter(f.outcome for f in findings).most_common()),
        f"branch changes: {sum(kinds.values())}" + "".join(f", {n} in {what}" for what, n in kinds.most_common()),
    ]
    for what in ("gas mass", "gas energy", "machine energy", *TIMES):
        known = [f for f in findings if what in f.errors and not (what in TIMES and f.branch)]
        if known:
            worst = max(known, key=lambda f: f.errors[what])
            lines.append(f"worst {what}: {worst.errors[what]:.2g} ({worst.name})")
    slowest = max(findings, key=lambda f: f.seconds)
    lines.append(f"longest run: {slowest.seconds:.2f} s ({slowest.name})")
    for f in findings:
        if f.branch:
            apart = ", ".join(f"{what} {f.errors[what]:.2g} s" for what in TIMES if what in f.errors)
            lines.append(f"  branch  {f.name}: {f.branch} ({apart or 'no times'})")
        lines += [f"  FAULT   {f.name} ({f.outcome}): {fault}" for fault in f.faults]
        lines += [f"  error   {f.name} ({f.outcome}): {what}" for what in f.inaccurate]
    return "\n".join(lines)


def sound(findings: list[Finding]) -> None:
    """No faults, and few branch changes."""
    text = report(findings)
    print(text)
    assert not [f for f in findings if f.faults], text
    assert sum(bool(f.branch) for f in findings) <= MOST_BRANCHES * len(findings), text


def accurate(findings: list[Finding]) -> None:
    """The machine's energy, and the times where the branch is the same."""
    assert not [f for f in findings if f.inaccurate], report(findings)


def bounded(first: int, findings: list[Finding]) -> None:
    """No more designs miss than were counted, none by more than `WORST_TIME`, and every machine's energy closes."""
    text = report(findings)
    misses = [f for f in findings if f.inaccurate]
    assert len(misses) <= MISSES[first] + SPARE[first > 0], text
    worst = max((f.errors.get(what, 0.0) for f in misses for what in TIMES), default=0.0)
    assert worst <= WORST_TIME, text
    assert all(f.errors["machine energy"] <= MACHINE_ALLOWED for f in findings), text


def test_random_designs_end_and_close() -> None:
    sound([examine(number) for number in range(ORDINARY)])


def test_random_designs_at_default_tolerance() -> None:
    bounded(0, [examine(number) for number in range(ORDINARY)])


def test_random_designs_at_finer_tolerance() -> None:
    findings = [examine(number, FINER) for number in range(ORDINARY)]
    sound(findings)
    accurate(findings)


def test_a_sleeve_without_friction_floats_at_its_seat() -> None:
    """Design 1501: no friction, and forces on the seat that balance to 1e-4 N: it leaves and comes back, but not without end."""
    finding = examine(1501)
    assert not finding.faults, finding.faults
    assert not finding.branch.startswith("outcome"), finding.branch  # the same as at a hundredth of the tolerance


@pytest.mark.parametrize("number", [46, 63, 92, 129, 142, 229, 256, 503, 681])
def test_rebounds_end_at_the_loosest_tolerance(number: int) -> None:
    """Rebounds far below the tolerance once went on to the cap of two million steps, or chattered, in four of a hundred designs."""
    _, case = wide_design(number)
    result = simulate(case, tolerance=1e-2)
    assert not list(faults_of(result)), list(faults_of(result))
    assert result.statistics["right_hand_sides"] < 20000


BLOCKS = range(ORDINARY, SLOW, BLOCK)


def block(first: int) -> list[Finding]:
    """The designs of one slow test."""
    return [examine(number) for number in range(first, min(first + BLOCK, SLOW))]


@pytest.mark.slow
@pytest.mark.parametrize("first", BLOCKS)
def test_many_random_designs_end_and_close(first: int) -> None:
    sound(block(first))


@pytest.mark.slow
@pytest.mark.parametrize("first", BLOCKS)
def test_many_random_designs_at_default_tolerance(first: int) -> None:
    bounded(first, block(first))
