"""A leak as an area, as what a leak check showed, and as a gap: closed forms, round trips, and one of them only."""

import math
from pathlib import Path

import pytest
from sleevelift.case.faults import CaseError
from sleevelift.case.leaks import gas_of_check
from sleevelift.case.read import case_from_text, with_values
from sleevelift.sizing.leakage import Gap, choked_factor, gap_flow

TEXT = (Path(__file__).resolve().parents[2] / "cases" / "hot_start.toml").read_text()
AREA = 'piston_leak_area = "0.020 mm2"'
CHECK = 'piston_leak_check = {{ start = "7 bara", end = "{end} bara", time = "10 s", volume = "20 cm3"{more} }}'


def with_line(line):
    assert AREA in TEXT
    return case_from_text(TEXT.replace(AREA, line))


def test_a_leak_check_is_the_orifice_that_falls_so():
    """Closed form, choked throughout: A = V/(t Psi sqrt(Z R T)) ln(p_0/p_1), over the discharge coefficient of the case."""
    case = with_line(CHECK.format(end="5", more=""))
    gas = gas_of_check("nitrogen", 293.15, 7e5)
    root = math.sqrt(gas.specific_constant * 293.15)
    effective = 20e-6 / (10.0 * choked_factor(gas.exponent) * root) * math.log(7.0 / 5.0)
    assert case.seals.piston_leak_area == pytest.approx(effective / 0.7, rel=1e-6)
    assert case.origin["seals.piston_leak_area"] == "derived"
    slower = with_values(case, {"seals.piston_leak_check.time": 20.0})
    assert slower.seals.piston_leak_area == pytest.approx(0.5 * case.seals.piston_leak_area, rel=1e-9)


def test_a_gap_passes_what_its_law_says():
    """What the gap passes at the gas's working pressure, the area passes too."""
    seal = 'piston = { squeeze_friction = "70 N/m", pressure_coefficient = 0.03, cord = "1.78 mm"'
    gap = f'{seal}, leak_clearance = "5 um", leak_length = "2 mm" }}'
    case = case_from_text(TEXT.replace(AREA, "").replace(f"{seal} }}", gap))
    gas = gas_of_check("nitrogen", 293.15, 31e5)
    flow = gap_flow(Gap(29.2e-3, 5e-6, 2e-3), 31e5, 101325.0, 293.15, gas).flow
    through = 0.7 * case.seals.piston_leak_area * choked_factor(gas.exponent) * 31e5 / math.sqrt(gas.specific_constant * 293.15)
    assert through == pytest.approx(flow, rel=1e-9)


def test_a_check_taken_as_a_gap_leaks_otherwise_at_working_pressure():
    """A gap grows with the square of the pressure, an orifice with the pressure: from 7 to 31 bara the gap leaks more."""
    hole, gap = (with_line(CHECK.format(end="6.5", more=f', taken_as = "{word}"')) for word in ("orifice", "gap"))
    assert gap.seals.piston_leak_area > 2.0 * hole.seals.piston_leak_area


def test_without_either_it_is_tight():
    assert with_line("").seals.piston_leak_area == 0.0


@pytest.mark.parametrize(
    "line, words",
    [
        (f"{AREA}\n{CHECK.format(end='5', more='')}", "give one of them"),
        (CHECK.format(end="8", more=""), "no more than start"),
        (CHECK.format(end="0.9", more=""), "at least the ambient pressure"),
        (CHECK.format(end="5", more=', gas = "smoke"'), "must be one of helium"),
    ],
)
def test_a_check_that_cannot_be_is_refused(line, words):
    with pytest.raises(CaseError) as refusal:
        with_line(line)
    assert len(refusal.value.lines()) == 1 and words in str(refusal.value)
