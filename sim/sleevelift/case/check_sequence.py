"""Checks of the sequence: parts that are there, names that are known, no loops, nothing that could not come."""

from collections.abc import Iterator, Sequence
from difflib import get_close_matches
from typing import Any, NamedTuple

from sleevelift.case.check_parts import Faults, missing, refused
from sleevelift.case.conditions import EVENT_NAMES, SENSOR, ConditionFault, condition_of, event_named, failed_of
from sleevelift.case.facts import Facts
from sleevelift.case.parts import HOLD, known_parts, part_named, stuck_part
from sleevelift.case.schema_sequence import GO_ON, STAY
from sleevelift.case.step_names import names_of, short_forms

STEPS, ABORTS = "sequence.step", "sequence.abort"


def _listed(facts: Facts, path: str) -> list[str]:
    """Paths of the tables of a list."""
    return [f"{path}.{number}" for number in range(facts.count(path))]


def _every_step(facts: Facts) -> Iterator[str]:
    """Paths of all steps, those of the aborts too."""
    yield from _listed(facts, STEPS)
    for abort in _listed(facts, ABORTS):
        yield from _listed(facts, f"{abort}.step")


def commanded(facts: Facts, part: str, *actions: str) -> bool:
    """Whether a step of the sequence, not of an abort, does one of these actions (any) to a part."""
    return any(
        facts.get(f"{step}.part") == part and (not actions or facts.get(f"{step}.do") in actions) for step in _listed(facts, STEPS)
    )


def commands_given(facts: Facts) -> Faults:
    """The solenoid valve has its commands, in its own table or in the sequence."""
    if not facts.has("solenoid") or commanded(facts, "solenoid"):
        return
    for name, words in (
        ("on", "instants of the on commands, increasing"),
        ("off", "instants of the off commands, each after its on"),
    ):
        if not facts.has(f"solenoid.{name}"):
            yield missing(f"solenoid.{name}", f"is missing ({words}; or steps of [sequence])")


def parts_are_there(facts: Facts) -> Faults:
    """Each action has a part, which the case has, and for which the action is a word."""
    for step in _every_step(facts):
        do, name = facts.get(f"{step}.do"), facts.get(f"{step}.part")
        if do == HOLD:
            if facts.has(f"{step}.part"):
                yield refused(facts, f"{step}.part", "has no place beside hold, which does nothing to a part")
            continue
        if do is None:
            continue
        if not facts.has(f"{step}.part"):
            yield missing(f"{step}.part", f"is missing ({do} of which part?)")
            continue
        part = part_named(name)
        if part is None:
            yield refused(facts, f"{step}.part", _no_part(name))
            continue
        if not facts.has(part.name):
            yield refused(facts, f"{step}.part", f"is not in this case (it has no [{part.name}])")
        if do in ("open", "close") and not part.valve:
            yield refused(facts, f"{step}.do", f"is said of a run valve; the {part.title} is switched on or off")


def _no_part(name: Any) -> str:
    known = [part.name for part in known_parts()]
    near = get_close_matches(str(name).lower(), known, n=1, cutoff=0.5)
    return f"can not be commanded; {'nearest: ' + near[0] if near else 'known: ' + ', '.join(known)}"


def conditions_read(facts: Facts) -> Faults:
    """Each condition can be read, and the case has its sensor."""
    ambient = facts.get("ambient.pressure")
    places = [f"{path}.when" for path in (*_every_step(facts), *_listed(facts, ABORTS))]
    for path in places:
        text = facts.get(path)
        if not isinstance(text, str) or ambient is None:
            continue
        try:
            condition = condition_of(text, ambient)
            sensor = SENSOR[condition.sensor]
        except ConditionFault as fault:
            yield refused(facts, path, str(fault))
            continue
        if sensor.needs and not facts.has(sensor.needs):
            yield refused(facts, path, f"can not be seen: this case has no [{sensor.needs}]")
        stroke = facts.get("sleeve.stroke")
        if sensor.name == "lift" and condition.rises and not condition.event and stroke is not None and condition.level >= stroke:
            yield refused(facts, path, f"can never be: the stroke is {facts.length(stroke)}")
    failed = facts.get("sequence.failed_sensor")
    if isinstance(failed, str):
        try:
            failed_of(failed)
        except ConditionFault as fault:
            yield refused(facts, "sequence.failed_sensor", str(fault))


def stuck_part_known(facts: Facts) -> Faults:
    """A part that does not obey is one of the case."""
    text = facts.get("sequence.failed_part")
    if not isinstance(text, str):
        return
    try:
        stuck = stuck_part(text)
    except ValueError as fault:
        yield refused(facts, "sequence.failed_part", str(fault))
        return
    if stuck is not None and not facts.has(stuck[0]):
        yield refused(facts, "sequence.failed_part", f"is not in this case (it has no [{stuck[0]}])")


def waits_complete(facts: Facts) -> Faults:
    """Each step says what it waits for, once; limits and delays stand where they mean something."""
    aborts = {facts.get(f"{abort}.name") for abort in _listed(facts, ABORTS)}
    for step in _every_step(facts):
        of_abort = step.startswith(ABORTS)
        has = {name: facts.has(f"{step}.{name}") for name in ("at", "after", "when", "limit", "otherwise", "detection_delay")}
        after = facts.get(f"{step}.after")
        event = isinstance(after, str) and event_named(after) is not None
        if has["at"] and of_abort:
            yield refused(facts, f"{step}.at", "has no place in an abort, whose instant is not known: give delay, after or when")
        if has["at"] and has["after"]:
            yield refused(facts, f"{step}.after", "is given beside at: give one of the two")
        if event and has["when"]:
            yield refused(facts, f"{step}.after", "is an event, and when is given too: wait for one of the two")
        waits = has["when"] or event
        if facts.get(f"{step}.do") == HOLD and not waits:
            yield missing(f"{step}.when", "is missing: a hold waits for something (or after, with an event)")
        elif not of_abort and not (has["at"] or has["after"] or has["when"]):
            yield missing(f"{step}.at", "is missing: give an instant, or a step or event (after), or something to be seen (when)")
        for name, words in (("detection_delay", "nothing is detected"), ("limit", "nothing is waited for")):
            if has[name] and not waits:
                yield refused(facts, f"{step}.{name}", f"has no meaning without when or an event: {words}")
        if facts.get(f"{step}.do") == HOLD and waits and not has["limit"] and not has["otherwise"]:
            rule = 'is missing: a hold has a time limit, and otherwise says what happens then ("stay": it waits for ever)'
            yield missing(f"{step}.limit", rule)
        if has["limit"] != has["otherwise"] and waits:
            lacking, words = ("otherwise", "what happens then?") if has["limit"] else ("limit", "how long is it waited for?")
            yield missing(f"{step}.{lacking}", f"is missing: limit and otherwise go together ({words})")
        choice = facts.get(f"{step}.otherwise")
        known = [GO_ON, STAY] if of_abort else [GO_ON, STAY, *(str(name) for name in aborts if name is not None)]
        if isinstance(choice, str) and choice not in known:
            yield refused(facts, f"{step}.otherwise", f"must be one of {', '.join(known)}")


class _Named(NamedTuple):
    path: str
    name: str
    after: Any


def _main_steps(facts: Facts) -> tuple[list[str], list[_Named]]:
    """(names of the short forms, the steps of the sequence)."""
    short: list[tuple[str | None, str | None, str | None]] = []
    for part in known_parts():
        on, off = facts.get(f"{part.name}.on"), facts.get(f"{part.name}.off")
        if facts.has(part.name) and isinstance(on, tuple) and isinstance(off, tuple):
            short += [(name, action, None) for name, action, _ in short_forms(part.name, on, off)]
    taken = names_of(short)
    return taken, _named(facts, _listed(facts, STEPS), taken)


def _named(facts: Facts, paths: Sequence[str], taken: Sequence[str] = ()) -> list[_Named]:
    rows = [(facts.get(f"{path}.part"), facts.get(f"{path}.do"), facts.get(f"{path}.name")) for path in paths]
    return [_Named(path, name, facts.get(f"{path}.after")) for path, name in zip(paths, names_of(rows, taken))]


def names_hold(facts: Facts) -> Faults:
    """No two steps or aborts of one name, nothing after a step that is not there, no loop."""
    taken, main = _main_steps(facts)
    yield from _references(facts, taken, main)
    seen: set[Any] = set()
    for abort in _listed(facts, ABORTS):
        name = facts.get(f"{abort}.name")
        if name in seen or name in (GO_ON, STAY):
            yield refused(facts, f"{abort}.name", "is taken already")
        seen.add(name)
        yield from _references(facts, [], _named(facts, _listed(facts, f"{abort}.step")), [*taken, *(step.name for step in main)])
        known = [*taken, *(step.name for step in main)]
        for key in ("armed_after", "armed_until"):
            wanted = facts.get(f"{abort}.{key}")
            if isinstance(wanted, str) and wanted not in known:
                near = get_close_matches(wanted, known, n=1, cutoff=0.5)
                rule = f"is no step of the sequence; {'nearest: ' + near[0] if near else 'known: ' + ', '.join(known)}"
                yield refused(facts, f"{abort}.{key}", rule)


def _references(facts: Facts, taken: Sequence[str], steps: Sequence[_Named], elsewhere: Sequence[str] = ()) -> Faults:
    """Names and references of one list of steps; elsewhere: steps of the sequence, for the list of an abort."""
    known = list(taken)
    aborts = [facts.get(f"{abort}.name") for abort in _listed(facts, ABORTS)]
    twice = False
    for step in steps:
        if step.name in known:
            twice = True
            yield refused(facts, f"{step.path}.name", "is taken already by another step")
        elif event_named(step.name) is not None:
            yield refused(facts, f"{step.path}.name", "is the name of an event")
        known.append(step.name)
    for step in steps:
        if not isinstance(step.after, str) or step.after in known or event_named(step.after) is not None:
            continue
        rule = _no_step(step.after, [*known, *EVENT_NAMES])
        if step.after in elsewhere:
            rule = "is no step of this abort: there after names another of its own; without it, delay counts from the abort"
        elif step.after in aborts:
            rule = "is an abort: what comes after it are its own steps, [[sequence.abort.step]]"
        yield refused(facts, f"{step.path}.after", rule)
    if not twice:  # else it is not known which step is meant
        yield from _loops(facts, steps)


def _no_step(wanted: str, known: Sequence[str]) -> str:
    near = get_close_matches(wanted, known, n=1, cutoff=0.5)
    return f"is no step or event; {'nearest: ' + near[0] if near else 'known: ' + ', '.join(known)}"


def _loops(facts: Facts, steps: Sequence[_Named]) -> Faults:
    """Steps that wait for themselves, each loop told once."""
    of = {step.name: step for step in steps}
    told: set[str] = set()
    for step in steps:
        way = [step.name]
        while (following := of.get(way[-1])) is not None and following.after in of and following.after not in way:
            way.append(following.after)
        last = of[way[-1]].after
        if last in way:
            loop = way[way.index(last) :]
            if not told.intersection(loop):
                told.update(loop)
                words = " after ".join([*loop, loop[0]])
                yield refused(facts, f"{of[loop[0]].path}.after", f"goes in a loop: {words}")


def aborts_complete(facts: Facts) -> Faults:
    """Each abort can start, and does something."""
    named = {facts.get(f"{step}.otherwise") for step in _every_step(facts)}
    for abort in _listed(facts, ABORTS):
        name, watched = facts.get(f"{abort}.name"), facts.has(f"{abort}.when")
        if not watched and name is not None and name not in named:
            yield missing(f"{abort}.when", "is missing: nothing would start this abort (or name it in a step's otherwise)")
        if not facts.count(f"{abort}.step"):
            yield missing(f"{abort}.step", "is missing: an abort does something ([[sequence.abort.step]])")
        for key in ("detection_delay", "armed_after", "armed_delay", "armed_until"):
            if facts.has(f"{abort}.{key}") and not watched:
                yield refused(facts, f"{abort}.{key}", "has no meaning without when: nothing is watched")


def lost_once(facts: Facts) -> Faults:
    """Power and sequencer are not lost together: one case, one cause."""
    if facts.has("sequence.power_lost") and facts.has("sequence.sequencer_lost"):
        yield refused(facts, "sequence.sequencer_lost", "is given beside power_lost: give one of the two")


def igniter_not_both(facts: Facts) -> Faults:
    """A given light-off leaves nothing to switch."""
    if facts.has("igniter.light_off") and commanded(facts, "igniter"):
        yield refused(facts, "igniter.light_off", "decides it, and steps of [sequence] switch the igniter: give one of the two")


CHECKS = (
    commands_given,
    parts_are_there,
    conditions_read,
    stuck_part_known,
    waits_complete,
    names_hold,
    aborts_complete,
    lost_once,
    igniter_not_both,
)
