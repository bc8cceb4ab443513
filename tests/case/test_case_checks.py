"""Checks between keys: each is broken on purpose, alone, and says what is allowed."""

import tomllib

import pytest
from case_texts import COLD, DRY, HOT, refusal, with_key, without_table
from sleevelift.case import checks
from sleevelift.case.facts import facts_of_case, facts_of_file
from sleevelift.case.read import case_from_text

COMPONENT = "fill_component = { conductance = "
TABLE = '\n[slots.table]\nlift = ["0 mm", "2 mm"]\narea = ["0 mm2", "20 mm2"]\n'
COIL = (
    '\n[solenoid.coil]\ninductance = "0.2 H"\nresistance = "45 ohm"\nsupply_voltage = "28 V"\n'
    'pull_in_current = "0.4 A"\ndrop_out_current = "0.5 A"\n'
)
SECOND_ROW = """[[slots.row]]
count = 14
shape = "rectangular"
height = "1 mm"
width = "2.6 mm"
lap = "0.5 mm"
discharge_coefficient = 0.65

"""
SUPPLY_TABLE = '\n[supply.table]\ntime = ["0 s", "1 s"]\npressure = ["31 bara", "500 bara"]\n'


def constant_supply(text: str) -> str:
    """The text with a constant supply."""
    for key in ("bottle_volume", "bottle_pressure", "droop_band", "regulator_orifice"):
        text = with_key(text, "supply", key, None)
    text = with_key(text, "supply", "regulator_discharge_coefficient", None)
    return with_key(with_key(text, "supply", "plenum_volume", None), "supply", "kind", '"constant"')


STEP = '\n[[sequence.step]]\n'
OFF = STEP + 'part = "solenoid"\ndo = "off"\n'
ABORT = '\n[[sequence.abort]]\nname = "shut"\n'
SHUT = '[[sequence.abort.step]]\npart = "solenoid"\ndo = "off"\n'
WATCH = 'when = "chamber_pressure below 3 bara"\n'


CHECKS = {check.__name__: check for check in checks.CHECKS}

RUN_VALVE = '\n[fuel.valve]\nkv = 2.0\nopening_time = "20 ms"\nclosing_time = "20 ms"\n'
BROKEN = [
    # check, text, words of the refusal
    ("tables_of_kind", without_table(HOT, "oxidizer"), "[oxidizer]: is missing (a hot case has both propellants)"),
    ("tables_of_kind", without_table(HOT, "chamber"), "[chamber]: is missing"),
    ("tables_of_kind", with_key(HOT, "case", "kind", '"cold-flow"'), "[chamber]: has no place here"),
    ("tables_of_kind", with_key(COLD, "case", "kind", '"dry"'), "[fuel]: has no place here"),
    ("tables_of_kind", HOT + '[bench]\nback_pressure = "1 bara"\n', "has no place in a hot case"),
    ("gas_admitted", with_key(DRY, "gas", "name", '"xenon"'), "critical point below 160 K"),
    ("gas_admitted", with_key(DRY, "gas", "gamma", "1.4"), 'belongs to model = "perfect" only'),
    ("supply_complete", with_key(DRY, "supply", "droop_band", None), 'is missing (kind = "regulator" needs it)'),
    ("supply_complete", with_key(DRY, "supply", "kind", '"constant"'), 'has no meaning with kind = "constant"'),
    (
        "supply_table_in_range",
        with_key(with_key(constant_supply(DRY), "supply", "pressure", None), "supply", "kind", '"table"') + SUPPLY_TABLE,
        "between 0.01 and 350 bara",
    ),
    ("relief_complete", with_key(DRY, "supply", "relief_area", None), "needs relief_pressure and relief_area together"),
    ("relief_complete", with_key(DRY, "supply", "relief_pressure", '"60 bara"'), "it blows at all times"),
    ("restrictions_given_once", with_key(DRY, "solenoid", "fill_orifice", None), "is missing: give it with fill_disch"),
    (
        "restrictions_given_once",
        with_key(DRY, "solenoid", "fill_component", "{ kv = 0.05 }"),
        "is given beside fill_component",
    ),
    (
        "restrictions_given_once",
        with_key(DRY, "tube", "port_component", "{ kv = 0.05, cv = 0.05 }"),
        "one of the three",
    ),
    (
        "restrictions_given_once",
        with_key(DRY, "tube", "port_component", '{ conductance = "1e-8 m3/(s Pa)" }'),
        "one of the three",
    ),
    ("restrictions_given_once", with_key(DRY, "tube", "port_discharge_coefficient", "0.7"), "without port_orifice"),
    ("lists_increase", with_key(HOT, "chamber", "o_f", "[" + "2," * 28 + "]"), "must increase"),
    ("lists_pair", with_key(HOT, "chamber", "o_f", "[0.3, 20]"), "must have as many entries as o_f: 2, not 28"),
    ("commands_alternate", with_key(DRY, "solenoid", "off", '["0.05 s"]'), "between its on and the next on"),
    ("commands_alternate", with_key(DRY, "solenoid", "off", '["0.2 s", "0.3 s"]'), "between its on and the next on"),
    ("run_covers_commands", DRY + '[run]\nend = "0.2 s"\n', "must lie after the last command of [solenoid], at 0.3 s"),
    (
        "run_covers_commands",
        with_key(with_key(DRY, "solenoid", "on", "[]"), "solenoid", "off", "[]"),
        "without an on command nothing else ends the run",
    ),
    ("dead_times_or_coil", DRY + COIL, "is given beside [solenoid.coil]"),
    ("dead_times_or_coil", DRY + COIL, "must be below pull_in_current"),
    ("diameters_in_order", with_key(DRY, "sleeve", "nose_diameter", '"16 mm"'), "must be larger than post_diameter"),
    (
        "diameters_in_order",
        with_key(DRY, "sleeve", "seat_diameter", '"17 mm"'),
        "must be at least nose_diameter (17.6 mm)",
    ),
    (
        "diameters_in_order",
        with_key(DRY, "sleeve", "rod_diameter", '"18 mm"'),
        "must be at least seat_diameter (19 mm)",
    ),
    ("diameters_in_order", with_key(DRY, "sleeve", "piston_diameter", '"24.3 mm"'), "larger than rod_diameter"),
    ("diameters_in_order", with_key(HOT, "sleeve", "nose_diameter", '"19 mm"'), 'must be "sleeve" where nose and seat'),
    ("spring_side_keeps_volume", with_key(DRY, "spring_side", "volume", '"0.9 cm3"'), "full lift, 0.9372 cm3"),
    (
        "spring_known",
        with_key(DRY, "spring", "active_coils", None),
        "give it, or wire_diameter, mean_diameter and active",
    ),
    (
        "spring_known",
        with_key(with_key(DRY, "spring", "mass", None), "spring", "total_coils", None),
        "[spring] mass: is missing",
    ),
    ("spring_fits", with_key(DRY, "spring", "free_length", '"70 mm"'), "the coils touch at 57.6 mm"),
    ("spring_fits", with_key(DRY, "spring", "free_length", '"70 mm"'), '[spring] free_length = "70 mm": is too short'),
    ("spring_fits", with_key(DRY, "sleeve", "stroke", '"9 mm"'), "[spring] free_length"),
    ("spring_fits", with_key(DRY, "spring", "mean_diameter", '"9 mm"'), "must be more than twice wire_diameter"),
    ("spring_fits", with_key(DRY, "spring", "total_coils", "9"), "must be at least active_coils (10)"),
    ("seals_known", with_key(DRY, "seals", "rod", '{ cord = "1.78 mm" }'), "[seals] rod: needs squeeze_friction and"),
    (
        "seals_known",
        with_key(DRY, "seals", "rod", '{ cord = "1.78 mm", groove_depth = "1.8 mm", hardness = 70 }'),
        "must be below the cord (1.78 mm)",
    ),
    (
        "seals_known",
        with_key(DRY, "seals", "rod", '{ cord = "1.78 mm", groove_depth = "1.5 mm", hardness = 70, groove_width = "1 mm" }'),
        "must be at least the cord",
    ),
    (
        "seals_known",
        with_key(DRY, "seals", "piston", '{ cord = "15 mm", squeeze_friction = "70 N/m", pressure_coefficient = 0.03 }'),
        "must be below half of piston_diameter",
    ),
    (
        "glands_whole",
        with_key(DRY, "seals", "rod", '{ cord = "1.78 mm", groove_depth = "1.5 mm", hardness = 70, material = "RUBBER" }'),
        "must be one of NBR",
    ),
    ("spring_clears_post_and_cylinder", with_key(DRY, "spring", "mean_diameter", '"20.8 mm"'), "they cut into the post (16 mm)"),
    ("spring_clears_post_and_cylinder", with_key(DRY, "spring", "mean_diameter", '"24.4 mm"'), "cut into the cylinder (29.2 mm)"),
    (
        "rings_leave_sleeve",
        with_key(DRY, "seals", "piston", '{ squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "13.2 mm" }'),
        "its groove, at least 6.6 mm deep from the cylinder, must end within the sleeve",
    ),
    (
        "rows_of_slots_leave_post",
        HOT.replace("[[slots.row]]\n", SECOND_ROW + "[[slots.row]]\n", 1),
        "around a post of 50.2655 mm: they run into each other",
    ),
    ("spigot_clears_nose", with_key(HOT, "seat", "spigot_clearance", '"0.75 mm"'), "narrower than the nose below it (17.6 mm)"),
    (
        "leaks_given_once",
        with_key(
            DRY, "seals", "outside_leak_check", '{ start = "6.7 bara", end = "6.9 bara", time = "300 s", volume = "20 cm3" }'
        ),
        "must be no more than start",
    ),
    ("gaps_leave_metal", with_key(HOT, "slots", "clearance", '"0.8 mm"'), "its bore, 17.6 mm, must be below nose_diameter"),
    ("gaps_leave_metal", with_key(HOT, "seat", "spigot_clearance", '"1.5 mm"'), "must leave a spigot, 16 mm, around the post"),
    ("gaps_leave_metal", with_key(HOT, "seat", "land_width", '"1 mm"'), "the cone between seat and nose (0.989949 mm"),
    (
        "run_valves_complete",
        HOT + '\n[fuel.valve]\nopening_time = "20 ms"\nclosing_time = "20 ms"\n',
        "needs kv, cv or effective_area, one of the three",
    ),
    (
        "run_valves_complete",
        HOT + '\n[fuel.valve]\nkv = 2.0\nopening_time = "20 ms"\nclosing_time = "20 ms"\non = ["1 s"]\noff = ["0.5 s"]\n',
        "must open and shut by turns",
    ),
    (
        "purges_whole",
        HOT + '\n[fuel.purge]\ngas = "argon"\npressure = "20 bara"\norifice = "1 mm"\n',
        "needs [fuel.valve]: without a run valve it blows into an open line",
    ),
    (
        "start_gas_fits",
        HOT + RUN_VALVE + 'start_gas = "air"\nopen_at_start = true\n',
        "needs the valve shut at the start: an open one has primed it",
    ),
    (
        "gas_stays_gas",
        HOT + RUN_VALVE.replace("fuel", "oxidizer") + 'start_gas = "argon"\n',
        "condenses in a liquid of 90 K",
    ),
    (
        "purge_complete",
        HOT + '\n[chamber.purge]\ngas = "argon"\npressure = "20 bara"\non = ["1 s"]\n',
        "needs orifice or effective_area, one of the two",
    ),
    (
        "purge_complete",
        HOT + '\n[chamber.purge]\ngas = "hydrogen"\npressure = "20 bara"\norifice = "1 mm"\n',
        "must be an inert gas: nitrogen, helium, argon, neon",
    ),
    ("feeds_complete", with_key(HOT, "fuel", "inlet_pressure", None), "needs inlet_pressure or inlet_table"),
    (
        "feeds_complete",
        with_key(with_key(HOT, "fuel", "liquid", None), "fuel", "viscosity", None),
        "[fuel] viscosity: is missing: give it, or name the liquid",
    ),
    ("feeds_complete", with_key(HOT, "fuel", "rated_flow", None), "is missing (rated_loss is the loss at that flow)"),
    (
        "feeds_complete",
        with_key(
            with_key(with_key(HOT, "fuel", "rated_flow", None), "fuel", "rated_loss", None),
            "fuel",
            "dribble_volume",
            '"3 cm3"',
        ),
        "[fuel] dribble_time: is missing",
    ),
    ("slots_fit", HOT + TABLE, "needs [[slots.row]] or [slots.table], one of the two"),
    ("slots_fit", with_key(HOT, "slots", "discharge_coefficient", "0.6"), "each [[slots.row]] has its own"),
    ("slots_fit", with_key(HOT, "slots.row", "lap", '"2 mm"'), "must be below the stroke (2 mm): the row never opens"),
    ("slots_fit", with_key(HOT, "slots.row", "shape", '"round"'), "must equal height (1.8 mm) for round slots"),
    ("slots_fit", with_key(HOT, "slots.row", "width", None), "is missing (rectangular slots need it)"),
    ("slots_fit", with_key(HOT, "slots.row", "count", "40"), "40 slots of 1.46 mm do not fit around a post of 16 mm"),
    ("slot_metals_known", with_key(HOT, "slots", "post_material", '"unobtainium"'), "must be one of 304"),
    (
        "slot_metals_known",
        with_key(HOT, "slots", "clearance_temperature", None),
        "[slots] clearance_temperature: is missing (post_material needs it)",
    ),
    (
        "slot_metals_known",
        with_key(with_key(HOT, "slots", "post_material", '"304"'), "slots", "post_contraction", "0.001"),
        "is given beside post_material",
    ),
    ("seat_complete", with_key(HOT, "seat", "spigot_length", '"2 mm"'), "the spigot never leaves the seat"),
    ("seat_complete", with_key(HOT, "seat", "spigot_clearance", None), "is missing (a spigot needs it)"),
    ("seat_complete", with_key(HOT, "seat", "annulus_area", None), "annulus_area and annulus_discharge_coefficient"),
    ("combustion_known", with_key(HOT, "chamber", "g", None), "[chamber] g: is missing: give it, or name the pair"),
    ("combustion_known", with_key(HOT, "chamber", "propellants", '"oxygen/ethanol"'), "is given beside propellants"),
    ("mixture_bracketed", with_key(HOT, "fuel", "rated_flow", '"5 g/s"'), "mixture ratio of the rated flows, 132;"),
    (
        "cold_vapour_known",
        with_key(with_key(HOT, "fuel", "liquid", None), "chamber", "cold_c_star_fuel", None),
        "[fuel] molar_mass: is missing",
    ),
    ("igniter_complete", with_key(HOT, "igniter", "delay", None), "is missing: give on and delay, or light_off"),
    ("igniter_complete", with_key(HOT, "igniter", "light_off", '"0.2 s"'), "is given beside light_off"),
    ("igniter_complete", with_key(HOT, "igniter", "on", "[]"), "needs an instant"),
    ("igniter_complete", with_key(HOT, "igniter", "ignitable_mixture", "[3, 1]"), "the lowest, then the highest"),
    ("commands_given", with_key(HOT, "solenoid", "on", None), "[solenoid] on: is missing (instants of the on commands"),
    ("parts_are_there", HOT + STEP + 'do = "on"\nat = "1 s"\n', "part: is missing (on of which part?)"),
    ("parts_are_there", HOT + STEP + 'do = "on"\npart = "ignitor"\nat = "1 s"\n', "can not be commanded; nearest: igniter"),
    ("parts_are_there", DRY + STEP + 'do = "on"\npart = "igniter"\nat = "1 s"\n', "is not in this case (it has no [igniter])"),
    ("parts_are_there", HOT + STEP + 'do = "open"\npart = "solenoid"\nat = "1 s"\n', "is switched on or off"),
    ("parts_are_there", HOT + STEP + 'do = "hold"\npart = "igniter"\nwhen = "light-off"\n', "has no place beside hold"),
    ("conditions_read", HOT + OFF + 'when = "lit-off"\n', "nearest event: light-off"),
    ("conditions_read", HOT + OFF + 'when = "chamber_presure above 5 bara"\n', "nearest: chamber_pressure"),
    ("conditions_read", HOT + OFF + 'when = "chamber_pressure above 5 bar"\n', "chamber_pressure: "),
    ("conditions_read", DRY + OFF + 'when = "light-off"\n', "can not be seen: this case has no [chamber]"),
    ("conditions_read", HOT + '\n[sequence]\nfailed_sensor = "flame gone"\n', "a sensor and high or low"),
    ("conditions_read", HOT + OFF + 'when = "lift above 0.3 in"\n', "can never be: the stroke is"),
    ("stuck_part_known", HOT + '\n[sequence]\nfailed_part = "solenoid open"\n', "a part and stuck on or stuck off"),
    ("stuck_part_known", DRY + '\n[sequence]\nfailed_part = "igniter stuck on"\n', "it has no [igniter]"),
    ("waits_complete", HOT + OFF, "at: is missing: give an instant"),
    ("waits_complete", HOT + OFF + 'at = "1 s"\nafter = "igniter on"\n', "is given beside at"),
    ("waits_complete", HOT + OFF + 'after = "light-off"\nwhen = "first fuel"\n', "is an event, and when is given too"),
    ("waits_complete", HOT + STEP + 'do = "hold"\nat = "1 s"\n', "when: is missing: a hold waits for something"),
    ("waits_complete", HOT + STEP + 'do = "hold"\nwhen = "light-off"\n', "limit: is missing: a hold has a time limit"),
    ("waits_complete", HOT + OFF + 'at = "1 s"\ndetection_delay = "5 ms"\n', "nothing is detected"),
    ("waits_complete", HOT + OFF + 'when = "light-off"\nlimit = "5 ms"\n', "otherwise: is missing: limit and otherwise go"),
    (
        "waits_complete",
        HOT + OFF + 'when = "light-off"\nlimit = "5 ms"\notherwise = "stop"\n',
        "must be one of go on, stay",
    ),
    ("waits_complete", HOT + ABORT + WATCH + SHUT + 'at = "1 s"\n', "has no place in an abort"),
    ("names_hold", HOT + OFF + 'name = "igniter on"\nat = "1 s"\n', "is taken already by another step"),
    ("names_hold", HOT + OFF + 'name = "seated"\nat = "1 s"\n', "is the name of an event"),
    ("names_hold", HOT + OFF + 'after = "ignitor on"\n', "is no step or event; nearest: igniter on"),
    (
        "names_hold",
        HOT + OFF + 'name = "a"\nafter = "b"\n' + OFF + 'name = "b"\nafter = "a"\n',
        "goes in a loop: a after b after a",
    ),
    ("names_hold", HOT + OFF + 'name = "a"\nafter = "a"\n', "goes in a loop: a after a"),
    ("names_hold", HOT + ABORT + WATCH + SHUT + 'after = "solenoid on"\n', "is no step of this abort"),
    ("names_hold", HOT + OFF + 'after = "shut"\n' + ABORT + WATCH + SHUT, "is an abort: what comes after it are its own"),
    ("names_hold", HOT + ABORT + WATCH + 'armed_until = "solenoid of"\n' + SHUT, "nearest: solenoid off"),
    ("aborts_complete", HOT + ABORT + SHUT, "nothing would start this abort"),
    ("aborts_complete", HOT + ABORT + WATCH, "an abort does something"),
    ("lost_once", HOT + '\n[sequence]\npower_lost = "0.2 s"\nsequencer_lost = "0.3 s"\n', "is given beside power_lost"),
    (
        "igniter_not_both",
        with_key(with_key(with_key(HOT, "igniter", "on", None), "igniter", "delay", None), "igniter", "light_off", '"0.2 s"')
        + STEP + 'part = "igniter"\ndo = "on"\nat = "50 ms"\n',
        "decides it, and steps of [sequence] switch",
    ),
]


@pytest.mark.parametrize(("check", "text", "words"), BROKEN, ids=[f"{b[0]}-{b[2][:30]}" for b in BROKEN])
def test_broken(check: str, text: str, words: str) -> None:
    """The refusal has the words, and they come from that check."""
    assert any(words in line for line in refusal(text))
    facts = facts_of_file(tomllib.loads(text), 101325.0)
    assert any(words in fault.line("") for fault in CHECKS[check](facts))


def test_every_check_is_broken_here() -> None:
    assert {entry[0] for entry in BROKEN} == set(CHECKS)


@pytest.mark.parametrize("text", [HOT, COLD, DRY], ids=["hot", "cold", "dry"])
def test_sound_cases_pass_every_check_twice(text: str) -> None:
    """As a file, and as the finished case read from it (derived values present)."""
    assert checks.consistency_faults(facts_of_file(tomllib.loads(text), 101325.0)) == []
    assert checks.consistency_faults(facts_of_case(case_from_text(text))) == []


def test_what_is_allowed_at_the_edges() -> None:
    """seat = rod and a last off left out are allowed; nose = seat too, with the edge on the sleeve."""
    level = case_from_text(with_key(DRY, "sleeve", "rod_diameter", '"19 mm"')).sleeve
    assert level.rod_diameter == level.seat_diameter
    assert case_from_text(with_key(DRY, "solenoid", "off", "[]")).solenoid.off == ()
    flush = with_key(with_key(HOT, "sleeve", "nose_diameter", '"19 mm"'), "seat", "edge", '"sleeve"')
    assert case_from_text(flush).sleeve.nose_diameter == level.seat_diameter
    chamber = case_from_text(with_key(HOT, "chamber", "g", "1.2")).chamber
    assert chamber is not None and chamber.g == (1.2,)
    assert case_from_text(without_table(HOT, "igniter")).igniter is None
