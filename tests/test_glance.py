"""What a run says of itself in a shell or a notebook: one screen, whatever its length; measures by name."""

import json
import pickle

import pytest
from runs import shipped
from sleevelift.plant.names import MEASURES
from sleevelift.report.files import json_text

SCREEN_LINES, SCREEN_COLUMNS = 24, 110


@pytest.mark.parametrize("name", ["hot_start", "dry_bench", "late_igniter", "nose_trap", "weak_battery"])
def test_a_result_is_one_screen(name):
    result = shipped(name)
    lines = repr(result).splitlines()
    assert len(lines) <= SCREEN_LINES and max(map(len, lines)) <= SCREEN_COLUMNS
    assert name in lines[0] and result.outcome in lines[0]
    failed = [check.name for check in result.checks if not check.passed]
    assert f"{len(failed)} fail" in repr(result) and (not failed or failed[0] in repr(result))
    html = result._repr_html_()
    assert html.count("<tr>") == html.count("</tr>") > 3 and len(html) < 10_000 and result.outcome in html


def test_the_table_has_every_measure():
    result = shipped("weak_battery")
    rows = result.table()
    assert [row.name for row in rows] == [measure.name for measure in MEASURES]
    for row in rows:
        assert row.value == result.measures[row.name] and row.unit == result.units[row.name]
        assert row.value is not None or result.reasons[row.name] in row.shown
    assert len(repr(rows).splitlines()) == len(MEASURES) and rows._repr_html_().count("<tr>") == len(MEASURES) + 1
    assert next(row for row in shipped("hot_start").table() if row.name == "opening_time").shown == "62.989 ms"


def test_text_of_a_run_is_text_in_a_notebook():
    result = shipped("weak_battery")._replace(outcome="<b>x\x07</b>")
    assert "<b>x" not in result._repr_html_() and "\x07" not in repr(result)


def test_a_measure_that_is_none_names_its_nearest():
    measures = shipped("hot_start").measures
    with pytest.raises(KeyError, match="opening_tme.*nearest: opening_time"):
        measures["opening_tme"]
    with pytest.raises(KeyError, match="all: .*closing_time"):
        measures["%%%"]
    assert measures.get("opening_tme") is None and "opening_tme" not in measures
    assert pickle.loads(pickle.dumps(measures)) == measures and json.loads(json_text(measures)) == json.loads(json.dumps(measures))
