"""Tables of the case file for the actuation gas.

supply -> solenoid valve -> tube -> (quick exhaust) -> lift chamber | piston | spring side -> vent -> ambient

Bounds that name no other reason keep a slip of the keyboard (cm for mm, g for kg) from being run.
"""

from typing import Annotated, Literal

from annotated_types import Ge, Le

from sleevelift.case.quantity import (
    DERIVED,
    Area,
    Conductance,
    Current,
    HeatTransfer,
    Inductance,
    Length,
    Number,
    Pressure,
    PressureDifference,
    Resistance,
    SpecificGasConstant,
    Table,
    Temperature,
    Time,
    Usual,
    Voltage,
    Volume,
    key,
)
from sleevelift.case.schema_run import LOWEST_GAS_PRESSURE, Instant

HIGHEST_GAS_PRESSURE = 350e5
"""Pa absolute. The gas tables end there."""
HIGHEST_LIQUID_PRESSURE = 1000e5
"""Pa absolute. The line and orifice formulas are for stiff, barely compressible liquids."""
COLDEST, HOTTEST = 60.0, 700.0
"""K. The range of temperatures of the gas tables (helium; other gases end at their dew line)."""
MOST_INSTANTS = 1000
"""entries of a list of instants or of a table in time."""
MOST_ROWS = 2000
"""entries of a table."""
LARGEST_ORIFICE = 0.2
"""m. Larger than any port of a valve that fits the formulas."""
LARGEST_VOLUME = 10.0
"""m3."""
WALL_COEFFICIENT = 100.0
"""W/(m2 K). Common practice for gas moving in small volumes, no source."""

GAS_HOLE = Usual(
    0.56,
    0.84,
    "air, sharp-edged 0.563 to 0.788, short tubes 0.81 to 0.84: Weisbach, in Encyclopaedia Britannica, 11th ed., Hydraulics",
)
"""-. Discharge coefficients of holes for gas."""
WALL_HEAT = Usual(10.0, 500.0)
"""W/(m2 K). From still gas to a jet along the wall."""
_ORIFICE = "bore of a sharp or drilled hole that restricts the flow"
_CD = "discharge coefficient of that hole"


class Gas(Table):
    """The actuation gas."""

    name: str = key("nitrogen, helium, air, argon or another gas that does not condense on venting", max_length=40)
    model: Literal["real", "perfect"] = key(
        "real: tables of the reference equation of state; perfect: constant gamma, for comparison",
        default="real",
        reason="costs nothing in time",
    )
    gamma: Number = key(
        "ratio of specific heats (perfect gas only)",
        default=DERIVED,
        reason="of the gas at low pressure and room temperature",
        gt=1.0,
        le=5.0 / 3.0 + 0.01,
        because="1 is many atoms per molecule, 5/3 one",
    )
    gas_constant: SpecificGasConstant = key(
        "specific gas constant (perfect gas only)", default=DERIVED, reason="of the gas", ge=10.0, le=5000.0
    )


class PressureTable(Table):
    """A pressure over time; straight lines between the entries, constant before the first and after the last."""

    time: tuple[Instant, ...] = key("instants, increasing", min_length=2, max_length=MOST_INSTANTS)
    pressure: tuple[Annotated[Pressure, Ge(0.0), Le(HIGHEST_LIQUID_PRESSURE)], ...] = key(
        "pressures at these instants", min_length=2, max_length=MOST_INSTANTS
    )


class Component(Table):
    """A valve or fitting rated by its maker: ISO 6358 values, or a flow coefficient."""

    conductance: Conductance = key("sonic conductance C of ISO 6358-1", default=DERIVED, reason="from kv or cv", gt=0.0, le=1e-4)
    critical_ratio: Number = key(
        "critical back-pressure ratio b of ISO 6358-1", default=DERIVED, reason="from kv or cv", ge=0.0, lt=0.99
    )
    subsonic_index: Number = key(
        "subsonic index m of ISO 6358-1", default=0.5, reason="ISO 6358-1 where it was not measured", ge=0.3, le=1.0
    )
    kv: Number | None = key("flow coefficient, m3/h of water at 1 bar, instead of conductance", default=None, gt=0.0, le=1e4)
    cv: Number | None = key("flow coefficient, US gal/min of water at 1 psi, instead of conductance", default=None, gt=0.0, le=1e4)
    terminal_pressure_ratio: Number = key(
        "pressure drop ratio x_T at choked flow of IEC 60534-2-1 (with kv or cv only)",
        default=0.72,
        reason="globe valve with one seat, flow to open; from memory of IEC 60534-2-1, table 2",
        ge=0.1,
        le=0.9,
    )


class Supply(Table):
    """Where the actuation gas comes from."""

    kind: Literal["constant", "table", "bottle", "regulator"] = key(
        "constant: a large source; table: a pressure over time; bottle: a finite bottle alone; regulator: a finite "
        "bottle behind a regulator"
    )
    pressure: Pressure | None = key(
        "pressure of the source (constant) or set pressure at no flow (regulator)",
        default=None,
        ge=LOWEST_GAS_PRESSURE,
        le=HIGHEST_GAS_PRESSURE,
        because="the gas tables end there",
    )
    temperature: Temperature = key(
        "temperature of the source", default=DERIVED, reason="the ambient temperature", ge=COLDEST, le=HOTTEST
    )
    table: PressureTable | None = key("pressure of the source over time (table)", default=None)
    bottle_volume: Volume | None = key("volume of the bottle", default=None, gt=0.0, le=LARGEST_VOLUME)
    bottle_pressure: Pressure | None = key(
        "pressure of the bottle at the start",
        default=None,
        ge=LOWEST_GAS_PRESSURE,
        le=HIGHEST_GAS_PRESSURE,
        because="the gas tables end there",
    )
    bottle_wall_area: Area = key("inner wall of the bottle that gives heat", default=0.0, reason="adiabatic", ge=0.0, le=100.0)
    droop_band: PressureDifference | None = key(
        "fall of the outlet below the set pressure that opens the regulator fully",
        default=None,
        gt=0.0,
        le=100e5,
        usual=Usual(0.5, 2.0, factor=True),
    )
    regulator_orifice: Length | None = key("bore of the regulator's seat, fully open", default=None, gt=0.0, le=LARGEST_ORIFICE)
    regulator_discharge_coefficient: Number | None = key(
        "discharge coefficient of the regulator's seat",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    plenum_volume: Volume | None = key("volume between regulator and solenoid valve", default=None, ge=1e-9, le=LARGEST_VOLUME)
    relief_pressure: Pressure | None = key(
        "set pressure of a relief valve on the line ahead of the solenoid valve; absent: no relief valve",
        default=None,
        ge=LOWEST_GAS_PRESSURE,
        le=HIGHEST_GAS_PRESSURE,
        because="the gas tables end there",
    )
    relief_area: Area | None = key(
        "effective area of that valve fully open, discharge coefficient x area", default=None, gt=0.0, le=1e-2
    )
    plenum_wall_area: Area = key("wall of that volume that gives heat", default=0.0, reason="adiabatic", ge=0.0, le=100.0)
    wall_coefficient: HeatTransfer = key(
        "heat transfer coefficient at the walls of bottle and plenum",
        default=WALL_COEFFICIENT,
        reason="common practice, no source",
        ge=0.0,
        le=1e5,
        usual=WALL_HEAT,
    )


class Coil(Table):
    """The solenoid as an electric circuit: its dead times follow from it."""

    inductance: Inductance = key("inductance of the coil, plunger at rest", gt=0.0, le=100.0, usual=Usual(0.5, 2.0, factor=True))
    resistance: Resistance = key("resistance of coil and wiring", gt=0.0, le=1e5)
    supply_voltage: Voltage = key("voltage at the terminals when on", gt=0.0, le=1e4)
    pull_in_current: Current = key(
        "current at which the plunger begins to move", gt=0.0, le=1e3, usual=Usual(0.7, 1.4, factor=True)
    )
    drop_out_current: Current = key("current at which it is released", gt=0.0, le=1e3, usual=Usual(0.5, 2.0, factor=True))
    clamp_voltage: Voltage = key(
        "voltage that drives the current down after switching off",
        default=0.0,
        reason="a plain free-wheeling diode, its own drop left out",
        ge=0.0,
        le=1e4,
    )


class Solenoid(Table):
    """The 3/2 normally closed solenoid valve and its commands."""

    on: tuple[Instant, ...] = key(
        "instants of the on commands, increasing", default=(), reason="steps of [sequence] command it", max_length=MOST_INSTANTS
    )
    off: tuple[Instant, ...] = key(
        "instants of the off commands, each after its on",
        default=(),
        reason="steps of [sequence] command it",
        max_length=MOST_INSTANTS,
    )
    fill_orifice: Length | None = key(f"fill path: {_ORIFICE}", default=None, gt=0.0, le=LARGEST_ORIFICE)
    fill_discharge_coefficient: Number | None = key(
        f"fill path: {_CD}",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    fill_component: Component | None = key("fill path as rated by the maker, instead of the orifice", default=None)
    exhaust_orifice: Length | None = key(f"exhaust path: {_ORIFICE}", default=None, gt=0.0, le=LARGEST_ORIFICE)
    exhaust_discharge_coefficient: Number | None = key(
        f"exhaust path: {_CD}",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    exhaust_component: Component | None = key("exhaust path as rated by the maker, instead of the orifice", default=None)
    open_dead_time: Time | None = key(
        "from the on command to the first movement of the valve (absent with a coil)",
        reason="8 ms without a coil: a small valve, common practice, no source: measure it",
        default=None,
        ge=0.0,
        le=10.0,
        usual=Usual(2e-3, 30e-3),
    )
    open_stroke_time: Time = key(
        "from there to fully open",
        default=3e-3,
        reason="of a small valve, common practice, no source: measure it",
        gt=0.0,
        le=10.0,
        usual=Usual(0.5e-3, 10e-3),
    )
    close_dead_time: Time | None = key(
        "from the off command to the first movement of the valve (absent with a coil)",
        reason="10 ms without a coil: a small valve, common practice, no source: measure it",
        default=None,
        ge=0.0,
        le=10.0,
        usual=Usual(2e-3, 50e-3),
    )
    close_stroke_time: Time = key(
        "from there to fully shut",
        default=4e-3,
        reason="of a small valve, common practice, no source: measure it",
        gt=0.0,
        le=10.0,
        usual=Usual(0.5e-3, 15e-3),
    )
    coil: Coil | None = key("the coil, instead of the dead times", default=None)
    exhaust_to: str | None = key("where the exhaust port's gas ends, in words", default=None, max_length=200)


SMALLEST_TUBE = 1e-4
"""m. Inner diameter of the thinnest tube that the rule for its conductance covers."""


class Tube(Table):
    """The tube from the solenoid valve to the lift chamber."""

    length: Length = key("length", gt=0.0, le=100.0)
    bore: Length = key(
        "inner diameter",
        ge=SMALLEST_TUBE,
        le=LARGEST_ORIFICE,
        because="a tube that feeds a valve; thinner ones are capillaries, their flow laminar",
    )
    wall_area: Area = key("inner wall that gives heat", default=0.0, reason="adiabatic", ge=0.0, le=100.0)
    wall_coefficient: HeatTransfer = key(
        "heat transfer coefficient at that wall",
        default=WALL_COEFFICIENT,
        reason="common practice, no source",
        ge=0.0,
        le=1e5,
        usual=WALL_HEAT,
    )
    conductance: Conductance = key(
        "sonic conductance of the tube alone",
        default=DERIVED,
        reason="from length and bore",
        gt=0.0,
        le=1e-4,
        usual=Usual(0.7, 1.15, factor=True),
    )
    critical_ratio: Number = key(
        "critical back-pressure ratio of the tube alone",
        default=DERIVED,
        reason="from length and bore",
        ge=0.0,
        lt=0.99,
    )
    port_orifice: Length | None = key(f"port into the lift chamber: {_ORIFICE}", default=None, gt=0.0, le=LARGEST_ORIFICE)
    port_discharge_coefficient: Number | None = key(
        f"port into the lift chamber: {_CD}",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    port_component: Component | None = key("that port as rated by the maker, instead of the orifice", default=None)


class QuickExhaust(Table):
    """A quick exhaust valve at the port of the lift chamber."""

    cracking_pressure: PressureDifference = key(
        "excess of the chamber over the tube that throws the shuttle over fully",
        gt=0.0,
        le=100e5,
        usual=Usual(0.5, 2.0, factor=True),
    )
    vent_orifice: Length | None = key(f"vent: {_ORIFICE}", default=None, gt=0.0, le=LARGEST_ORIFICE)
    vent_discharge_coefficient: Number | None = key(
        f"vent: {_CD}",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    vent_component: Component | None = key("vent as rated by the maker, instead of the orifice", default=None)
    vent_to: str | None = key("where this vent ends, in words", default=None, max_length=200)


class _GasVolume(Table):
    """What the two gas volumes at the piston have in common."""

    wall_area: Area = key("wall that gives heat", default=0.0, reason="adiabatic", ge=0.0, le=100.0)
    wall_coefficient: HeatTransfer = key(
        "heat transfer coefficient at that wall",
        default=WALL_COEFFICIENT,
        reason="common practice, no source",
        ge=0.0,
        le=1e5,
        usual=WALL_HEAT,
    )
    wall_temperature: Temperature = key(
        "temperature of that wall", default=DERIVED, reason="the ambient temperature", ge=COLDEST, le=HOTTEST
    )
    pressure: Pressure = key(
        "pressure at the start",
        default=DERIVED,
        reason="the ambient pressure",
        ge=LOWEST_GAS_PRESSURE,
        le=HIGHEST_GAS_PRESSURE,
        because="the gas tables end there",
    )
    temperature: Temperature = key(
        "temperature at the start", default=DERIVED, reason="the ambient temperature", ge=COLDEST, le=HOTTEST
    )


class LiftChamber(_GasVolume):
    """The volume below the piston: gas in it lifts the sleeve."""

    dead_volume: Volume = key(
        "volume with the sleeve on its seat",
        ge=1e-10,
        le=1.0,
        usual=Usual(0.7, 2.0, "passages, grooves and fittings are forgotten: common practice, no source", True),
    )
    port: Literal["high", "low"] = key(
        "where its port sits: liquid that leaked in leaves by it last (high) or first (low)",
        default="high",
        reason="liquid stays longest, so that the error is on the safe side",
    )


class SpringSide(_GasVolume):
    """The volume above the piston: holds the spring, vented through a hole."""

    volume: Volume = key("volume with the sleeve on its seat", ge=1e-10, le=1.0, usual=Usual(0.8, 1.3, factor=True))
    vent_orifice: Length | None = key(
        "vent: bore of the hole; a bore of zero is a blocked vent", default=None, ge=0.0, le=LARGEST_ORIFICE
    )
    vent_discharge_coefficient: Number | None = key(
        f"vent: {_CD}",
        reason="0.7 where the bore is given: a drilled hole, common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=GAS_HOLE,
    )
    vent_component: Component | None = key("vent as rated by the maker, instead of the orifice", default=None)
    vent_to: str | None = key("where this vent ends, in words", default=None, max_length=200)
