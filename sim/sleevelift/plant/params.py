"""The flat, compiled description of one case: one structured record per lane, plus a table row of its curves.

Nested records read well in compiled code (`plant.sleeve.mass`) and compile fastest. SI throughout. Curves of any length (valve
knots, inlet tables, slot rows, mixture curve) lie in one float row per lane; the record holds where each starts and how many
entries it has.
"""

import numpy as np

from sleevelift.integrate.workspace import CACHE_LINE
from sleevelift.physics.sleeve import N_FORCE

TUBE, LIFT, SPRING, SOURCE, BOTTLE, SUPPLY, AMBIENT, CHAMBER = range(8)
"""Slots of what gas flows join. Nodes with states: tube, lift chamber, spring side, what supplies them (plenum, else bottle, else
nothing: the tube once more, which the first four are worked on together with), a bottle behind a regulator. Boundaries: a
constant or tabled supply, ambient, the combustion chamber at the post seal."""
N_SLOT = 8

FUEL_SIDE = CHAMBER
"""Of a dry case, which has gas on both sides of the rod seal and no combustion gas."""

ALWAYS, BY_FILL, BY_EXHAUST, BY_REGULATOR, BY_SHUTTLE_HOME, BY_QUICK, BY_POST = range(7)
"""What opens a gas flow: nothing needs to; the solenoid valve's fill port; its exhaust port (1 - that); the regulator; the shuttle
of a quick exhaust at home (1 where there is none), the same moved (1 - that); the post seal's uncovering by lift."""
N_OPENING = 7

NODES = np.dtype(
    [(name, "f8", (N_SLOT,)) for name in ("volume", "swept", "wall", "wall_temperature", "pressure", "temperature")]
    + [(name, "f8", (N_SLOT,)) for name in ("filled", "stored")]
    + [(name, "u4", (N_SLOT,)) for name in ("mass", "first", "second", "free", "code", "signal")]
    + [("count", "u4"), ("inlet", "u4")]
)
"""Gas nodes by slot: volume m3 at zero lift, m3 that it grows by per m of lift, h A of the wall W/K, wall temperature K, start Pa
and K; filled, stored: m3 that liquid takes of it, J that this liquid holds of its energy (room to work in). mass: place of the
mass in y, of a boundary that of the gas gone outside (energy: the next); first, second: states that its gas depends on; free: 1
where it depends on any; code, signal: of `gas_rows.GAS_NODES`. count: nodes with states; inlet: the slot that the solenoid valve
fills from."""

NOW = np.dtype([(name, "f8", (N_SLOT,)) for name in ("p", "T", "rho", "n", "h", "flux", "r_star", "status")])
"""State of the gas in each slot, as `gas_node.node_state` gives it: room to work in, filled by each evaluation; fixed states
stay."""

GRADIENT = np.dtype([(f"{what}_{by}", "f8", (N_SLOT,)) for what in ("p", "T", "rho", "n", "h") for by in ("1", "2", "x")])
"""Derivatives of that by a slot's first and second state and by lift: room to work in; those of fixed states stay 0."""

OPENINGS = np.dtype(
    [(name, "f8", (N_OPENING,)) for name in ("share", "by_p", "by_lift", "by_t")]
    + [(name, "u4", (N_OPENING,)) for name in ("above", "below")]
)
"""How far each is open, 0 to 1, with its derivatives by the pressure of slot `above` over that of slot `below` 1/Pa, by lift 1/m,
by time 1/s: room to work in."""

FLOW = np.dtype(
    [(name, "u4") for name in ("source", "sink", "opening", "signal", "meter", "blocked")]
    + [(name, "f8", (2,)) for name in ("area", "b", "m")]
    + [("free", "f8")]
)
"""A gas flow (`gas_rows.FlowNumbers`): slots, opening, signal, balance that integrates it (0: none), and out and back: Cd A m2,
critical ratio (-1: orifice), subsonic index. blocked: by which liquid (below); free: share that it leaves to the gas, room to work
in."""
BY_NONE, BY_LEAVING, BY_TOP, BY_PASSING = range(4)
"""What liquid in the lift chamber blocks of a gas flow: none; where it leaves the chamber by its port; where it leaves by what sits
high; the exhaust while liquid passes it."""
MOST_FLOWS = 12
"""Room for so many gas flows."""

FIRST_AHEAD, INTO_CHAMBER = 2, 4
"""Slots of what liquid flows join: the manifolds, each in that of its side; what stands ahead of run valves, from FIRST_AHEAD on;
the combustion chamber."""
N_LIQUID = 5

COLUMN, BY_SLOTS, BY_SEAT, BY_VALVE = range(4)
"""Laws of liquid flows: a column of liquid with a state of its own; slots and the clearance beside them; seat gap with spigot and
annulus; a run valve."""

LIQUIDS = np.dtype(
    [(name, "f8", (N_LIQUID,)) for name in ("p", "by_z", "out", "into", "specific_volume", "swept", "size", "stiffness", "vapour")]
    + [(name, "u4", (N_LIQUID,)) for name in ("place", "side", "signal")]
    + [("volumes", "u4"), ("lines", "u4"), ("flows", "u4")]
)
"""What liquid flows join, by slot. Room to work in: p Pa, d p/d z Pa/m3, flow out less in by the rows and flow into the chamber
kg/s. Fixed: m3/kg, m3 that it grows by per m of lift, m3, B/V Pa/m3, Pa; place of its compressed volume in y, whose liquid it
holds, its pressure's signal. volumes: slots with states; lines: feed lines, each into the slot `end`; flows: rows of
`LIQUID_FLOW`."""

LIQUID_FLOW = np.dtype(
    [(name, "u4") for name in ("source", "sink", "law", "signal", "side", "check")]
    + [(name, "f8") for name in ("area", "share", "opening", "w", "rise", "w_dp", "rise_dp", "w_lift", "rise_lift")]
)
"""A liquid flow: slots, law, signal, whose liquid, whether none flows back; Cd A wholly open, m2, of what is opened by time. Room
to work in: share of it that is open, Cd A m2, flow kg/s, what the pressure behind its opening stands above the
sink's Pa, and derivatives of both by p_source - p_sink and by lift."""
MOST_LIQUID_FLOWS = 8
"""Room for so many."""

CURVE = np.dtype([("start", "i8"), ("count", "i8")])
"""Where a curve lies in the table row."""

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

SUPPLY_SIDE = np.dtype([("kind", "i8"), ("table", CURVE), ("temperature", "f8"), ("set_pressure", "f8"), ("droop_band", "f8")])
"""kind: see the constants below."""

CONSTANT_SUPPLY = 0
TABLE_SUPPLY = 1
BOTTLE_SUPPLY = 2
REGULATED_SUPPLY = 3

GAS_SIDE = np.dtype(
    [("quick", "i8"), ("cracking", "f8"), ("post_leaks", "i8"), ("laminar_above", "f8"), ("valve", CURVE), ("flows", "u4")]
)
"""quick, post_leaks: whether there are a quick exhaust and a leak past the post seal; flows: rows of `FLOW`."""

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
        ("flow_place", "u4"),
        ("dribble_place", "u4"),
        ("unburned_place", "u4"),
        ("end", "u4"),
        ("valve", CURVE),
        ("valve_area", "f8"),
        ("check_valve", "u4"),
        ("ahead_volume", "f8"),
        ("locked", "f8"),
    ]
)
"""One feed line with its manifold: kg/m3, Pa s, Pa, Pa, 1/m, m, Pa s2/kg2, m3, Pa/m3, m3/kg, m3, -, Pa, Pa, curve, kg, s, m2,
kg/s (0: to be solved), s, 1/s. What the right-hand side would divide by each time stands here as its reciprocal: area_per_length of
inertance, specific_volume of rho, stiffness B/V. Then the places in y of its flow, its passage's content, its unburned mass in the
chamber; the slot that it ends in; run valve: share of its area over time, Cd A open m2 (0: none),
whether none flows back, volume of the line ahead of it m3, pressure at the start in the manifold behind a shut one Pa."""

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
        ("leak", "f8"),
    ]
)
"""leak: geometric area that leaks past the seat at every lift, m2 (times cd: effective)."""

COMBUSTION_CHAMBER = np.dtype(
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
        ("count_pool", "i8"),
    ]
)
"""given: instant of light-off (nan: by the igniter); windows: pairs (ready = on + rise, off);
count_pool: whether what leaked before a command is in the chamber at that command."""

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

ROD = np.dtype(
    [(name, "i8") for name in ("present", "high", "port", "exhaust", "quick")]
    + [(name, "f8") for name in ("area", "stood", "temperature", "gas_constant")]
    + [(name, "f8") for name in ("w", "leaving", "top", "p_q", "T_q", "rho_q", "n_q", "h_q")]
)
"""Fuel past the rod seal into the lift chamber. present: whether it is liquid that comes; high: whether the chamber's port sits
high; port, exhaust, quick: rows of these flows (-1: none); Cd A m2; s that it leaked before the run; K of the liquid; J/(kg K) of
the gas. Room to work in: kg/s past the seal; share of liquid in what leaves by the port, by what sits high; derivatives of the lift
chamber's gas by its liquid, 1/m3."""

INFLOW = np.dtype(
    [("present", "i8"), ("swept_share", "f8"), ("exponent", "f8")]
    + [(name, "f8") for name in ("mass", "enthalpy", "volume", "mass_p", "enthalpy_p", "volume_p")]
)
"""Gas that flows into the combustion chamber and does not burn (`inflow`). present: whether a hot case has a source of it; share of
the unburned pool that it carries away as if that were gas. Room to work in: exponent of the lit chamber's gas; kg/s; W, from 0 K;
m3/s at the chamber's pressure; derivatives of the three by that pressure."""

PURGE = np.dtype(
    [(name, "f8") for name in ("area", "pressure", "density", "exponent", "flux", "r_star", "enthalpy", "rt")]
    + [("switched", CURVE)]
)
"""Purge of the combustion chamber: Cd A m2 (0: none); ahead of it Pa, kg/m3, -, choked flux kg/(s m2), critical ratio; enthalpy
from 0 K and R T of its gas, J/kg; instants at which it is switched, on first."""

MANIFOLD_GAS = np.dtype(
    [(name, "u4") for name in ("present", "place")]
    + [("windows", CURVE)]
    + [(name, "f8") for name in ("rt", "exponent", "enthalpy", "width", "start")]
    + [(name, "f8") for name in ("area", "supply", "density", "supply_exponent", "flux", "r_star")]
    + [(name, "f8") for name in ("gap", "slip", "mouth")]
    + [(name, "f8") for name in ("volume", "p_z", "p_m", "v_z", "v_m", "potential")]
    + [(name, "f8") for name in ("share", "share_z", "share_m", "share_x", "free", "free_z", "free_m", "free_x")]
    + [(name, "f8") for name in ("back", "back_z", "back_x", "liquid", "rise", "returned")]
    + [(name, "f8") for name in ("w", "purge", "purge_p", "whole", "whole_p", "whole_c", "whole_x", "whole_rho")]
)
"""Gas in a manifold, of each side. present: whether there may be any; place: its mass in y; windows: pairs (on, off) of its
purge. R T J/kg, exponent -, enthalpy from 0 K J/kg, m3 of gas over which one follows the other through the injector, kg at the
start; the purge's orifice Cd A m2 (0: none), Pa, kg/m3, exponent, choked flux and critical ratio ahead of it; clearance as a gap
for gas (`physics.manifold_gas`) with its mouth m2. Room to work in: gas volume m3, pressure by z Pa/m3 and by mass Pa/kg, volume
by both, potential J/kg; share of liquid in what the injector passes, of gas, of liquid in what flows back through the run valve,
with derivatives by z, mass and lift; of liquid alone what the injector would pass, kg/s, and the rise of the gap pressure, Pa,
and what the valve would pass back, kg/s (0: nothing). Gas out by the injector and in by the purge, kg/s, derivative of that by
p_m; of gas alone what the injector would pass, and its derivatives by p_m, p_c, lift, density in the chamber."""

INDEX = np.dtype(
    [
        (name, "u4")
        for name in (
            "bottle plenum tube oxidizer_flow fuel_flow unburned_oxidizer unburned_fuel gas_mass dribble_oxidizer "
            "dribble_fuel oxidizer_volume fuel_volume oxidizer_ahead fuel_ahead oxidizer_gas fuel_gas lift_liquid lift spring "
            "chamber lift_height speed core rod inflow ledger total"
        ).split()
    ]
)
"""Place of each state in y; 0 where the layout has none. Nodes take two places (mass, energy). core: number of states that others
depend on, and place of the balances; rod, inflow, ledger: places of those of fuel past the rod seal, of gas that flows into the
chamber, and of gas in the manifolds. Unsigned, so that compiled code does not ask of each place whether it counts from the end."""

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
        ("now", NOW),
        ("gradient", GRADIENT),
        ("nodes", NODES),
        ("openings", OPENINGS),
        ("flows", FLOW, (MOST_FLOWS,)),
        ("sleeve", SLEEVE),
        ("forces", FORCE_ROWS),
        ("friction", FRICTION),
        ("supply", SUPPLY_SIDE),
        ("gas", GAS_SIDE),
        ("lines", LINE, (2,)),
        ("liquids", LIQUIDS),
        ("liquid_flows", LIQUID_FLOW, (MOST_LIQUID_FLOWS,)),
        ("slots", SLOTS),
        ("seat", SEAT),
        ("chamber", COMBUSTION_CHAMBER),
        ("ignition", IGNITION),
        ("instants", INSTANTS),
        ("rod", ROD),
        ("inflow", INFLOW),
        ("purge", PURGE),
        ("gases", MANIFOLD_GAS, (2,)),
        ("index", INDEX),
        ("ranges", RANGES),
        ("fuel_side_pressure", "f8"),
        ("ambient_pressure", "f8"),
        ("stored_gas_energy", "f8"),
        ("kind", "i8"),
        ("gas_manifolds", "i8"),
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
