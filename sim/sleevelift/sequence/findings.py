"""What a sequence gives to say: its headline, its check, its remarks and cautions."""

from sleevelift.case.parts import ON, known_parts
from sleevelift.case.walk import value_at
from sleevelift.check import Check
from sleevelift.sequence.items import aborts_of
from sleevelift.sequence.resolve import Resolution, Step, quoted
from sleevelift.shown import Origin, milliseconds

CHECK = "sequence"
MOST_NAMED = 3
"""Steps that did not come, named in the headline."""
NOT_LOOKED_AT = (
    "The sequence is looked at as written, with sensors that show the model's own values after the given delays: not the "
    "sequencer's own clock, scan, program and restart, not its wiring, relays and power, not sensors that drift, freeze or are "
    "fitted where the value is another. A hold or an abort in a sequence is no independent safeguard: relief, a way to cut power "
    "and fuel by hand from a safe place, and interlocks that need no sequencer stay necessary; local codes and licensed practice "
    "decide which."
)
"""Beside every sequence."""
STOP_CAUTION = (
    "What a stop leaves burning, locked in between shut valves, or standing in the chamber is not made safe by the last step: stay "
    "away until the stand is proven vented and purged."
)


def headline(found: Resolution | None, origin: Origin) -> str:
    """What is to be said first of a sequence that did not go its way; empty where it did, or there is none."""
    if found is None:
        return ""
    said = []
    if found.abort is not None:
        at = milliseconds(found.abort.instant - origin.instant)
        said.append(f"ABORTED, {found.abort.name}, {at} after {origin.words}: {found.abort.why}.")
    missed = found.not_done
    if missed:
        names = ", ".join(_named(step) for step in missed[:MOST_NAMED]) + (", ..." if len(missed) > MOST_NAMED else "")
        said.append(f"{len(missed)} STEP{'S' if len(missed) > 1 else ''} OF THE SEQUENCE DID NOT COME: {names}.")
    if not found.settled:
        said.append("THE SEQUENCE DOES NOT STAND STILL: instants and what they wait for moved each other from run to run.")
    return " ".join(said)


def _named(step: Step) -> str:
    own = f"{step.abort}: {step.name}" if step.abort else step.name
    return f"{quoted(own)} ({step.state})"


def with_sequence(checks: list[Check], found: Resolution | None) -> list[Check]:
    """The checks of a run with that of its sequence, those that fail first."""
    return checks if found is None else sorted([*checks, *sequence_checks(found)], key=lambda check: check.passed)


def sequence_checks(found: Resolution | None) -> list[Check]:
    """Whether the sequence went as written: every step came, no abort did."""
    if found is None:
        return []
    if found.abort is not None:
        return [Check(CHECK, None, None, False, f"the abort {quoted(found.abort.name)} came: {found.abort.why}")]
    if found.not_done:
        step = found.not_done[0]
        return [Check(CHECK, None, None, False, f"{_named(step)} did not come; it waits for: {step.waits_for}")]
    if not found.settled:
        return [Check(CHECK, None, None, False, "its instants do not stand still from run to run: none of them is to be trusted")]
    return [Check(CHECK, None, None, True, "every step came, no abort did")]


def sequence_remarks(found: Resolution | None) -> list[str]:
    """What a run says of its sequence."""
    if found is None:
        return []
    table = found.case.sequence
    assert table is not None, "a resolution of a sequence"
    out = []
    if table.failed_sensor is not None:
        out.append(f"Run with a failed sensor: {table.failed_sensor}.")
    if table.failed_part is not None:
        out.append(f"Run with a part that does not obey: {table.failed_part}.")
    for what, instant in (("power", table.power_lost), ("the sequencer", table.sequencer_lost)):
        if instant is not None:
            out.append(f"Run with {what} lost {milliseconds(instant)} after the start of the run.")
    out += [
        f"Step {_named(step)} did not come; it waits for: {step.waits_for}." for step in found.not_done
    ]  # fmt: skip
    if found.moved > 0.0 and found.settled:
        out.append(f"Instants of the sequence moved by {1e6 * found.moved:.2g} us in the last of {found.passes} runs.")
    return [*out, *_never_watched(found), *_without_effect(found), NOT_LOOKED_AT, STOP_CAUTION]


def _never_watched(found: Resolution) -> list[str]:
    """Aborts whose watch ends before it begins."""
    instants = {step.name: step.instant for step in found.steps if not step.abort}
    out = []
    for abort in aborts_of(found.case):
        begins = 0.0 if abort.armed_after is None else instants.get(abort.armed_after)
        until = None if abort.armed_until is None else instants.get(abort.armed_until)
        if abort.condition is not None and begins is not None and until is not None and until <= begins + abort.armed_delay:
            armed = f"armed {milliseconds(begins + abort.armed_delay)} after the start of the run, until {milliseconds(until)}"
            out.append(f"The abort {quoted(abort.name)} is never watched: it is {armed}.")
    return out


def _without_effect(found: Resolution) -> list[str]:
    """Steps of the sequence that tell a part what it was told before, and parts told two things at one instant."""
    done = [step for step in found.steps if step.part and not step.abort and step.instant is not None]
    state = {part.name: bool(getattr(value_at(found.case, part.name), "open_at_start", False)) for part in known_parts()}
    idle, last, both = [], dict[str, Step](), []
    for step in sorted(done, key=lambda step: step.instant or 0.0):
        on, before = step.do in ON, last.get(step.part)
        if state[step.part] == on:
            idle.append(quoted(step.name))
        elif before is not None and before.instant == step.instant:
            what = f"{step.part} is told {before.do} and {step.do} at one instant"
            both.append(f"{what}: the later in the list counts, {quoted(step.name)}")
        state[step.part], last[step.part] = on, step
    words = [f"Told what the part was told before, or does at first, and so without effect: {', '.join(idle)}."] if idle else []
    return [*words, *(f"{one}." for one in both)]
