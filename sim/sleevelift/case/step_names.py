"""Names of the steps of a sequence: those given, else part and action, numbered where several are alike.

    solenoid on, solenoid off, solenoid on 2, hold, fuel.valve open

Instants of a part's own `on` and `off` are steps as well, the first to be named.
"""

from collections.abc import Iterable, Sequence

from sleevelift.case.parts import HOLD

ShortForm = tuple[str, str, float]
"""(part, on or off, instant in s)"""


def short_forms(part: str, on: Sequence[float], off: Sequence[float]) -> list[ShortForm]:
    """The steps of a part's own lists, in time order."""
    found = [(part, "on", t) for t in on] + [(part, "off", t) for t in off]
    return sorted(found, key=lambda one: one[2])


STEP = "sequence.step."


def step_path(names: Sequence[str | None], path: str) -> str:
    """`sequence.step.stop.delay` as `sequence.step.4.delay`, the steps having these names; any other path as it is.

    >>> step_path([None, "stop"], "sequence.step.stop.delay")
    'sequence.step.1.delay'
    """
    name, _, key = path.removeprefix(STEP).rpartition(".")
    if not path.startswith(STEP) or name not in names:
        return path
    return f"{STEP}{list(names).index(name)}.{key}"


def names_of(steps: Iterable[tuple[str | None, str | None, str | None]], taken: Sequence[str] = ()) -> list[str]:
    """A name for each step (part, action, given name), after those that are `taken`."""
    names: list[str] = []
    used = list(taken)
    for part, action, given in steps:
        name = given
        if name is None:
            plain = HOLD if action == HOLD else " ".join(word for word in (part, action) if word)
            name, number = plain, 1
            while name in used:
                number += 1
                name = f"{plain} {number}"
        names.append(name)
        used.append(name)
    return names
