"""What a run and a static check say of themselves: ranges that margins do not count, pulses not reached."""

from runs import CASES, shipped, shipped_case
from sleevelift import simulate
from sleevelift.case.change import with_texts
from sleevelift.case.read import case_from_text, with_values
from sleevelift.remarks import ranges_not_counted
from sleevelift.static_answer.answer import static_report

RANGED = 'preload = { value = "770 N", plus_minus = "5 %" }'


def preload_with_a_range():
    """The hot case with a range on the preload."""
    text = (CASES / "hot_start.toml").read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("preload"))
    return case_from_text(text.replace(line, RANGED))


def test_a_range_that_no_margin_counts_is_named():
    case = preload_with_a_range()
    (remark,) = ranges_not_counted(case)
    assert "spring.preload" in remark and "seals.friction_factor" not in remark and "supply.pressure" not in remark
    assert ranges_not_counted(shipped_case("hot_start")) == []
    assert remark in static_report(case).cautions
    assert remark in simulate(case, with_traces=False).warnings


def test_a_range_that_no_margin_depends_on_is_not_named():
    case = with_values(shipped_case("hot_start"), {})
    case._ranges = {**case.ranges, "solenoid.open_dead_time": (1e-3, 5e-3), "run.end": (1.0, 2.0)}
    assert ranges_not_counted(case) == []


def test_pulses_that_the_run_did_not_reach_are_named():
    twice = ["solenoid.on=0.1 s, 0.9 s", "solenoid.off=0.5 s, 1.3 s"]
    for name in ("dry_bench", "hot_start"):
        case = with_texts(shipped_case(name), twice)
        assert not any("The run ended before pulse" in warning for warning in simulate(case).warnings)
        cut = with_values(case, {"run.end": 0.6}, check=False)
        assert "The run ended before pulse 2 of 2." in simulate(cut).warnings


def may_burn_on(result):
    return any("may burn on" in warning for warning in result.warnings)


def test_leaks_that_go_on_ignitable_may_burn_on_and_locked_liquid_does_not():
    """Both seats leak from open lines: what flows goes on when the chamber counts as out. Behind shut run valves only what expands
    is left, over in an instant; with the valves open again it goes on."""
    leaking = {"seat.leak_area": 0.2e-6}
    assert may_burn_on(simulate(with_values(shipped_case("hot_start"), leaking)))
    assert not may_burn_on(shipped("hot_start")), "oxidizer alone leaks"
    assert not may_burn_on(shipped("valve_lead"))
    stop = {"oxidizer.valve.off": (0.95,), "fuel.valve.off": (0.95,)}
    assert may_burn_on(simulate(with_values(shipped_case("fuel_rich_stop"), {**leaking, **stop})))
