"""Every row of the machine is seen by every consumer: a flow or a force that one of them leaves out fails here.

A row's own share of the right-hand side and of its Jacobian is what changes when only that row's numbers do."""

from functools import lru_cache

import numpy as np
import pytest
from runs import BARE, CASES, changed, shipped_case
from sleevelift import simulate
from sleevelift.case.json_schema import case_json_schema
from sleevelift.case.read import case_from_text
from sleevelift.physics.sleeve import BY_GAS, BY_LIQUID, FORCES, FROM_OUTSIDE, HOLDS, OPENS
from sleevelift.plant.build import build
from sleevelift.plant.gas_rows import GAS_FLOWS, GAS_NODES, node_slots, slots
from sleevelift.plant.jacobian import jacobian
from sleevelift.plant.liquid_rows import LIQUID_FLOWS, flows_of, liquid_slots, volumes_of
from sleevelift.plant.liquid_side import injector, outflow
from sleevelift.plant.margins import holding, lifting
from sleevelift.plant.params import BY_VALVE, COLUMN, FIRST_AHEAD, INTO_CHAMBER, MOST_FLOWS, MOST_LIQUID_FLOWS
from sleevelift.plant.state import (
    B_GAS_ENERGY,
    B_GAS_MASS,
    B_OTHER_WORK,
    D_LIT,
    D_MODE,
    S_JET,
    S_NET,
    S_OXIDIZER_SHARE,
    SLIDING_DOWN,
    SLIDING_UP,
)
from sleevelift.static_answer.answer import static_report
from sleevelift.static_answer.kernels import N_ROW, R_FORCES
from sleevelift.static_answer.records import ForceState
from sleevelift.trajectory import UNITS
from sleevelift.trajectory import traces as traces_of
from stored_runs import Run, every, rates, run_of, scratch

QUICK = '[quick_exhaust]\ncracking_pressure = "0.3 bar"\nvent_orifice = "2 mm"\nvent_discharge_coefficient = 1.0\n'


@lru_cache(maxsize=1)
def wet():
    """A hot run with every gas flow but the quick exhaust."""
    return run_of(build(changed(shipped_case("hot_start"), **LEAKS)))


@lru_cache(maxsize=1)
def dry():
    """A dry run with a quick exhaust."""
    case = changed(
        case_from_text(BARE + QUICK, "quick"), lift_chamber__dead_volume=1e-5, spring__preload=500.0, solenoid__off=(0.3,),
        run__end=0.6, seals__rod_leak_area=5e-8, bench__fuel_side_pressure=5e5,
    )  # fmt: skip
    return run_of(build(case))


LEAKS = {"seals__outside_leak_area": 2e-8}
"""Leaks that no shipped case has, m2."""


def with_record(run, change):
    """The run's plant with its record changed."""
    record = run.plant.record.copy()
    change(record[0])
    return Run(run.plant._replace(record=record), run.raw)


def by_parts(run, k, y=None):
    """(J, df/dt) at stored point k."""
    plant, raw = run.plant, run.raw
    y = raw.y[k] if y is None else y
    J, dfdt = np.zeros((len(y), int(plant.record[0]["index"]["core"]))), np.zeros(len(y))
    par = (plant.record[0], plant.tables, plant.gas, scratch(len(y)))
    assert jacobian(float(raw.t[k]), y.copy(), raw.discrete_state[k], raw.event_memory, par, J, dfdt) == 0
    return J, dfdt


def flow_row(run, flow):
    """Index of a flow's row in the record; None: the plant does not have it."""
    record = run.plant.record[0]
    found = [i for i in range(int(record["gas"]["flows"])) if record["flows"][i]["signal"] == flow.signal]
    return found[0] if found else None


def wider(row):
    """A change of a record that doubles the area of one gas flow."""

    def change(record):
        record["flows"]["area"][row] *= 2.0

    return change


def open_points(flow):
    """(run, row, points at which the flow is open and well away from equal pressures)."""
    for run in (wet(), dry()):
        row = flow_row(run, flow)
        if row is not None:
            flows = {k: abs(rates(run, k).outputs[flow.signal]) for k in every(run, 60)}
            most = max(flows.values())
            return run, row, [k for k, w in flows.items() if w > 0.2 * most > 0.0][:8]
    raise AssertionError(f"no run here has the {flow.name}: add a case that does")


def at_rest(run, k):
    """Columns of states that do not change at point k and have none: the lift of a sleeve at rest, an unlit chamber."""
    index, discrete_state = run.plant.record[0]["index"], run.raw.discrete_state[k]
    columns = set() if discrete_state[D_MODE] in (SLIDING_UP, SLIDING_DOWN) else {int(index["lift_height"])}
    unlit = run.plant.record[0]["chamber"]["hot"] and not discrete_state[D_LIT]
    return columns | {int(index["chamber"]), int(index["gas_mass"])} if unlit else columns


def unburned(index):
    """Columns by which the exponent of combustion gas changes, which a leak of it leaves out."""
    return {int(index["unburned_oxidizer"]), int(index["unburned_fuel"])}


@pytest.mark.parametrize("flow", GAS_FLOWS, ids=lambda flow: flow.name)
def test_a_gas_flow_is_in_rates_balances_and_jacobian(flow):
    """Twice as wide it takes its own signal once more from its source to its sink, and its slopes are those of that change."""
    run, row, points = open_points(flow)
    assert points
    wide = with_record(run, wider(row))
    record = run.plant.record[0]
    index, core = record["index"], int(record["index"]["core"])
    place = slots(int(record["supply"]["kind"]))
    mass = record["nodes"]["mass"]
    i, j = int(mass[place[flow.source]]), int(mass[place[flow.sink]])
    outside = ("ambient", "chamber", "fuel side")
    assert (i == core + B_GAS_MASS) == (flow.source in outside or (flow.source == "inlet" and i >= core))
    for k in points:
        w = rates(run, k).outputs[flow.signal]
        more = rates(wide, k).dy - rates(run, k).dy
        size = np.abs(rates(run, k).dy)
        assert rates(wide, k).outputs[flow.signal] == pytest.approx(2.0 * w, rel=1e-12)
        expected = {i: -w, j: w}
        expected |= {core + flow.meter: w} if flow.meter else {}
        for place_of, value in expected.items():
            assert more[place_of] == pytest.approx(value, rel=1e-9, abs=1e-12 * size[place_of])
        assert more[i + 1] == pytest.approx(-more[j + 1], rel=1e-9, abs=1e-12 * (size[i + 1] + size[j + 1]))
        assert i + 1 == core + B_GAS_ENERGY or i < core
        # only what the flow carries changes
        assert {int(n) for n in np.flatnonzero(np.abs(more) > 1e-9 * (size + abs(w)))} <= {i, i + 1, j, j + 1, core + flow.meter}
        own = by_parts(wide, k)[0] - by_parts(run, k)[0]
        y = run.raw.y[k]
        sizes = np.maximum(np.abs(y[:core]), run.plant.floors)
        for column in range(core):
            if column in at_rest(run, k) or (flow.name == "post leak" and column in unburned(index)):
                continue
            quotients = []
            for side in (-1.0, 1.0):
                moved = y.copy()
                moved[column] += side * 1e-6 * sizes[column]
                change = rates(wide, k, y=moved).dy - rates(run, k, y=moved).dy
                quotients.append((change - more) / (side * 1e-6))
            scaled = own[:, column] * sizes[column]
            scale = np.maximum(np.abs(own * sizes).max(axis=1), 1e-7 * size + 1e-12)
            low, high = np.minimum(*quotients), np.maximum(*quotients)
            off = np.maximum(np.maximum(low - scaled, scaled - high), 0.0) / scale
            assert off.max() < 2e-3, (k, column, int(off.argmax()), off.max())


@pytest.mark.parametrize(
    "flow", [flow for flow in GAS_FLOWS if "fill" in flow.name or flow.name == "exhaust"], ids=lambda f: f.name
)
def test_a_flow_opened_by_time_is_in_the_time_derivative(flow):
    """While the valve strokes, twice as wide moves twice as fast."""
    run = dry()
    row = flow_row(run, flow)
    wide = with_record(run, wider(row))
    t = run.raw.t
    knots = run.plant.schedule.times
    inside = [k for k in range(1, len(t) - 1) if any(a < t[k] < b for a, b in zip(knots[::2], knots[1::2]))]
    assert inside
    seen = 0.0
    for k in inside:
        own = by_parts(wide, k)[1] - by_parts(run, k)[1]
        later = rates(wide, k, t=t[k] + 1e-9).dy - rates(run, k, t=t[k] + 1e-9).dy
        slope = (later - (rates(wide, k).dy - rates(run, k).dy)) / 1e-9
        assert own == pytest.approx(slope, rel=1e-3, abs=1e-4 * np.abs(slope).max() + 1e-9)
        seen = max(seen, np.abs(own).max())
    assert seen > 0.0


@pytest.mark.parametrize("flow", GAS_FLOWS, ids=lambda flow: flow.name)
def test_a_gas_flow_has_keys_signal_and_trace(flow):
    schema = case_json_schema()
    tables = schema["properties"]
    table, key = flow.keys.split(".")
    assert table in tables
    names = set(str(schema).split("'"))
    assert key == "*" or any(name.startswith(key.rstrip("*")) for name in names), f"no key {flow.keys}"
    assert UNITS[flow.trace] == "kg/s"
    assert sum(other.signal == flow.signal for other in GAS_FLOWS) == 1


def test_traces_show_what_flows():
    """Every gas flow of a run is in its traces; those of one trace add up."""
    case = changed(shipped_case("hot_start"), **LEAKS)
    traces = simulate(case).traces
    kind = int(build(case).record[0]["supply"]["kind"])
    assert {flow.trace for flow in GAS_FLOWS if flow.source in slots(kind) and flow.sink in slots(kind)} <= set(traces)
    assert np.abs(traces["piston_leak_flow"]).max() > 0.0


def test_there_is_room_for_every_row():
    assert len(GAS_FLOWS) <= MOST_FLOWS
    assert len(LIQUID_FLOWS) <= MOST_LIQUID_FLOWS
    for kind in range(4):
        assert set(node_slots(kind)) <= {node.name for node in GAS_NODES}


# ------------------------------------------------------------------------------------------------------------- liquids
BETWEEN = [flow for flow in LIQUID_FLOWS if flow.law != COLUMN]
LINES = [flow for flow in LIQUID_FLOWS if flow.law == COLUMN]


def twice(row):
    """A change of a record that lists a liquid flow once more."""

    def change(record):
        count = int(record["liquids"]["flows"])
        record["liquid_flows"][count] = record["liquid_flows"][row]
        record["liquids"]["flows"] = count + 1

    return change


VALVES = "".join(
    f'[{side}.valve]\neffective_area = "{area} mm2"\nopening_time = "40 ms"\nclosing_time = "30 ms"\n'
    f'open_at_start = true\noff = ["{off} s"]\n'
    for side, area, off in (("oxidizer", 60, 0.55), ("fuel", 80, 0.5))
)


@lru_cache(maxsize=1)
def valved():
    """A hot run with a run valve in each line."""
    text = (CASES / "hot_start.toml").read_text(encoding="utf-8")
    return run_of(build(case_from_text(text + VALVES, "valved")))


@pytest.mark.parametrize("row", range(len(BETWEEN)), ids=lambda row: BETWEEN[row].name)
def test_a_liquid_flow_is_in_rates_balances_and_jacobian(row):
    """Listed twice it takes its own signal once more from its source to its sink, and its slopes are those of that change."""
    flow, run = BETWEEN[row], valved()
    assert [each.name for each in flows_of(run.plant.record[0])[: len(BETWEEN)]] == [each.name for each in BETWEEN]
    double = with_record(run, twice(row))
    record = run.plant.record[0]
    index, core, liquids, line = record["index"], int(record["index"]["core"]), record["liquids"], record["lines"][flow.side]
    place = liquid_slots(record)
    volumes = volumes_of(record)
    source, sink = volumes[flow.source], volumes.get(flow.sink)
    z, pool = int(index[source.state]), int(line["unburned_place"])
    outputs = {k: rates(run, k).outputs for k in every(run, 60)}
    most = max(abs(each[flow.signal]) for each in outputs.values())
    points = [k for k, each in outputs.items() if abs(each[flow.signal]) > 0.2 * most and run.raw.discrete_state[k][D_LIT]][:8]
    assert points
    for k in points:
        w, p = outputs[k][flow.signal], outputs[k][source.pressure]
        p -= outputs[k][sink.pressure] if sink else 0.0
        got, more = rates(run, k).dy, rates(double, k).dy
        expected = {z: -w / line["rho"], core + B_OTHER_WORK: -p * w / line["rho"]}
        if sink:
            expected[int(index[sink.state])] = w / line["rho"]
        else:
            assert place[flow.sink] == INTO_CHAMBER
            expected[pool] = max(w, 0.0)
        for state, value in expected.items():
            assert (more - got)[state] == pytest.approx(value, rel=1e-9, abs=1e-12 * abs(got[state]))
        assert {int(n) for n in np.flatnonzero(np.abs(more - got) > 1e-9 * np.abs(got))} <= set(expected)
        own = by_parts(double, k)[0] - by_parts(run, k)[0]
        y = run.raw.y[k]
        sizes = np.maximum(np.abs(y[:core]), run.plant.floors)
        columns = {int(liquids["place"][slot]) for slot in range(int(liquids["volumes"]))}
        for column in (columns | {int(index["chamber"]), int(index["lift_height"])}) - at_rest(run, k):
            change = []
            for side in (-1.0, 1.0):
                moved = y.copy()
                moved[column] += side * 1e-6 * sizes[column]
                change.append(rates(double, k, y=moved).dy - rates(run, k, y=moved).dy)
            slope = (change[1] - change[0]) / 2e-6
            off = np.abs(own[:, column] * sizes[column] - slope)
            rounding = 1e-9 * abs(outputs[k][source.pressure] * w / line["rho"]) + 1e-12
            assert np.all(off <= 1e-3 * np.abs(slope) + 1e-6 * np.abs(got) + rounding), (k, column)


@pytest.mark.parametrize("row", range(2), ids=("oxidizer", "fuel"))
def test_an_injector_is_in_steady_flow_and_margins(row):
    """Listed twice it passes twice as much in steady flow; the flow that margins and screen take is that row's."""
    run = valved()
    double = with_record(run, twice(row))
    record = run.plant.record[0]
    at = (row, float(record["sleeve"]["stroke"]), 25e5, 12e5)
    once, again = (outflow(*at, each.plant.record[0], each.plant.tables) for each in (run, double))
    assert again == pytest.approx((2.0 * once[0], 2.0 * once[1]), rel=1e-12) and once[0] > 0.0
    assert injector(*at, record, run.plant.tables)[0] == pytest.approx(once[1], rel=1e-12)


@pytest.mark.parametrize("flow", [flow for flow in BETWEEN if flow.law == BY_VALVE], ids=lambda flow: flow.name)
def test_a_run_valve_is_in_the_time_derivative(flow):
    """While it moves, df/dt is the change of the rates with time."""
    run = valved()
    opening = run.raw.outputs[:, S_OXIDIZER_SHARE + flow.side]
    moving = [k for k in range(1, len(run.raw.t) - 1) if 0.05 < opening[k] < 0.95]
    assert len(moving) > 3
    for k in moving[:: len(moving) // 4]:
        later = rates(run, k, t=float(run.raw.t[k]) + 1e-7).dy
        slope = (later - rates(run, k).dy) / 1e-7
        assert by_parts(run, k)[1] == pytest.approx(slope, rel=1e-3, abs=1e-5 * np.abs(slope).max() + 1e-9)
        assert abs(slope[int(run.plant.record[0]["liquids"]["place"][FIRST_AHEAD + flow.side])]) > 0.0


@pytest.mark.parametrize("flow", LINES, ids=lambda flow: flow.name)
def test_a_line_fills_its_manifold(flow):
    """The line's flow is a state: more of it raises its sink's volume by as much, and its signal is that state."""
    run = wet()
    index, line = run.plant.record[0]["index"], run.plant.record[0]["lines"][flow.side]
    volume = volumes_of(run.plant.record[0])[flow.sink]
    for k in every(run, 10):
        y = run.raw.y[k].copy()
        got = rates(run, k)
        assert got.outputs[flow.signal] == y[int(line["flow_place"])]
        y[int(line["flow_place"])] += 1e-3
        more = rates(run, k, y=y).dy[int(index[volume.state])] - got.dy[int(index[volume.state])]
        assert more == pytest.approx(1e-3 / line["rho"], rel=1e-9)


@pytest.mark.parametrize("flow", LIQUID_FLOWS, ids=lambda flow: flow.name)
def test_a_liquid_flow_has_keys_signal_and_trace(flow):
    schema = case_json_schema()
    table, _, key = flow.keys.rpartition(".")
    names = set(str(schema).split("'"))
    assert table.split(".")[0] in schema["properties"]
    assert key == "*" or any(name.startswith(key.rstrip("*")) for name in names), f"no key {flow.keys}"
    assert UNITS[flow.trace] == "kg/s"
    assert sum(other.signal == flow.signal for other in LIQUID_FLOWS) == 1
    run = valved()
    assert flow.trace in traces_of(run.raw, run.plant)


# ------------------------------------------------------------------------------------------------------------- forces
def stronger(row):
    """A change of a record that makes one force a tenth larger."""

    def change(record):
        for name in ("constant", "slope"):
            record["forces"][name][row] *= 1.1

    return change


@pytest.mark.parametrize("row", range(len(FORCES)), ids=lambda row: FORCES[row].name)
def test_a_force_is_in_every_consumer(row):
    """A tenth more of it: right-hand side, Jacobian, balance, margins and traces change by that tenth."""
    force = FORCES[row]
    run = wet()
    strong = with_record(run, stronger(row))
    record = run.plant.record[0]
    index, core, mass = record["index"], int(record["index"]["core"]), float(record["sleeve"]["mass"])
    points = [
        k for k in range(len(run.raw.t)) if run.raw.discrete_state[k][D_MODE] == SLIDING_UP and run.raw.outputs[k, S_JET] > 1.0
    ]
    k = int(points[len(points) // 2])
    got, more = rates(run, k), rates(strong, k)
    extra = more.outputs[S_NET] - got.outputs[S_NET]
    assert extra != 0.0
    assert (more.dy - got.dy)[int(index["speed"])] == pytest.approx(extra / mass, rel=1e-9)
    v = float(run.raw.y[k][int(index["speed"])])
    work = extra * v if force.work == FROM_OUTSIDE else 0.0
    assert (more.dy - got.dy)[core + B_OTHER_WORK] == pytest.approx(work, rel=1e-6, abs=1e-9 * abs(extra * v) + 1e-12)
    # sides of the margins
    causes = (31e5, 25e5, 12e5, 10e5, 2e5, 40.0, 1.5e-3)
    d_lift = lifting(causes, strong.plant.record[0]) - lifting(causes, record)
    d_hold = holding(causes, strong.plant.record[0]) - holding(causes, record)
    assert (d_hold != 0.0) == (force.side == HOLDS)
    assert (d_lift != 0.0) == (force.side != HOLDS)
    # Jacobian; the gas nodes' share of it comes with what the sleeve sweeps, see below
    if force.work not in (BY_GAS, BY_LIQUID) and force.name != "weight":
        own = by_parts(strong, k)[0] - by_parts(run, k)[0]
        assert np.abs(own[int(index["speed"])]).max() > 0.0


def test_what_the_sleeve_sweeps_is_what_pushes_it():
    """Gas nodes and the fuel line grow by the area that their force acts on: work and force are of one area."""
    for run in (wet(), dry()):
        record = run.plant.record[0]
        slope = dict(zip((force.name for force in FORCES), record["forces"]["slope"]))
        place = node_slots(int(record["supply"]["kind"]))
        for node in GAS_NODES:
            if node.name in place:
                swept = float(record["nodes"]["swept"][place[node.name]])
                assert swept == (slope[node.area] if node.area else 0.0)
        for slot, volume in enumerate(volumes_of(record).values()):
            swept = float(record["liquids"]["swept"][slot])
            assert swept == (slope[volume.area] if volume.area else 0.0)
    assert {node.area for node in GAS_NODES if node.area} == {force.name for force in FORCES if force.work == BY_GAS}


def test_a_force_is_in_the_static_answer():
    """The free-body picture's terms are the rows, and add up to the net force."""
    assert set(ForceState._fields) == {"name", "lift", "net", "breakaway", *(force.name for force in FORCES)}
    assert N_ROW == R_FORCES + len(FORCES)
    for state in static_report(shipped_case("hot_start")).forces:
        terms = [getattr(state, force.name) for force in FORCES]
        assert sum(terms) == pytest.approx(state.net, rel=1e-9, abs=1e-6)


def test_a_force_is_on_the_screen():
    from sleevelift.report.static_screen import FORCE_TERMS

    assert {name for name, _ in FORCE_TERMS} >= {force.name for force in FORCES}


def test_traces_of_forces_are_the_balance():
    """opening_force - closing_force is the net force; what opens is the sum of the rows that do."""
    traces = simulate(shipped_case("hot_start")).traces
    assert sum(force.side == OPENS for force in FORCES) == 4
    sliding = traces["mode"] == SLIDING_UP
    assert sliding.any()
    assert np.all(traces["opening_force"][sliding] > 0.0)
