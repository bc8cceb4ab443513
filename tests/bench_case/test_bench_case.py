"""Bench cases of a hot case: what is kept and what is not, pressures within ratings, files whole or not at all."""

import math
import re
import tomllib

import pytest
from runs import CASES, SUPPLIES, shipped
from sleevelift import load_case, simulate
from sleevelift.bench_case.answer import Wishes
from sleevelift.bench_case.gas import highest_allowed, opening, relief_setting, supply_pressure, with_supply
from sleevelift.bench_case.gas_flow import choked_per_pressure
from sleevelift.bench_case.make import made, usual_margin
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.cli import app
from sleevelift.static_answer.answer import static_report
from typer.testing import CliRunner

HOT = (CASES / "hot_start.toml").read_text(encoding="utf-8")
DRY = Wishes("dry", 0.1, 0.1, "pressure-drop", "Water", None, None)
WET = DRY._replace(kind="cold-flow")
G = 9.80665


def called(*arguments):
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def with_supply_text(kind):
    """The hot case's text with another supply."""
    before, after = HOT.split("[supply]\n", 1)
    return before + "[supply]\n" + SUPPLIES[kind] + "\n[solenoid]\n" + after.split("[solenoid]\n", 1)[1]


def in_inches(text):
    """The hot case's text in inches, pounds and psi, as far as those units go."""

    def psi(found):
        value = float(found[1]) * 1e5 / 6894.757293168
        return f'"{value:.6g} psi{found[2]}"'

    def inch(found):
        return f'"{float(found[1]) / 25.4:.6g} in"'

    text = re.sub(r'"([\d.]+) bar([ag])"', psi, text)
    text = re.sub(r'"([\d.]+) mm"', inch, text)
    return re.sub(r'"([\d.]+) N"', lambda found: f'"{float(found[1]) / (0.45359237 * G):.6g} lbf"', text)


@pytest.mark.parametrize("supply", ["regulator", *SUPPLIES])
def test_dry_opens_by_gas_alone_whatever_the_supply(supply):
    text = HOT if supply == "regulator" else with_supply_text(supply)
    hot = case_from_text(text, "hot")
    answer = made(text, hot, DRY)
    assert answer.case is not None, answer.missing
    bench = answer.case
    assert bench.case.kind == "dry" and bench.fuel is None and bench.chamber is None
    assert supply_pressure(bench) > supply_pressure(hot)
    assert opening(bench) >= DRY.margin
    assert simulate(bench, with_traces=False).measures["opening_time"] is not None
    below = with_supply(bench, 0.97 * supply_pressure(bench))
    assert opening(below) < DRY.margin, "no more pressure than needed, to two digits"


def test_what_a_case_in_inches_gets_stands_in_its_own_units():
    text = in_inches(HOT)
    hot = case_from_text(text, "inch")
    assert hot.sleeve.stroke == pytest.approx(2e-3, rel=1e-5)
    dry, wet = made(text, hot, DRY), made(text, hot, WET)
    assert dry.case is not None and wet.case is not None
    for answer in (dry, wet):
        supply = tomllib.loads(answer.text)["supply"]
        assert {supply["pressure"][end].split()[1] for end in ("value", "low", "high")} == {"psia"}
        assert float(supply["pressure"]["value"].split()[0]) % 10 == 0, "two digits in the reader's unit"
        assert supply["relief_pressure"].endswith("psia")
    assert tomllib.loads(wet.text)["oxidizer"]["inlet_pressure"].endswith("psia")
    assert supply_pressure(dry.case) == pytest.approx(supply_pressure(made(HOT, shipped_hot(), DRY).case), rel=0.05)


def shipped_hot():
    return load_case(CASES / "hot_start.toml")


def test_no_pressure_goes_beyond_a_rating_nor_is_named_without_one():
    hot = shipped_hot()
    low = HOT.replace('lift_chamber_rated_pressure = "80 bara"', 'lift_chamber_rated_pressure = "50 bara"')
    answer = made(low, case_from_text(low, "low"), DRY)
    assert answer.text is None and any("50 bara" in line and "needs" in line for line in answer.missing)
    for part in ("supply_line", "tube", "lift_chamber"):
        unrated = re.sub(rf"^{part}_rated_pressure.*\n", "", HOT, flags=re.M)
        answer = made(unrated, case_from_text(unrated, "unrated"), DRY)
        assert answer.text is None and any(part.replace("_", " ") in line for line in answer.missing)
    bench = made(HOT, hot, DRY._replace(margin=0.4, least=0.4)).case
    least = min(bench.limits.supply_line_rated_pressure, bench.limits.tube_rated_pressure, bench.limits.lift_chamber_rated_pressure)
    assert bench.ranges["supply.pressure"][1] < bench.supply.relief_pressure <= least


def test_gas_range_and_relief_valve_stay_below_the_rating_in_proportion_too():
    share = HOT.replace('{ value = "31 bara", low = "29.5 bara", high = "32.5 bara" }', '{ value = "31 bara", plus_minus = "5 %" }')
    case = case_from_text(share, "share")
    highest, _ = highest_allowed(case)
    assert 1.05 * 1.05 * highest == pytest.approx(80e5), "the range ends 5 % above, the relief valve 5 % above that"
    assert relief_setting(case, highest) <= 80e5
    assert relief_setting(case, supply_pressure(case)) is None, "the hot case's setting still does"


def test_cold_flow_keeps_the_pressure_drop():
    """Flow at the same drop goes with the root of the density (Bernoulli); the steady flows of the run say the same."""
    hot, answer = shipped("hot_start"), made(HOT, shipped_hot(), WET)
    bench = simulate(answer.case, with_traces=False)
    for side, density in (("oxidizer", 1141.0), ("fuel", 789.0)):
        ratio = bench.measures[f"steady_{side}_flow"] / hot.measures[f"steady_{side}_flow"]
        assert ratio == pytest.approx(math.sqrt(998.2 / density), rel=5e-3), side
    assert answer.case.oxidizer.liquid == answer.case.fuel.liquid == "Water"
    assert any("Reynolds number 0.18 times" in line for line in answer.said)


def test_cold_flow_keeps_the_reynolds_number_or_says_what_it_takes():
    answer = made(HOT, shipped_hot(), WET._replace(like="reynolds"))
    assert answer.text is None and any("oxidizer" in line and "60 bara" in line for line in answer.missing)
    assert any("Fuel side" in line and "Reynolds number 1 times" in line for line in answer.said)
    # ethanol 1.2 mPa s/789 kg/m3 against water 1.0/998: flow scales with viscosity times the same passage
    kept = re.search(r"Fuel side.*?([\d.]+) kg/s \(hot ([\d.]+) kg/s\)", " ".join(answer.said))
    assert float(kept[1]) / float(kept[2]) == pytest.approx(1.0016 / 1.2, rel=5e-3)


def test_cold_flow_may_keep_the_feeds_or_meet_a_back_pressure():
    feeds = made(HOT, shipped_hot(), WET._replace(like="inlet")).case
    assert feeds.oxidizer.inlet_pressure == 27e5 and feeds.fuel.inlet_pressure == 27e5
    back = made(HOT, shipped_hot(), WET._replace(back_pressure=10e5)).case
    free = made(HOT, shipped_hot(), WET).case
    assert back.bench.back_pressure == pytest.approx(10e5)
    assert back.fuel.inlet_pressure - free.fuel.inlet_pressure == pytest.approx(10e5 - 101325.0, rel=1e-4)
    assert supply_pressure(back) < supply_pressure(free), "more fuel pressure helps more to open"


def test_a_gas_is_not_run_but_its_flow_stated():
    """Choked nitrogen at 20 degC: 0.04042 kg/s per m2 and Pa over sqrt(K): w = 0.0404 A p/sqrt(T) (common practice for air and
    nitrogen; here from R = 296.8 J/(kg K) and gamma 1.4: 0.6847/sqrt(296.8) = 0.03975)."""
    answer = made(HOT, shipped_hot(), WET._replace(fluid="nitrogen"))
    assert answer.case.case.kind == "dry" and answer.case.bench.fuel_side_pressure == pytest.approx(27e5)
    assert choked_per_pressure(1.0, "nitrogen", 293.15) == pytest.approx(0.03975 / math.sqrt(293.15), rel=1e-3)
    said = " ".join(answer.said)
    assert "is not run" in said and "kg/s of nitrogen for each bar" in said


def test_fluids_that_must_not_go_there_are_refused():
    for fluid, word in (
        ("Ethanol", "propellant"),
        ("RP-1", "propellant"),
        ("oxygen", "fire"),
        ("hydrogen", "fire"),
        ("air", "fire"),
    ):
        with pytest.raises(CaseError, match=word):
            made(HOT, shipped_hot(), WET._replace(fluid=fluid))
    with pytest.raises(CaseError, match="made of a hot one"):
        made((CASES / "cold_flow.toml").read_text(), load_case(CASES / "cold_flow.toml"), DRY)


def test_each_changed_number_says_why_and_the_rest_stays_as_written():
    answer = made(HOT, shipped_hot(), DRY)
    before, after = tomllib.loads(HOT), tomllib.loads(answer.text)
    changed = {change.path for change in answer.changes}
    for table, values in after.items():
        for key, value in values.items() if isinstance(values, dict) else ():
            if before.get(table, {}).get(key) != value:
                assert f"{table}.{key}" in changed
                lines = answer.text.splitlines()
                at = next(i for i, line in enumerate(lines) if line.startswith(f"{key} = ") and f"[{table}]" in lines[:i])
                assert any("BENCH" in line for line in lines[max(0, at - 3) : at + 1]), f"{table}.{key}"
    assert "# drawing: keeps the valve away from the flame" in answer.text, "comments stay"
    assert all(line.startswith("#") for line in answer.text.split("\n\n")[0].splitlines())
    assert "Operate remotely" in answer.text or "operate remotely" in answer.text
    assert max(map(len, answer.text.splitlines())) <= 132


def test_awkward_files_come_through_whole():
    """Subtables, long lists, quotes and hashes in texts, faults that no longer fit."""
    text = HOT.replace('note = """', 'note = """\\\n# no comment = "x"\n').replace(
        'inlet_pressure = "27 bara"      # 9 bar over the chamber for line and injector',
        "inlet_table = { time = ["
        + ", ".join(f'"{0.01 * i:.2f} s"' for i in range(40))
        + "], pressure = ["
        + ", ".join(['"27 bara"'] * 40)
        + "] }",
    )
    text += '\n[[faults]]\nname = "weak \\"igniter\\" # 2"\nchange = { "igniter.delay" = "x 3" }\n'
    hot = case_from_text(text, "awkward")
    wet = made(text, hot, WET)
    assert [fault.name for fault in wet.case.faults] == ["strainer of the solenoid valve half blocked"]
    assert any('weak "igniter" # 2' in line for line in wet.said)
    assert max(wet.case.oxidizer.inlet_table.pressure) == pytest.approx(
        made(HOT, shipped_hot(), WET).case.oxidizer.inlet_pressure, rel=1e-3
    )
    assert made(text, hot, DRY).case is not None


SEQUENCE = """
[[sequence.step]]
do = "off"
part = "solenoid"
after = "light-off"
delay = "0.3 s"
"""


def test_a_sequence_becomes_its_instants():
    """What waits for light-off cannot wait for it on a bench."""
    text = HOT.replace('off = ["0.8 s"]', "off = []", 1) + SEQUENCE
    hot = case_from_text(text, "sequenced")
    bench = made(text, hot, DRY)
    assert bench.case.sequence is None and "sequence" in bench.said[0]
    light = simulate(hot, with_traces=False).measures["light_off"]
    assert bench.case.solenoid.on == (0.1,) and bench.case.solenoid.off == pytest.approx((light + 0.3,), abs=1e-5)


def test_cold_seals_at_ambient_are_said():
    text = HOT.replace('wall_temperature = "293.15 K"   # room', 'wall_temperature = "150 K"', 1)
    answer = made(text, case_from_text(text, "cold"), DRY)
    assert any("90 K" in line and "seal" in line for line in answer.cautions)
    assert answer.case.lift_chamber.wall_temperature == pytest.approx(293.15) and "wall_temperature" in " ".join(answer.said)


def test_the_command_writes_what_runs_and_spares_what_is_there(tmp_path):
    out = tmp_path / "dry.toml"
    done = called("bench-case", CASES / "hot_start.toml", "--kind", "dry", "--out", out)
    assert done.exit_code == 0, done.output
    assert "It cannot tell" in done.output and "qualified person" in done.output
    assert max(map(len, done.stdout.split("\nWritten: ")[0].splitlines())) <= 80
    assert called("run", out, "--no-pictures", "--out", tmp_path / "o").exit_code == 0
    again = called("bench-case", CASES / "hot_start.toml", "--kind", "dry", "--out", out)
    assert again.exit_code == 2 and "--force replaces it" in again.output
    missing = tmp_path / "none.toml"
    refused = called("bench-case", CASES / "hot_start.toml", "--kind", "wet", "--like", "x", "--margin", "-1", "--out", missing)
    assert refused.exit_code == 2 and refused.output.count("must be") == 3
    blocked = called("bench-case", CASES / "hot_start.toml", "--kind", "cold-flow", "--like", "reynolds", "--out", missing)
    assert blocked.exit_code == 2 and "No case was written" in blocked.output and not missing.exists()


def test_margins_of_a_dry_case_that_say_nothing_are_not_numbers():
    """Friction alone, far below the spring, is no margin; where it is not far below, the number stands."""
    hot = shipped_hot()
    assert usual_margin(hot) == pytest.approx(opening(hot))
    result = shipped("dry_bench")
    assert result.measures["closing_margin_unlit"] is None and "friction" in result.reasons["closing_margin_unlit"]
    check = next(check for check in result.checks if check.name == "closing_margin_unlit")
    assert check.passed and check.value is None
    row = next(m for m in static_report(result.case).margins if m.name == "closing_margin_unlit")
    assert (row.value, row.nominal, row.best) == (None, None, None)
    stiff = (CASES / "dry_bench.toml").read_text().replace("70 N/m", "7000 N/m")
    sticks = next(m for m in static_report(case_from_text(stiff, "stiff")).margins if m.name == "closing_margin_unlit")
    assert sticks.value is not None and sticks.passed is False
