"""Any text at all is a case or a CaseError: never another exception, never a hang, every line printable."""

import random

import pytest
from case_texts import CASES
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sleevelift.case.read import CaseError, case_from_text
from sleevelift.case.schema import Case
from sleevelift.case.show import case_rows

TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(CASES.glob("*.toml"))}
HOSTILE = (
    "nan", "inf", "-inf", "0", "-1", "1e308", "-1e308", "1e-320", "9" * 400, "true", "[]", "{}", '""', '"x 3"',
    "1979-05-27", '"nan mm"', '"1e308 m"', '"-5 bara"', '"0 mm"', '"0 bara"', '"1 bar"', '"5 K"', '"1e9 mm"',
    '"1e-30 mm"', '"7 kg"', "[[]]", '"\\u0000"', '"\\u202e"', '"' + "9" * 200 + ' mm"', "[[[[[[[[[[1]]]]]]]]]]",
    '{ value = "1 mm", plus_minus = "1e300 %" }', "{ value = { value = 1 } }", "[1, 'a', {}]", '["1 s", "1 s"]',
    '["2 s", "1 s"]', "{ kv = 0.0 }", "{ a.b.c.d = 1 }", '"Ethanol"', '"__proto__"', "0x7fffffffffffffff", "1_000",
    '{ value = "5 bara", low = "1 bara", high = "9 bara" }',
)  # fmt: skip


def loads_or_refuses(text: str) -> Case | None:
    """The case, or None where it is refused in printable lines of sane length."""
    try:
        case = case_from_text(text)
    except CaseError as error:
        assert error.faults
        for line in str(error).splitlines():
            assert line.isprintable()
            assert len(line) < 2000
        return None
    case_rows(case)
    return case


def fuzzed(text: str, seed: int) -> str:
    """The text with one to four lines changed: a hostile value, a key gone, twice or misspelt, letters changed."""
    chance = random.Random(seed)
    lines = text.splitlines()
    for _ in range(chance.randint(1, 4)):
        at = chance.randrange(len(lines))
        line = lines[at]
        what = chance.randrange(8)
        if what <= 3 and "=" in line:
            lines[at] = f"{line.split('=')[0]}= {chance.choice(HOSTILE)}"
        elif what == 4:
            del lines[at]
        elif what == 5:
            lines.insert(chance.randrange(len(lines)), line)
        elif what == 6 and line:
            place = chance.randrange(len(line))
            lines[at] = line[:place] + chance.choice('x"[]={}.\\#\x07\u00e9 9-') + line[place + 1 :]
        else:
            lines.insert(at, f"extra_{chance.randrange(9)} = {chance.choice(HOSTILE)}")
    return "\n".join(lines)


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(TEXTS)), st.integers(0, 2**32))
def test_mangled_cases(name: str, seed: int) -> None:
    loads_or_refuses(fuzzed(TEXTS[name], seed))


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=300))
def test_any_text(text: str) -> None:
    assert loads_or_refuses(text) is None


TOML_VALUES = st.recursive(
    st.one_of(st.booleans(), st.integers(), st.floats(), st.text(max_size=10), st.dates()),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=5), inner, max_size=3)),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(st.data(), st.sampled_from(sorted(TEXTS)))
def test_any_value_at_any_key(data: st.DataObject, name: str) -> None:
    """A typed value of any kind in the place of any other, below the text of TOML."""
    import tomllib

    from sleevelift.case import read

    raw = tomllib.loads(TEXTS[name])
    table = data.draw(st.sampled_from(sorted(raw)))
    if isinstance(raw[table], dict) and data.draw(st.booleans()):
        raw[table][data.draw(st.sampled_from(sorted(raw[table])))] = data.draw(TOML_VALUES)
    else:
        raw[table] = data.draw(TOML_VALUES)
    original = read.tables_of
    read.tables_of = lambda text: raw  # type: ignore[assignment]
    try:
        loads_or_refuses(TEXTS[name])
    finally:
        read.tables_of = original


@pytest.mark.parametrize("value", HOSTILE, ids=lambda value: value[:20])
@pytest.mark.parametrize("name", ["hot_start", "weak_battery", "priming_surge"])
def test_each_hostile_value_at_each_key(name: str, value: str) -> None:
    """Exhaustive for three cases: every key, one after the other."""
    lines = TEXTS[name].splitlines()
    for at, line in enumerate(lines):
        if "=" in line and not line.startswith("#") and not line.endswith("["):
            changed = [*lines[:at], f"{line.split('=')[0]}= {value}", *lines[at + 1 :]]
            loads_or_refuses("\n".join(changed))
