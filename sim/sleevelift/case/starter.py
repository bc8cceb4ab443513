"""Starter cases: a complete commented file of each kind that runs as it is, to be filled in with one's own numbers.

The comment beside each key is its meaning in the schema, so that the two cannot drift apart. Keys that the starter
leaves at their default, or absent, stand there as comments. The numbers are an invented small engine (liquid oxygen
and ethanol, about 2.5 kN); nobody's hardware.
"""

import math
from typing import Any

from pydantic.fields import FieldInfo

from sleevelift import units
from sleevelift.case.cautions import HEAD as CAUTION_HEAD
from sleevelift.case.quantity import note_of, quantity_of, usual_of, usual_text
from sleevelift.case.schema import Case
from sleevelift.case.schema_gas import Coil, QuickExhaust
from sleevelift.case.schema_liquid import SlotRow
from sleevelift.case.schema_machine import Seal
from sleevelift.case.show import CUSTOMARY
from sleevelift.case.walk import keys_of

KINDS = ("dry", "cold-flow", "hot")
COMMENT_COLUMN = 44
"""column at which the comments of a starter begin."""

Values = dict[str, str]
"""key -> TOML text."""

SEAL = '{ squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "1.78 mm" }'
WATER = {
    "liquid": '"Water"',
    "temperature": '"293.15 K"',
    "density": '"998.2 kg/m3"',
    "viscosity": '"1.0 mPa s"',
    "vapour_pressure": '"0.0234 bara"',
    "bulk_modulus": '"2.19 GPa"',
}
FEED = {
    "inlet_pressure": '"27 bara"',
    "line_length": '"0.4 m"',
    "line_bore": '"28 mm"',
    "rated_loss": '"2.0 bar"',
}

SHARED: dict[str, Values] = {
    "ambient": {"pressure": '"1.01325 bara"', "temperature": '"20 degC"'},
    "run": {},
    "gas": {"name": '"nitrogen"'},
    "supply": {
        "kind": '"regulator"',
        "pressure": '{ value = "31 bara", low = "29.5 bara", high = "32.5 bara" }',
        "bottle_volume": '"2 litre"',
        "bottle_pressure": '"200 bara"',
        "droop_band": '"2 bar"',
        "regulator_orifice": '"2.0 mm"',
        "regulator_discharge_coefficient": "0.8",
        "plenum_volume": '"50 cm3"',
        "relief_pressure": '"36 bara"',
        "relief_area": '"15 mm2"',
    },
    "solenoid": {
        "on": '["0.1 s"]',
        "off": '["0.8 s"]',
        "fill_orifice": '"1.0 mm"',
        "fill_discharge_coefficient": "0.70",
        "exhaust_orifice": '"1.2 mm"',
        "exhaust_discharge_coefficient": "0.70",
        "open_dead_time": '"8 ms"',
        "open_stroke_time": '"3 ms"',
        "close_dead_time": '"10 ms"',
        "close_stroke_time": '"4 ms"',
    },
    "tube": {"length": '"0.8 m"', "bore": '"4 mm"'},
    "lift_chamber": {"dead_volume": '"1.5 cm3"', "wall_area": '"12 cm2"'},
    "spring_side": {"volume": '"14 cm3"', "vent_orifice": '"4.0 mm"', "vent_discharge_coefficient": "0.70"},
    "sleeve": {
        "post_diameter": '"16.0 mm"',
        "nose_diameter": '"17.6 mm"',
        "seat_diameter": '"19.0 mm"',
        "rod_diameter": '"24.3 mm"',
        "piston_diameter": '"29.2 mm"',
        "stroke": '"2.0 mm"',
        "moving_mass": '"165 g"',
        "axis_tilt": '"0 deg"',
        "restitution_stop": "0.2",
        "restitution_seat": "0.2",
    },
    "spring": {
        "preload": '"770 N"',
        "wire_diameter": '"4.8 mm"',
        "mean_diameter": '"22.4 mm"',
        "active_coils": "10.0",
        "total_coils": "12.0",
        "shear_modulus": '"75 GPa"',
        "free_length": '"79.5 mm"',
    },
    "seals": {
        "post": SEAL,
        "rod": SEAL,
        "piston": SEAL,
        "breakaway_ratio": "1.3",
        "stribeck_velocity": '"20 mm/s"',
        "viscous": '"40 N s/m"',
        "friction_factor": "{ value = 1.0, low = 0.5, high = 1.5 }",
        "piston_leak_area": '"0.020 mm2"',
    },
}
PROPELLANTS: dict[str, Values] = {
    "slots": {"clearance": '"5 um"', "minimum_length": '"0.1 mm"'},
    "slots.row": {
        "count": "10",
        "shape": '"rectangular"',
        "height": '"1.80 mm"',
        "width": '"1.46 mm"',
        "lap": '"0.10 mm"',
        "discharge_coefficient": "0.65",
    },
    "seat": {
        "edge": '"seat"',
        "half_angle": '"45 deg"',
        "discharge_coefficient": "0.70",
        "land_width": '"0.2 mm"',
        "edge_radius": '"1.0 mm"',
        "spigot_length": '"0.70 mm"',
        "spigot_clearance": '"7 um"',
        "annulus_area": '"22.0 mm2"',
        "annulus_discharge_coefficient": "0.75",
        "jet_factor": "1",
    },
}
OXYGEN = {
    "liquid": '"Oxygen"',
    "temperature": '"90 K"',
    **FEED,
    "rated_flow": '"0.658 kg/s"',
    "manifold_volume": '"40 cm3"',
}
ETHANOL = {
    "liquid": '"Ethanol"',
    "temperature": '"293 K"',
    **FEED,
    "inlet_pressure": '{ value = "27 bara", low = "25.5 bara", high = "28.0 bara" }',
    "rated_flow": '"0.507 kg/s"',
    "manifold_volume": '"50 cm3"',
}
CHAMBER = {
    "volume": '"1.2 litre"',
    "throat_area": '"1006 mm2"',
    "efficiency": "0.93",
    "combustion_time_constant": '"1.0 ms"',
    "propellants": '"oxygen/ethanol"',
    "cold_c_star_fuel": '"390 m/s"',
    "cold_c_star_oxidizer": '"250 m/s"',
    "allowable_pressure": '"60 bara"',
}
IGNITER = {"on": '["0.05 s"]', "delay": '"3 ms"'}
COLD = {
    "clearance_temperature": '"90 K"',
    "running_temperature": '"90 K"',
    "post_material": '"316"',
    "sleeve_material": '"316"',
}
"""The clearance of the hot starter is stated as it runs, cold."""
RATINGS = {
    "bottle_rated_pressure": '"231 bara"',
    "supply_line_rated_pressure": '"100 bara"',
    "tube_rated_pressure": '"100 bara"',
    "lift_chamber_rated_pressure": '"80 bara"',
    "spring_side_rated_pressure": '"20 bara"',
}
MANIFOLD_RATINGS = {"oxidizer_manifold_rated_pressure": '"60 bara"', "fuel_manifold_rated_pressure": '"60 bara"'}
LIMITS = {"margin_at_least": "0.0", "seat_impact_speed_at_most": '"2 m/s"'} | RATINGS
TITLES = {
    "dry": "Bench test of the actuation, no propellants",
    "cold-flow": "Cold flow with water on both sides",
    "hot": "Hot start and stop, liquid oxygen and ethanol",
}


def starter_case(kind: str) -> str:
    """The text of a starter case. KeyError for another kind than dry, cold-flow or hot."""
    tables: dict[str, Values] = {
        "case": {"title": f'"{TITLES[kind]}, invented test article"', "kind": f'"{kind}"', "invented": "true"}
    }
    tables |= {name: dict(values) for name, values in SHARED.items()}
    if kind == "dry":
        tables["supply"] |= {"pressure": '"65 bara"', "relief_pressure": '"72 bara"', "relief_area": '"8 mm2"'}
        tables["solenoid"]["off"] = '["0.3 s"]'
        tables["bench"] = {"fuel_side_pressure": '"0 barg"'}
    elif kind == "cold-flow":
        tables["solenoid"]["off"] = '["0.4 s"]'
        tables["bench"] = {"back_pressure": '"0 barg"'}
        tables["oxidizer"] = OXYGEN | WATER | {"rated_density": '"1141 kg/m3"'}
        tables["fuel"] = ETHANOL | WATER | {"rated_density": '"789 kg/m3"'}
        tables |= PROPELLANTS
    else:
        tables["seals"]["post_leak_area"] = '"0.010 mm2"'
        tables |= (
            {"oxidizer": OXYGEN, "fuel": ETHANOL}
            | PROPELLANTS
            | {"slots": PROPELLANTS["slots"] | COLD}
            | {"chamber": CHAMBER, "igniter": IGNITER}
        )
    tables["limits"] = LIMITS if kind == "dry" else LIMITS | MANIFOLD_RATINGS
    tables["trace"] = {}
    return (
        "\n\n".join([HEAD.format(kind=kind, caution=CAUTION_HEAD), *(_table_text(name, values) for name, values in tables.items())])
        + "\n"
    )


HEAD = """\
# Starter case ({kind}).
{caution}
#
# INVENTED numbers, nobody's hardware: replace each by a drawing, datasheet or test value, say
# which in its comment, and set invented = false. Lines that begin with # are defaults and options.
#
# Every dimensioned value is a text with its unit: "12.7 mm", "0.5 in", "28 N/mm", "160 lbf/in". Pressures say from
# where: "31 bara" or "450 psia" (absolute), "30 barg" or "435 psig" (above ambient); differences are plain: "2 bar".
# Any of them may carry its range: {{ value = "770 N", plus_minus = "5 %" }}, or low and high in place of plus_minus."""


def _model(name: str) -> Any:
    """The model of a table by its path."""
    if name == "slots.row":
        return SlotRow
    return keys_of(Case)[name].table


TABLE_SOURCE = (
    "c* and g come from the shipped table of the pair named by propellants: shifting equilibrium of the gas species, Cantera,",
    "c* without efficiency (scripts/make_combustion_table.py); or from lists of your own: o_f, c_star, g.",
)
"""Where the combustion of a hot starter comes from."""


def _table_text(name: str, values: Values) -> str:
    """One table of the file, every key of the schema in it."""
    model = _model(name)
    heading = f"[[{name}]]" if name == "slots.row" else f"[{name}]"
    lines = [f"# {(model.__doc__ or '').strip()}", heading]
    if name == "chamber":
        lines += [f"# {line}" for line in TABLE_SOURCE]
    for key, info in keys_of(model).items():
        if key in values:
            lines += _line(key, values[key], info.field)
        elif info.table is None:
            lines += _line(f"# {key}", _default_text(info.field), info.field)
    if name == "solenoid":
        lines += _option("solenoid.coil", Coil)
        lines.append("# option: [[sequence.step]] everything commanded in one list, in place of on and off: see the README")
    if name == "tube":
        lines += _option("quick_exhaust", QuickExhaust)
    if name in ("oxidizer", "fuel", "chamber"):
        for key, info in keys_of(model).items():
            if info.table is not None and key not in values:
                lines += _option(f"{name}.{key}", info.table)
    if name == "seals":
        friction = ", ".join(key for key in keys_of(Seal))
        lines.append(f"# keys of a seal: {friction}")
    return "\n".join(lines)


def _option(name: str, model: Any) -> list[str]:
    """A table that may be added, as a comment."""
    return [f"# option: [{name}] {(model.__doc__ or '').strip()} Keys: {', '.join(keys_of(model))}"]


def _line(key: str, text: str, field: FieldInfo) -> list[str]:
    """`key = value   # meaning`, the comment on a line of its own before values that are long."""
    assignment = f"{key} = {text}"
    usual, quantity = usual_of(field), quantity_of(field)
    meaning = f"# {field.description}"
    if usual is not None and quantity is not None:
        meaning += f"; usually {usual_text(usual, quantity.kind)} ({usual.source})"
    if len(assignment) >= COMMENT_COLUMN:
        return [meaning, assignment]
    return [f"{assignment:<{COMMENT_COLUMN}}{meaning}"]


def _default_text(field: FieldInfo) -> str:
    """What an unset key would be: its default in a handy unit, or an example of what may stand there."""
    quantity, default = quantity_of(field), field.default
    reason = note_of(field, "reason")
    if isinstance(default, bool):
        return "true" if default else "false"
    if isinstance(default, str):
        return f'"{default}"'
    if isinstance(default, dict):
        return '{ "PT-3 [psig]" = "lift_chamber_pressure" }'
    if quantity is None:
        return '"..."'
    if isinstance(default, float) and not math.isnan(default):
        unit = "-" if quantity.kind == "number" else CUSTOMARY.get(quantity.kind, quantity.si_unit)
        text = units.written(default, unit, quantity.kind)
        return text if unit == "-" else f'"{text}"'
    return f"({reason})" if reason else "..."
