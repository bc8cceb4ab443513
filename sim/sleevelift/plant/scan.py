"""From a stored trajectory to the named numbers of `names`, in compiled code, so that a batch need not keep trajectories.

Each definition quotes its threshold. A number that did not happen is nan; `sleevelift.measures` says why in words.
"""

import numpy as np

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import hard_start_pressure
from sleevelift.physics.feed_line import compression_energy
from sleevelift.physics.spring import spring_energy
from sleevelift.plant.crossings import LAST_RISE, crossing, point_before
from sleevelift.plant.flow_measures import CROSSINGS, extremes, flow_measures
from sleevelift.plant.margins import static_margins
from sleevelift.plant.names import PLACE
from sleevelift.plant.quantities import LIFT
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet

FULL_LIFT = 0.98
"""-. Within 2 % of full lift counts as full."""
QUANTITIES = np.array([LIFT], dtype=np.int64)
"""Quantities looked at here, as data."""

LEFT_GAS_RANGE, LIFTED_EARLY, NEVER_SHIFTED, NEVER_BROKE_AWAY, HUNG, OPENED_CLOSED, NO_OFF, NOT_CLOSED, FAILED = range(9)
OUTCOMES = (
    "left-gas-range",
    "lifted-without-command",
    "valve-never-shifted",
    "never-broke-away",
    "hung-part-way",
    "opened-and-closed",
    "opened-no-off-command",
    "did-not-close",
    "failed",
)
"""In the order in which the first that applies is the outcome; `failed` is a computation that could not go on."""

P_ENERGIZE_TIME = PLACE["energize_time"]
P_VALVE_DELAY = PLACE["valve_delay"]
P_FILL_DELAY = PLACE["fill_delay"]
P_TRAVEL_TIME = PLACE["travel_time"]
P_OPENING_TIME = PLACE["opening_time"]
P_BREAKAWAY_PRESSURE = PLACE["breakaway_pressure"]
P_STOP_IMPACT_SPEED = PLACE["stop_impact_speed"]
P_DEENERGIZE_TIME = PLACE["deenergize_time"]
P_RELEASE_DELAY = PLACE["release_delay"]
P_VENT_DELAY = PLACE["vent_delay"]
P_RETURN_TIME = PLACE["return_time"]
P_CLOSING_TIME = PLACE["closing_time"]
P_SEAT_IMPACT_SPEED = PLACE["seat_impact_speed"]
P_SEAT_BOUNCES = PLACE["seat_bounces"]
P_BOTH_IN_CHAMBER = PLACE["both_in_chamber"]
P_LIGHT_OFF = PLACE["light_off"]
P_LIGHT_OFF_LAG = PLACE["light_off_lag"]
P_POOLED_OXIDIZER = PLACE["pooled_oxidizer"]
P_POOLED_FUEL = PLACE["pooled_fuel"]
P_POOLED_BEFORE_COMMAND = PLACE["pooled_before_command"]
P_HARD_START_PRESSURE = PLACE["hard_start_pressure"]
P_LATEST_LIGHT_OFF = PLACE["latest_light_off"]
P_STEADY_CHAMBER_PRESSURE = PLACE["steady_chamber_pressure"]
P_PRELOAD = PLACE["preload"]
P_FUEL_OPENING_FORCE = PLACE["fuel_opening_force"]
P_LIFT_FORCE = PLACE["lift_force"]
P_OPENING_MARGIN = PLACE["opening_margin"]
P_FULL_LIFT_MARGIN = PLACE["full_lift_margin"]
P_NO_FUEL_MARGIN = PLACE["no_fuel_margin"]
P_FUEL_ALONE_MARGIN = PLACE["fuel_alone_margin"]
P_FUEL_LOSS_MARGIN = PLACE["fuel_loss_margin"]
P_CLOSING_MARGIN = PLACE["closing_margin"]
P_CLOSING_MARGIN_UNLIT = PLACE["closing_margin_unlit"]
P_FUEL_PRESSURE_TO_OPEN = PLACE["fuel_pressure_to_open"]
P_SEALING_LOAD = PLACE["sealing_load"]
P_REQUIRED_LIFT_AREA = PLACE["required_lift_area"]
P_GAS_PER_CYCLE = PLACE["gas_per_cycle"]
P_STORED_GAS_ENERGY = PLACE["stored_gas_energy"]
P_GAS_MASS_ERROR = PLACE["gas_mass_error"]
P_ENERGY_ERROR = PLACE["energy_error"]
P_STEPS = PLACE["steps"]


@bare_kernel
def lifts_off(i, events):
    """Whether event i is the sleeve leaving its seat from rest."""
    return events[2][i, 0, D_MODE] == SEATED and events[2][i, 1, D_MODE] == SLIDING_UP


@bare_kernel
def hits_stop(i, events):
    """Whether event i is an impact on the stop."""
    return events[1][i] == G_MODE_B and events[2][i, 0, D_MODE] == SLIDING_UP


@bare_kernel
def hits_seat(i, events):
    """Whether event i is an impact on the seat."""
    return events[1][i] == G_MODE_B and events[2][i, 0, D_MODE] == SLIDING_DOWN


@bare_kernel
def moves_down(i, events):
    """Whether event i is a breakaway or reversal downward (not a rebound from the stop)."""
    return events[2][i, 1, D_MODE] == SLIDING_DOWN and events[2][i, 0, D_MODE] != SLIDING_DOWN and not hits_stop(i, events)


@bare_kernel
def effect_of(plant, tables, opens, after):
    """(instant of effect, instant of its command) of the first effect of a direction at or after an instant; nan if none."""
    effects = plant.instants.effects
    for i in range(effects.count):
        k = effects.start + 3 * i
        if (tables[k + 1] > 0.5) == opens and tables[k] >= after:
            return tables[k], tables[k + 2]
    return np.nan, np.nan


@bare_kernel
def impact_speeds(out, energize, off, n_events, events, trajectory, i_speed):
    """Fastest impacts on stop (after the first on) and seat (after the last off), and the rebounds from the seat."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    stop = np.nan
    seat = np.nan
    bounces = 0.0
    for i in range(n_events):
        at = events[0][i]
        if hits_stop(i, events) and at >= energize:
            v = abs(ys[event_point(i, events, trajectory), i_speed])
            stop = v if not stop >= v else stop
        if hits_seat(i, events) and at >= off:
            v = abs(ys[event_point(i, events, trajectory), i_speed])
            seat = v if not seat >= v else seat
            if events[2][i, 1, D_MODE] == SLIDING_UP:
                bounces += 1.0
    out[P_STOP_IMPACT_SPEED] = stop
    out[P_SEAT_IMPACT_SPEED] = seat
    if off == off:
        out[P_SEAT_BOUNCES] = bounces


@bare_kernel
def event_point(i, events, trajectory):
    """Index of the stored point just before event i (its state still before the jump)."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    at = events[0][i]
    mode = events[2][i, 0, D_MODE]
    lo = 0
    hi = count - 1
    while lo < hi:
        middle = (lo + hi) // 2
        if t[middle] < at:
            lo = middle + 1
        else:
            hi = middle
    k = lo
    while k + 1 < count and t[k + 1] == at and discrete_state[k, D_MODE] != mode:
        k += 1
    return k


@bare_kernel
def opening_measures(out, first_open, off, n_events, events, trajectory, event_memory, par):
    """Opening times; returns (first lift after the command, whether full lift was reached and held up to `off`)."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant = par[0]
    energize = plant.instants.energize
    out[P_ENERGIZE_TIME] = energize
    if not energize == energize:
        return np.nan, False
    out[P_VALVE_DELAY] = first_open - energize
    lift = np.nan
    for i in range(n_events):
        if lifts_off(i, events) and events[0][i] >= energize:
            lift = events[0][i]
            out[P_FILL_DELAY] = lift - first_open
            out[P_BREAKAWAY_PRESSURE] = stored_outputs[event_point(i, events, trajectory), S_LIFT_P]
            break
    if not lift == lift:
        return lift, False
    level = FULL_LIFT * plant.sleeve.stroke
    end = point_before(off, trajectory)
    if ys[end, plant.index.lift_height] < level:
        return lift, False
    full = crossing(CROSSINGS[LAST_RISE], QUANTITIES[0], level, lift, off, trajectory, event_memory, par)
    if full == full:
        out[P_TRAVEL_TIME] = full - lift
        out[P_OPENING_TIME] = full - energize
    return lift, True


@bare_kernel
def closing_measures(out, lifted, n_events, events, trajectory, plant, tables):
    """Closing times after the last off command; returns whether the sleeve is seated for good."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    off = plant.instants.deenergize
    out[P_DEENERGIZE_TIME] = off
    closed = discrete_state[count - 1, D_MODE] == SEATED
    if not off == off:
        return closed
    effects = plant.instants.effects
    release = np.nan
    for i in range(effects.count):
        k = effects.start + 3 * i
        if tables[k + 1] < 0.5 and tables[k + 2] == off:
            release = tables[k]
    out[P_RELEASE_DELAY] = release - off
    down = np.nan
    seated = np.nan
    for i in range(n_events):
        at = events[0][i]
        if at < off:
            continue
        if moves_down(i, events) and not down == down:
            down = at
        if events[2][i, 1, D_MODE] == SEATED and events[2][i, 0, D_MODE] != SEATED:
            seated = at
    if not lifted:
        return closed
    out[P_VENT_DELAY] = down - release
    if closed and seated == seated:
        out[P_RETURN_TIME] = seated - down
        out[P_CLOSING_TIME] = seated - off
    return closed


@bare_kernel
def ignition_measures(out, off, trajectory, event_memory, latest, par):
    """Light-off, pool and hard-start estimate; `latest` is the instant from the side run that is never lit."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    if plant.oxidizer.present != 0:
        out[P_BOTH_IN_CHAMBER] = max(event_memory[M_FIRST_O], event_memory[M_FIRST_F])
        if not (event_memory[M_FIRST_O] == event_memory[M_FIRST_O] and event_memory[M_FIRST_F] == event_memory[M_FIRST_F]):
            out[P_BOTH_IN_CHAMBER] = np.nan
    c = plant.chamber
    if c.hot == 0:
        return
    out[P_POOLED_BEFORE_COMMAND] = max(event_memory[M_LEAK_O], 0.0) * plant.instants.waiting
    light = event_memory[M_LIGHT]
    out[P_LIGHT_OFF] = light
    out[P_LIGHT_OFF_LAG] = light - out[P_BOTH_IN_CHAMBER]
    k = count - 1
    if light == light:
        k = point_before(light, trajectory)
    pool_o = max(ys[k, plant.index.unburned_oxidizer], 0.0)
    pool_f = max(ys[k, plant.index.unburned_fuel], 0.0)
    out[P_POOLED_OXIDIZER] = pool_o
    out[P_POOLED_FUEL] = pool_f
    if light == light and out[P_BOTH_IN_CHAMBER] <= light:
        out[P_HARD_START_PRESSURE] = hard_start_pressure(
            pool_o + plant.ignition.pool_oxidizer, pool_f, c.volume, plant.ambient_pressure,
            tables, c.ideal_curve.start, c.ideal_curve.count,
        )  # fmt: skip
    out[P_LATEST_LIGHT_OFF] = latest
    if plant.instants.energize == plant.instants.energize:
        out[P_STEADY_CHAMBER_PRESSURE] = stored_outputs[point_before(off, trajectory), S_CHAMBER_P]


@bare_kernel
def gas_measures(out, trajectory, par):
    """Gas used, stored energy at the start."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant = par[0]
    core = plant.index.core
    out[P_GAS_PER_CYCLE] = ys[count - 1, core + B_FILL]
    out[P_STORED_GAS_ENERGY] = plant.stored_gas_energy


@bare_kernel
def stored_energy(k, trajectory, plant):
    """Energy held by sleeve, spring, weight and liquids at point k, J."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    index = plant.index
    x = ys[k, index.lift_height]
    v = ys[k, index.speed]
    total = 0.5 * plant.sleeve.mass * v * v + spring_energy(plant.sleeve.preload, plant.sleeve.rate, x)
    total += plant.sleeve.weight * x
    if plant.oxidizer.present != 0:
        total += line_energy(
            ys[k, index.oxidizer_flow], ys[k, index.oxidizer_volume], stored_outputs[k, S_OXIDIZER_P], plant.oxidizer, plant
        )
        total += line_energy(ys[k, index.fuel_flow], ys[k, index.fuel_volume], stored_outputs[k, S_FUEL_P], plant.fuel, plant)
    return total


@bare_kernel
def line_energy(w, z, p, line, plant):
    """Kinetic energy of the line's column plus energy of compression of its manifold, J."""
    kinetic = 0.5 * line.inertance * w * w / line.rho
    return kinetic + compression_energy(
        z, p, line.volume, line.bulk, line.vapour, line.trapped_gas, line.trapped_gas_exponent, plant.ambient_pressure
    )


@bare_kernel
def gas_content(k, which, trajectory, plant):
    """Mass (which 0) or internal energy (1) of all gas nodes at point k, kg or J."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    index = plant.index
    total = ys[k, index.tube + which] + ys[k, index.lift + which] + ys[k, index.spring + which]
    return total + ys[k, index.plenum + which] + ys[k, index.bottle + which]


@bare_kernel
def gained(which, trajectory, core):
    """Growth of a balance over the run."""
    ys = trajectory[1]
    return ys[trajectory[5] - 1, core + which] - ys[0, core + which]


@bare_kernel
def balances(trajectory, event_memory, plant):
    """(gas mass kg, gas energy J, machine energy J) left over at the end, and the (mass, energy, work) they are measured by.

    The boundary flows are integrated as states. Gas energy: change of U - enthalpy and heat in + work on the sleeve. Machine:
    change of stored energy + friction + impacts - gas work - work of inlets, injectors, chamber, gap and jet.
    """
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    end = count - 1
    core = plant.index.core
    mass = gas_content(end, 0, trajectory, plant) - gas_content(0, 0, trajectory, plant) - gained(B_GAS_MASS, trajectory, core)
    energy = gas_content(end, 1, trajectory, plant) - gas_content(0, 1, trajectory, plant)
    energy += gained(B_GAS_WORK, trajectory, core) - gained(B_GAS_ENERGY, trajectory, core)
    machine = stored_energy(end, trajectory, plant) - stored_energy(0, trajectory, plant)
    machine += gained(B_FRICTION, trajectory, core) + event_memory[M_IMPACT_LOSS]
    machine -= gained(B_GAS_WORK, trajectory, core) + gained(B_OTHER_WORK, trajectory, core)
    index = plant.index
    mass_scale = max(abs(gained(B_FILL, trajectory, core)), ys[0, index.tube] + ys[0, index.lift] + ys[0, index.spring])
    stroke = plant.sleeve.stroke
    work_scale = max(spring_energy(plant.sleeve.preload, plant.sleeve.rate, stroke), gained(B_FRICTION, trajectory, core))
    work_scale = max(work_scale, event_memory[M_IMPACT_LOSS])
    at_start = stored_energy(0, trajectory, plant)
    for k in range(1, count):
        work_scale = max(work_scale, abs(stored_energy(k, trajectory, plant) - at_start))
    energy_scale = work_scale + abs(gained(B_GAS_ENERGY, trajectory, core))
    return mass, energy, machine, mass_scale, energy_scale, work_scale


@bare_kernel
def balance_measures(out, trajectory, event_memory, plant):
    """Errors of gas mass and of the whole machine's energy, relative."""
    mass, energy, machine, mass_scale, energy_scale, work_scale = balances(trajectory, event_memory, plant)
    out[P_GAS_MASS_ERROR] = abs(mass) / mass_scale
    out[P_ENERGY_ERROR] = max(abs(machine) / work_scale, abs(energy) / energy_scale)


@bare_kernel
def outcome_of(good, lifted_early, lift, reached, closed, plant, tables):
    """The first outcome of `OUTCOMES` that applies; an on command after the last off counts as no off command."""
    if not good:
        return LEFT_GAS_RANGE
    if lifted_early:
        return LIFTED_EARLY
    if plant.gas.valve.count == 0:
        return NEVER_SHIFTED
    if not lift == lift:
        return NEVER_BROKE_AWAY
    if not reached:
        return HUNG
    edges = plant.instants.edges
    if tables[edges.start + 2 * (edges.count - 1) + 1] > 0.5:
        return NO_OFF
    return OPENED_CLOSED if closed else NOT_CLOSED


@bare_kernel
def scan(out, good, n_events, steps, latest, events, trajectory, event_memory, par):
    """Fill `out` with every measure (nan: did not happen); returns the outcome's index."""
    t, ys, discrete_state, stored_outputs, dense, count, inside = trajectory
    plant, tables, gas, scratch = par
    out[:] = np.nan
    energize = plant.instants.energize
    early = False
    for i in range(n_events):
        if lifts_off(i, events) and not events[0][i] >= energize:
            early = True
    first_open, _ = effect_of(plant, tables, True, -np.inf)
    _, off = effect_of(plant, tables, False, first_open) if first_open == first_open else (np.nan, np.nan)
    if not off == off:
        off = t[count - 1]
    lift, reached = opening_measures(out, first_open, off, n_events, events, trajectory, event_memory, par)
    closed = closing_measures(out, lift == lift or early, n_events, events, trajectory, plant, tables)
    impact_speeds(out, energize, plant.instants.deenergize, n_events, events, trajectory, plant.index.speed)
    flow_measures(out, off, trajectory, event_memory, par)
    ignition_measures(out, off, trajectory, event_memory, latest, par)
    static_margins(out, event_memory, plant, tables)
    extremes(out, energize, off, trajectory, event_memory, par)
    net = stored_outputs[0, S_NET]
    out[P_SEALING_LOAD] = -net / (np.pi * plant.sleeve.seat_diameter)
    gas_measures(out, trajectory, par)
    balance_measures(out, trajectory, event_memory, plant)
    out[P_STEPS] = steps
    return outcome_of(good, early, lift, reached, closed, plant, tables)
