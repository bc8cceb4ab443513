"""Names of what a run carries: modes, discrete state, remembered instants, signals, balances.

The continuous states' places depend on the case (`INDEX` in `params`); the order puts the states that touch fewest others
first, so that the elimination of the Newton-like matrix fills in little. The balances stand behind the core states; nothing
depends on them.
"""

from sleevelift.jit import inline_kernel

OXIDIZER, FUEL = 0, 1
"""Sides. What both have follows one another here: of the fuel's side, the oxidizer's + FUEL. Also the slots of their manifolds in
`params.LIQUIDS` and the places of their injectors among its flows."""

SEATED = 0
STUCK = 1
SLIDING_UP = 2
SLIDING_DOWN = 3
AT_STOP = 4

MODE_NAMES = ("seated", "stuck", "sliding up", "sliding down", "at the stop")

# discrete state (int64)
D_MODE = 0
D_VALVE = 1
D_SUPPLY = 2
D_OXIDIZER = 3
D_FUEL = 4
D_RUN_VALVE_O = 5
D_RUN_VALVE_F = 6
D_CAVITY_O = 7
D_CAVITY_F = 8
D_CAVITY_AHEAD = 9
D_CAVITY_AHEAD_2 = 10
D_DRIBBLE_O = 11
D_DRIBBLE_F = 12
D_FIRST_O = 13
D_FIRST_F = 14
D_ARMED = 15
D_LIT = 16
D_COMMANDED = 17
D_ON = 18
D_CONTACT = 19
D_ALLOWABLE = 20
D_TARGET = 21
D_BRANCH = 22
D_DAMPED = 23
D_SETTLED = 24
D_BURNED = 25
D_POOLING = 26
D_LEFT = 27
D_QUIET = 28
D_STANDING = 29
D_CHAMBER_PURGE = 30
D_GAS_AHEAD_O = 31
D_GAS_AHEAD_F = 32
D_PURGE_O = 33
D_PURGE_F = 34
N_DISCRETE = 35
"""D_CAVITY_*: of the volume in that slot (`params.LIQUIDS`): the manifolds, then what stands ahead of run valves. D_COMMANDED: the
first on command has been given. D_ON: the command in force. D_LEFT: the sleeve has left its seat since the last
on command; D_CONTACT: and has been back on it with command and solenoid valve off.
D_BURNED: the lit chamber has been above the pressure below which it counts as out. D_POOLING: what flows into the chamber is its
pool's. D_QUIET: nothing can happen any more (`ending.restless`). D_STANDING: the propellants stand at the closed valve, before the
run begins (`lane.stand`).
D_ARMED: light-off is set (its instant in M_LIGHT_PLANNED). D_ALLOWABLE: the unlit pool has reached the allowable pressure.
D_CHAMBER_PURGE: the chamber's purge is on.
D_BRANCH: a side run that is never lit. D_DAMPED: the lines' ringing after closing is over (`ending.damp_artificially`).
D_GAS_AHEAD_*: gas in that manifold lies ahead of its liquid, from the run valve's opening to its shutting. D_PURGE_*: the purge is
on.
D_SETTLED: gas and
flows have settled behind a sleeve at rest (`ending.unsettled`)."""

AWAY, ARRIVED, LINGERING = 0, 1, 2
"""Whether a propellant has come into the chamber (D_FIRST_*). LINGERING: the chamber has gone out with that flow below its level,
and the step of its pressure to ambient lifted it above: that is no arrival, and its fall not its end; once it has fallen, AWAY."""

DRAINING = 0
FILLING = 1
FULL = 2
"""States of a passage downstream of the injector."""

# remembered numbers (float64)
M_FIRST_O = 0
M_FIRST_F = 1
M_LIGHT_PLANNED = 2
M_LIGHT = 3
M_IMPACT_LOSS = 4
M_ALLOWABLE = 5
M_LAST_CHANGE = 6
M_LEAK_O = 7
M_LEAK_F = 8
M_LEVEL_O = 9
M_LEVEL_F = 10
M_REFERENCE_O = 11
M_REFERENCE_F = 12
M_STEADY_CHAMBER = 13
M_DAMPING = 14
M_POOL_CLOSED = 15
M_EXCESS = 16
M_TOLERANCE = 17
M_STOOD = 18
M_PASSED = 19
N_MEMO = 20
"""M_LEVEL_*: flow into the chamber that counts as first and last, kg/s: leak + 5 % of (reference - leak). M_DAMPING: instant from
which the lines of a closed valve were last watched for cavities, s. M_POOL_CLOSED: instant from which a leak is kept apart from
the pool, s. M_LEAK_*: past the closed sleeve, kg/s. M_EXCESS: what the net
force exceeded breakaway by where the sleeve last came to rest between seat and stop, N, opening positive. M_TOLERANCE: relative
tolerance of the run. M_STOOD: time that the rod seal leaked before the run, s; M_PASSED: what of its liquid left the lift chamber
in that time, kg."""

# signals (float64), recomputed by the right-hand side at every stored point
S_SUPPLY_P = 0
S_TUBE_P = 1
S_TUBE_T = 2
S_LIFT_P = 3
S_LIFT_T = 4
S_SPRING_P = 5
S_SPRING_T = 6
S_VALVE = 7
S_FILL = 8
S_EXHAUST = 9
S_PORT = 10
S_VENT = 11
S_NET = 12
S_RUN = 13
S_FRICTION = 14
S_GAP_P = 15
S_SLOT = 16
S_GAP = 17
S_OXIDIZER_P = 18
S_FUEL_P = 19
S_OXIDIZER_INJECTOR = 20
S_FUEL_INJECTOR = 21
S_OXIDIZER = 22
S_FUEL = 23
S_CHAMBER_P = 24
S_JET = 25
S_SUPERSATURATED = 26
S_PLENUM_P = 27
S_PLENUM_T = 28
S_BOTTLE_P = 29
S_BOTTLE_T = 30
S_POST_LEAK = 31
S_PISTON_LEAK = 32
S_REGULATOR = 33
S_QUICK = 34
S_OUTSIDE_LEAK = 35
S_OXIDIZER_LINE = 36
S_FUEL_LINE = 37
S_OXIDIZER_VALVE = 38
S_FUEL_VALVE = 39
S_OXIDIZER_SHARE = 40
S_FUEL_SHARE = 41
S_OXIDIZER_AHEAD_P = 42
S_FUEL_AHEAD_P = 43
S_ROD_LEAK = 44
S_ROD_LIQUID = 45
S_LIQUID_OUT = 46
S_CHAMBER_PURGE = 47
S_OXIDIZER_GAS = 48
S_FUEL_GAS = 49
S_OXIDIZER_PURGE = 50
S_FUEL_PURGE = 51
S_OXIDIZER_GAS_VOLUME = 52
S_FUEL_GAS_VOLUME = 53
N_SIGNAL = 54
"""S_NET: force on the sleeve without friction, opening positive. S_RUN: running friction of the three seals.
S_SUPERSATURATED: bits 1 tube, 2 lift chamber, 4 spring side, 8 plenum, 16 bottle. *_INJECTOR: through slots or seat gap;
S_OXIDIZER, S_FUEL: into the chamber, behind the passages; *_LINE: through the feed line;
*_VALVE: through its run valve; *_SHARE: of the run valve's area that is open; *_AHEAD_P: pressure ahead of it. S_ROD_LEAK,
S_ROD_LIQUID: gas and liquid past the rod seal into the lift chamber; S_LIQUID_OUT: liquid that leaves it by port and quick
exhaust. S_CHAMBER_PURGE: gas from the chamber's purge. *_GAS: gas through the injector; *_PURGE: through the purge's orifice;
*_GAS_VOLUME: gas in the manifold."""

# balances, counted from the end of the core states
B_GAS_MASS = 0
B_GAS_ENERGY = 1
B_FILL = 2
B_GAS_WORK = 3
B_FRICTION = 4
B_OTHER_WORK = 5
N_BALANCE = 6
"""Time integrals: gas mass gone outside; enthalpy and heat gone outside (both as of one more node, so that what all nodes
hold, this one counted, stays the same); gas mass through the fill port; work of the gas on the sleeve; friction heat; work on
sleeve and liquids by inlets, injectors, line losses, chamber, gap and jet. Gas mass and energy are neighbours, as of a node; the
work of the gas on liquid in the lift chamber is energy gone outside."""

# balances of fuel past the rod seal, counted from `index.rod`; only where it leaks
B_ROD_LIQUID = 0
B_LIQUID_OUT = 1
B_ROD_GAS = 2
N_ROD_BALANCE = 3
"""Time integrals: liquid past the rod seal into the lift chamber, and out of it by port and quick exhaust; gas past the rod seal
into the fuel line."""

# balances of gas that flows into the chamber and does not burn, counted from `index.inflow`; only where there is a source of it
B_CHAMBER_PURGE = 0
B_SWEPT_O = 1
B_SWEPT_F = 2
N_INFLOW_BALANCE = 3
"""Time integrals: gas from the chamber's purge; unburned oxidizer and fuel that such gas carried out of the unlit chamber."""

# balances of gas in the manifolds, counted from `index.ledger`; only where there is any
B_PURGE_WORK = 0
B_PURGED_O = 1
B_PURGED_F = 2
B_GAS_PASSED_O = 3
B_GAS_PASSED_F = 4
B_GAS_BACK_O = 5
B_GAS_BACK_F = 6
N_LEDGER = 7
"""Time integrals: work that gas brings into the manifolds less what it takes; gas into each by its purge, out by its injector, and
back in from the chamber."""

# guards
G_MODE_A = 0
G_MODE_B = 1
G_CAVITY_O = 2
G_CAVITY_F = 3
G_CAVITY_AHEAD = 4
G_CAVITY_AHEAD_2 = 5
G_DRIBBLE_O = 6
G_DRIBBLE_F = 7
G_FIRST_O = 8
G_FIRST_F = 9
G_IGNITABLE = 10
G_ALLOWABLE = 11
G_OUT = 12
G_SETTLED = 13
G_QUIET = 14
N_GUARD = 15


@inline_kernel
def happened(instant):
    """Whether a number is one: what did not happen is nan."""
    return instant == instant
