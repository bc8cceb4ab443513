"""The flat, compiled description of one case: one structured record per lane, plus a table row of its curves.

Nested records read well in compiled code (`plant.sleeve.mass`) and compile fastest. SI throughout. Curves of any length (valve
knots, inlet tables, slot rows, mixture curve) lie in one float row per lane; the record holds where each starts and how many
entries it has.
"""

import numpy as np

from sleevelift.integrate.workspace import CACHE_LINE
from sleevelift.physics.sleeve import N_FORCE

RESTRICTION = np.dtype([("area", "f8"), ("b", "f8"), ("m", "f8")])
"""Cd A m2, critical ratio (-1: orifice), subsonic index."""

RESTRICTIONS = np.dtype([(f"{name}_{way}", "f8", (4,)) for way in ("out", "back") for name in ("area", "b", "m")])
"""Four `RESTRICTION`s side by side, as seen from each end."""

NODES = np.dtype([(name, "f8", (4,)) for name in ("volume", "swept", "wall", "wall_temperature")])
"""Tube, lift chamber, spring side and what supplies them (plenum, else bottle, else the tube again), as `NODE` has them; swept:
m3 that the volume grows by per m of lift."""

CURVE = np.dtype([("start", "i8"), ("count", "i8")])
"""Where a curve lies in the table row."""

NODE = np.dtype([("volume", "f8"), ("wall", "f8"), ("wall_temperature", "f8"), ("pressure", "f8"), ("temperature", "f8")])
"""Volume m3 (at zero lift), h A of the wall W/K, wall temperature K, initial pressure Pa and temperature K."""

GAS_STATE = np.dtype([("p", "f8"), ("T", "f8"), ("n", "f8"), ("h", "f8"), ("flux", "f8"), ("r_star", "f8")])
"""A fixed state of actuation gas: Pa, K, -, J/kg, kg/(s m2), -."""

SLEEVE = np.dtype(
    [
        ("mass", "f8"),
        ("weight", "f8"),
        ("stroke", "f8"),
        ("restitution_stop", "f8"),
        ("restitution_seat", "f8"),
        ("rest_speed", "f8"),
        ("preload", "f8"),
        ("rate", "f8"),
        ("seat_diameter", "f8"),
    ]
)
"""mass kg with a third of the spring; weight N along the axis (M g cos tilt); preload N; rate N/m."""

FORCE_ROWS = np.dtype([(name, "f8", (N_FORCE,)) for name in ("constant", "slope", "outside")])
"""The forces of `sleeve.FORCES`: constant N, slope N per unit of the cause, share of the work that comes from outside."""

SEAL = np.dtype([("diameter", "f8"), ("squeeze_friction", "f8"), ("pressure_coefficient", "f8"), ("cord", "f8")])
"""m, N/m, -, m (friction factors already multiplied in)."""

FRICTION = np.dtype(
    [
        ("seals", SEAL, (3,)),
        ("ratio", "f8"),
        ("stribeck_velocity", "f8"),
        ("viscous", "f8"),
        ("post_faces_chamber", "i8"),
    ]
)
"""seals: post, rod, piston."""

SUPPLY = np.dtype(
    [
        ("kind", "i8"),
        ("state", GAS_STATE),
        ("table", CURVE),
        ("temperature", "f8"),
        ("set_pressure", "f8"),
        ("droop_band", "f8"),
        ("regulator", RESTRICTION),
        ("plenum", NODE),
        ("bottle", NODE),
    ]
)
"""kind: see the constants below."""

CONSTANT_SUPPLY = 0
TABLE_SUPPLY = 1
BOTTLE_SUPPLY = 2
REGULATED_SUPPLY = 3

GAS_SIDE = np.dtype(
    [
        ("fill", RESTRICTION),
        ("exhaust", RESTRICTION),
        ("tube", NODE),
        ("port_in", RESTRICTION),
        ("port_out", RESTRICTION),
        ("lift", NODE),
        ("spring", NODE),
        ("vent", RESTRICTION),
        ("quick", "i8"),
        ("cracking", "f8"),
        ("quick_vent", RESTRICTION),
        ("piston_leak", "f8"),
        ("post_leak", "f8"),
        ("ambient", GAS_STATE),
        ("laminar_above", "f8"),
        ("valve", CURVE),
    ]
)

PACKED = np.dtype([("nodes", NODES), ("flows", RESTRICTIONS), ("other_flows", RESTRICTIONS)])
"""Numbers of supply, sleeve and gas side once more, side by side. flows: exhaust, port, piston leak, vent; other_flows, which
often are not there: fill, regulator, quick exhaust's vent, leak past the post seal."""

LINE = np.dtype(
    [
        ("present", "i8"),
        ("rho", "f8"),
        ("mu", "f8"),
        ("bulk", "f8"),
        ("vapour", "f8"),
        ("inertance", "f8"),
        ("area_per_length", "f8"),
        ("loss", "f8"),
        ("volume", "f8"),
        ("stiffness", "f8"),
        ("specific_volume", "f8"),
        ("trapped_gas", "f8"),
        ("trapped_gas_exponent", "f8"),
        ("inlet", "f8"),
        ("inlet_high", "f8"),
        ("table", CURVE),
        ("dribble_mass", "f8"),
        ("dribble_time", "f8"),
        ("swept", "f8"),
        ("reference", "f8"),
        ("period", "f8"),
        ("damping", "f8"),
    ]
)
"""One feed line: kg/m3, Pa s, Pa, Pa, 1/m, m, Pa s2/kg2, m3, Pa/m3, m3/kg, m3, -, Pa, Pa, curve, kg, s, m2, kg/s (0: to be
solved), s, 1/s. What the right-hand side would divide by each time stands here as its reciprocal: area_per_length of inertance,
specific_volume of rho, stiffness B/V."""

SLOTS = np.dtype(
    [
        ("rows", CURVE),
        ("measured", CURVE),
        ("measured_cd", "f8"),
        ("first_lap", "f8"),
        ("least_length", "f8"),
        ("laminar", "f8"),
        ("quadratic", "f8"),
    ]
)

SEAT = np.dtype(
    [
        ("measured", CURVE),
        ("edge", "f8"),
        ("seat_diameter", "f8"),
        ("nose_diameter", "f8"),
        ("sin_angle", "f8"),
        ("cos_angle", "f8"),
        ("cd", "f8"),
        ("spigot_length", "f8"),
        ("spigot_clearance", "f8"),
        ("annulus", "f8"),
        ("jet", "f8"),
    ]
)

CHAMBER = np.dtype(
    [
        ("hot", "i8"),
        ("back", "f8"),
        ("volume", "f8"),
        ("throat", "f8"),
        ("combustion_time_constant", "f8"),
        ("gas_constant", "f8"),
        ("ambient_mass", "f8"),
        ("curve", CURVE),
        ("ideal_curve", CURVE),
        ("best", "f8"),
        ("hot_enthalpy", CURVE),
        ("allowable", "f8"),
        ("table_low", "f8"),
        ("table_high", "f8"),
    ]
)
"""allowable Pa (inf where none); table_low/high: oxidizer fractions the table spans."""

IGNITION = np.dtype(
    [
        ("possible", "i8"),
        ("given", "f8"),
        ("delay", "f8"),
        ("windows", CURVE),
        ("mixture_low", "f8"),
        ("mixture_high", "f8"),
        ("pool_oxidizer", "f8"),
        ("count_pool", "i8"),
    ]
)
"""given: instant of light-off (nan: by the igniter); windows: pairs (ready = on + rise, off); pool_oxidizer kg and
count_pool: whether what leaked before a command counts, and before the first how much."""

INSTANTS = np.dtype(
    [
        ("energize", "f8"),
        ("deenergize", "f8"),
        ("waiting", "f8"),
        ("edges", CURVE),
        ("effects", CURVE),
        ("pulses", CURVE),
        ("targets", CURVE),
        ("end", "f8"),
        ("settle", "i8"),
        ("settle_time", "f8"),
        ("tolerance", "f8"),
    ]
)
"""waiting: how long the propellants stood at the closed valve when the command comes, s.
edges: pairs (instant, 1 on / 0 off); effects: triples (instant of effect, 1 opens / 0 shuts, instant of its
command); pulses: fives (on, its off, next on, when the fill port opens, when the exhaust port opens), nan where it does not
happen, next on inf of the last; targets: every time event, sorted; settle 1: end when settled."""

INDEX = np.dtype(
    [
        (name, "u4")
        for name in (
            "bottle plenum tube oxidizer_flow fuel_flow unburned_oxidizer unburned_fuel gas_mass dribble_oxidizer "
            "dribble_fuel oxidizer_volume fuel_volume lift spring chamber lift_height speed core total"
        ).split()
    ]
)
"""Place of each state in y; 0 where the layout has none. Nodes take two places (mass, energy). Unsigned, so that compiled code
does not ask of each place whether it counts from the end."""

RANGES = np.dtype(
    [
        ("gas_low", "f8"),
        ("gas_high", "f8"),
        ("gas_work", "f8"),
        ("fuel_low", "f8"),
        ("fuel_high", "f8"),
        ("post_low", "f8"),
        ("post_high", "f8"),
        ("rod_low", "f8"),
        ("rod_high", "f8"),
        ("piston_low", "f8"),
        ("piston_high", "f8"),
        ("jet_low", "f8"),
        ("jet_high", "f8"),
        ("lift_area_factor", "f8"),
    ]
)
"""Extremes the static margins use: Pa absolute, friction as a factor on each seal's nominal breakaway."""

_PARTS = np.dtype(
    [
        ("packed", PACKED),
        ("sleeve", SLEEVE),
        ("forces", FORCE_ROWS),
        ("friction", FRICTION),
        ("supply", SUPPLY),
        ("gas", GAS_SIDE),
        ("oxidizer", LINE),
        ("fuel", LINE),
        ("slots", SLOTS),
        ("seat", SEAT),
        ("chamber", CHAMBER),
        ("ignition", IGNITION),
        ("instants", INSTANTS),
        ("index", INDEX),
        ("ranges", RANGES),
        ("fuel_side_pressure", "f8"),
        ("ambient_pressure", "f8"),
        ("stored_gas_energy", "f8"),
        ("kind", "i8"),
    ]
)
_FIELDS = dict(_PARTS.fields or {})
PLANT = np.dtype(
    {
        "names": list(_FIELDS),
        "formats": [field[0] for field in _FIELDS.values()],
        "offsets": [field[1] for field in _FIELDS.values()],
        "itemsize": -(-_PARTS.itemsize // CACHE_LINE) * CACHE_LINE,
    }
)
"""One lane. Its length is whole cache lines and what is read as vectors comes first, so that in a row of lanes none lies across
two."""

DRY = 0
COLD_FLOW = 1
HOT = 2
