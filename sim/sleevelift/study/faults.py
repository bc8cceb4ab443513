"""Faults, alone and in pairs of one cause, each a run, and whether the valve ends safe.

unsafe     it opens when it must not, does not end closed, or a pressure passes what the part may see
not known  a pressure rises above what it is without the fault in a part that has no rating
degraded   it does its duty badly: does not open, or fails a check that it passes without the fault
safe       none of these

"Ends closed" is the sleeve on its seat at the end of the run.
"""

import re
from functools import partial
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sleevelift.barriers import warning
from sleevelift.case.schema import Case
from sleevelift.plots.studies import write_faults
from sleevelift.ratings import NO_RATING, absolute, limit_of, parts, unrated
from sleevelift.sequence.findings import CHECK as SEQUENCE
from sleevelift.sequence.findings import NOT_LOOKED_AT
from sleevelift.shown import milliseconds as ms
from sleevelift.shown import origin_of
from sleevelift.study.answer import Answer, Sheet
from sleevelift.study.fault_list import Fault, faults_of_case
from sleevelift.study.run_store import Run, kept_runs
from sleevelift.study.sequence_faults import NOT_FOLLOWED, worst_sensor
from sleevelift.study.store import ALONE, Work
from sleevelift.study.values import refused

LEFT_SEAT = 0.01
"""-. Share of the stroke beyond which the sleeve counts as having left its seat."""
FULL = 0.98
"""-. Share of the stroke that counts as open."""
RISEN = 1.10
"""-. A peak above this many times the one without the fault is held against a rating, or is not known where none is given."""
CANNOT_HOLD = (
    "What was tried: the faults of a list, alone or in the pairs it names, at nominal values, with sizes that are guesses. What no "
    "such list can hold: other faults at once, leaks that this model does not have (they say so), run valves and feed systems "
    "beyond their inlets, wrong assembly, the controller's own mistakes, and whatever nobody thought of."
)
"""Beside every verdict of the study."""
CONTROLLED = ("opens", "closes")
"""Checks that the verdict words by itself."""


LEFT_MORE, LEFT_LEAST = 2.0, 1e-3
"""-, kg. Liquid left in a manifold counts as more than without the fault."""


class Row(NamedTuple):
    """One fault, judged."""

    name: str
    why: str
    verdict: str
    """safe, degraded, not known, unsafe, or - where it does not apply or could not be run"""
    reason: str
    ends_closed: bool | None
    opens_when_it_must_not: bool | None
    last_propellant: str
    worst_pressure: float | None
    """Pa absolute: chamber (hard-start estimate included) or manifold"""
    worst_place: str
    outcome: str
    failure: str | None


def worst_pressure(result: Run) -> tuple[float | None, str]:
    """(highest of chamber peak, hard-start estimate, manifolds and lift chamber; where)."""
    m = result.measures
    places = {"chamber": m["peak_chamber_pressure"], "hard start, estimate": m["hard_start_pressure"],
              "oxidizer manifold": m["peak_oxidizer_manifold"], "fuel manifold": m["peak_fuel_manifold"]}  # fmt: skip
    if "lift_chamber_pressure" in result.traces:
        places["lift chamber"] = float(np.max(result.traces["lift_chamber_pressure"]))
    known = {place: value for place, value in places.items() if value is not None}
    place = max(known, key=lambda name: known[name], default="")
    return known.get(place), place


def pressure_faults(result: Run) -> list[str]:
    """Pressures above what the case allows, in words."""
    m, case = result.measures, result.case
    bara = partial(absolute, reader=case.reader)
    out = []
    if case.chamber is not None and case.chamber.allowable_pressure is not None:
        allowable = case.chamber.allowable_pressure
        for name in ("peak_chamber_pressure", "hard_start_pressure"):
            value = m[name]
            if value is not None and value > allowable:
                out.append(f"{name} {bara(value)} is above the allowable {bara(allowable)}")
        if m["latest_light_off"] is not None and m["light_off"] is None:
            on = m["energize_time"]
            origin = origin_of(() if on is None else (on,))
            late = ms(m["latest_light_off"] - origin.instant)
            out.append(
                f"the unlit pool passes the allowable pressure {late} after {origin.words}; the igniter's window "
                "tells whether a shut-down on no light comes in time"
            )
    for part in parts(m, case):
        if part.name == "chamber":
            continue
        given = limit_of(part, case)
        if given is not None and part.peak is not None and part.peak > given[0]:
            out.append(f"{part.name} {bara(part.peak)} is above its {given[1]} {bara(given[0])}")
    return out


def unrated_rises(result: Run, nominal: Run) -> list[str]:
    """Parts without a rating whose pressure rises above what it is without the fault, in words."""
    before = {part.name: part.peak for part in parts(nominal.measures, nominal.case)}
    bara = partial(absolute, reader=nominal.case.reader)
    out = []
    for part in unrated(result.measures, result.case):
        usual = before.get(part.name)
        if part.peak is not None and usual is not None and part.peak > RISEN * usual:
            out.append(f"{part.name} {bara(part.peak)} instead of {bara(usual)}: {NO_RATING}")
    return out


def unwanted_opening(result: Run, fault: Fault, nominal: Run) -> bool:
    """Whether the sleeve leaves its seat before the intended command, or at all where it must stay shut."""
    t, lift = result.traces["time"], result.traces["lift"]
    off_seat = lift > LEFT_SEAT * nominal.case.sleeve.stroke
    command = nominal.measures["energize_time"]
    command = np.inf if command is None else command
    return bool(np.any(off_seat if fault.must_stay_shut else off_seat & (t <= command)))


def last_propellant(result: Run) -> str:
    """Which propellant is last in the chamber after the off command."""
    ox, fuel = result.measures["last_oxidizer"], result.measures["last_fuel"]
    if ox is None or fuel is None:
        return "-" if ox is None and fuel is None else ("oxidizer" if fuel is None else "fuel")
    return f"{'oxidizer' if ox >= fuel else 'fuel'} by {abs(ox - fuel) * 1e3:.3g} ms"


def left_behind(result: Run, nominal: Run) -> list[str]:
    """Liquid that is left in a manifold at the end, in words, where it is more than `LEFT_MORE` times what is left without the
    fault, and by more than `LEFT_LEAST`; only where gas in the manifold is followed."""
    out = []
    for side in ("oxidizer", "fuel"):
        usual, now = (run.measures.get(f"residual_{side}_at_end") for run in (nominal, result))
        if usual is not None and now is not None and now > max(LEFT_MORE * usual, usual + LEFT_LEAST):
            masses = [nominal.case.reader.text("mass", mass, ".3g") for mass in (now, usual)]
            out.append(f"{masses[0]} of {side} is left in its manifold instead of {masses[1]}")
    return out


def judged(fault: Fault, result: Run, nominal: Run) -> Row:
    """The verdict on one run."""
    if not result.traces:
        why = f"could not be run: {result.failure}"
        return Row(fault.name, fault.why, "-", why, None, None, "-", None, "", result.outcome, result.failure)
    closed = int(result.traces["mode"][-1]) == 0
    unwanted = unwanted_opening(result, fault, nominal)
    unsafe = pressure_faults(result)
    if unwanted:
        unsafe.insert(0, "it opens when it must not")
    if not closed:
        unsafe.insert(0, "it does not end closed" + (": only run valves or venting the supply stop it" if fault.endless else ""))
    passed = {check.name for check in nominal.checks if check.passed}
    worse = [c.name for c in result.checks if not c.passed and c.name in passed and c.name not in CONTROLLED]
    unknown = unrated_rises(result, nominal)
    degraded = [f"now fails: {', '.join(worse)}"] if worse else []
    degraded += left_behind(result, nominal)
    opened = bool(np.max(result.traces["lift"]) >= FULL * nominal.case.sleeve.stroke)
    if not opened and "opens" in passed and not fault.must_stay_shut:
        degraded.insert(0, f"it does not open fully ({result.outcome})")
    if fault.must_stay_shut and not unwanted:
        degraded = []
    verdict = "unsafe" if unsafe else "not known" if unknown else "degraded" if degraded or result.failure else "safe"
    reason = (
        "; ".join(unsafe + unknown or degraded)
        or result.failure
        or ("it stays shut" if fault.must_stay_shut else "it opens and ends closed")
    )
    went = next((check.advice for check in result.checks if check.name == SEQUENCE and not check.passed), "")
    reason += f"; sequence: {re.split('[:;]', went)[0]}" if went else ""
    reason += f" ({fault.caveat})" if fault.caveat else ""
    value, place = worst_pressure(result)
    last = last_propellant(result)
    return Row(fault.name, fault.why, verdict, reason, closed, unwanted, last, value, place, result.outcome, result.failure)


def changed_case(fault: Fault, case: Case, nominal: Run) -> Case | str:
    """The case with the fault, or why it does not apply or cannot be made."""
    try:
        changed = fault.change(case, nominal.measures)
    except (ValueError, ArithmeticError, AssertionError) as problem:
        return f"could not be run: {problem}"
    if isinstance(changed, str):
        return changed if changed.startswith(NOT_FOLLOWED) else f"does not apply: {changed}"
    return changed


def fault_rows(case: Case, nominal: Run, work: Work = ALONE) -> list[Row]:
    """Every fault of the list and of the case, run and judged; those of a kept study are read."""
    faults = faults_of_case(case)
    made = [changed_case(fault, case, nominal) for fault in faults]
    runs = iter(kept_runs([one for one in made if not isinstance(one, str)], work))
    return [
        Row(fault.name, fault.why, "-", one, None, None, "-", None, "", "-", one if one.startswith("could") else None)
        if isinstance(one, str)
        else judged(fault, next(runs), nominal)
        for fault, one in zip(faults, made)
    ]


def _yes(value: bool | None) -> str:
    return "-" if value is None else "yes" if value else "no"


def sentence_of(rows: list[Row]) -> str:
    """How many faults end unsafe, and which."""
    run = [row for row in rows if row.verdict != "-"]
    unsafe = [row.name for row in run if row.verdict == "unsafe"]
    degraded = sum(row.verdict == "degraded" for row in run)
    unknown = [row.name for row in run if row.verdict == "not known"]
    safe = len(run) - len(unsafe) - len(unknown) - degraded
    rest = f"{degraded} degraded, {safe} safe, {len(rows) - len(run)} not applicable or not run"
    doubt = f"; {len(unknown)} not known for want of a rating ({', '.join(unknown)})" if unknown else ""
    if unsafe:
        return f"Not fail-safe: {len(unsafe)} of {len(run)} faults end unsafe ({', '.join(unsafe)}){doubt}; {rest}."
    if unknown:
        return f"Not shown to be fail-safe: none of {len(run)} faults ends unsafe{doubt}; {rest}."
    return (
        f"None of the {len(run)} faults of this list ends unsafe, each run alone or in its pair at nominal values: {rest}. That is "
        "what was tried, "
        "not proof of fail-safety."
    )


def fault_study(case: Case, work: Work = ALONE) -> Answer:
    """Run the case and every fault of it. CaseError where the case itself cannot be run."""
    nominal = kept_runs([case], work._replace(progress=None))[0]
    if not nominal.traces:
        raise refused(case.name, nominal.failure or "could not be run")
    rows = fault_rows(case, nominal, work)
    order = {"unsafe": 0, "not known": 1, "degraded": 2, "safe": 3, "-": 4}
    table = [
        (r.name, r.verdict, _yes(r.ends_closed), _yes(r.opens_when_it_must_not), r.last_propellant,
         "-" if r.worst_pressure is None else f"{absolute(r.worst_pressure, case.reader).split()[0]} {r.worst_place}", r.reason)
        for r in sorted(rows, key=lambda row: order[row.verdict])
    ]  # fmt: skip
    worst = f"worst pressure [{case.reader.unit('pressure')}]"
    columns = ("fault", "verdict", "ends closed", "opens when it must not", "last propellant", worst, "why")
    failed = [row for row in rows if row.failure]
    sensor = worst_sensor([(row[0], row[1], row[-1]) for row in table])
    notes = [f"Without a fault: {nominal.outcome}. Nominal values, no random points: no seed.", CANNOT_HOLD]
    notes += [sensor, NOT_LOOKED_AT] if sensor else []
    notes += [f"{len(failed)} runs did not come to their end: {', '.join(row.name for row in failed)}."] if failed else []

    def draw(path: Path) -> Any:
        return write_faults(case, sentence_of(rows), rows, path)

    header = [{"worst_pressure": "worst_pressure [Pa]"}.get(field, field) for field in Row._fields]
    return Answer("faults", case, sentence_of(rows), [Sheet("Faults, alone and of one cause", columns, table)], notes, header,
                  [list(row) for row in rows], {"nominal": nominal.outcome, "faults": rows}, draw,
                  warning=warning(case))  # fmt: skip
