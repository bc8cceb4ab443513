"""A first cut of the starter napkin: a complete case whose checks hold, against closed forms; the proof of exclusion."""

import math
import tomllib

import numpy as np
import pytest
from sleevelift import combustion_tables, simulate
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.first_cut import actuation, exclusion, rings
from sleevelift.first_cut.engine import engine
from sleevelift.first_cut.napkin import STARTER, napkin_from_text
from sleevelift.first_cut.screen import lines
from sleevelift.first_cut.sheet import Sheet
from sleevelift.first_cut.size import EXCLUDED, HOLDS, size
from sleevelift.first_cut.spring import wound
from sleevelift.sizing import spring_design
from sleevelift.study.cycles import cycles


@pytest.fixture(scope="module")
def answer():
    return size(napkin_from_text(STARTER, "starter"))


@pytest.fixture(scope="module")
def case(answer):
    return case_from_text(answer.text, "starter")


def test_its_case_runs_and_every_check_holds(answer, case):
    """The text alone, read and run again."""
    assert answer.status == HOLDS
    result = simulate(case)
    assert result.outcome == "opened-and-closed"
    assert [check.name for check in result.checks if not check.passed] == []
    assert 0.5 * 65e-3 < result.measures["opening_time"] <= 65e-3
    assert 2e-3 <= result.measures["oxidizer_lead"] < 4e-3


def test_thrust_comes_out(case):
    """Closed form, from the run's own steady values: F = C_F eta p_c A_t, adapted to sea level."""
    result = simulate(case)
    pressure = result.measures["steady_chamber_pressure"]
    assert pressure == pytest.approx(18e5, rel=0.01)
    g = combustion_tables.table_at("oxygen/ethanol", 18e5).g_at(1.3)
    ratio = 101325.0 / 18e5
    gamma_2 = 2.0 * g * g / (g - 1.0) * (2.0 / (g + 1.0)) ** ((g + 1.0) / (g - 1.0)) * (1.0 - ratio ** ((g - 1.0) / g))
    assert 0.95 * math.sqrt(gamma_2) * pressure * case.chamber.throat_area == pytest.approx(2500.0, rel=0.01)
    flows = result.measures["steady_oxidizer_flow"], result.measures["steady_fuel_flow"]
    assert flows[0] / flows[1] == pytest.approx(1.3, rel=0.02)


def test_every_number_says_where_it_comes_from(answer):
    """Each assignment has a comment, beside it or on the line above."""
    before = ""
    for line in answer.text.splitlines():
        if " = " in line and not line.startswith("#"):
            assert "  # " in line or before.startswith("# "), line
        before = line
    assert "NO DESIGN RELEASE" in answer.text


def test_a_smaller_lift_area_does_not_hold(answer, case):
    """The area is the least: with 4 % less none of 300 pairs of fuel opening area and preload holds the wanted margin."""
    problem = actuation.Problem(
        case, case.spring.rate * case.sleeve.stroke / case.spring.preload, dict.fromkeys(actuation.MARGINS, 0.02), 1.0
    )
    sleeve = case.sleeve
    lift = 0.25 * np.pi * (sleeve.piston_diameter**2 - sleeve.rod_diameter**2)
    fuel = 0.25 * np.pi * (sleeve.rod_diameter**2 - sleeve.seat_diameter**2)
    bare = _with_rate(problem)
    here = np.log([lift, fuel, case.spring.preload])
    assert bare.slack(here).min() >= -1e-3
    rng = np.random.default_rng(5)
    for moved in rng.uniform(-0.12, 0.12, (300, 2)):
        tried = here + np.array([math.log(0.96), *moved])
        assert bare.slack(tried).min() < 0.0


def _with_rate(problem):
    """The problem with a spring of given rate, so that preload can move: what a spacer does."""
    text_case = problem.case
    from sleevelift.case.read import with_values

    problem.case = with_values(text_case, {"spring.rate": text_case.spring.rate}, check=False)
    return problem


def test_pinned_values_stand(answer):
    pinned = STARTER + '\n[pin]\n"sleeve.post_diameter" = "17.3 mm"\n"igniter.delay" = "2 ms"\n'
    case = case_from_text(size(napkin_from_text(pinned)).text)
    assert case.sleeve.post_diameter == pytest.approx(17.3e-3)
    assert case.igniter.delay == pytest.approx(2e-3)


SHARP = """
[napkin]
thrust = "759 N"
chamber_pressure = "25.63 bara"
mixture_ratio = 5.247
propellants = "nitrous-oxide/isopropanol"
oxidizer_pressure = "45.34 bara"
fuel_pressure = { value = "36.73 bara", plus_minus = "2.49%" }
gas = "helium"
gas_pressure = { value = "30.95 bara", plus_minus = "7.09%" }
oxidizer_lead = "3.95 ms"
opening_time = "69.45 ms"
allowable_pressure = "87.99 bara"
least_margin = 0.005
"""
"""A ramp as sharp as geometry gives it lets so much lie in this chamber at light-off that gas runs back on both sides."""


def test_a_pool_that_drives_gas_back_is_made_smaller(monkeypatch):
    """Opening time, injector and slots are turned until none runs back; the first round alone says what stands against it."""
    answer = size(napkin_from_text(SHARP))
    assert answer.status == HOLDS, answer.failed
    found = simulate(case_from_text(answer.text)).measures
    assert found["reverse_oxidizer_flow"] == found["reverse_fuel_flow"] == 0.0
    monkeypatch.setattr("sleevelift.first_cut.size.turned", lambda *_: None)
    first = size(napkin_from_text(SHARP))
    assert {"reverse_oxidizer_flow", "reverse_fuel_flow", "hard_start_pressure"} <= set(first.failed)
    note = next(note for note in first.notes if "stands against" in note or "stand against" in note)
    assert "What would free it" in note and "opening_time" in note and "ratings" in note


def test_flows_are_the_rated_ones_whatever_the_spigot(case):
    """Annulus and line are trimmed for the spigot that the lead has asked for."""
    found = simulate(case).measures
    assert found["steady_oxidizer_flow"] == pytest.approx(case.oxidizer.rated_flow, rel=5e-3)
    assert found["steady_fuel_flow"] == pytest.approx(case.fuel.rated_flow, rel=5e-3)


def test_a_manifold_of_a_boiling_liquid_stays_above_its_vapour_pressure():
    """Nitrous oxide at 253 K boils at 18 bar: behind a chamber of 9.6 bar the slots take more drop, or it would flash."""
    low = SHARP.replace("25.63 bara", "9.558 bara").replace("45.34 bara", "24 bara").replace("36.73 bara", "14.56 bara")
    eng = engine(napkin_from_text(low), Sheet(), 1.0)
    assert eng.chamber_pressure + eng.oxidizer.drop > 1.05 * eng.oxidizer.state.vapour_pressure


@pytest.mark.parametrize("kind", ["regulator", "bottle"])
def test_a_supply_holds_the_cycles_that_were_asked_for(kind):
    """A bottle with all its uses still opens the valve: the cycles are run one after the other."""
    answer = size(napkin_from_text(STARTER.replace("gas = ", f'supply = "{kind}"\ncycles = 3\ngas = ', 1), kind))
    assert answer.status == HOLDS and answer.case.supply.kind == kind
    supply = answer.case.supply
    if kind == "regulator":
        assert supply.relief_pressure > answer.case.ranges["supply.pressure"][1]
        stuck = 0.8 * math.pi / 4.0 * supply.regulator_orifice**2 * supply.bottle_pressure
        assert supply.relief_area * supply.relief_pressure > stuck, "it passes a regulator stuck open, choked on both sides"
    assert cycles(answer.case, most=3).held == 3


# ------------------------------------------------------------------------------------------------ exclusion


def test_largest_margin_without_friction_and_room():
    """Closed form: with hardly any friction, nothing fixed, F_0 = (1+m) P_g,high A_l = (1+m) P_f,high A_a at the best,
    so (1 + m)^2 = P_g,low/P_g,high + P_f,low/P_f,high."""
    forces = exclusion.Forces(28e5, 31e5, 24e5, 27e5, 0.0, 1e-3, 0.0, 1e-3)
    expected = math.sqrt(28 / 31 + 24 / 27) - 1.0
    assert exclusion.largest_margin(forces) == pytest.approx(expected, abs=1e-5)


def test_friction_and_little_room_take_margin():
    """Limit: more friction or less room never leaves more margin; a room too small for the friction leaves less than none."""
    easy = exclusion.Forces(28e5, 31e5, 24e5, 27e5, 50.0, 20.0, 0.0, 1e-3)
    tight = easy._replace(room=1e-5)
    assert (
        exclusion.largest_margin(easy) > exclusion.largest_margin(easy._replace(friction=200.0)) > exclusion.largest_margin(tight)
    )
    assert exclusion.largest_margin(tight) < 0.0


def test_a_margin_that_cannot_be_had_is_proved_so():
    wish = STARTER.replace("least_margin = 0.02", "least_margin = 0.45")
    answer = size(napkin_from_text(wish))
    assert answer.status == EXCLUDED and answer.exclusion is not None
    proof = answer.exclusion
    assert 0.0 < proof.largest_margin < 0.45
    assert len(set(proof.pair)) == 2
    printed = "\n".join(lines(answer, "wish", None))
    assert "exclude each other" in printed and "NO DESIGN RELEASE" in printed
    assert all(len(line) <= 80 for line in printed.splitlines())


def test_the_proof_agrees_with_the_search(case):
    """What the search reaches, no proof denies: the bound lies above the margins that were found."""
    bound = exclusion.largest_margin(exclusion.forces_of(case, case.sleeve.piston_diameter))
    assert bound > min(actuation.margins_of(case).values())


# ------------------------------------------------------------------------------------------------ parts


def test_spring_keeps_the_standard():
    """EN 13906-1 as `spring_design` has it (checked against published examples in tests/published/test_e_springs.py)."""
    for preload, stroke, post, piston in ((100.0, 0.7e-3, 4e-3, 9e-3), (770.0, 2e-3, 16e-3, 29.2e-3), (9e3, 6e-3, 60e-3, 110e-3)):
        found = wound(preload, stroke, post, piston, 2.0)
        assert found is not None
        grade = spring_design.WIRES["EN 10270-1 SH"]
        assert found.state.force_lifted == pytest.approx(preload + found.state.rate * stroke)
        assert found.state.stress_lifted + 2.0 * math.sqrt(2.0 * grade.shear_modulus * grade.density) <= found.permissible
        assert found.state.stress_solid <= found.permissible
        assert found.state.gap_left >= found.state.gap_needed
        assert found.mean - found.wire > post
        assert (4.0 * found.active).is_integer()


def test_rings_are_stretched_little():
    """Common practice: at most 5 %, else the comment says so; at most 2 % loose. Rings come in steps of 1.6 to 3.2 mm."""
    for diameter in np.linspace(12e-3, 65e-3, 30):
        for name in ("rod", "piston"):
            found = rings.seal(name, float(diameter), 293.15)
            assert not found.cold
            stretch = float(found.comment.split("stretched ")[1].split("%")[0])
            assert -2.0 <= stretch < 350.0 / (1e3 * diameter)
            assert ("shift the diameter" in found.comment) == (stretch > 5.0)


def test_cold_seals_are_no_elastomer():
    assert rings.seal("post", 16e-3, 90.0).cold and "hardness" not in rings.seal("post", 16e-3, 90.0).text


# ------------------------------------------------------------------------------------------------ refusals

FAULTS = [
    ('thrust = "2.5 kN"', "", "[napkin] thrust: or flow is wanted"),
    ('thrust = "2.5 kN"', "thrust = 2500", "[napkin] thrust = 2500: needs a unit"),
    ('"oxygen/ethanol"', '"oxygen/wine"', "is no shipped pair"),
    ("mixture_ratio = 1.3", "mixture_ratio = 50.0", "mixture_ratio = 50.0: must be from 0.3 to 20"),
    ('gas = "nitrogen"', 'gas = "steam"', "[napkin] gas = \"steam\": must be one of helium"),
    ('oxidizer_pressure = "27 bara"', 'oxidizer_pressure = "18.5 bara"', "must be at least 19.8 bara"),
    ("least_margin", "last_margin", "is no key of a napkin; nearest: least_margin"),
    ('"18 bara"', '"1.5 bara"', "must be above"),
    ('allowable_pressure = "60 bara"', "", "[napkin] allowable_pressure: is missing"),
    ("[napkin]", "[serviette]", "[napkin]: is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "message"), FAULTS)
def test_faults_of_a_napkin(old, new, message):
    assert old in STARTER
    with pytest.raises(CaseError) as error:
        napkin_from_text(STARTER.replace(old, new, 1))
    assert message in str(error.value)


def test_faults_are_told_all_at_once():
    text = STARTER.replace('gas = "nitrogen"', 'gas = "steam"').replace("mixture_ratio = 1.3", "mixture_ratio = 50.0")
    with pytest.raises(CaseError) as error:
        napkin_from_text(text + '\n[pin]\n"sleeve.colour" = "red"\n')
    assert len(error.value.lines()) == 3


def test_the_starter_is_what_it_says():
    assert set(tomllib.loads(STARTER)) == {"napkin"}
    assert "INVENTED" in STARTER and "no design release" in STARTER
