"""Tables of the case file for the propellant sides: feed, oxidizer slots, fuel seat, test bench."""

import math
from typing import Annotated, Literal

from annotated_types import Ge, Le, MaxLen
from pydantic import StrictBool, StrictInt

from sleevelift.case.quantity import (
    DERIVED,
    Angle,
    Area,
    Density,
    Flow,
    Length,
    MolarMass,
    Number,
    Pressure,
    PressureDifference,
    Stress,
    Table,
    Temperature,
    Time,
    Usual,
    Viscosity,
    Volume,
    key,
)
from sleevelift.case.schema_gas import (
    COLDEST,
    GAS_HOLE,
    HIGHEST_GAS_PRESSURE,
    HIGHEST_LIQUID_PRESSURE,
    HOTTEST,
    MOST_INSTANTS,
    MOST_ROWS,
    PressureTable,
)
from sleevelift.case.schema_machine import LARGEST_DIAMETER
from sleevelift.case.schema_run import Instant

LIQUID_HOLE = Usual(0.58, 0.82, "sharp-edged 0.61, short tubes 0.82: common values of hydraulics, from memory")
"""-. Discharge coefficients of slots and holes for liquid."""
MOST_SLOT_ROWS = 20
STEEL_MODULUS = 200e9
"""Pa. Austenitic stainless steel near room temperature (EN 10088-1 gives 200 GPa)."""
STEEL_POISSON = 0.3
"""-. Steel, EN 1993-1-1."""


class Bench(Table):
    """What the test bench holds constant."""

    fuel_side_pressure: Pressure = key(
        "pressure on the fuel side of the sleeve (dry cases)",
        default=DERIVED,
        reason="the ambient pressure: the fuel side is open",
        ge=0.0,
        le=HIGHEST_LIQUID_PRESSURE,
    )
    back_pressure: Pressure = key(
        "pressure that the liquids are discharged into (cold-flow cases)",
        default=DERIVED,
        reason="the ambient pressure: discharge into the open",
        ge=0.0,
        le=HIGHEST_LIQUID_PRESSURE,
    )


class TravelTable(Table):
    """How much of a valve's area is open over its travel; straight lines between the entries."""

    travel: tuple[Annotated[Number, Ge(0.0), Le(1.0)], ...] = key(
        "travel, increasing from 0 (shut) to 1 (open)", min_length=2, max_length=MOST_ROWS
    )
    share: tuple[Annotated[Number, Ge(0.0), Le(1.0)], ...] = key(
        "share of the open area at that travel, from 0 to 1, never falling", min_length=2, max_length=MOST_ROWS
    )


class FeedValve(Table):
    """The run valve of a feed line, at the manifold's end of it."""

    kv: Number | None = key("flow coefficient when open, m3/h of water at 1 bar", default=None, gt=0.0, le=1e5)
    cv: Number | None = key("flow coefficient when open, US gal/min of water at 1 psi, instead", default=None, gt=0.0, le=1e5)
    effective_area: Area | None = key(
        "effective area when open, discharge coefficient included, instead", default=None, gt=0.0, le=1.0
    )
    opening_time: Time = key("from shut to open", gt=0.0, le=100.0)
    closing_time: Time = key("from open to shut", gt=0.0, le=100.0)
    on: tuple[Instant, ...] = key(
        "instants at which it starts to open, increasing", default=(), reason="none", max_length=MOST_INSTANTS
    )
    off: tuple[Instant, ...] = key(
        "instants at which it starts to close, increasing", default=(), reason="none", max_length=MOST_INSTANTS
    )
    open_at_start: StrictBool = key(
        "whether it stands open when the run begins, and has since the propellants are pressurised",
        default=False,
        reason="shut: on opens it",
    )
    travel: TravelTable | None = key("share of its area over its travel; absent: in proportion", default=None)
    check_valve: StrictBool = key("whether a check valve in it holds flow back", default=False, reason="none")
    manifold_pressure: Pressure = key(
        "pressure of the liquid that stands in the manifold when the run begins with the valve shut",
        default=DERIVED,
        reason="what the manifold discharges into, at least the vapour pressure",
        gt=0.0,
        le=HIGHEST_LIQUID_PRESSURE,
    )
    start_gas: str | None = key(
        "gas that fills the manifold when the run begins with the valve shut: nitrogen, helium, argon, neon or air; absent: it is "
        "full of liquid",
        default=None,
        max_length=40,
    )
    start_gas_temperature: Temperature | None = key(
        "its temperature, constant; absent: the ambient temperature, or with a purge its gas_temperature",
        default=None,
        ge=COLDEST,
        le=HOTTEST,
    )


class Purge(Table):
    """Inert gas into a manifold, behind its run valve: from a set pressure through an orifice and a check valve, while on."""

    gas: str = key("inert gas: nitrogen, helium, argon or neon", max_length=40)
    pressure: Pressure = key("set pressure ahead of the orifice", gt=0.0, le=HIGHEST_GAS_PRESSURE)
    temperature: Temperature = key(
        "temperature of the gas ahead of the orifice",
        default=DERIVED,
        reason="the ambient temperature",
        ge=COLDEST,
        le=HOTTEST,
    )
    gas_temperature: Temperature = key(
        "temperature of the gas in the manifold, constant",
        default=DERIVED,
        reason="as it comes: what a cold liquid takes from it makes less volume of it",
        ge=COLDEST,
        le=HOTTEST,
    )
    orifice: Length | None = key("bore of the orifice", default=None, gt=0.0, le=0.1)
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


class Propellant(Table):
    """One feed: liquid, line, manifold."""

    liquid: str | None = key(
        "name of the liquid in CoolProp (Oxygen, Ethanol, Water, ...) or a tabled one (Isopropanol, Isopropanol-75, "
        "Peroxide-90, RP-1): what is not given below is taken from there",
        default=None,
        max_length=40,
    )
    temperature: Temperature = key("temperature of the liquid at the inlet", gt=10.0, le=700.0)
    density: Density = key("density at inlet pressure and temperature", default=DERIVED, reason="CoolProp", ge=10.0, le=20000.0)
    viscosity: Viscosity = key("dynamic viscosity", default=DERIVED, reason="CoolProp", gt=0.0, le=100.0)
    vapour_pressure: Pressure = key(
        "vapour pressure at that temperature", default=DERIVED, reason="CoolProp", ge=0.0, le=HIGHEST_LIQUID_PRESSURE
    )
    bulk_modulus: Stress = key(
        "bulk modulus, density x speed of sound squared",
        default=DERIVED,
        reason="CoolProp",
        ge=1e6,
        le=100e9,
        usual=Usual(
            0.3,
            1.0,
            "the liquid less what bubbles and walls give; a third is usual of oil in hoses: doi 10.1201/9781482269895-28",
            True,
        ),
    )
    molar_mass: MolarMass | None = key(
        "molar mass (cold vapour in the chamber); absent: from CoolProp if the liquid is named",
        default=None,
        ge=1e-3,
        le=2.0,
    )
    inlet_pressure: Pressure | None = key(
        "pressure at the inlet of the line, constant", default=None, gt=0.0, le=HIGHEST_LIQUID_PRESSURE
    )
    inlet_table: PressureTable | None = key("pressure at the inlet of the line over time, instead", default=None)
    line_length: Length = key("length of the line", gt=0.0, le=1000.0)
    line_bore: Length = key("inner diameter of the line", gt=0.0, le=1.0)
    rated_flow: Flow | None = key(
        "flow for which the loss is given; the reference of the flow measures", default=None, gt=0.0, le=1e4
    )
    rated_loss: PressureDifference = key(
        "pressure loss of line and filter at the rated flow, and of a run valve that has no table of its own",
        default=0.0,
        reason="none given: the line is free of loss",
        ge=0.0,
        le=HIGHEST_LIQUID_PRESSURE,
        usual=Usual(0.6, 1.6, factor=True),
    )
    rated_density: Density = key(
        "density of the liquid that the loss was rated with",
        default=DERIVED,
        reason="the density of this case",
        ge=10.0,
        le=20000.0,
    )
    valve: FeedValve | None = key("run valve of the line; absent: none, or its loss is in rated_loss", default=None)
    purge: Purge | None = key("inert gas into the manifold behind the run valve; absent: none", default=None)
    manifold_volume: Volume = key("volume between the line and the sleeve", gt=0.0, le=1.0, usual=Usual(0.8, 1.4, factor=True))
    trapped_gas_volume: Volume = key(
        "gas pocket left in the manifold when it is primed, at ambient pressure",
        default=0.0,
        reason="bled",
        ge=0.0,
        le=1.0,
    )
    trapped_gas_exponent: Number = key(
        "polytropic exponent of that pocket",
        default=1.4,
        reason="a diatomic gas, adiabatic",
        ge=1.0,
        le=1.7,
        usual=Usual(1.0, 1.4, "isothermal to adiabatic"),
    )
    dribble_volume: Volume = key(
        "volume between sleeve and chamber that must fill first; 0: none",
        default=0.0,
        reason="none",
        ge=0.0,
        le=1.0,
        usual=Usual(0.5, 2.0, factor=True),
    )
    dribble_time: Time | None = key(
        "time constant with which that volume drains; absent: filled volume over rated flow",
        default=None,
        gt=0.0,
        le=1000.0,
        usual=Usual(0.3, 3.0, factor=True),
    )


class SlotRow(Table):
    """One row of slots through the post."""

    count: StrictInt = key("number of slots in the row", ge=1, le=10000)
    shape: Literal["rectangular", "round", "obround"] = key("shape of one slot; obround: round ends along its longer side")
    height: Length = key("size along the axis", gt=0.0, le=0.5)
    width: Length = key(
        "size around the post", default=DERIVED, reason="a round hole is as wide as high", gt=0.0, le=LARGEST_DIAMETER
    )
    lap: Length = key("lift before the row starts to uncover", ge=0.0, le=0.5)
    discharge_coefficient: Number = key(
        "discharge coefficient of the slots",
        default=0.65,
        reason="sharp-edged slots, common practice, no source: measure it",
        gt=0.0,
        le=1.0,
        usual=LIQUID_HOLE,
    )


class AreaTable(Table):
    """A measured flow passage: geometric area over lift; straight lines between the entries."""

    lift: tuple[Annotated[Length, Ge(0.0), Le(0.5)], ...] = key("lifts, increasing", min_length=2, max_length=MOST_ROWS)
    area: tuple[Annotated[Area, Ge(0.0), Le(1.0)], ...] = key("areas at these lifts", min_length=2, max_length=MOST_ROWS)


class Slots(Table):
    """Oxidizer side: slots in the post, and the clearance between post and sleeve that leaks."""

    row: Annotated[tuple[SlotRow, ...], MaxLen(MOST_SLOT_ROWS)] = key("rows of slots", default=())
    table: AreaTable | None = key("a measured table, instead of rows", default=None)
    discharge_coefficient: Number | None = key(
        "discharge coefficient of the table's areas",
        reason="0.65 where a table is given: common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=LIQUID_HOLE,
    )
    clearance: Length = key("radial clearance between post and sleeve", gt=0.0, le=1e-3)
    eccentricity: Number = key(
        "offset of the sleeve over the clearance: 0 concentric, 1 touching",
        default=0.0,
        reason="concentric",
        ge=0.0,
        le=1.0,
        usual=Usual(0.0, 1.0, "nothing centres it"),
    )
    minimum_length: Length = key(
        "length of the leak path once the slots are uncovered, and the least before",
        gt=0.0,
        le=0.1,
    )
    clearance_discharge_coefficient: Number = key(
        "discharge coefficient of the clearance's mouth",
        default=0.7,
        reason="short gap, common practice, no source",
        gt=0.0,
        le=1.0,
        usual=Usual(0.4, 0.9),
    )
    clearance_temperature: Temperature | None = key(
        "temperature at which the clearance was measured", default=None, gt=0.0, le=1000.0
    )
    running_temperature: Temperature | None = key("temperature of post and sleeve in the run", default=None, gt=0.0, le=1000.0)
    post_material: str | None = key("metal of the post, for its contraction", default=None, max_length=40)
    sleeve_material: str | None = key("metal of the sleeve, for its contraction", default=None, max_length=40)
    post_contraction: Number = key(
        "strain by which the post shrinks from the clearance's temperature to the running temperature, positive",
        default=DERIVED,
        reason="from the metal and the two temperatures; 0 where none is given",
        ge=-0.05,
        le=0.05,
    )
    sleeve_contraction: Number = key(
        "strain by which the sleeve shrinks, positive",
        default=DERIVED,
        reason="from the metal and the two temperatures; 0 where none is given",
        ge=-0.05,
        le=0.05,
    )


class Seat(Table):
    """Fuel side: the conical seat, a spigot on the nose, the fixed annulus below."""

    edge: Literal["seat", "sleeve"] = key("which part carries the sharp contact edge; the other carries the cone")
    half_angle: Angle = key("half-angle of the cone, from the axis", gt=0.0, lt=math.pi / 2)
    discharge_coefficient: Number = key(
        "discharge coefficient of the seat gap (or of the table)",
        default=0.7,
        reason="a gap between cones, common practice, no source: measure it",
        gt=0.0,
        le=1.0,
        usual=Usual(0.6, 0.85),
    )
    land_width: Length | None = key("width of the contact land, for the apparent stress", default=None, gt=0.0, le=0.1)
    edge_radius: Length | None = key(
        "radius of the edge that touches the cone, for the contact stress", default=None, gt=0.0, le=0.1
    )
    nose_half_angle: Angle | None = key(
        "half-angle of the other part's cone where it was made or measured to differ; absent: not looked at",
        default=None,
        gt=0.0,
        lt=math.pi / 2,
    )
    yield_stress: Stress | None = key("yield stress (0.2 % proof) of the softer of nose and seat", default=None, gt=1e6, le=1e11)
    spigot_length: Length = key(
        "length of the cylindrical spigot on the nose; 0: a bare cone", default=0.0, reason="a bare cone", ge=0.0, le=0.5
    )
    spigot_clearance: Length | None = key("radial clearance of the spigot in the seat", default=None, gt=0.0, le=1e-2)
    leak_area: Area = key(
        "effective area of what leaks past the closed seat, its discharge coefficient included; adds to the gap at every lift",
        default=0.0,
        reason="tight",
        ge=0.0,
        le=1e-3,
    )
    annulus_area: Area | None = key("area of the fixed annulus below the seat; absent: none", default=None, gt=0.0, le=1.0)
    annulus_discharge_coefficient: Number | None = key(
        "discharge coefficient of the annulus",
        reason="0.75 where the area is given: common practice, no source: measure it",
        default=None,
        gt=0.0,
        le=1.0,
        usual=Usual(0.6, 0.9),
    )
    jet_factor: Number = key(
        "share of the jet's momentum that pulls the sleeve shut (1), or pushes it open (-1)",
        default=1.0,
        reason="jet leaves along the cone of the sleeve",
        ge=-1.0,
        le=1.0,
        usual=Usual(0.3, 1.0),
    )
    table: AreaTable | None = key("a measured table of lift against area, instead of cone and spigot", default=None)
    elastic_modulus: Stress = key(
        "elastic modulus of nose and seat", default=STEEL_MODULUS, reason="stainless steel, EN 10088-1", gt=1e8, le=1e12
    )
    poisson: Number = key("Poisson's ratio of nose and seat", default=STEEL_POISSON, reason="steel, EN 1993-1-1", ge=0.0, lt=0.5)
