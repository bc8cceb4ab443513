"""The page of a run: well formed, answer first, nothing of a case read as markup."""

import base64
import re
from html import escape
from html.parser import HTMLParser

import pytest
from hostile import hostile_case
from runs import shipped
from sleevelift import simulate
from sleevelift.barriers import NOT_LOOKED_AT, warning
from sleevelift.case.show import case_rows
from sleevelift.plant.names import MEASURES
from sleevelift.plots import PICTURES
from sleevelift.plots.words import words_of
from sleevelift.report.page import write_page


class Reader(HTMLParser):
    """Checks that elements nest, and gathers names and text."""

    VOID = frozenset({"meta", "img", "br"})

    def __init__(self):
        super().__init__()
        self.open, self.names, self.words, self.sources = [], set(), [], []

    def handle_starttag(self, tag, attrs):
        self.names.add(tag)
        self.sources += [value for key, value in attrs if key in ("src", "href")]
        assert not any(key.startswith("on") for key, _ in attrs)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        if "style" not in self.open:
            self.words.append(data)


def read(path):
    reader = Reader()
    reader.feed(path.read_text(encoding="utf-8"))
    reader.close()
    assert not reader.open
    return reader, " ".join(reader.words)


@pytest.mark.parametrize("name", ["hot_start", "dry_bench", "cold_flow", "weak_battery", "nose_trap", "late_igniter"])
def test_the_page_is_whole(name, tmp_path):
    result = shipped(name)
    path = write_page(result, tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["report.html"]
    reader, words = read(path)
    assert "script" not in reader.names and not reader.sources, "no picture is there, so none is shown"
    for measure in MEASURES:
        assert words_of(measure.name) in words
    for name, reason in result.reasons.items():
        assert reason in words, name
    for check in result.checks:
        assert check.advice in words
    for event in result.timeline:
        assert event.what in words
    assert result.case.sha256 in words and "INVENTED" in words and "no permission to test" in words
    assert "nan" not in re.findall(r"[a-z]+", words.lower())


def test_the_answer_stands_before_the_tables(tmp_path):
    _, words = read(write_page(shipped("late_igniter"), tmp_path))
    first = words.index("Measures")
    for part in ("It opens on command", "opening time", "light-off lag", "Failed checks", "hard start pressure"):
        assert words.index(part) < first


def test_joined_propellants_are_the_top_line_of_the_page(tmp_path):
    result = shipped("late_igniter")
    said = warning(result.case)
    _, words = read(write_page(result, tmp_path))
    assert said in words and words.index(said) < words.index("opening time")
    assert "Barriers between fluids" in words and NOT_LOOKED_AT in words


def test_pictures_beside_the_page_are_inside_it(tmp_path):
    """The page alone, sent by mail, shows them: their bytes are in it, and it names no other file."""
    contents = [b"first" * 100, b"second" * 100]
    for name, content in zip(PICTURES, contents):
        (tmp_path / name).write_bytes(content)
    reader, _ = read(write_page(shipped("dry_bench"), tmp_path))
    heads = [source.split(",")[0] for source in reader.sources]
    assert heads == ["data:image/png;base64"] * 2
    assert [base64.b64decode(source.split(",")[1]) for source in reader.sources] == contents


@pytest.mark.parametrize("name", ["hot_start", "dry_bench"])
def test_every_input_stands_on_the_page_with_its_origin(name, tmp_path):
    result = shipped(name)
    text = write_page(result, tmp_path).read_text(encoding="utf-8")
    inputs = text[text.index(">Inputs<") :]
    for row in case_rows(result.case):
        found = re.search(rf"<tr><td>{row.path.split('.')[-1]}</td>.*?</tr>", inputs)
        assert found is not None, row.path
    for path, origin in (("spring.preload", "given"), ("run.tolerance", "default"), ("spring.rate", None)):
        row = next(row for row in case_rows(result.case) if row.path == path)
        key = path.split(".")[1]
        written = escape(row.user_value)
        assert re.search(
            rf"<td>{key}</td><td[^>]*>{re.escape(written)}</td><td[^>]*>[^<]*</td><td[^>]*>{origin or row.origin}</td>", inputs
        )


def test_text_of_a_case_is_text(tmp_path):
    path = write_page(simulate(hostile_case()), tmp_path)
    reader, words = read(path)
    assert "<b>$" in words, "the reader turns the escaped title back into what the user wrote"
    assert "<b>$" not in path.read_text(encoding="utf-8")
    assert "\x07" not in words and "\u202e" not in words
    assert reader.names <= set(
        "html head meta title style body header section footer div p h1 h2 h3 ul li b span br table thead tbody tr th td".split()
    )


def test_verdicts_and_units_are_kept_on_one_line(tmp_path):
    """Their cells are of the class that the style does not wrap; numbers and their headings end at the same edge."""
    text = write_page(shipped("late_igniter"), tmp_path).read_text(encoding="utf-8")
    style, body = text.split("</style>")
    assert re.search(r"\.whole\{[^}]*white-space:nowrap", style)
    verdicts = re.findall(r"<td([^>]*)><b class=\"(?:good|alarm)\">(?:passed|FAILED)</b></td>", body)
    assert len(verdicts) > 10 and set(verdicts) == {' data-of="verdict" class="whole"'}
    assert set(re.findall(r"<td([^>]*)>bara</td>", body)) == {' data-of="unit" class="whole"'}
    assert set(re.findall(r"<th([^>]*)>(?:value|limit)</th>", body)) == {' class="n"'}
