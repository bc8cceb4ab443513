"""Measured blow-downs as traces and cases: the spring side is the vessel, its vent the orifice, the sleeve stays on its seat.

Sources as in tests/published/test_c_vessels.py and checks there."""

import re

from runs import BARE


def vessel_case(path, *, gas, volume, bore, cd, p, T, T_wall, wall_area, wall_coefficient, end):
    """Case file of a vessel that blows down through an orifice into ambient air pressure."""
    text = BARE
    for table, key, value in (
        ("ambient", "pressure", '"1.013 bara"'), ("ambient", "temperature", f'"{T_wall} K"'), ("gas", "name", f'"{gas}"'),
        ("supply", "pressure", '"1.013 bara"'), ("supply", "temperature", f'"{T_wall} K"'),
        ("spring_side", "volume", f'"{volume} m3"'), ("spring_side", "vent_orifice", f'"{bore} mm"'),
    ):  # fmt: skip
        text = re.sub(rf"(\[{table}\]\n(?:(?!\[).*\n)*?{key} = ).*", rf"\g<1>{value}", text)
    text = re.sub(r"model = .*\ngamma = .*\ngas_constant = .*\n", "", text)
    more = (
        f'pressure = "{p} bara"\ntemperature = "{T} K"\nvent_discharge_coefficient = {cd}\nwall_area = "{wall_area} m2"\n'
        f'wall_coefficient = "{wall_coefficient} W/(m2 K)"\nwall_temperature = "{T_wall} K"\n'
    )
    text = text.replace("[spring_side]\n", f"[spring_side]\n{more}") + f'[run]\nend = "{end} s"\n'
    path.write_text(text)
    return path


def trace(path, t, p):
    """Pressure over time as a file."""
    path.write_text("time [s],spring_side_pressure [bara]\n" + "".join(f"{a},{b}\n" for a, b in zip(t, p)))
    return path
