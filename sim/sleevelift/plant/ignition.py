"""When the chamber lights, what pools until then, and when it goes out.

| of the chamber | when |
| --- | --- |
| lights | the ignition delay after igniter, both propellants and mixture were first there together; or at a given time |
| burns | lit, p_c has exceeded the level at which it counts as out |
| goes out | has burned, p_c below that level (above what gas that flows in holds alone), both flows below their `last` level |
| pool closed | unlit, command off, sleeve seated, solenoid valve shut, both flows below their `last` level |

Out, it is unlit at ambient pressure, and arrivals, arming and latest light-off begin anew; what is unburned then stays. From the
end of the flows to the next on command what leaks is kept apart from the pool (D_POOLING 0), and joins it there if asked.
"""

from sleevelift.jit import bare_kernel
from sleevelift.physics.combustion import hard_start_pressure
from sleevelift.plant.inflow import pressure_held
from sleevelift.plant.state import *  # noqa: F403 - the index names are this room's alphabet
from sleevelift.plant.static import add_leaked

NEVER_IGNITABLE = 1e9
"""-. Mixture ratio where no fuel flows."""
OUT_OF_AMBIENT, OUT_OF_STEADY = 0.02, 0.01
"""-. A chamber that has burned is out within the greater of this share of ambient and this share of its steady pressure above
ambient."""
NOT_A_NUMBER = float("nan")


@bare_kernel
def flow_ratio(outputs):
    """Mixture ratio O/F of the flows into the chamber."""
    if outputs[S_FUEL] <= 0.0:
        return NEVER_IGNITABLE
    return max(outputs[S_OXIDIZER], 0.0) / outputs[S_FUEL]


@bare_kernel
def outside_ignitable(outputs, ignition):
    """How far the flows' mixture is outside the ignitable range, -; <= 0 inside."""
    ratio = flow_ratio(outputs)
    return max(ignition.mixture_low - ratio, ratio - ignition.mixture_high)


@bare_kernel
def igniter_burns(t, ignition, tables):
    """Whether an igniter window (on + rise, off) holds t."""
    for i in range(ignition.windows.count):
        k = ignition.windows.start + 2 * i
        if tables[k] <= t < tables[k + 1]:
            return True
    return False


@bare_kernel
def waits_for_mixture(t, discrete_state, plant, tables):
    """Whether only the mixture of the flows still keeps the ignition delay from starting."""
    return (
        plant.chamber.hot != 0
        and plant.ignition.possible != 0
        and not happened(plant.ignition.given)
        and discrete_state[D_ARMED] == 0
        and discrete_state[D_LIT] == 0
        and discrete_state[D_FIRST_O] == ARRIVED
        and discrete_state[D_FIRST_F] == ARRIVED
        and igniter_burns(t, plant.ignition, tables)
    )


@bare_kernel
def arm_if_ready(t, outputs, discrete_state, event_memory, plant, tables):
    """Start the ignition delay if igniter, both propellants and mixture are there at t."""
    if waits_for_mixture(t, discrete_state, plant, tables) and outside_ignitable(outputs, plant.ignition) <= 0.0:
        discrete_state[D_ARMED] = 1
        event_memory[M_LIGHT_PLANNED] = t + plant.ignition.delay
    light_if_due(t, discrete_state, event_memory)


@bare_kernel
def light_if_due(t, discrete_state, event_memory):
    """Light the chamber where its instant has come (a side run never lights)."""
    if discrete_state[D_LIT] == 0 and discrete_state[D_BRANCH] == 0 and event_memory[M_LIGHT_PLANNED] <= t:
        discrete_state[D_LIT] = 1
        discrete_state[D_BURNED] = 0
        event_memory[M_LIGHT] = t


@bare_kernel
def pool_pressure(y, plant, tables):
    """Hard-start estimate of the unburned masses now in the chamber, Pa."""
    i_o = plant.index.unburned_oxidizer
    i_f = plant.index.unburned_fuel
    c = plant.chamber
    return hard_start_pressure(y[i_o], y[i_f], c.volume, plant.ambient_pressure, tables, c.ideal_curve.start, c.ideal_curve.count)


@bare_kernel
def flows_left(outputs, event_memory):
    """How far the flows into the chamber are above the levels that count as last, -; <= 0 where both are below."""
    return max(
        (outputs[S_OXIDIZER] - event_memory[M_LEVEL_O]) / event_memory[M_REFERENCE_O],
        (outputs[S_FUEL] - event_memory[M_LEVEL_F]) / event_memory[M_REFERENCE_F],
    )


@bare_kernel
def level_of_out(event_memory, plant):
    """Chamber pressure below which a chamber that has burned is out, Pa: above ambient, or what gas that flows in holds alone."""
    p = plant.ambient_pressure
    level = p + max(OUT_OF_AMBIENT * p, OUT_OF_STEADY * event_memory[M_STEADY_CHAMBER])
    if plant.inflow.present != 0:
        level += pressure_held(plant) - p
    return level


@bare_kernel
def off_and_shut(discrete_state, outputs):
    """Whether the command is off, the solenoid valve shut and the sleeve on its seat."""
    return (
        discrete_state[D_COMMANDED] != 0
        and discrete_state[D_ON] == 0
        and discrete_state[D_MODE] == SEATED
        and outputs[S_VALVE] <= 0.0
    )


@bare_kernel
def out_guard(discrete_state, event_memory, outputs, plant):
    """Guard of what comes next: the lit chamber burns, the burning one goes out, the pool of an unlit one is closed; else 1."""
    if plant.chamber.hot == 0:
        return 1.0
    if discrete_state[D_LIT] == 0:
        if discrete_state[D_POOLING] != 0 and off_and_shut(discrete_state, outputs):
            return flows_left(outputs, event_memory)
        return 1.0
    above = outputs[S_CHAMBER_P] / level_of_out(event_memory, plant) - 1.0
    if discrete_state[D_BURNED] == 0:
        return -above
    return max(above, flows_left(outputs, event_memory))


@bare_kernel
def pass_out_guard(t, y, discrete_state, event_memory, outputs, plant):
    """Jump of `out_guard`: take note that the chamber burns, put it out, or close the pool."""
    if discrete_state[D_LIT] != 0 and discrete_state[D_BURNED] == 0:
        discrete_state[D_BURNED] = 1
        return
    if discrete_state[D_LIT] != 0:
        for k in (D_LIT, D_BURNED, D_ARMED, D_FIRST_O, D_FIRST_F, D_ALLOWABLE):
            discrete_state[k] = 0
        for k in (M_FIRST_O, M_FIRST_F, M_LIGHT_PLANNED, M_LIGHT, M_ALLOWABLE):
            event_memory[k] = NOT_A_NUMBER
        y[plant.index.chamber] = plant.chamber.back
        y[plant.index.gas_mass] = plant.chamber.ambient_mass
        if not off_and_shut(discrete_state, outputs):
            return
    discrete_state[D_POOLING] = 0
    event_memory[M_POOL_CLOSED] = t


@bare_kernel
def note_lingering(discrete_state, event_memory, outputs):
    """Put down which flows the step to ambient pressure, of a chamber that has just gone out, lifted above their level."""
    for side in range(2):
        if outputs[S_OXIDIZER + side] > event_memory[M_LEVEL_O + side]:
            discrete_state[D_FIRST_O + side] = LINGERING


@bare_kernel
def begin_pooling(t, y, discrete_state, event_memory, plant, tables):
    """What flows into the chamber pools from the command at t on; what leaked since the pool was closed joins it only if asked."""
    if discrete_state[D_COMMANDED] != 0 and discrete_state[D_POOLING] == 0 and plant.ignition.count_pool != 0:
        add_leaked(y, event_memory[M_POOL_CLOSED], t, event_memory, plant, tables)
    discrete_state[D_POOLING] = 1
