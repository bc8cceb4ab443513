"""Tables of the case file for what moves and rubs: sleeve, spring, seals.

Diameters, from the inside: post < nose <= seat <= rod < piston. Lift counts from the seat, opening is positive.
"""

import math
from typing import Literal

from pydantic import StrictBool

from sleevelift.case.quantity import (
    DERIVED,
    Angle,
    Area,
    Damping,
    Density,
    Force,
    Length,
    LineForce,
    Mass,
    Number,
    Pressure,
    Speed,
    Stiffness,
    Stress,
    Table,
    Temperature,
    Time,
    Usual,
    Volume,
    key,
)

HIGHEST_CHECK = 350e5
"""Pa absolute. The gas tables end there."""
_TIGHT = "from its leak check or its gap (leak_clearance); tight where neither is given"
BOUNCE = Usual(0.05, 0.6, "guided metal on metal, below the 0.5 to 0.9 of free steel balls: from memory of Goldsmith, Impact")
"""-."""
GAP = Usual(0.4, 0.9)
"""-. Discharge coefficient of a gap or a scratch."""
LARGEST_DIAMETER = 2.0
"""m. Larger than any injector of this kind."""
STEEL_DENSITY = 7850.0
"""kg/m3. Carbon and low-alloy spring steel wire, EN 13906-1."""
STEEL_SHEAR_MODULUS = 81.5e9
"""Pa. Patented drawn spring steel wire, EN 13906-1 (EN 10270-1)."""
STEEL_ELASTIC_MODULUS = 206e9
"""Pa. Patented drawn spring steel wire, EN 13906-1 (EN 10270-1)."""


class Sleeve(Table):
    """The moving sleeve."""

    post_diameter: Length = key("outside diameter of the fixed post that the sleeve slides on", gt=0.0, le=LARGEST_DIAMETER)
    nose_diameter: Length = key("outside diameter of nose tip and skirt", gt=0.0, le=LARGEST_DIAMETER)
    seat_diameter: Length = key("diameter of the line where nose and seat touch", gt=0.0, le=LARGEST_DIAMETER)
    rod_diameter: Length = key("diameter of the rod seal", gt=0.0, le=LARGEST_DIAMETER)
    piston_diameter: Length = key("diameter of the piston seal", gt=0.0, le=LARGEST_DIAMETER)
    stroke: Length = key("lift from the seat to the stop", gt=0.0, le=0.5)
    moving_mass: Mass = key("mass of sleeve and everything fixed to it; a third of the spring is added", gt=0.0, le=1e3)
    axis_tilt: Angle = key(
        "angle between the opening direction and upward: 0 opens upward, 90 deg lies, 180 deg opens downward",
        default=0.0,
        reason="vertical, opening upward: the weight helps to close",
        ge=-math.pi,
        le=math.pi,
    )
    restitution_stop: Number = key(
        "speed after over speed before the impact on the stop",
        default=0.2,
        reason="guided metal on metal, common practice, no source: measure it",
        ge=0.0,
        le=0.99,
        usual=BOUNCE,
    )
    restitution_seat: Number = key(
        "speed after over speed before the impact on the seat",
        default=0.2,
        reason="guided metal on metal, common practice, no source: measure it",
        ge=0.0,
        le=0.99,
        usual=BOUNCE,
    )
    rest_speed: Speed = key(
        "a rebound slower than this stays down",
        default=1e-3,
        reason="a rebound of 1 mm/s lifts less than a micrometre",
        ge=1e-6,
        le=0.1,
    )


class Spring(Table):
    """The closing spring: its rate, or its wire."""

    preload: Force = key(
        "force of the spring with the sleeve on its seat", ge=0.0, le=1e7, because="the valve is held closed by it"
    )
    rate: Stiffness = key(
        "force per travel",
        default=DERIVED,
        reason="from the wire: G d^4/(8 D^3 n)",
        gt=0.0,
        le=1e9,
        because="it is a spring",
    )
    wire_diameter: Length | None = key("diameter of the wire", default=None, gt=0.0, le=0.1)
    mean_diameter: Length | None = key("mean diameter of the coils", default=None, gt=0.0, le=1.0)
    cup_diameter: Length | None = key(
        "bore of a cup of its own, wider than the piston, that the spring stands in; absent: the piston's cylinder",
        default=None,
        gt=0.0,
        le=LARGEST_DIAMETER,
    )
    active_coils: Number | None = key("coils that deflect", default=None, gt=0.5, le=200.0)
    total_coils: Number | None = key("coils in all, the closed ends included", default=None, gt=0.5, le=200.0)
    shear_modulus: Stress = key(
        "shear modulus of the wire",
        default=STEEL_SHEAR_MODULUS,
        reason="patented drawn spring steel, EN 13906-1",
        gt=1e9,
        le=500e9,
    )
    elastic_modulus: Stress = key(
        "elastic modulus of the wire (buckling)",
        default=STEEL_ELASTIC_MODULUS,
        reason="patented drawn spring steel, EN 13906-1",
        gt=1e9,
        le=1000e9,
    )
    density: Density = key("density of the wire", default=STEEL_DENSITY, reason="spring steel", ge=500.0, le=25000.0)
    mass: Mass = key(
        "mass of the spring; a third of it moves with the sleeve",
        default=DERIVED,
        reason="from the wire, total coils and density",
        ge=0.0,
        le=1e3,
    )
    free_length: Length | None = key("length without load", default=None, gt=0.0, le=5.0)
    allowable_stress: Stress | None = key("highest shear stress allowed, curvature included", default=None, gt=0.0, le=1e11)


_CODE = 'size code of the ring, as ISO 3601-1 and AS568 number them, such as "116"; absent: no gland is judged'
_MATERIAL = "material by its code of ISO 1629 or ISO 1043-1: NBR, EPDM, FKM, PTFE ..."
_GAP = "diametral clearance behind the ring, into which pressure would press it"
_SERVICE = "temperature of ring and groove; absent: that of the fluid it faces, else ambient"
GROOVE_TOLERANCE, WIDTH_TOLERANCE = 25e-6, 100e-6
"""m, +-. Of a turned groove (common practice, no source)."""


class _Gland(Table):
    """What the gland of any ring has."""

    ring: str | None = key(_CODE, default=None, max_length=20)
    groove_diameter: Length | None = key(
        "diameter of the groove's floor (a face groove: its outer diameter); absent: from groove_depth",
        default=None,
        gt=0.0,
        le=LARGEST_DIAMETER,
    )
    groove_width: Length | None = key("width of the groove", default=None, gt=0.0, le=0.1)
    diameter_tolerance: Length = key(
        "+- on the diameters of groove and facing surface (a face groove: on its depth)",
        default=GROOVE_TOLERANCE,
        reason="a turned groove, common practice, no source",
        ge=0.0,
        le=1e-2,
    )
    width_tolerance: Length = key(
        "+- on the groove's width", default=WIDTH_TOLERANCE, reason="a turned groove, common practice, no source", ge=0.0, le=1e-2
    )
    material: str | None = key(_MATERIAL, default=None, max_length=20)
    extrusion_gap: Length | None = key(_GAP, default=None, ge=0.0, le=1e-2)
    backup_ring: StrictBool = key("whether a backup ring stands behind it", default=False, reason="none")
    gland_temperature: Temperature | None = key(_SERVICE, default=None, ge=10.0, le=1000.0)


class FlangeSeal(_Gland):
    """The static face seal of the lift chamber's flange."""

    cord: Length = key("thickness of the cord (section) of the seal", gt=0.0, le=0.05)
    groove_depth: Length | None = key("depth of the face groove", default=None, gt=0.0, le=0.05)
    hardness: Number | None = key("hardness of the elastomer, Shore A", default=None, ge=40.0, le=99.0)


class Seal(_Gland):
    """One sliding seal: its friction per length of rubbing line, given or from the gland of an O-ring."""

    cord: Length = key("thickness of the cord (section) of the seal", gt=0.0, le=0.05)
    squeeze_friction: LineForce = key(
        "friction per length of rubbing line without pressure",
        default=DERIVED,
        reason="from cord, groove and hardness",
        ge=0.0,
        le=1e6,
    )
    pressure_coefficient: Number = key(
        "friction per length of rubbing line, over cord x pressure difference",
        default=DERIVED,
        reason="from cord, groove and hardness",
        ge=0.0,
        le=10.0,
    )
    groove_depth: Length | None = key("depth of the groove, from the rubbing surface", default=None, gt=0.0, le=0.05)
    hardness: Number | None = key(
        "hardness of the elastomer, Shore A", default=None, ge=60.0, le=90.0, because="the friction chart covers these"
    )
    duty: Literal["dynamic", "static"] = key(
        "which bounds of squeeze the gland is held to", default="dynamic", reason="the sleeve slides"
    )
    friction_factor: Number = key(
        "factor on the friction of this seal",
        default=1.0,
        reason="as computed; carries the range",
        ge=0.0,
        le=100.0,
    )
    leak_clearance: Length | None = key(
        "radial height of the gap that leaks past this seal (liquid side)", default=None, gt=0.0, le=1e-3
    )
    leak_length: Length | None = key("length of that gap along the axis", default=None, gt=0.0, le=0.1)


class LeakCheck(Table):
    """A fall of pressure that was read: a closed volume that leaks to ambient, at ambient temperature."""

    start: Pressure = key("pressure at the first reading", gt=0.0, le=HIGHEST_CHECK)
    end: Pressure = key("pressure at the second reading", gt=0.0, le=HIGHEST_CHECK)
    time: Time = key("time between the readings", gt=0.0, le=1e6)
    volume: Volume = key("volume that fell, gauge and hoses included", gt=0.0, le=10.0)
    gas: str = key("gas of the check", default="nitrogen", reason="the usual one", max_length=40)
    taken_as: Literal["orifice", "gap"] = key(
        "what the leak is taken as", default="orifice", reason="one reading fits both; in liquid a hole passes more"
    )


class Seals(Table):
    """The three sliding seals: what they rub and what they leak."""

    post: Seal = key("seal between post and sleeve: holds oxidizer or combustion gas from the spring side")
    rod: Seal = key("seal on the rod: holds fuel from the lift chamber")
    piston: Seal = key("seal on the piston: holds the lift chamber from the spring side")
    flange: FlangeSeal | None = key("static face seal of the lift chamber's flange; absent: not looked at", default=None)
    breakaway_ratio: Number = key("friction at rest over friction in motion", ge=1.0, le=20.0, usual=Usual(1.1, 3.0))
    stribeck_velocity: Speed = key(
        "speed over which friction falls from breakaway to running; zero or next to it: at once",
        default=0.0,
        reason="running friction as soon as it moves",
        ge=0.0,
        le=10.0,
        usual=Usual(0.0, 0.05),
    )
    viscous: Damping = key(
        "friction per speed", default=0.0, reason="none measured", ge=0.0, le=1e7, usual=Usual(0.2, 5.0, factor=True)
    )
    friction_factor: Number = key(
        "factor on the friction of all seals",
        default=1.0,
        reason="as computed; carries the range",
        ge=0.0,
        le=100.0,
        usual=Usual(0.5, 2.0),
    )
    post_seal_faces: Literal["oxidizer", "chamber"] = key(
        "what the post seal sees: oxidizer while the slots are covered, or (drain groove between) always the chamber",
        default="oxidizer",
        reason="no drain groove",
    )
    rod_leak_area: Area = key(
        "leak past the rod seal: fuel into the lift chamber (gas in a dry case)", default=DERIVED, reason=_TIGHT, ge=0.0, le=1e-2
    )
    rod_leak_check: LeakCheck | None = key("what a leak check showed of it, instead of the area", default=None)
    rod_leak_discharge_coefficient: Number = key(
        "discharge coefficient of that leak",
        default=0.7,
        reason="short gap, common practice, no source",
        gt=0.0,
        le=1.0,
    )
    piston_leak_area: Area = key("leak past the piston seal", default=DERIVED, reason=_TIGHT, ge=0.0, le=1e-2)
    piston_leak_check: LeakCheck | None = key("what a leak check showed of it, instead of the area", default=None)
    piston_leak_discharge_coefficient: Number = key(
        "discharge coefficient of that leak", default=0.7, reason="short gap, common practice, no source", gt=0.0, le=1.0, usual=GAP
    )
    outside_leak_area: Area = key(
        "leak of the lift chamber to the outside (flange seal, fitting)", default=DERIVED, reason=_TIGHT, ge=0.0, le=1e-2
    )
    outside_leak_check: LeakCheck | None = key("what a leak check showed of it, instead of the area", default=None)
    outside_leak_discharge_coefficient: Number = key(
        "discharge coefficient of that leak", default=0.7, reason="short gap, common practice, no source", gt=0.0, le=1.0, usual=GAP
    )
    post_leak_area: Area = key("leak past the post seal", default=DERIVED, reason=_TIGHT, ge=0.0, le=1e-2)
    post_leak_check: LeakCheck | None = key("what a leak check showed of it, instead of the area", default=None)
    post_leak_discharge_coefficient: Number = key(
        "discharge coefficient of that leak", default=0.7, reason="short gap, common practice, no source", gt=0.0, le=1.0, usual=GAP
    )
    space_vented: StrictBool | None = key(
        "whether the space between the seals that part fuel from oxidizer is vented; absent: not known", default=None
    )
