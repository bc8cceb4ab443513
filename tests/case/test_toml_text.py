"""Texts that no case can be: refused in one line and at once, whatever they hold; none that a case can be is."""

import time

import pytest
from sleevelift.case.read import CaseError, case_from_text
from sleevelift.case.toml_text import DEEPEST_NESTING, MOST_VALUES, refused_unparsed, tables_of

AT_ONCE = 10.0
"""s. Each takes under a second on an idle machine; parsed, the first took 96 s and 23 GB."""
N = 100_000
HOSTILE = {
    "dotted key": "a." * N + "b = 1",
    "dotted key of quoted parts": '"a" . ' * (N // 3) + "b = 1",
    "dotted key in mixed quotes": "a.'b'." * (N // 3) + "c = 1",
    "table's name": "[" + "a." * N + "b]",
    "in an inline table": "x = {" + "a." * N + "b = 1}",
    "behind a string that is not closed in its line": 'x = "\n' + "a." * N + "b = 1",
    "behind a comment with a quote": '# """\n' + "a." * N + "b = 1",
    "quotes and backslashes": '"""\\' * N,
    "escaped quotes": '"\\' * N,
    "one word": "a" * 900_000,
    "blanks behind a word": ("a" + " " * 3000) * 300,
    "brackets": "[" * 900_000,
    "inline tables": "a = " + "{a = " * N,
    "values": "".join(f"a{i} = 1\n" for i in range(MOST_VALUES + 1)),
    "tables": "".join(f"[a{i}]\n" for i in range(MOST_VALUES + 1)),
    "list": "x = [" + "1," * 300_000 + "]",
}


@pytest.mark.parametrize("what", sorted(HOSTILE))
def test_hostile_texts_are_refused_at_once(what: str) -> None:
    began = time.perf_counter()
    with pytest.raises(CaseError) as caught:
        case_from_text(HOSTILE[what])
    assert time.perf_counter() - began < AT_ONCE
    assert len(caught.value.lines()) == 1 and len(str(caught.value)) < 300


@pytest.mark.parametrize(
    "text",
    [
        ".".join("abcdefgh"[:DEEPEST_NESTING]) + " = 1",
        'x = """' + "a." * N + '"""\ny = 1',
        "x = '''" + "a.\n" * N + "'''",
        'x = "' + "a." * N + '"',
        "# " + "a." * N + "\nx = 1.5",
        'x = "\\"" # a.b.c.d.e.f.g.h.i.j\ny = 1',
        "x = [1.0, 2.5, 1e-3]\n[a.b]\nc = 1979-05-27T07:32:00.999",
        "x = [" + "1.5, " * (MOST_VALUES - 1) + "]",
    ],
)  # fmt: skip
def test_what_only_looks_so_is_read(text: str) -> None:
    assert refused_unparsed(text) is None and tables_of(text)
