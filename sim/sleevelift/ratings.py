"""Rated working pressures: which part has one, what pressure it sees, and how a pressure may be raised.

    part -> (rating Pa absolute or None, highest pressure of the run or of the stated ranges)

A part without a rating is named as such and never held against anything: the program does not know what it stands.
"""

from collections.abc import Mapping
from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.reader import Reader
from sleevelift.shown import formed

Measures = Mapping[str, float | None]
ACTUATION = ("supply line", "tube", "lift chamber")
"""Parts that stand under actuation pressure."""
NO_RATING = "no rating given"


class Part(NamedTuple):
    """One pressurised part."""

    name: str
    key: str
    """path of its rating"""
    rating: float | None
    """Pa absolute; None: not given"""
    check: str
    """name of its check: the measure that is its peak"""
    peak: float | None
    """Pa absolute, the highest of the run and of the stated range of what feeds it; None: not known"""


def _most(*pressures: float | None) -> float | None:
    """The highest of the pressures that are known."""
    return max((p for p in pressures if p is not None), default=None)


def _top(case: Case, path: str, own: float | None) -> float | None:
    """Upper end of a value's range, or the value."""
    return case.ranges[path][1] if path in case.ranges else own


def parts(found: Measures, case: Case) -> list[Part]:
    """Every pressurised part of the case with its rating and the highest pressure it sees, Pa absolute."""
    limits, s = case.limits, case.supply
    bottle = _top(case, "supply.bottle_pressure", s.bottle_pressure)
    table = max(s.table.pressure) if s.table is not None else None
    feed = _most(_top(case, "supply.pressure", s.pressure), table)
    if s.kind == "bottle":
        feed = bottle
    elif s.kind == "regulator" and feed is not None and bottle is not None:
        feed = min(feed, bottle)
    out = []
    if s.kind in ("bottle", "regulator"):
        out.append(Part("bottle", "limits.bottle_rated_pressure", limits.bottle_rated_pressure, "bottle_pressure", bottle))
    supply = _most(found.get("peak_supply_pressure"), feed)
    key = "limits.supply_line_rated_pressure"
    out.append(Part("supply line", key, limits.supply_line_rated_pressure, "peak_supply_pressure", supply))
    for name, rating in (
        ("tube", limits.tube_rated_pressure),
        ("lift chamber", limits.lift_chamber_rated_pressure),
        ("spring side", limits.spring_side_rated_pressure),
    ):
        word = name.replace(" ", "_")
        # a valve that stays open fills tube and lift chamber up to the supply's highest pressure
        peak = _most(found.get(f"peak_{word}_pressure"), feed if name in ACTUATION else None)
        out.append(Part(name, f"limits.{word}_rated_pressure", rating, f"peak_{word}_pressure", peak))
    for side, rating in (("oxidizer", limits.oxidizer_manifold_rated_pressure), ("fuel", limits.fuel_manifold_rated_pressure)):
        part = getattr(case, side)
        if part is None:
            continue
        given = max(part.inlet_table.pressure) if part.inlet_table is not None else part.inlet_pressure
        peak = _most(found.get(f"peak_{side}_manifold"), _top(case, f"{side}.inlet_pressure", given))
        out.append(Part(f"{side} manifold", f"limits.{side}_manifold_rated_pressure", rating, f"peak_{side}_manifold", peak))
    if case.chamber is not None:
        allowable = case.chamber.allowable_pressure
        peak = found.get("peak_chamber_pressure")
        out.append(Part("chamber", "chamber.allowable_pressure", allowable, "peak_chamber_pressure", peak))
    return out


def limit_of(part: Part, case: Case) -> tuple[float, str] | None:
    """(lowest pressure that a part must stay under, Pa absolute, what that is); None where nothing is given."""
    limits = [(part.rating, "allowable pressure" if part.name == "chamber" else "rated pressure")]
    if part.name.endswith("manifold"):
        limits.append((case.limits.manifold_pressure_at_most, "limit"))
    return min(((value, word) for value, word in limits if value is not None), default=None)


def unrated(found: Measures, case: Case) -> list[Part]:
    """Parts without a rating."""
    return [part for part in parts(found, case) if part.rating is None]


def absolute(pressure: float, reader: Reader) -> str:
    """An absolute pressure in words."""
    unit = reader.unit("pressure")
    return f"{formed(reader.number('pressure', pressure), unit)} {unit}"


def least_rating(case: Case, names: tuple[str, ...]) -> str:
    """What a pressure that reaches these parts must stay under, in words."""
    known = {part.name: part.rating for part in parts({}, case) if part.name in names}
    missing = [name for name, rating in known.items() if rating is None]
    ratings = {name: rating for name, rating in known.items() if rating is not None}
    if missing:
        return f"only within the rated pressure of {_listed(list(known))}: {NO_RATING} for the {_listed(missing)}"
    name = min(ratings, key=lambda one: ratings[one])
    return f"to no more than {absolute(ratings[name], case.reader)}, the rated pressure of the {name}, relief valve included"


def _listed(names: list[str]) -> str:
    """a, b and c."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def spelled(advice: str, case: Case) -> str:
    """Advice with its marks {gas} and {fuel} replaced by the limit that the raised pressure must stay under."""
    if "{gas}" in advice:
        advice = advice.replace("{gas}", f"({least_rating(case, ACTUATION)})")
    if "{fuel}" in advice:
        bench = f"only within the rated pressure of the bench's fuel side: {NO_RATING}"
        advice = advice.replace("{fuel}", f"({bench if case.fuel is None else least_rating(case, ('fuel manifold',))})")
    return advice
