"""Each seal's gland as a case gives it, held against the bounds of `sizing/gland_bounds`.

    Case -> GlandCase per seal (ring, groove, facing diameter, temperature, pressure across, fluids) -> GlandAnswer

A groove given by its depth alone lies in the piston (piston seal) or in the bore (rod and post seal). Pressure across a seal is
the highest of the two fluids it parts, over their stated ranges, above ambient. A seal without a ring is not judged: it says so.
"""

from typing import NamedTuple

from sleevelift.case.schema import Case
from sleevelift.case.schema_liquid import Propellant
from sleevelift.case.schema_machine import FlangeSeal, Seal
from sleevelift.sizing.gland_bounds import GlandCase, at_temperature, gland_faults, gland_warnings, not_looked_at, ring_of_code
from sleevelift.sizing.seal_gland import Gland, GlandState, gland_state
from sleevelift.sizing.seal_materials import fluid_warning, is_oxidizer, temperature_fault

SEALS = ("post", "rod", "piston", "flange")
NO_GLAND = "no gland given"
REMEDY = (
    "another ring, groove or material; a cold oxidizer's seal is no elastomer but a spring-energised one, measured, with its "
    "friction as a range"
)
UNNAMED = "the oxidizer has no name in this case: what its seal's material does beside it is not looked at"


class GlandAnswer(NamedTuple):
    """What is known of one seal's gland."""

    seal: str
    gland: GlandCase | None
    """None: no gland given"""
    cold: GlandState | None
    """at room temperature"""
    hot: GlandState | None
    """at the gland's own temperature"""
    faults: list[str]
    warnings: list[str]
    not_looked_at: list[str]


def _highest(case: Case, path: str, value: float | None) -> float:
    """The top of a value's range, or the value; 0 where there is none."""
    return case.ranges[path][1] if path in case.ranges else value or 0.0


def _feed_pressure(case: Case, side: str) -> float:
    """Highest inlet pressure of a feed, Pa absolute; 0 without it."""
    part: Propellant | None = getattr(case, side)
    if part is None:
        return case.bench.fuel_side_pressure if side == "fuel" else 0.0
    if part.inlet_table is not None:
        return max(part.inlet_table.pressure)
    return _highest(case, f"{side}.inlet_pressure", part.inlet_pressure)


def gas_pressure(case: Case) -> float:
    """Highest actuation gas pressure at the valve, Pa absolute, over its range."""
    supply = case.supply
    if supply.table is not None:
        return max(supply.table.pressure)
    own = _highest(case, "supply.pressure", supply.pressure)
    return own or _highest(case, "supply.bottle_pressure", supply.bottle_pressure)


def _faces(case: Case, seal: str) -> tuple[float, float, tuple[str, ...]]:
    """(temperature K, highest pressure across Pa, fluids) of a seal."""
    ambient = case.ambient.pressure
    side = {"post": "oxidizer", "rod": "fuel"}.get(seal)
    part: Propellant | None = getattr(case, side) if side else None
    temperature = case.ambient.temperature if part is None else part.temperature
    high = _feed_pressure(case, side) if side else 0.0
    if seal != "post":
        high = max(high, gas_pressure(case))
    fluids = [part.liquid] if part is not None and part.liquid else []
    if seal != "post":
        fluids.append(case.gas.name)
    return temperature, max(high - ambient, 0.0), tuple(fluids)


def _gland(case: Case, seal: str, entry: Seal | FlangeSeal) -> Gland | None:
    """The groove of a seal; None where it is not whole."""
    if entry.groove_width is None:
        return None
    if isinstance(entry, FlangeSeal):
        if entry.groove_depth is None or entry.groove_diameter is None:
            return None
        carried = entry.groove_diameter - 2.0 * entry.cord  # inside diameter of a ring that touches the groove's outer wall
        facing = carried + 2.0 * entry.groove_depth
        return Gland(carried, facing, entry.groove_width, entry.diameter_tolerance, entry.width_tolerance)
    facing = float(getattr(case.sleeve, f"{seal}_diameter"))
    floor = entry.groove_diameter
    if floor is None:
        if entry.groove_depth is None:
            return None
        floor = facing + 2.0 * entry.groove_depth * (-1.0 if seal == "piston" else 1.0)
    return Gland(floor, facing, entry.groove_width, entry.diameter_tolerance, entry.width_tolerance)


def gland_of(case: Case, seal: str) -> GlandCase | None:
    """One seal's gland; None where the case does not give it whole."""
    entry: Seal | FlangeSeal | None = getattr(case.seals, seal)
    if entry is None or entry.ring is None:
        return None
    gland = _gland(case, seal, entry)
    if gland is None:
        return None
    own, pressure, fluids = _faces(case, seal)
    return GlandCase(
        ring=ring_of_code(entry.ring),
        gland=gland,
        duty="face" if isinstance(entry, FlangeSeal) else entry.duty,
        material=entry.material,
        hardness=entry.hardness,
        temperature=own if entry.gland_temperature is None else entry.gland_temperature,
        pressure=pressure,
        extrusion_gap=entry.extrusion_gap,
        backup_ring=entry.backup_ring,
        fluids=fluids,
    )


def _without_ring(case: Case, seal: str, entry: Seal | FlangeSeal | None) -> GlandAnswer:
    """A seal that has no gland: its material is looked at where it is given."""
    material = None if entry is None else entry.material
    if entry is None or material is None:
        return GlandAnswer(seal, None, None, None, [], [], ["ring, groove and material"])
    own, _, fluids = _faces(case, seal)
    fault = temperature_fault(material, own if entry.gland_temperature is None else entry.gland_temperature)
    warned = [text for text in (fluid_warning(material, fluid) for fluid in fluids) if text]
    return GlandAnswer(seal, None, None, None, [fault] if fault else [], warned, ["ring and groove"])


def gland_answer(case: Case, seal: str) -> GlandAnswer:
    """One seal against its bounds."""
    entry: Seal | FlangeSeal | None = getattr(case.seals, seal)
    found = gland_of(case, seal)
    if found is None:
        answer = _without_ring(case, seal, entry)
    else:
        warm = at_temperature(found)
        room = gland_state(found.ring, found.gland)
        answer = GlandAnswer(seal, found, room, warm, gland_faults(found), gland_warnings(found), not_looked_at(found))
    material = None if entry is None else entry.material
    oxidizer = case.oxidizer
    if seal == "post" and oxidizer is not None and material and not is_oxidizer(oxidizer.liquid or ""):
        unknown = UNNAMED if not oxidizer.liquid else ""
        return answer._replace(not_looked_at=[*answer.not_looked_at, unknown]) if unknown else answer
    return answer


def gland_answers(case: Case) -> list[GlandAnswer]:
    """Every seal of the case, the flange's face seal too."""
    return [gland_answer(case, seal) for seal in SEALS]


def material_warnings(case: Case) -> list[str]:
    """Plain warnings of materials beside fluids, each with its seal."""
    return [f"Seal on the {answer.seal}: {text}." for answer in gland_answers(case) for text in answer.warnings]


def span_text(answer: GlandAnswer) -> str:
    """Squeeze, stretch and fill of a gland over tolerances and both temperatures, in words; empty where there is none."""
    if answer.cold is None or answer.hot is None:
        return ""
    parts = []
    for name in ("squeeze", "stretch", "fill"):
        spans = [getattr(state, name) for state in (answer.cold, answer.hot)]
        low, high = min(span.least for span in spans), max(span.greatest for span in spans)
        parts.append(f"{name} {100.0 * low:.1f} to {100.0 * high:.1f} %")
    return ", ".join(parts)


def unlooked(answer: GlandAnswer) -> str:
    """What was not looked at, in words."""
    return f"; not looked at: {', '.join(answer.not_looked_at)}" if answer.not_looked_at else ""


class GlandVerdict(NamedTuple):
    """One gland's verdict in words."""

    name: str
    passed: bool | None
    """None: not judged, no gland given"""
    advice: str


def gland_verdicts(case: Case) -> list[GlandVerdict]:
    """One row a seal: inside its bounds, outside with what to change, or not judged."""
    out = []
    for answer in gland_answers(case):
        name = f"gland_{answer.seal}"
        if answer.faults:
            out.append(GlandVerdict(name, False, f"{'; '.join(answer.faults)}{unlooked(answer)}. To change: {REMEDY}"))
        elif answer.gland is None:
            out.append(GlandVerdict(name, None, f"{NO_GLAND}{unlooked(answer)}"))
        else:
            out.append(GlandVerdict(name, True, f"inside its bounds: {span_text(answer)}{unlooked(answer)}"))
    return out
