"""Faults of a sequence: power or the sequencer lost at every step, each sensor failed high and low, parts that do not obey.

Rows of `fault_list.Fault`: (name, why it matters, change, must stay shut, endless, caveat). A sensor that has failed shows nothing
of it until it is needed, so each is run alone and with the flame that it should have missed.
"""

from collections.abc import Callable, Mapping
from typing import Any

from sleevelift.case.conditions import HIGH, LOW
from sleevelift.case.parts import Part, known_parts
from sleevelift.case.schema import Case
from sleevelift.case.schema_sequence import SequenceTable
from sleevelift.case.walk import value_at
from sleevelift.run import with_instants
from sleevelift.sequence.items import aborts_of, items_of
from sleevelift.sequence.resolve import DONE

Measures = Mapping[str, float | None]
Change = Callable[[Case, Measures], Case | str]
Row = tuple[str, str, Change, bool, bool, str]
JUST_AFTER = 1e-6
"""s. A sequencer that is lost after a step has done it."""
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


def _stuck(part: Part) -> list[Row]:
    """A part that does not obey on, or off."""
    ways = (("stuck shut", "stuck off"), ("stuck open", "stuck on")) if part.valve else (("does not come", "stuck off"),
                                                                                   ("does not end", "stuck on"))  # fmt: skip
    return [
        (f"{part.title} {words}", f"what the sequence counts on: {part.answers}", _setting(failed_part=f"{part.name} {key}"),
         False, False, "")
        for words, key in ways
    ]  # fmt: skip


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
