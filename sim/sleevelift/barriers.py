"""Barriers: which seals part propellant from propellant, from actuation gas and from the outside, and where a leak ends.

    oxidizer manifold ==post seal== spring side ==piston seal== lift chamber ==rod seal== fuel manifold
           ~ slots (a lapped clearance, no seal) ~ combustion chamber ==fuel seat== fuel manifold

A picture of spaces and of what joins them; "==" is a seal, "~" leaks always, a vent is open. Two fluids **meet** in a space
when each has come there; the seals that part them there are all seals on both ways. A leak that comes into a space with an open
way out (the nozzle, the spring side's vent) ends there; with that vent blocked or left out it goes on. Nothing here is computed
from pressures: a path counts whichever way the pressures stand, because they change from state to state (filling, firing,
venting, a lost supply).

The rule the answer is held against: one failed seal and one other that leaks within its allowance must not bring two
propellants together (common practice of double barriers, no source). So fewer than three seals between them is named.

What it does not look at: cracks and porosity of the metal, fittings and valves outside the valve's body, a vent that is shared with
another system, propellant carried back up a vent, and what the case does not say.
"""

from collections.abc import Iterator
from itertools import product
from typing import NamedTuple

from sleevelift.case.schema import Case

SEALS_WANTED = 3
"""-. Seals between two propellants, so that one failed and one leaking within its allowance still part them."""

OXIDIZER, FUEL = "oxidizer manifold", "fuel manifold"
LIFT, SPRING, CHAMBER, OUTSIDE = "lift chamber", "spring side", "combustion chamber", "outside"


class Boundary(NamedTuple):
    """What lies between two spaces."""

    one: str
    other: str
    name: str
    is_seal: bool
    """False: it leaks by construction, or is an open vent"""


class Meeting(NamedTuple):
    """Two fluids in one space, and what parts them there."""

    fluids: tuple[str, str]
    place: str
    seals: tuple[str, ...]
    """all that must leak; empty: nothing parts them"""
    vents: tuple[str, ...]
    """open ways out of the spaces the leak goes through, the place included"""

    @property
    def joined_by_two(self) -> bool:
        """Whether one failed seal and one within its allowance bring them together."""
        return len(self.seals) < SEALS_WANTED


class Escape(NamedTuple):
    """A fluid's shortest way to the outside."""

    fluid: str
    seals: tuple[str, ...]
    way: tuple[str, ...]


class Vent(NamedTuple):
    """An open way out of a space, and where it ends."""

    name: str
    space: str
    when: str
    """always, or in which state"""
    ends: str | None
    """as the case says; None: it does not"""


class Barriers(NamedTuple):
    """Everything the picture of barriers says of a case."""

    warning: str | None
    """the sentence for the top of a report"""
    meetings: list[Meeting]
    escapes: list[Escape]
    vents: list[Vent]
    not_looked_at: str


NOT_LOOKED_AT = (
    "Not looked at: cracks and porosity of the metal, fittings and valves outside the valve's body, a vent shared with another "
    "system, propellant carried back up a vent, and how much each seal leaks."
)


def boundaries(case: Case) -> list[Boundary]:
    """What joins the spaces of this case, vents included."""
    found = [
        Boundary(LIFT, SPRING, "piston seal", True),
        Boundary(LIFT, OUTSIDE, "flange seal and fittings of the lift chamber", True),
    ]
    if case.fuel is not None:
        found += [
            Boundary(FUEL, LIFT, "rod seal", True),
            Boundary(FUEL, CHAMBER, "fuel seat", True),
            Boundary(FUEL, OUTSIDE, "static seals of the fuel side", True),
        ]
    if case.oxidizer is not None:
        found += [
            Boundary(OXIDIZER, SPRING, "post seal", True),
            Boundary(OXIDIZER, CHAMBER, "lapped slots", False),
            Boundary(OXIDIZER, OUTSIDE, "static seals of the oxidizer side", True),
            Boundary(CHAMBER, SPRING, "post seal", True),
        ]
    if has_vent(case):
        found.append(Boundary(SPRING, OUTSIDE, "vent of the spring side", False))
    if case.fuel is not None or case.oxidizer is not None:
        found.append(Boundary(CHAMBER, OUTSIDE, "nozzle", False))
    return found


def has_vent(case: Case) -> bool:
    """Whether the spring side has an open vent."""
    side = case.spring_side
    return side.vent_component is not None or bool(side.vent_orifice and side.vent_orifice > 0.0)


def ways(case: Case, start: str) -> dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]]:
    """Every way from a space: space -> [(seals passed, spaces passed)], no space twice, none beyond an open one."""
    joins = boundaries(case)
    opened = {join.one for join in joins if not join.is_seal and join.other == OUTSIDE}
    found: dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]] = {}

    def walk(here: str, seals: tuple[str, ...], way: tuple[str, ...]) -> None:
        found.setdefault(here, []).append((seals, way))
        if here == OUTSIDE:
            return
        for join in joins:
            ends = here in opened and here != start and join.other != OUTSIDE
            if here not in (join.one, join.other) or ends:
                continue
            there = join.other if here == join.one else join.one
            if there not in way:
                more = (join.name,) if join.is_seal and join.name not in seals else ()
                walk(there, seals + more, (*way, there))

    walk(start, (), (start,))
    return found


def sources(case: Case) -> dict[str, str]:
    """Fluid -> the space it is held in."""
    held = {"actuation gas": LIFT}
    if case.fuel is not None:
        held["fuel"] = FUEL
    if case.oxidizer is not None:
        held["oxidizer"] = OXIDIZER
    return held


def _vents_of(case: Case, spaces: tuple[str, ...]) -> tuple[str, ...]:
    """Open ways to the outside from these spaces, each named once."""
    names = [join.name for join in boundaries(case) if not join.is_seal and OUTSIDE in (join.one, join.other)]
    at = {join.name: join.one for join in boundaries(case)}
    return tuple(dict.fromkeys(name for name in names if at[name] in spaces))


def _meetings_of(case: Case, one: str, other: str) -> Iterator[Meeting]:
    held = sources(case)
    from_one, from_other = ways(case, held[one]), ways(case, held[other])
    for place in from_one:
        if place == OUTSIDE or place not in from_other:
            continue
        best: Meeting | None = None
        for (seals_one, way_one), (seals_other, way_other) in product(from_one[place], from_other[place]):
            seals = tuple(dict.fromkeys((*seals_one, *seals_other)))
            if best is None or len(seals) < len(best.seals):
                best = Meeting((one, other), place, seals, _vents_of(case, (*way_one[1:], *way_other[1:])))
        if best is not None:
            yield best


def meetings(case: Case) -> list[Meeting]:
    """Where each pair of fluids can meet, with the fewest seals between them; fewest first, one row a place."""
    names = sorted(sources(case))
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    found = [meeting for one, other in pairs for meeting in _meetings_of(case, one, other)]
    return sorted(found, key=lambda m: (len(m.seals), m.fluids, m.place))


def escapes(case: Case) -> list[Escape]:
    """The way of each fluid to the outside with the fewest seals."""
    found = []
    for fluid, start in sources(case).items():
        seals, way = min(ways(case, start)[OUTSIDE], key=lambda entry: len(entry[0]))
        found.append(Escape(fluid, seals, way))
    return found


def vents(case: Case) -> list[Vent]:
    """Every open way out of this case's spaces, and where the case says it ends."""
    found = [Vent("exhaust port of the solenoid valve", LIFT, "solenoid valve off", case.solenoid.exhaust_to)]
    if case.quick_exhaust is not None:
        found.append(Vent("vent of the quick exhaust valve", LIFT, "lift chamber falling", case.quick_exhaust.vent_to))
    if has_vent(case):
        found.append(Vent("vent of the spring side", SPRING, "always", case.spring_side.vent_to))
    if case.fuel is not None or case.oxidizer is not None:
        found.append(Vent("nozzle", CHAMBER, "always", "where it points"))
    return found


def barriers(case: Case) -> Barriers:
    """The whole picture of a case."""
    return Barriers(warning(case), meetings(case), escapes(case), vents(case), NOT_LOOKED_AT)


def joining(case: Case) -> list[Meeting]:
    """Meetings of the two propellants that one failed seal and one within its allowance bring about."""
    return [m for m in meetings(case) if set(m.fluids) == {"fuel", "oxidizer"} and m.joined_by_two]


def warning(case: Case) -> str | None:
    """The sentence for the top of a report: where the propellants are joined so; None where nowhere."""
    found = joining(case)
    if not found:
        return None
    parts = []
    for meeting in found:
        seals = " and ".join(meeting.seals) if meeting.seals else "nothing"
        parts.append(f"in the {meeting.place} ({seals} between them)")
    return (
        "Fuel and oxidizer are joined by at most one failed seal and one within its allowance: "
        + "; ".join(parts)
        + ". What must part them besides, before the command and after the stop: run valves on both sides, each with the relief "
        f"that liquid locked between two shut valves needs, and a purge of inert gas. Of these the case has {_besides(case)}."
    )


def _besides(case: Case) -> str:
    """Run valves and purges of a case, in words."""
    there = [
        f"the {side} {what}"
        for side, feed in (("oxidizer's", case.oxidizer), ("fuel's", case.fuel))
        for what, part in (("run valve", feed and feed.valve), ("purge", feed and feed.purge))
        if part is not None
    ]
    if case.chamber is not None and case.chamber.purge is not None:
        there.append("the chamber's purge")
    return ", ".join(there) if there else "none"
