"""Measured files: what is read, and one line per fault with its row and column."""

import time
from pathlib import Path

import numpy as np
import pytest
from sleevelift import units
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.case.schema_trace import columns_of
from sleevelift.columns import BY_NAME, scale
from sleevelift.measured.trace import TraceError, command_edges, read_trace
from sleevelift.trajectory import UNITS

PSI = 6894.757293168361
"""Pa. 1 lbf/in2, NIST SP 811 (2008), appendix B.8: 6.894 757 E+03, to all digits of the definition."""
BAROMETER = 98000.0


@pytest.fixture
def file(tmp_path):
    def write(text, encoding="utf-8"):
        path = tmp_path / "stand.csv"
        path.write_bytes(text.encode(encoding))
        return path

    return write


def lines_of(path, *columns, **more):
    with pytest.raises(TraceError) as refusal:
        read_trace(path, columns, **more)
    return str(refusal.value).splitlines()


def test_names_and_units_of_the_header(file):
    trace = read_trace(
        file("time [ms],p_lift (psig),Chamber pressure [kPaa],lift [mm]\n0,1,200,0\n2.5,1.5,210,0.25\n"), barometer=BAROMETER
    )
    assert trace.quantities == ("lift_chamber_pressure", "chamber_pressure", "lift")
    lift, chamber, stroke = trace.channels
    assert lift.value == pytest.approx([BAROMETER + PSI, BAROMETER + 1.5 * PSI], rel=1e-12)
    assert chamber.value == pytest.approx([200e3, 210e3], rel=1e-12)
    assert stroke.value == pytest.approx([0.0, 0.25e-3], rel=1e-12) and stroke.time == pytest.approx([0.0, 0.0025], rel=1e-12)


def test_the_barometer_is_what_gauges_count_from(file):
    text = "time [s],tube_pressure [barg]\n0,1\n"
    low, high = (read_trace(file(text), barometer=p).channels[0].value[0] for p in (80000.0, 101325.0))
    assert (low, high) == pytest.approx((180000.0, 201325.0), rel=1e-12)


@pytest.mark.parametrize("unit, kind", [("psig", "pressure"), ("degC", "temperature"), ("mm", "length"), ("mA", "current")])
def test_columns_are_converted_as_single_quantities_are(unit, kind):
    factor, offset = scale(unit, kind, BAROMETER)
    for number in (-3.25, 0.0, 17.5, 4321.0):
        one = units.read_quantity(f"{number} {unit}", kind, BAROMETER).si
        assert number * factor + offset == pytest.approx(one, rel=1e-12)


def test_mapping_names_column_unit_and_quantity(file):
    path = file("t [s],PT-3,PT-4 [bar],PT-5 [bara]\n0,14.5,2,1\n")
    trace = read_trace(path, ["PT-3 [psia]=lift_chamber_pressure", "PT-4 [bara]=tube_pressure", "#4=unused"])
    assert [c.quantity for c in trace.channels] == ["lift_chamber_pressure", "tube_pressure"]
    assert trace.channels[0].value[0] == pytest.approx(14.5 * PSI, rel=1e-9)
    assert trace.channels[1].value[0] == pytest.approx(2e5)


def test_own_traces_are_read_as_absolute(file):
    header = "time [s],command [-],valve_opening [-],tube_pressure [Pa]\n0,0,0,101325\n1,1,1,5e5\n"
    trace = read_trace(file(header), barometer=BAROMETER)
    assert trace.of("tube_pressure")[0].value.tolist() == [101325.0, 5e5]
    assert any("not of a test" in note for note in trace.notes)
    assert "must say from where it is measured" in lines_of(file("time [s],tube_pressure [Pa]\n0,101325\n"))[0]


def test_several_time_columns_each_with_its_own_rate(file):
    path = file("time [ms],lift [mm],time [s],p_tube [bara],p_lift [bara]\n0,0.0,0.0,1,2\n1,0.1,0.01,3,4\n2,0.2,,,\n3,0.3,,,\n")
    trace = read_trace(path)
    lift, tube, chamber = trace.channels
    assert lift.time == pytest.approx([0.0, 1e-3, 2e-3, 3e-3]) and lift.gaps == 0
    for channel in (tube, chamber):
        assert channel.time.tolist() == [0.0, 0.01] and channel.gaps == 2


def test_gaps_comments_units_below_and_decimal_commas(file):
    text = "# INVENTED\n\ntime;p_lift;lift\nms;bara;mm\n0;1,5;\n1;NaN;0,1\n# a remark\n2;-;0,2\n\n3;1,75;0,3\n"
    trace = read_trace(file(text))
    pressure, lift = trace.channels
    assert pressure.value == pytest.approx([1.5e5, 1.75e5]) and pressure.time == pytest.approx([0.0, 3e-3])
    assert lift.value == pytest.approx([0.1e-3, 0.2e-3, 0.3e-3]) and (pressure.gaps, lift.gaps) == (2, 1)
    assert any("Decimal commas" in note for note in trace.notes)


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("closing", ["", "mark"])
def test_separators_and_line_ends(file, mark, end, closing):
    rows = [["time [s]", "lift [mm]", "p_lift [bara]"], ["0", "", "1"], ["1", "2", "3"], ["2", "4", ""]]
    text = end.join(mark.join(row) + (mark if closing and k else "") for k, row in enumerate(rows)) + end
    lift, pressure = read_trace(file(text)).channels
    assert lift.value == pytest.approx([2e-3, 4e-3]) and pressure.value == pytest.approx([1e5, 3e5])


def test_quick_and_line_by_line_reading_agree(file):
    rng = np.random.default_rng(1)
    cells = [[f"{v:.7g}" if rng.random() > 0.1 else "" for v in row] for row in rng.normal(size=(5000, 3))]
    plain = "time [s],lift [mm],p_lift [bara]\n" + "\n".join(f"{k},{a},{b}" for k, (a, b, _) in enumerate(cells)) + "\n"
    quoted = plain.replace("\n17,", '\n"17",').replace("\n4000,", "\n\n4000,")
    for one, other in zip(read_trace(file(plain)).channels, read_trace(file(quoted)).channels):
        assert np.array_equal(one.value, other.value) and np.array_equal(one.time, other.time)


def test_latin_text_and_micro_signs(file):
    path = file("Zeit [\u00b5s],lift [mm]\n0,1\n1000,2\n", "latin-1")
    trace = read_trace(path, ["#1=time"])
    assert trace.channels[0].time == pytest.approx([0.0, 1e-3])


def test_each_fault_has_its_row_and_column(file):
    text = "time [ms],PT-3 [psig],lift [mm]\n0,1,0\n1,OVER,0\n2,1,x1\n1.5,1,0\n3,1\n4,1,0,9\n5,1_0,0\n6,1,0\n"
    lines = lines_of(file(text), "PT-3=lift_chamber_pressure")
    assert lines == [
        'stand.csv row 3, column 2 "PT-3 [psig]": "OVER" is no number',
        'stand.csv row 4, column 3 "lift [mm]": "x1" is no number',
        "stand.csv row 6: has 2 cells; the header has 3",
        "stand.csv row 7: has 4 cells; the header has 3",
        'stand.csv row 8, column 2 "PT-3 [psig]": "1_0" is no number',
        'stand.csv row 5, column 1 "time [ms]": time goes back, from 2 to 1.5',
    ]


def test_decimal_commas_in_a_file_of_commas_are_refused_not_misread(file):
    """2,5 in a file whose separator is a comma is two cells: every such row is named, none is read as 2 and 5."""
    lines = lines_of(file("time [s],lift [mm]\n0,1,5\n1,2,5\n"))
    assert len(lines) == 2 and all("has 3 cells; the header has 2" in line for line in lines)


def test_many_faults_are_capped_and_counted(file):
    text = "time [ms],lift [mm],p_lift [bara]\n" + "".join(f"{k},bad,{'worse' if k < 5 else 1}\n" for k in range(1000))
    lines = lines_of(file(text))
    assert len(lines) == 41 and lines[-1] == 'stand.csv: and 965 more faults: 965 in column 2 "lift [mm]"'


def test_forgiving_takes_what_is_no_number_as_a_gap(file):
    path = file("time [ms],lift [mm]\n0,0\n1,OVER\n2,0.2\n3")
    before = path.read_bytes()
    trace = read_trace(path, forgiving=True)
    assert trace.channels[0].time == pytest.approx([0.0, 2e-3]) and trace.channels[0].gaps == 2
    assert path.read_bytes() == before


@pytest.mark.parametrize(
    "text, columns, words",
    [
        ("", [], "has no header: it is empty"),
        ("0,1\n1,2\n", [], "row 1: is a row of numbers; the first row must name the columns"),
        ("time [s],lift [mm]\n", [], "row 1: nothing follows the header"),
        ("lift [mm]\n1\n", [], "row 1: no column holds the time"),
        ("time [s],PT-9 [bar]\n0,1\n", [], "row 1: no column is known"),
        ("time [s],lift\n0,1\n", [], 'row 1, column 2 "lift": has no unit; head it "lift [mm]"'),
        ("time [s],p_lift [bar]\n0,1\n", [], "must say from where it is measured: bara (absolute) or barg"),
        ("time [s],lift [bara]\n0,1\n", [], 'unit "bara" does not measure a length'),
        ("time [s],lift [mm],lift [mm]\n0,1,2\n", [], 'column 3 "lift [mm]": is headed as column 2'),
        ("time [s],lift [mm]\n0,1\n", ["nose=lift"], "--column nose=lift: there is no such column"),
        ("time [s],a [mm],a [mm]\n0,1,2\n", ["a=lift"], "columns #2, #3 are headed so"),
        ("time [s],lift [mm]\n0,\n1,nan\n", [], 'row 1, column 2 "lift [mm]": holds no number at all'),
        ("time [s],lift [mm]\n0,1\n", ["lift=lifts"], "near it: lift"),
        ("time [s],lift [mm]\n0,1\n", ["lift"], "must be like"),
        ("time [s],command [-],cmd [-]\n0,1,1\n", [], "both hold the valve command"),
        ("\x00\x01\x02,\x00\n1,2\n", [], "is no line of a CSV file"),
    ],
)
def test_refusals(file, text, columns, words):
    with pytest.raises(CaseError) as refusal:
        read_trace(file(text), columns)
    assert words in str(refusal.value)


def test_edges_of_a_command_and_of_a_coil_current(file):
    t = np.arange(0.0, 0.1, 0.001)
    command = np.where((t > 0.0205) & (t < 0.0605), 24.0, 0.1)
    current = np.where(t < 0.0205, 0.0, 0.4 * (1.0 - np.exp(-(t - 0.0195) / 0.004)))
    current = np.where(t < 0.0605, current, 0.4 * np.exp(-(t - 0.0605) / 0.006))
    both = "\n".join(f"{a},{b},{c}" for a, b, c in zip(t, command, current))
    on, off = command_edges(read_trace(file(f"time [s],command [V],i_coil [A]\n{both}\n")))
    assert on.on and not off.on
    assert (on.instant, off.instant) == (pytest.approx(0.0205), pytest.approx(0.0605)) and on.uncertainty == pytest.approx(0.0005)
    rise, fall = command_edges(read_trace(file(f"time [s],command [V],i_coil [A]\n{both}\n"), ["command=unused"]))
    assert rise.on and rise.instant == pytest.approx(0.0205)
    assert not fall.on and fall.instant == pytest.approx(0.0605, abs=0.0011)  # 0.9 of the current after 0.63 ms


def test_what_can_be_measured_is_what_a_run_traces():
    """A channel stands against the trace of its name; a coil current has none."""
    assert set(BY_NAME) - set(UNITS) == {"coil_current"}
    for name in set(BY_NAME) & set(UNITS):
        unit = UNITS[name]
        assert BY_NAME[name].kind == "number" if not unit else units.KINDS[BY_NAME[name].kind].si_unit == unit


@pytest.mark.slow
def test_a_million_rows_of_eight_channels_in_ten_seconds(tmp_path):
    path = tmp_path / "long.csv"
    rng = np.random.default_rng(0)
    names = "time [ms],p_supply [psia],p_tube [psig],p_lift [barg],p_ox [bara],p_fuel [bara],p_chamber [kPaa],lift [mm],cmd [V]\n"
    with path.open("w") as out:
        out.write(names)
        for k in range(10):
            t = (np.arange(100_000) + k * 100_000) * 0.01
            np.savetxt(out, np.column_stack([t, rng.normal(30.0, 1.0, (100_000, 8))]), fmt="%.6f", delimiter=",")
    seen = []
    began = time.perf_counter()
    trace = read_trace(path, progress=lambda done, total: seen.append(done / total))
    took = time.perf_counter() - began
    assert trace.rows == 1_000_000 and len(trace.channels) == 8 and seen[-1] == 1.0
    assert took < 10.0, f"{took:.1f} s"


COLUMNS = {"PT-3 [psig]": "lift_chamber_pressure", "PT-4": "tube_pressure", "TC-9": "unused"}


def of_case(columns=COLUMNS):
    """The mappings of a case that carries them."""
    return columns_of(columns)


def test_columns_of_the_case_are_read_with_their_units_and_the_command_line_goes_before(tmp_path):
    """1 psi = 6894.757 Pa (NIST SP 811)."""
    path = tmp_path / "stand.csv"
    path.write_text("time [ms],PT-3,PT-4 [bara]\n" + "".join(f"{k},10,2\n" for k in range(5)))
    trace = read_trace(path, of_case(), barometer=1e5)
    assert trace.of("lift_chamber_pressure")[0].value[0] == pytest.approx(1e5 + 10 * 6894.757, rel=1e-6)
    assert trace.of("tube_pressure")[0].value[0] == pytest.approx(2e5)
    assert any("does not have" in note and "TC-9" in note for note in trace.notes)
    other = read_trace(path, ["PT-4=supply_pressure", *of_case()])
    assert other.quantities == ("lift_chamber_pressure", "supply_pressure")


def test_a_unit_of_the_case_that_is_not_the_file_s_is_refused(tmp_path):
    path = tmp_path / "stand.csv"
    path.write_text("time [ms],PT-3 [bara]\n0,10\n1,10\n")
    with pytest.raises(TraceError, match=r"column 2 .*the file says \[bara\]"):
        read_trace(path, of_case())


def test_a_case_with_columns_that_are_none_is_refused_line_by_line():
    text = (Path(__file__).resolve().parents[2] / "cases" / "dry_bench.toml").read_text()
    table = '[trace.columns]\n"PT-3 [mm]" = "tube_pressure"\n"PT-4" = "tube_pressur"\n"A" = 3\n"PT-1 [barg]" = "supply_pressure"\n'
    with pytest.raises(CaseError) as told:
        case_from_text(text + table)
    lines = str(told.value).splitlines()
    assert len(lines) == 3 and sum("trace.columns" in line for line in lines) == 3, lines
    assert any("does not measure a pressure" in line or "psia" in line or "bara" in line for line in lines)
    assert any("near it: tube_pressure" in line for line in lines)
    good = case_from_text(text + '[trace]\nbarometer = "98 kPaa"\n[trace.columns]\n"PT-1 [barg]" = "supply_pressure"\n')
    assert good.trace.barometer == pytest.approx(98e3) and good.trace.columns == {"PT-1 [barg]": "supply_pressure"}
