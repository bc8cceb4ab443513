"""A finished run, read back from its folder, compares like the run itself; anything else is refused in one line."""

import json
from pathlib import Path

import numpy as np
import pytest
from sleevelift.case.faults import CaseError
from sleevelift.case.read import load_case, with_values
from sleevelift.case.show import case_rows
from sleevelift.report.files import provenance
from sleevelift.report.result_files import write_results
from sleevelift.run import simulate
from sleevelift.study.compare import compare_study
from sleevelift.study.finished_run import read_run

CASES = Path(__file__).resolve().parents[2] / "cases"


@pytest.fixture(scope="module")
def case():
    return load_case(CASES / "dry_bench.toml")


@pytest.fixture(scope="module")
def folder(case, tmp_path_factory):
    place = tmp_path_factory.mktemp("results") / "before"
    place.mkdir()
    write_results(simulate(case), place, pictures=False)
    return place


def test_what_was_written_is_read(case, folder):
    result, read = simulate(case), read_run(folder)
    assert read.name == "before" and read.sha256 == case.sha256
    assert read.measures == result.measures
    assert read.outcome == result.outcome and read.checks == result.checks
    assert np.array_equal(read.traces["lift"], result.traces["lift"])


def test_a_case_and_its_own_finished_run_do_not_differ(case, folder):
    answer = compare_study([case, read_run(folder)])
    assert answer.header[2:] == ["dry_bench", "before", "before minus dry_bench"]
    assert all(row[4] in (None, 0.0) for row in answer.rows)
    assert answer.data["cases"]["before"]["finished_before"] and not answer.data["cases"]["dry_bench"]["finished_before"]


def test_inputs_that_differ_are_shown(case):
    wider = with_values(case, {"solenoid.fill_orifice": 1.7e-3})
    sheet = compare_study([case, wider]).sheets[0]
    assert sheet.title.startswith("Inputs that differ")
    rows = {row[0]: row[1:] for row in sheet.rows}
    assert set(rows) == {"solenoid.fill_orifice"} and rows["solenoid.fill_orifice"][1] == "1.7 mm"


def test_folders_alone_are_compared_with_their_inputs(case, folder, tmp_path):
    """Two finished folders, no case file: titles, inputs that differ as they were written, pictures, provenance."""
    wider = with_values(case, {"solenoid.fill_orifice": 1.7e-3})
    other = tmp_path / "wider"
    other.mkdir()
    write_results(simulate(wider), other, pictures=False)
    answer = compare_study([read_run(folder), read_run(other)])
    assert answer.case.case.title == case.case.title and answer.case.gas.name == case.gas.name
    assert answer.sheets[0].rows == compare_study([case, wider]).sheets[0].rows
    assert [row[0] for row in answer.sheets[0].rows] == ["solenoid.fill_orifice"]
    assert answer.draw(tmp_path / "compare.png").stat().st_size > 10_000
    assert provenance(answer.case)["case_sha256"] == case.sha256


def test_what_was_kept_of_the_inputs_is_every_value(case, folder):
    kept = {row.path: row for row in read_run(folder).inputs}
    assert list(kept) == [row.path for row in case_rows(case)]
    for row in case_rows(case):
        assert (kept[row.path].si_value, kept[row.path].origin, kept[row.path].range) == (row.si_value, row.origin, row.range)


def test_a_folder_of_an_older_version_says_that_inputs_were_not_kept(case, folder, tmp_path):
    table = json.loads((folder / "result.json").read_text(encoding="utf-8"))
    del table["inputs"]
    (tmp_path / "result.json").write_text(json.dumps(table), encoding="utf-8")
    wider = with_values(case, {"solenoid.fill_orifice": 1.7e-3})
    rows = compare_study([case, wider, read_run(tmp_path)]).sheets[0].rows
    assert [row[3] for row in rows] == ["not kept"]


@pytest.mark.parametrize(
    "content",
    [
        "",
        "[]",
        "nonsense",
        "[" * 100_000,
        json.dumps({"measures": {}}),
        json.dumps({"measures": {"opening_time": "soon"}, "checks": [], "failure": None, "outcome": "", "provenance": {}}),
        json.dumps({"measures": {}, "checks": [3], "failure": None, "outcome": "", "provenance": {"case_sha256": ""}}),
    ],
)
def test_another_file_is_refused(content, tmp_path):
    (tmp_path / "result.json").write_text(content)
    with pytest.raises(CaseError, match="is not what `sleevelift run` leaves"):
        read_run(tmp_path)


def test_an_empty_folder_is_refused(tmp_path):
    with pytest.raises(CaseError, match="result.json.*no such file"):
        read_run(tmp_path)


def test_a_folder_shows_one_run(case, tmp_path):
    """Pictures and page of an earlier run do not stand beside the numbers of a later one; other files stay."""
    for name in ("report.html", "start.png", "mine.png"):
        (tmp_path / name).write_text("earlier", encoding="utf-8")
    written = write_results(simulate(case), tmp_path, pictures=False)
    assert {path.name for path in written.removed} == {"report.html", "start.png"}
    assert {path.name for path in tmp_path.iterdir()} == {"result.json", "traces.csv", "mine.png"}
    assert write_results(simulate(case), tmp_path, pictures=False).removed == []
