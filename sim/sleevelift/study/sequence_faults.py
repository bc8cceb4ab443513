"""Faults of a sequence: power or the sequencer lost at every step, each sensor failed high and low, parts that do not obey.

Rows of `fault_list.Fault`: (name, why it matters, change, must stay shut, endless, caveat). A sensor that has failed shows nothing
of it until it is needed, so each is run alone and with the flame that it should have missed.
"""

from collections.abc import Callable, Mapping
from typing import Any

from sleevelift.case.conditions import HIGH, LOW
from sleevelift.case.derive import replaced
from sleevelift.case.parts import Part, known_parts
from sleevelift.case.schema import Case
from sleevelift.case.schema_sequence import SequenceTable
from sleevelift.case.walk import split, value_at
from sleevelift.run import with_instants
from sleevelift.sequence.items import aborts_of, items_of
from sleevelift.sequence.resolve import DONE

Measures = Mapping[str, float | None]
Change = Callable[[Case, Measures], Case | str]
Row = tuple[str, str, Change, bool, bool, str]
JUST_AFTER = 1e-6
"""s. A sequencer that is lost after a step has done it."""
NOT_FOLLOWED = "not looked at"
"""How the reason of a fault begins that the model cannot run."""
HALF = 0.5
"""-. Of a purge's set pressure, where its supply falls off."""
SENSOR_FAILED = "sensor failed"
"""How the names of these faults begin."""
OWN = ("solenoid", "igniter")
"""Parts whose own faults stand in the list of every case."""
FALLS_OFF = "as run, every part without power falls to off: a valve that needs power to shut is not looked at"
STAYS = "as run, every part stays as it was commanded: a watchdog that switches off is not looked at"


def _with(case: Case, **values: Any) -> Case:
    """The case with keys of its sequence set; one without a sequence gets a table for them."""
    table = (case.sequence or SequenceTable()).model_copy(update=values)
    new = case.model_copy(update={"sequence": table})
    new._changes = {**case.changes, **{f"sequence.{key}": str(value) for key, value in values.items()}}
    return new


def _setting(**values: Any) -> Change:
    return lambda case, nominal: _with(case, **values)


def _and_no_light(**values: Any) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        if case.igniter is None:
            return "no igniter"
        return _with(case, **values).model_copy(update={"igniter": None})

    return change


def sensors_of(case: Case) -> list[str]:
    """Every sensor that a step or an abort looks at."""
    conditions = [item.condition for item in items_of(case)]
    for abort in aborts_of(case):
        conditions += [abort.condition, *(item.condition for item in abort.steps)]
    return list(dict.fromkeys(condition.sensor for condition in conditions if condition is not None))


def _lost(case: Case) -> list[Row]:
    """Power and sequencer lost at each step that comes without a fault."""
    rows: list[Row] = []
    for step in with_instants(case).steps:
        if step.state != DONE or step.instant is None or step.abort:
            continue
        rows.append((
            f"power lost at step {step.name}", "every part must fall to the safe side",
            _setting(power_lost=step.instant), False, False, FALLS_OFF,
        ))  # fmt: skip
        rows.append((
            f"sequencer lost after step {step.name}", "nothing is commanded any more",
            _setting(sequencer_lost=step.instant + JUST_AFTER), False, True, STAYS,
        ))  # fmt: skip
    return rows


def _failed_sensors(case: Case) -> list[Row]:
    """Each sensor failed high and low, alone and where there is no light."""
    rows: list[Row] = []
    for sensor in sensors_of(case):
        for way in (HIGH, LOW):
            failed = f"{sensor} {way}"
            rows.append((
                f"{SENSOR_FAILED} {way}: {sensor}", "a hold passes or a run ends without reason",
                _setting(failed_sensor=failed), False, False, "",
            ))  # fmt: skip
            if case.igniter is not None:
                rows.append((
                    f"{SENSOR_FAILED} {way}: {sensor}, and no light-off", "the hold or abort that should see it does not",
                    _and_no_light(failed_sensor=failed), False, False, "",
                ))  # fmt: skip
    return rows


def _part_with(case: Case, part: str, **values: Any) -> Case:
    """The case with keys of a part's own table set."""
    new = case
    for key, value in values.items():
        new = replaced(new, (*split(part), key), value)
    new._changes = {**case.changes, **{f"{part}.{key}": str(value) for key, value in values.items()}}
    return new


def _never_comes(part: str) -> Change:
    """A part that is off from the start and ignores every on; one that stands open when a run begins is shut."""

    def change(case: Case, nominal: Measures) -> Case | str:
        opened = getattr(value_at(case, part), "open_at_start", False)
        return _with(_part_with(case, part, open_at_start=False) if opened else case, failed_part=f"{part} stuck off")

    return change


def _leaks_back(part: str) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        if not getattr(value_at(case, part), "check_valve", False):
            return "no check valve in it"
        return _part_with(case, part, check_valve=False)

    return change


def _half_pressure(part: str) -> Change:
    def change(case: Case, nominal: Measures) -> Case | str:
        return _part_with(case, part, pressure=HALF * value_at(case, part).pressure)

    return change


def _not_followed(case: Case, nominal: Measures) -> Case | str:
    return f"{NOT_FOLLOWED}: what runs back into a purge line"


def _supply(part: Part) -> list[Row]:
    """A purge whose supply falls off, and whose check valve leaks back; an empty supply is a purge that does not come."""
    return [
        (
            f"supply of the {part.title} at half its pressure", "what the purge is there to drive out stays",
            _half_pressure(part.name), False, False, "",
        ),
        (
            f"check valve of the {part.title} leaks back", "propellant, or hot gas, in a line that others share",
            _not_followed, False, False, "",
        ),
    ]  # fmt: skip


def _stuck(part: Part) -> list[Row]:
    """A part that does not obey on, or off; of a valve its check valve too."""
    why, shut, opened = f"what the sequence counts on: {part.answers}", "does not come", "does not end"
    if part.valve:
        shut, opened = "stuck shut", "stuck open"
    rows: list[Row] = [
        (f"{part.title} {shut}", why, _never_comes(part.name), False, False, ""),
        (f"{part.title} {opened}", why, _setting(failed_part=f"{part.name} stuck on"), False, False, ""),
    ]
    if part.valve:
        rows.append((
            f"check valve of the {part.title} leaks back", "chamber gas or the other propellant in a feed line",
            _leaks_back(part.name), False, False, "as run, it does not hold at all",
        ))  # fmt: skip
    if part.name.endswith(".purge"):
        rows += _supply(part)
    return rows


def sequence_faults(case: Case) -> list[Row]:
    """The rows that the case's sequence and its commanded parts call for."""
    rows = [row for part in known_parts() if part.name not in OWN and value_at(case, part.name) is not None for row in _stuck(part)]
    if case.sequence is None:
        return rows
    return [*_lost(case), *_failed_sensors(case), *rows]


def worst_sensor(rows: list[tuple[str, str, str]]) -> str:
    """The worst of the sensors that failed, of (fault, verdict, reason) the worst first; empty where none was run."""
    own = [row for row in rows if row[0].startswith(SENSOR_FAILED) and row[1] != "-"]
    if not own:
        return ""
    name, verdict, reason = own[0]
    return f"Worst of {len(own)} runs with a failed sensor: {name}: {verdict}, {reason}."
