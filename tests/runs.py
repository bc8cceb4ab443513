"""Runs that several tests look at: shipped cases, and a bare dry machine whose parts can be taken away one by one.

`bare_machine` is a dry case without friction, leaks, weight or heat, in volumes so large that pressures stay
constant: what is left is a mass on a spring between two stops, whose motion has a closed form."""

import json
import re
from functools import lru_cache
from math import pi
from pathlib import Path

import numpy as np
from sleevelift import load_case, simulate, with_values
from sleevelift.case.read import case_from_text

CASES = Path(__file__).resolve().parents[1] / "cases"
SUPPLIES = {
    "constant": 'kind = "constant"\npressure = "31 bara"\n',
    "bottle": 'kind = "bottle"\nbottle_volume = "0.3 litre"\nbottle_pressure = "35 bara"\n',
    "table": (
        'kind = "table"\n[supply.table]\ntime = ["0 s", "0.12 s", "0.16 s", "0.5 s", "1 s"]\n'
        'pressure = ["31 bara", "31 bara", "28 bara", "34 bara", "30 bara"]\n'
    ),
}
"""Other tables of supply than the regulated one of the shipped cases."""
AMBIENT = 1.0e5
GAMMA, NITROGEN_R = 1.4, 296.8
LARGE = 1e4
"""m3. So large that the sleeve's displacement moves no pressure (1e-9 of it)."""

BARE = f"""
[case]
title = "bare machine for closed forms"
kind = "dry"
invented = true
[ambient]
pressure = "{AMBIENT} Paa"
temperature = "300 K"
[gas]
name = "nitrogen"
model = "perfect"
gamma = {GAMMA}
gas_constant = "{NITROGEN_R} J/(kg K)"
[supply]
kind = "constant"
pressure = "70 bara"
temperature = "300 K"
[solenoid]
on = ["0 s"]
off = ["5 s"]
fill_orifice = "1 mm"
fill_discharge_coefficient = 1.0
exhaust_orifice = "1 mm"
exhaust_discharge_coefficient = 1.0
open_dead_time = "0 s"
open_stroke_time = "1 us"
close_dead_time = "0 s"
close_stroke_time = "1 us"
[tube]
length = "10 mm"
bore = "2 mm"
[lift_chamber]
dead_volume = "1 litre"
[spring_side]
volume = "1 litre"
vent_orifice = "0 mm"
[sleeve]
post_diameter = "10 mm"
nose_diameter = "12 mm"
seat_diameter = "14 mm"
rod_diameter = "20 mm"
piston_diameter = "30 mm"
stroke = "5 mm"
moving_mass = "100 g"
axis_tilt = "90 deg"
restitution_stop = 0.0
restitution_seat = 0.0
[spring]
preload = "100 N"
rate = "1 N/mm"
mass = "0 g"
[seals]
breakaway_ratio = 1.0
post = {{ squeeze_friction = "0 N/m", pressure_coefficient = 0.0, cord = "1.78 mm" }}
rod = {{ squeeze_friction = "0 N/m", pressure_coefficient = 0.0, cord = "1.78 mm" }}
piston = {{ squeeze_friction = "0 N/m", pressure_coefficient = 0.0, cord = "1.78 mm" }}
"""
LIFT_AREA = pi / 4.0 * (0.030**2 - 0.020**2)
TOP_AREA = pi / 4.0 * (0.030**2 - 0.010**2)


@lru_cache(maxsize=1)
def bare_machine():
    """The bare dry case."""
    return case_from_text(BARE, "bare")


def changed(case, **values):
    """The case with values, SI; keys with two underscores for the dot. Nothing is checked."""
    return with_values(case, {name.replace("__", "."): value for name, value in values.items()}, check=False)


def constant_forces(opening, *, mass, preload, rate, stroke, friction=0.0, **more):
    """The bare machine pushed by a constant gas force `opening` (N, above ambient), in huge volumes, no supply."""
    squeeze_friction = friction / (pi * 0.030)
    return changed(
        bare_machine(),
        lift_chamber__dead_volume=LARGE,
        lift_chamber__pressure=AMBIENT + opening / LIFT_AREA,
        spring_side__volume=LARGE,
        sleeve__moving_mass=mass,
        sleeve__stroke=stroke,
        spring__preload=preload,
        spring__rate=rate,
        seals__piston__squeeze_friction=squeeze_friction,
        **more,
    )


@lru_cache(maxsize=32)
def shipped(name, tolerance=None):
    """Result of a shipped case."""
    return simulate(load_case(CASES / f"{name}.toml"), tolerance=tolerance)


def shipped_case(name):
    """A shipped case."""
    return load_case(CASES / f"{name}.toml")


def instants(result, what):
    """Instants, s, of the timeline's entries that contain the words `what`."""
    return [event.instant for event in result.timeline if what in event.what]


def turning_points(result):
    """(instant, lift) at the end of every slide: where the speed came to zero between the stops."""
    names = {"sleeve turns upward", "sleeve turns downward", "sleeve stops part-way, held by friction"}
    t = np.asarray(result.traces["time"])
    x = np.asarray(result.traces["lift"])
    return [(e.instant, float(x[np.searchsorted(t, e.instant)])) for e in result.timeline if e.what in names]


def shipped_with_supply(kind, supply):
    """A shipped case, its supply ("regulator" or one of SUPPLIES) exchanged."""
    text = (CASES / f"{kind}.toml").read_text(encoding="utf-8")
    if supply != "regulator":
        before, after = text.split("[supply]\n", 1)
        text = before + "[supply]\n" + SUPPLIES[supply] + "\n[solenoid]\n" + after.split("[solenoid]\n", 1)[1]
    return case_from_text(text, kind)


SLOTS_TABLE = ([0.0, 0.1e-3, 0.35e-3, 0.8e-3, 1.4e-3, 2e-3], [0.0, 0.0, 9e-6, 26e-6, 44e-6, 46e-6])
SEAT_TABLE = ([0.0, 0.1e-3, 0.7e-3, 1.2e-3, 2e-3], [0.0, 1e-6, 3e-6, 24e-6, 40e-6])
"""Lifts, m, and areas, m2, of invented tables."""


def _area_table(name, table):
    lifts, areas = ([f"{value!r} {unit}" for value in column] for column, unit in zip(table, ("m", "m2")))
    return f"\n[{name}.table]\nlift = {json.dumps(lifts)}\narea = {json.dumps(areas)}\n"


def tabled(name, slots=SLOTS_TABLE, seat=None, discharge_coefficient=0.7):
    """A shipped wet case with its slots as a table of area over lift, and its seat too unless the slots alone are given."""
    text = (CASES / f"{name}.toml").read_text(encoding="utf-8")
    rows = re.compile(r"^\[\[slots\.row\]\]\n(?:(?!\[).*\n)*", re.M)
    assert rows.search(text), "the case has rows of slots"
    text = rows.sub("", text).replace("[slots]\n", f"[slots]\ndischarge_coefficient = {discharge_coefficient}\n")
    text += _area_table("slots", slots)
    if slots is SLOTS_TABLE:
        text = re.sub(r"^spigot_length.*\n", "", text, flags=re.M) + _area_table("seat", seat or SEAT_TABLE)
    return case_from_text(text, f"{name}_tabled")
