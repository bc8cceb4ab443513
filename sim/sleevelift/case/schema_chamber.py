"""Tables of the case file for the combustion chamber, the igniter, the limits of the checks and the faults to try."""

from typing import Annotated, Any, Literal

from annotated_types import Ge, Gt, Le, Lt
from pydantic import StrictBool, model_validator

from sleevelift.case.quantity import (
    DERIVED,
    Area,
    Energy,
    Length,
    LineForce,
    Number,
    Pressure,
    SpecificGasConstant,
    Speed,
    Table,
    Temperature,
    Time,
    Usual,
    Volume,
    key,
)
from sleevelift.case.schema_gas import COLDEST, GAS_HOLE, HIGHEST_GAS_PRESSURE, HOTTEST, LARGEST_ORIFICE, MOST_INSTANTS, MOST_ROWS
from sleevelift.case.schema_run import LOWEST_GAS_PRESSURE, Instant

_RATED = "rated working pressure of the"
LONGEST_UNIT = 20
"""characters."""


class ChamberPurge(Table):
    """Inert gas into the combustion chamber: from a set pressure through an orifice and a check valve, while on."""

    gas: str = key("inert gas: nitrogen, helium, argon or neon", max_length=40)
    pressure: Pressure = key(
        "set pressure ahead of the orifice",
        ge=LOWEST_GAS_PRESSURE,
        le=HIGHEST_GAS_PRESSURE,
        because="the gas tables end there",
    )
    temperature: Temperature = key(
        "temperature of the gas ahead of the orifice",
        default=DERIVED,
        reason="the ambient temperature",
        ge=COLDEST,
        le=HOTTEST,
    )
    orifice: Length | None = key("bore of the orifice", default=None, gt=0.0, le=LARGEST_ORIFICE)
    discharge_coefficient: Number = key(
        "discharge coefficient of the orifice",
        default=0.7,
        reason="a drilled hole, common practice, no source: measure it",
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    effective_area: Area | None = key(
        "effective area of orifice and check valve, discharge coefficient included, instead", default=None, gt=0.0, le=1e-2
    )
    on: tuple[Instant, ...] = key(
        "instants at which it is switched on, increasing", default=(), reason="none", max_length=MOST_INSTANTS
    )
    off: tuple[Instant, ...] = key(
        "instants at which it is switched off, increasing", default=(), reason="none", max_length=MOST_INSTANTS
    )


class Chamber(Table):
    """The combustion chamber."""

    volume: Volume = key("volume of the chamber", gt=0.0, le=100.0)
    throat_area: Area = key("area of the throat", gt=0.0, le=10.0)
    efficiency: Number = key(
        "c* reached over c* of the table",
        default=0.93,
        reason="between 0.9 and 0.97 of good injectors, common practice, no source: measure it",
        gt=0.0,
        le=1.2,
        usual=Usual(0.85, 0.98),
    )
    combustion_time_constant: Time = key(
        "time constant with which injected propellant burns",
        default=1e-3,
        reason="of a small chamber, common practice, no source: measure it",
        gt=0.0,
        le=1.0,
        usual=Usual(0.2e-3, 5e-3),
    )
    propellants: str | None = key(
        'pair whose shipped table of c* and g is used, such as "oxygen/ethanol", instead of o_f, c_star and g',
        default=None,
        max_length=60,
    )
    table_pressure: Pressure | None = key(
        "chamber pressure at which the pair's table is read; absent: steady at the rated flows", default=None, gt=0.0, le=1e9
    )
    gas_constant: SpecificGasConstant = key(
        "gas constant of the combustion gas, for the temperature of what leaks past the post seal",
        default=DERIVED,
        reason="from the pair's table at the rated mixture ratio",
        ge=10.0,
        le=5000.0,
    )
    o_f: tuple[Annotated[Number, Gt(0.0), Le(1000.0)], ...] = key(
        "mixture ratios (oxidizer over fuel) of the table, increasing", default=(), min_length=2, max_length=MOST_ROWS
    )
    c_star: tuple[Annotated[Speed, Gt(0.0), Le(10000.0)], ...] = key(
        "characteristic velocity at these mixture ratios: texts with a unit, or numbers with c_star_unit",
        default=(),
        min_length=2,
        max_length=MOST_ROWS,
    )
    c_star_unit: str | None = key("unit of the numbers in c_star", default=None, max_length=LONGEST_UNIT)
    g: tuple[Annotated[Number, Gt(1.0), Lt(2.0)], ...] = key(
        "isentropic exponent of the combustion gas at these mixture ratios, or one number for all",
        default=(),
        min_length=1,
        max_length=MOST_ROWS,
    )
    cold_c_star_fuel: Speed | None = key(
        "c* of cold fuel vapour alone; absent: from its molar mass", default=None, gt=0.0, le=10000.0
    )
    cold_c_star_oxidizer: Speed | None = key(
        "c* of cold oxidizer vapour alone; absent: from its molar mass", default=None, gt=0.0, le=10000.0
    )
    allowable_pressure: Pressure | None = key("highest pressure the chamber may see", default=None, gt=0.0, le=1e9)
    purge: ChamberPurge | None = key("inert gas into the chamber; absent: none", default=None)
    swept_share: Number = key(
        "share of the unburned pool that a purge carries away as if it were gas: 0 none, 1 all of it",
        default=0.0,
        reason="the pool is mostly liquid: what is left counts whole, which errs high; 1 is a lower bound of what is left",
        ge=0.0,
        le=1.0,
        usual=Usual(0.0, 1.0, "nobody knows how much of the pool is vapour"),
    )

    @model_validator(mode="before")
    @classmethod
    def _spell_out_lists(cls, raw: Any) -> Any:
        """Numbers with `c_star_unit` become texts with that unit; a single g becomes a list."""
        return spelled_out(raw) if isinstance(raw, dict) else raw


def spelled_out(raw: dict[str, Any]) -> dict[str, Any]:
    """The table with every entry of c* as a text with its unit, and g as a list."""
    table = dict(raw)
    unit, speeds = table.get("c_star_unit"), table.get("c_star")
    if isinstance(unit, str) and len(unit) <= LONGEST_UNIT and isinstance(speeds, list):
        del table["c_star_unit"]
        table["c_star"] = [f"{value!r} {unit}" if _is_plain_number(value) else value for value in speeds]
    if "g" in table and not isinstance(table["g"], list | tuple):
        table["g"] = [table["g"]]
    return table


def _is_plain_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


class Igniter(Table):
    """When the chamber lights. Without this table it never does."""

    on: tuple[Instant, ...] = key(
        "instants at which the igniter is switched on",
        default=(),
        reason="steps of [sequence] switch it",
        max_length=MOST_INSTANTS,
    )
    off: tuple[Instant, ...] = key(
        "instants at which it is switched off", default=(), reason="it stays on", max_length=MOST_INSTANTS
    )
    rise: Time = key("from switching on to a flame that lights", default=0.0, reason="burning at once", ge=0.0, le=100.0)
    delay: Time | None = key(
        "ignition delay from the instant at which igniter and both propellants are there",
        default=None,
        ge=0.0,
        le=10.0,
        usual=Usual(1e-3, 20e-3),
    )
    light_off: Time | None = key("instant of light-off, given instead of on and delay", default=None, ge=0.0, le=1000.0)
    ignitable_mixture: tuple[Annotated[Number, Ge(0.0)], Annotated[Number, Ge(0.0)]] | None = key(
        "lowest and highest mixture ratio of the flows that lights", default=None
    )


class Limits(Table):
    """What the checks hold the results against; a check without its limit is not made."""

    opening_time_at_most: Time | None = key("command to full lift", default=None, gt=0.0)
    closing_time_at_most: Time | None = key("command to seated for good", default=None, gt=0.0)
    oxidizer_lead_at_least: Time | None = key("first fuel after first oxidizer", default=None)
    last_in: Literal["fuel", "oxidizer"] | None = key(
        "which propellant must be the last that enters the chamber at the stop", default=None
    )
    sealing_load_at_least: LineForce | None = key("force per length of seat line, shut", default=None, ge=0.0)
    stop_impact_speed_at_most: Speed | None = key("impact on the stop", default=None, gt=0.0)
    seat_impact_speed_at_most: Speed | None = key("impact on the seat", default=None, gt=0.0)
    seat_impact_energy_at_most: Energy | None = key("energy of one closing that the seat takes", default=None, gt=0.0)
    margin_at_least: Number = key("least of each static margin", default=0.0, reason="the worst case just holds", ge=-1.0, le=10.0)
    lift_area_factor: Number = key(
        "factor on the first cut of the lift area", default=1.5, reason="common practice, no source", ge=1.0, le=10.0
    )
    manifold_pressure_at_most: Pressure | None = key("highest pressure in either manifold", default=None, gt=0.0)
    steady_flow_band: Number = key(
        "largest difference of a steady flow of a hot case from its rated flow, as a share of it",
        default=0.10,
        reason="common practice, no source",
        gt=0.0,
        le=1.0,
    )
    bottle_rated_pressure: Pressure | None = key(f"{_RATED} bottle", default=None, gt=0.0, le=1e9)
    supply_line_rated_pressure: Pressure | None = key(
        f"{_RATED} line between bottle or regulator and solenoid valve", default=None, gt=0.0, le=1e9
    )
    tube_rated_pressure: Pressure | None = key(f"{_RATED} tube to the lift chamber", default=None, gt=0.0, le=1e9)
    lift_chamber_rated_pressure: Pressure | None = key(f"{_RATED} lift chamber", default=None, gt=0.0, le=1e9)
    spring_side_rated_pressure: Pressure | None = key(f"{_RATED} housing on the spring's side", default=None, gt=0.0, le=1e9)
    oxidizer_manifold_rated_pressure: Pressure | None = key(f"{_RATED} oxidizer manifold", default=None, gt=0.0, le=1e9)
    fuel_manifold_rated_pressure: Pressure | None = key(f"{_RATED} fuel manifold", default=None, gt=0.0, le=1e9)
    motorization_rule: StrictBool = key(
        "also show the force margin by the rule of ECSS-E-ST-33-01C clause 4.7.5.3",
        default=False,
        reason="a rule for spacecraft mechanisms, asked for when wanted",
    )


class FaultEntry(Table):
    """One fault to try: what it changes in this case."""

    name: str = key("name of the fault", min_length=1, max_length=100)
    change: dict[str, str | float | int | bool] = key(
        'what changes: key path = new value with its unit, or "x 3" for a factor', min_length=1, max_length=50
    )
    note: str = key("what the fault stands for", default="", reason="none given", max_length=2000)
