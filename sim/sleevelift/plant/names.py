"""The measures: name, unit, group and meaning, in the order of the compiled result.

The names are those of MODEL.md, section 7. Instants are seconds from the run's start, other times are durations. Of a run with
several pulses the numbers are the first pulse's; those of `PULSE_NAMES` each pulse has.
"""

from typing import NamedTuple


class Measure(NamedTuple):
    """One named number of a run."""

    name: str
    unit: str
    group: str
    meaning: str


MEASURES = (
    Measure("energize_time", "s", "opening", "instant of the on command"),
    Measure("valve_delay", "s", "opening", "command to first opening of the fill port at the chamber"),
    Measure("fill_delay", "s", "opening", "from there to first lift"),
    Measure("travel_time", "s", "opening", "first lift to within 2 % of full lift and staying"),
    Measure("opening_time", "s", "opening", "command to full lift, the sum"),
    Measure("breakaway_pressure", "Pa", "opening", "lift-chamber pressure at first lift, absolute"),
    Measure("stop_impact_speed", "m/s", "opening", "fastest impact on the stop after the command"),
    Measure("deenergize_time", "s", "closing", "instant of its off command"),
    Measure("release_delay", "s", "closing", "off command to first opening of the exhaust port"),
    Measure("vent_delay", "s", "closing", "from there to the first movement down"),
    Measure("return_time", "s", "closing", "from there to seated for good"),
    Measure("closing_time", "s", "closing", "off command to seated for good, the sum"),
    Measure("seat_impact_speed", "m/s", "closing", "fastest impact on the seat after the off command"),
    Measure("seat_bounces", "", "closing", "rebounds that leave the seat after the off command"),
    Measure("first_oxidizer", "s", "flow", "instant oxidizer enters the chamber (5 % of reference above the leak)"),
    Measure("first_fuel", "s", "flow", "instant fuel enters the chamber (5 % of reference above the leak)"),
    Measure("oxidizer_lead", "s", "flow", "first fuel after first oxidizer"),
    Measure("full_oxidizer", "s", "flow", "instant of the last rise through 95 % of steady"),
    Measure("full_fuel", "s", "flow", "instant of the last rise through 95 % of steady"),
    Measure("ramp_time_oxidizer", "s", "flow", "slots' flow area, first 10 % to last rise through 90 % of that at full lift"),
    Measure("ramp_time_fuel", "s", "flow", "seat gap and annulus, first 10 % to last rise through 90 % of the area at full lift"),
    Measure("flow_ramp_time_oxidizer", "s", "flow", "flow, first 10 % to last rise through 90 % of steady, dips included"),
    Measure("flow_ramp_time_fuel", "s", "flow", "flow, first 10 % to last rise through 90 % of steady, dips included"),
    Measure("mixture_ratio_min", "", "flow", "least O/F while both flows exceed 10 % of reference"),
    Measure("mixture_ratio_max", "", "flow", "greatest O/F while both flows exceed 10 % of reference"),
    Measure("steady_oxidizer_flow", "kg/s", "flow", "just before the off command, or a run valve shuts"),
    Measure("steady_fuel_flow", "kg/s", "flow", "just before the off command, or a run valve shuts"),
    Measure("last_oxidizer", "s", "flow", "instant the oxidizer flow falls below its first level for good"),
    Measure("last_fuel", "s", "flow", "instant the fuel flow falls below its first level for good"),
    Measure("shutdown_oxidizer_lag", "s", "flow", "last oxidizer after last fuel"),
    Measure("oxidizer_in_stop", "kg", "flow", "enters from the off command, or a run valve's shutting, to its last"),
    Measure("fuel_in_stop", "kg", "flow", "enters from the off command, or a run valve's shutting, to its last"),
    Measure("oxidizer_alone_in_stop", "kg", "flow", "of it what enters while no fuel does"),
    Measure("peak_oxidizer_manifold", "Pa", "flow", "highest pressure in the manifold, absolute"),
    Measure("peak_fuel_manifold", "Pa", "flow", "highest pressure in the manifold, absolute"),
    Measure("peak_ahead_oxidizer_valve", "Pa", "flow", "highest pressure ahead of the oxidizer's run valve, absolute"),
    Measure("peak_ahead_fuel_valve", "Pa", "flow", "highest pressure ahead of the fuel's run valve, absolute"),
    Measure("residual_oxidizer_at_seating", "kg", "flow", "liquid left in a manifold with gas when the sleeve seats for good"),
    Measure("residual_fuel_at_seating", "kg", "flow", "liquid left in a manifold with gas when the sleeve seats for good"),
    Measure("residual_oxidizer_at_end", "kg", "flow", "liquid left in a manifold with gas at the end of the pulse or run"),
    Measure("residual_fuel_at_end", "kg", "flow", "liquid left in a manifold with gas at the end of the pulse or run"),
    Measure("oxidizer_purge_gas", "kg", "flow", "gas through the oxidizer's purge"),
    Measure("fuel_purge_gas", "kg", "flow", "gas through the fuel's purge"),
    Measure("closed_leak_oxidizer", "kg/s", "flow", "leak past the closed sleeve"),
    Measure("closed_leak_fuel", "kg/s", "flow", "leak past the closed seat"),
    Measure("reverse_oxidizer_flow", "kg/s", "flow", "greatest flow from the chamber back through the slots while lit"),
    Measure("reverse_fuel_flow", "kg/s", "flow", "greatest flow from the chamber back through the seat gap while lit"),
    Measure("both_in_chamber", "s", "ignition", "instant both propellants are in the chamber"),
    Measure("light_off", "s", "ignition", "instant the chamber lights"),
    Measure("light_off_lag", "s", "ignition", "light-off after both in the chamber"),
    Measure("pooled_oxidizer", "kg", "ignition", "unburned in the chamber at light-off (never lit: at the end)"),
    Measure("pooled_fuel", "kg", "ignition", "unburned in the chamber at light-off (never lit: at the end)"),
    Measure("pooled_before_command", "kg", "ignition", "both closed leaks before the command"),
    Measure("unburned_oxidizer_at_command", "kg", "ignition", "in the chamber when the on command comes"),
    Measure("unburned_fuel_at_command", "kg", "ignition", "in the chamber when the on command comes"),
    Measure("hard_start_pressure", "Pa", "ignition", "if the pool burned at once; an estimate, no bound: a detonation exceeds it"),
    Measure("latest_light_off", "s", "ignition", "instant the unlit pool reaches the allowable pressure (an estimate)"),
    Measure("burned_in_stop", "kg", "ignition", "burns from the off command, or a run valve's shutting, on"),
    Measure("unburned_oxidizer_at_end", "kg", "ignition", "in the chamber at the end of the pulse or run"),
    Measure("unburned_fuel_at_end", "kg", "ignition", "in the chamber at the end of the pulse or run"),
    Measure("peak_chamber_pressure", "Pa", "ignition", "highest chamber pressure, absolute"),
    Measure("steady_chamber_pressure", "Pa", "ignition", "just before the off command, or a run valve shuts, absolute"),
    Measure("chamber_purge_used", "kg", "ignition", "inert gas from the chamber's purge"),
    Measure("pool_swept", "kg", "ignition", "unburned propellant that purge gas carried out of the unlit chamber"),
    Measure("preload", "N", "forces", "spring force on the seat"),
    Measure("fuel_opening_force", "N", "forces", "fuel pressure on the fuel opening area, above ambient"),
    Measure("lift_force", "N", "forces", "actuation gas on the lift area, above ambient"),
    Measure("opening_margin", "", "forces", "it breaks away in the worst case"),
    Measure("full_lift_margin", "", "forces", "it reaches full lift in the worst case"),
    Measure("no_fuel_margin", "", "forces", "gas alone does not open it"),
    Measure("fuel_alone_margin", "", "forces", "fuel pressure alone does not open it"),
    Measure("fuel_loss_margin", "", "forces", "it closes when fuel is lost with the gas on"),
    Measure("closing_margin", "", "forces", "it closes when the gas is lost, chamber lit"),
    Measure("closing_margin_unlit", "", "forces", "it closes when the gas is lost, chamber unlit"),
    Measure("surge_margin", "", "forces", "surges do not unseat it, before the command and after closing"),
    Measure("surge_time", "s", "forces", "instant at which the surge margin is least"),
    Measure("fuel_pressure_to_open", "Pa", "forces", "fuel pressure that opens it at actuation gas, above ambient"),
    Measure("sealing_load", "N/m", "forces", "net closing force per length of seat line at the start"),
    Measure("required_lift_area", "m2", "forces", "the trade's first cut of the lift area"),
    Measure("gas_per_cycle", "kg", "gas", "actuation gas through the fill port, first pulse"),
    Measure("gas_used", "kg", "gas", "actuation gas through the fill port, whole run"),
    Measure("liquid_at_command", "m3", "gas", "fuel in the lift chamber when the on command comes"),
    Measure("rod_leaked", "kg", "gas", "fuel past the rod seal into the lift chamber"),
    Measure("gas_into_fuel_line", "kg", "gas", "actuation gas past the rod seal into the fuel line"),
    Measure("supply_at_command", "Pa", "gas", "supply pressure when the on command comes, absolute"),
    Measure("bottle_at_command", "Pa", "gas", "bottle pressure when the on command comes, absolute"),
    Measure("lowest_gas_temperature", "K", "gas", "coldest node but the bottle"),
    Measure("peak_supply_pressure", "Pa", "gas", "highest pressure ahead of the solenoid valve, absolute"),
    Measure("peak_tube_pressure", "Pa", "gas", "highest pressure in the tube, absolute"),
    Measure("peak_lift_chamber_pressure", "Pa", "gas", "highest pressure in the lift chamber, absolute"),
    Measure("peak_spring_side_pressure", "Pa", "gas", "highest pressure on the spring's side, absolute"),
    Measure("stored_gas_energy", "J", "gas", "isentropic expansion to ambient of all gas volumes at the start"),
    Measure("gas_mass_error", "", "quality", "gas mass balance, over the gas moved"),
    Measure("energy_error", "", "quality", "energy balance of the whole machine, over the energy moved"),
    Measure("steps", "", "quality", "integration steps"),
)

NAMES = tuple(m.name for m in MEASURES)
UNITS = {m.name: m.unit for m in MEASURES}
N_MEASURE = len(MEASURES)
PLACE = {name: i for i, name in enumerate(NAMES)}

OF_THE_RUN = ("quality", "forces")
"""Groups of measures that a run has once."""
PULSE_NAMES = tuple(
    m.name for m in MEASURES
    if (m.group not in OF_THE_RUN or m.name in ("surge_margin", "surge_time")) and m.name not in ("gas_used", "stored_gas_energy")
)  # fmt: skip
"""What each pulse has of its own."""
