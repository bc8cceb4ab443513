"""What checks must say: they fail or are "not known" where a case of its kind must meet them, and none of them disappears."""

import io
import json

import pytest
from rich.console import Console
from runs import CASES, shipped, shipped_case
from sleevelift import simulate, simulate_many, with_values
from sleevelift.case.cautions import GENERAL, HEAD
from sleevelift.case.change import with_texts, without_ranges
from sleevelift.case.read import case_from_text
from sleevelift.case.starter import KINDS, starter_case
from sleevelift.check import NOT_KNOWN
from sleevelift.checks import checks
from sleevelift.cli import app
from sleevelift.margin_words import ENDS, MARGINS
from sleevelift.plant.names import NAMES
from sleevelift.ratings import least_rating, parts
from sleevelift.static_answer.answer import static_report
from sleevelift.study.answer import deliver
from sleevelift.study.faults import fault_study
from typer.testing import CliRunner

HOT_MUST = {
    "opens", "closes", "oxidizer_lead", "hard_start_pressure", "light_off", "peak_chamber_pressure", "steady_oxidizer_flow",
    "steady_fuel_flow", *MARGINS,
}  # fmt: skip


def by_name(result):
    return {check.name: check for check in result.checks}


def changed(name, *texts):
    return simulate(with_texts(shipped_case(name), list(texts)), with_traces=False)


# ------------------------------------------------------------------------------ nothing disappears


@pytest.mark.parametrize(
    "texts",
    [
        ("slots.row.0.width=x 0.001",),  # starved of oxidizer
        ("seat.annulus_area=x 0.001",),  # starved of fuel
        ("igniter.off=0.06 s",),  # out before the propellants come
        ("igniter.ignitable_mixture=0.001, 0.01",),  # a mixture that never comes
        ("supply.pressure=5 bara",),  # never breaks away
    ],
)
def test_a_hot_case_that_never_lights_fails_what_it_must_meet(texts):
    result = changed("hot_start", *texts)
    found = by_name(result)
    assert result.measures["light_off"] is None
    assert HOT_MUST <= set(found)
    assert not found["light_off"].passed and not found["hard_start_pressure"].passed
    assert found["hard_start_pressure"].advice.startswith(NOT_KNOWN)


def test_every_hot_check_is_there_whatever_happened():
    assert HOT_MUST <= set(by_name(shipped("hot_start")))
    for name in ("fuel_lost", "nose_trap", "late_igniter", "bare_cone"):
        assert HOT_MUST <= set(by_name(shipped(name))) | ({"closes"} if name == "nose_trap" else set())


def test_a_run_without_numbers_holds_nothing_that_follows_from_numbers():
    case = shipped_case("hot_start")
    made = checks(dict.fromkeys(NAMES), "left-gas-range", case)
    held = {check.name for check in made if check.passed}
    assert HOT_MUST <= {check.name for check in made}
    assert not held & HOT_MUST


def test_failed_checks_come_first():
    for name in ("late_igniter", "hammer", "dry_bench"):
        verdicts = [check.passed for check in shipped(name).checks]
        assert verdicts == sorted(verdicts) and False in verdicts


def test_a_limit_on_what_never_happened_is_not_known():
    found = by_name(changed("dry_interlock", "limits.opening_time_at_most=1 s"))
    assert not found["opening_time"].passed and found["opening_time"].advice.startswith(NOT_KNOWN)


# ------------------------------------------------------------------------------ reverse flow, rated flows


def test_chamber_gas_in_a_manifold_fails():
    """A throat typed ten times too small: the chamber stands above the manifolds for good."""
    steady = changed("hot_start", "chamber.throat_area=100 mm2")
    sides = [side for side in ("oxidizer", "fuel") if steady.measures[f"reverse_{side}_flow"] > 0.01]
    assert sides
    for side in sides:
        assert not by_name(steady)[f"reverse_{side}_flow"].passed
    late = by_name(shipped("late_igniter"))  # a hard start drives gas back for some milliseconds
    assert not late["reverse_oxidizer_flow"].passed and not late["reverse_fuel_flow"].passed
    assert by_name(shipped("hot_start"))["reverse_oxidizer_flow"].passed


def test_reverse_flow_is_the_greatest_of_the_traces_while_lit():
    result = shipped("late_igniter")
    lit = result.traces["lit"] > 0.5
    for side in ("oxidizer", "fuel"):
        greatest = -result.traces[f"{side}_injector_flow"][lit].min()
        assert result.measures[f"reverse_{side}_flow"] == pytest.approx(greatest, rel=2e-3)
    assert shipped("cold_flow").measures["reverse_fuel_flow"] is None


@pytest.mark.parametrize(
    ("measure", "trace"),
    [
        ("peak_lift_chamber_pressure", "lift_chamber_pressure"),
        ("peak_spring_side_pressure", "spring_side_pressure"),
        ("peak_tube_pressure", "tube_pressure"),
        ("peak_supply_pressure", "supply_pressure"),
    ],
)
def test_peaks_of_the_gas_side_are_those_of_the_traces(measure, trace):
    for name in ("hot_start", "dry_bench"):
        result = shipped(name)
        seen = result.traces[trace].max()  # at points of the steps: the peak between them is found on the dense output
        assert seen * (1.0 - 1e-5) <= result.measures[measure] <= seen * (1.0 + 1e-4)


@pytest.mark.parametrize(("path", "side"), [("oxidizer.rated_flow", "oxidizer"), ("fuel.rated_flow", "fuel")])
def test_a_steady_flow_far_from_rated_fails(path, side):
    name = f"steady_{side}_flow"
    assert by_name(shipped("hot_start"))[name].passed
    assert not by_name(changed("hot_start", f"{path}=x 1.2"))[name].passed
    assert by_name(changed("hot_start", f"{path}=x 1.2", "limits.steady_flow_band=0.25"))[name].passed


def test_the_chamber_peak_is_held_against_its_allowable():
    assert by_name(shipped("hot_start"))["peak_chamber_pressure"].passed
    assert not by_name(changed("hot_start", "chamber.allowable_pressure=20 bara"))["peak_chamber_pressure"].passed


def test_a_batch_makes_the_same_checks():
    case = shipped_case("hot_start")
    batch = simulate_many(case, [{}, {"slots.row.0.width": 1.46e-6}])
    assert batch.checks["light_off"].tolist() == [1.0, 0.0]
    assert batch.checks["steady_oxidizer_flow"].tolist() == [1.0, 0.0]


# ------------------------------------------------------------------------------ ratings

RATED = {
    "bottle": ("hot_start", "limits.bottle_rated_pressure=150 bara", "bottle_pressure"),
    "supply line": ("hot_start", "limits.supply_line_rated_pressure=30 bara", "peak_supply_pressure"),
    "tube": ("hot_start", "limits.tube_rated_pressure=25 bara", "peak_tube_pressure"),
    "lift chamber": ("hot_start", "limits.lift_chamber_rated_pressure=25 bara", "peak_lift_chamber_pressure"),
    "spring side": ("hot_start", "limits.spring_side_rated_pressure=1.02 bara", "peak_spring_side_pressure"),
    "oxidizer manifold": ("hot_start", "limits.oxidizer_manifold_rated_pressure=25 bara", "peak_oxidizer_manifold"),
    "fuel manifold": ("hot_start", "limits.fuel_manifold_rated_pressure=25 bara", "peak_fuel_manifold"),
}


@pytest.mark.parametrize("part", sorted(RATED))
def test_a_peak_above_a_rating_fails(part):
    name, text, check = RATED[part]
    assert by_name(shipped(name))[check].passed
    assert not by_name(changed(name, text))[check].passed


def without_ratings(case):
    limits = {key: None for key in type(case.limits).model_fields if key.endswith("_rated_pressure")}
    chamber = None if case.chamber is None else case.chamber.model_copy(update={"allowable_pressure": None})
    return case.model_copy(
        update={"limits": case.limits.model_copy(update={**limits, "manifold_pressure_at_most": None}), "chamber": chamber}
    )


def test_without_a_rating_nothing_holds_and_the_run_says_which():
    case = without_ratings(shipped_case("hot_start"))
    result = simulate(case, with_traces=False)
    names = {part.check for part in parts(result.measures, case)}
    assert not names & {check.name for check in result.checks if check.passed}
    (told,) = [line for line in result.warnings if line.startswith("No rating given")]
    for part in parts(result.measures, case):
        assert part.name in told and part.key in told
    assert not by_name(result)["hard_start_pressure"].passed


def test_a_range_of_the_supply_counts_in_what_a_part_sees():
    case = shipped_case("hot_start")
    assert case.ranges["supply.pressure"][1] == pytest.approx(32.5e5)
    supply = next(part for part in parts({}, case) if part.name == "supply line")
    assert supply.peak == pytest.approx(32.5e5)


# ------------------------------------------------------------------------------ advice


def test_no_advice_to_raise_a_pressure_without_its_limit():
    """Every advice that raises a gas or fuel pressure names the rating it must stay under, or that none is given."""
    for name in ("dry_interlock", "bottle_blowdown", "fuel_lost"):
        for case in (shipped_case(name), without_ratings(shipped_case(name))):
            result = simulate(case, with_traces=False)
            lines = [check.advice for check in result.checks] + [m.advice for m in static_report(case).margins] + result.warnings
            raising = [line for line in lines if "more gas pressure" in line or "raise the gas pressure" in line]
            assert raising
            for line in raising:
                assert "the rated pressure of" in line and "(within rating)" not in line, line
    assert "no rating given" in least_rating(without_ratings(shipped_case("hot_start")), ("tube",))


def test_margin_advice_is_spelled_out_everywhere():
    for name in ("dry_interlock", "bottle_blowdown", "nose_trap", "dry_bench"):
        result = shipped(name)
        assert not any("{" in check.advice for check in result.checks)
        assert not any("{" in margin.advice for margin in static_report(shipped_case(name)).margins)


def test_a_run_valve_shut_first_asks_for_the_relief_of_what_it_locks_in():
    (remark,) = [line for line in shipped("hot_start").warnings if "last in" in line]
    assert "relief valve" in remark and "inert gas" in remark


@pytest.mark.parametrize("gas", ["oxygen", "air", "hydrogen", "deuterium", "carbon monoxide"])
@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_an_actuation_gas_that_burns_or_feeds_a_fire_fails(gas, name):
    case = shipped_case(name)
    case = case.model_copy(update={"gas": case.gas.model_copy(update={"name": gas})})
    made = {check.name: check for check in checks(dict.fromkeys(NAMES), "", case)}
    assert not made["actuation_gas"].passed and "nitrogen" in made["actuation_gas"].advice


@pytest.mark.parametrize("gas", ["nitrogen", "N2", "helium", "argon", "neon"])
def test_an_inert_actuation_gas_passes(gas):
    case = shipped_case("hot_start")
    case = case.model_copy(update={"gas": case.gas.model_copy(update={"name": gas})})
    assert {check.name: check.passed for check in checks(dict.fromkeys(NAMES), "", case)}["actuation_gas"]


def test_vented_only_where_a_vent_exists():
    blocked = changed("hot_start", "spring_side.vent_orifice=0 mm")
    told = next(line for line in blocked.warnings if line.startswith("Between fuel and oxidizer"))
    assert "spring side is NOT vented" in told and "only while the solenoid valve is off" in told
    told = next(line for line in shipped("hot_start").warnings if line.startswith("Between fuel and oxidizer"))
    assert "spring side at all times" in told and "NOT vented" not in told
    case = shipped_case("hot_start")
    lying = case.model_copy(update={"seals": case.seals.model_copy(update={"space_vented": True})})
    lying = lying.model_copy(
        update={"spring_side": lying.spring_side.model_copy(update={"vent_orifice": 0.0, "vent_component": None})}
    )
    told = next(line for line in static_report(lying).cautions if line.startswith("Between fuel and oxidizer"))
    assert "NOT vented" in told and "one of the two is wrong" in told


# ------------------------------------------------------------------------------ slips


@pytest.mark.parametrize(
    ("texts", "word"),
    [
        (("fuel.liquid=Oxygen", "fuel.temperature=90 K"), "swapped"),
        (("oxidizer.liquid=Methane", "oxidizer.temperature=110 K"), "swapped"),
        (("solenoid.fill_orifice=5 mm",), "wider than the tube"),
        (("solenoid.exhaust_orifice=4.5 mm",), "wider than the tube"),
        (("slots.clearance=0.3 um",), "lapped"),
        (("seat.spigot_clearance=0.3 um",), "lapped"),
    ],
)
def test_a_slip_fails_and_says_why(texts, word):
    case = with_texts(shipped_case("hot_start"), list(texts))
    made = {check.name: check for check in checks(dict.fromkeys(NAMES), "", case)}
    assert not made["plausible_inputs"].passed and word in made["plausible_inputs"].advice
    assert any(word in line for line in static_report(case).cautions)


@pytest.mark.parametrize(("seal", "side"), [("post", "oxidizer"), ("rod", "fuel")])
def test_an_elastomer_on_a_cryogenic_liquid_fails(seal, side):
    case = shipped_case("hot_start")
    case = case.model_copy(update={side: getattr(case, side).model_copy(update={"temperature": 100.0})})
    ring = getattr(case.seals, seal).model_copy(update={"hardness": 70.0, "groove_depth": 1.45e-3})
    case = case.model_copy(update={"seals": case.seals.model_copy(update={seal: ring})})
    made = {check.name: check for check in checks(dict.fromkeys(NAMES), "", case)}
    assert not made["plausible_inputs"].passed and f"[seals.{seal}]" in made["plausible_inputs"].advice


@pytest.mark.parametrize("path", ["oxidizer.line_bore", "fuel.line_bore", "tube.bore"])
def test_a_radius_given_for_a_bore_is_said_to_look_like_one(path):
    doubted = changed("hot_start", f"{path}=x 0.5").warnings
    assert any("if that is its radius" in line for line in doubted)
    assert not any("if that is its radius" in line for line in shipped("hot_start").warnings)


# ------------------------------------------------------------------------------ clearance and contact


def test_a_cold_clearance_without_temperatures_or_metals_is_not_known():
    case = shipped_case("hot_start")
    assert by_name(shipped("hot_start"))["running_clearance"].passed
    keys = ("clearance_temperature", "running_temperature", "post_material", "sleeve_material")
    for left_out in (keys, keys[2:3], keys[:1]):
        bare = case.model_copy(update={"slots": case.slots.model_copy(update=dict.fromkeys(left_out))})
        made = {check.name: check for check in checks(shipped("hot_start").measures, "opened-and-closed", bare)}
        assert not made["running_clearance"].passed and made["running_clearance"].advice.startswith(NOT_KNOWN)
        finding = next(item for item in static_report(bare).findings if item.name == "running_clearance")
        assert finding.value is None and not finding.passed
    assert by_name(shipped("cold_flow"))["running_clearance"].passed  # water at the temperature it was measured at


def test_contact_stress_reads_the_modulus_and_poisson_of_the_seat():
    """Johnson (1985), eq. 4.45: the peak goes with the root of E* and of the line load."""

    def stress(**values):
        seat = {f"seat.{key}": value for key, value in values.items()}
        report = static_report(with_values(shipped_case("hot_start"), seat, check=False))
        return {item.name: item for item in report.findings}["seat_contact_stress"].value

    assert stress(elastic_modulus=400e9) / stress() == pytest.approx(2.0**0.5, rel=1e-9)
    assert stress(poisson=0.0) / stress(poisson=0.3) == pytest.approx((1.0 - 0.3**2) ** 0.5, rel=1e-9)
    assert stress(edge_radius=0.4e-3) / stress(edge_radius=0.1e-3) == pytest.approx(0.5, rel=1e-9)
    assert stress(edge_radius=None) is None


# ------------------------------------------------------------------------------ order of remarks


@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_the_cases_own_remarks_come_before_two_general_ones(name):
    lines = shipped(name).warnings
    assert tuple(lines[-2:]) == GENERAL and len(GENERAL) == 2
    assert "Invented" in lines[0]
    assert tuple(static_report(shipped_case(name)).cautions[-2:]) == GENERAL


# ------------------------------------------------------------------------------ which end decided


@pytest.mark.parametrize("name", sorted(MARGINS))
def test_a_margin_says_which_end_decided(name):
    found = by_name(shipped("hot_start"))[name]
    pressures, friction = ENDS[name]
    assert f"decided by {pressures}" in found.advice
    if friction:  # the hot case states friction x 0.5 to 1.5
        assert f"{friction} friction (x {0.5 if friction == 'least' else 1.5})" in found.advice


@pytest.mark.parametrize("name", sorted(set(MARGINS) - {"surge_margin"}))
def test_the_end_that_is_named_is_the_one_that_decides(name):
    """Moving the other end of the friction leaves the margin, moving the named end lowers or raises it as it must."""
    case = shipped_case("hot_start")

    def value(low, high):
        other = with_values(case, {})
        other._ranges = {**case.ranges, "seals.friction_factor": (low, high)}
        return next(margin.value for margin in static_report(other).margins if margin.name == name)

    at, lower, higher = value(0.5, 1.5), value(0.2, 1.5), value(0.5, 2.0)
    moves = {"least": (True, False), "most": (False, True), "": (False, False)}[ENDS[name][1]]
    assert (lower < at, higher < at) == moves
    assert (lower != at, higher != at) == moves


CHART = '{ cord = "3.53 mm", groove_depth = "3.177 mm", hardness = 70 }'
"""10 % squeeze of the ring whose friction was measured (`tests/published/test_f_seals.py`)."""


def with_chart(*seals, factor="friction_factor = { value = 1.0, low = 0.5, high = 1.5 }"):
    text = (CASES / "hot_start.toml").read_text(encoding="utf-8")
    lines = []
    for line in text.splitlines():
        seal = line.split(" = ")[0]
        stated = line.startswith("friction_factor = {")
        lines.append(f"{seal} = {CHART}" if seal in seals else factor if stated else line)
    return case_from_text("\n".join(lines), "chart")


def test_friction_from_the_chart_has_a_range_that_covers_the_measured_ring():
    """Zillen, Vallery and Smit (Delft, 2021), open data: 58 to 97.5 N/m at 1 to 7 bar, 10 % squeeze of a 3.53 mm cord."""
    case = with_chart("post", "rod", "piston", factor="")
    for seal in ("post", "rod", "piston"):
        squeeze, pressure = (case.ranges[f"seals.{seal}.{key}"] for key in ("squeeze_friction", "pressure_coefficient"))
        for dp, measured in ((99532.0, 58.0), (299374.0, 72.0), (498539.0, 87.6), (696411.0, 97.5)):
            low, high = (squeeze[end] + pressure[end] * 3.53e-3 * dp for end in (0, 1))
            assert low <= measured <= high
    chart = {m.name: m.value for m in static_report(case).margins}
    given = {m.name: m.value for m in static_report(without_ranges(case)).margins}
    assert chart["no_fuel_margin"] < given["no_fuel_margin"]  # the interlock leans on friction
    told = by_name(simulate(case, with_traces=False))["no_fuel_margin"].advice
    assert "least friction" in told and "measured on one ring" in told


def test_a_range_of_ones_own_stands_and_a_given_friction_has_none():
    assert not [path for path in with_chart("rod").ranges if path.startswith("seals.rod.")]
    case = with_chart("rod", factor="")
    given = with_texts(case, ["seals.rod.squeeze_friction=60 N/m"])
    assert "seals.rod.squeeze_friction" in case.ranges and "seals.rod.squeeze_friction" not in given.ranges
    deeper = with_texts(case, ["seals.rod.groove_depth=3.0 mm"])
    value = deeper.seals.rod.squeeze_friction
    assert value > case.seals.rod.squeeze_friction
    assert deeper.ranges["seals.rod.squeeze_friction"] == pytest.approx((value / 2.4, value))


# ------------------------------------------------------------------------------ cautions everywhere


@pytest.mark.parametrize("kind", KINDS)
def test_a_starter_carries_the_cautions_and_fails_nothing_it_must_meet(kind, tmp_path):
    text = starter_case(kind)
    assert text.splitlines()[1].startswith("# CAUTION: pressurised gas")
    result = simulate(case_from_text(text, "starter"), with_traces=False)
    assert not [line for line in result.warnings if line.startswith(("No rating given", "Odd:"))]
    if kind != "dry":
        assert not [check.name for check in result.checks if not check.passed]
    shown = CliRunner().invoke(app, ["new", str(tmp_path / "mine.toml"), "--kind", kind])
    assert shown.exit_code == 0 and GENERAL[0] in shown.output


@pytest.mark.parametrize("path", sorted(CASES.glob("*.toml")), ids=lambda path: path.stem)
def test_every_shipped_case_has_the_cautions_at_its_head(path):
    assert HEAD in path.read_text(encoding="utf-8").split("[case]")[0]


def test_a_study_says_the_cautions_once(tmp_path):
    out = Console(file=io.StringIO(), width=400)
    deliver(fault_study(shipped_case("weak_battery")), tmp_path, out)
    assert [out.file.getvalue().count(line) for line in GENERAL] == [1, 1]
    assert json.loads((tmp_path / "faults.json").read_text())["cautions"] == list(GENERAL)
