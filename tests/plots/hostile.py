"""A case whose title is meant to break what shows it: markup, mathematics, control characters, a long word."""

from functools import lru_cache

from runs import CASES
from sleevelift import load_case
from sleevelift.case.read import case_from_text

HOSTILE = r"<b>$\\frac{1}{0}$ $unclosed_{ % & \u0007\u202e\U0001F680 " + "W" * 100
"""As it stands in the file, between double quotes."""


@lru_cache(maxsize=1)
def hostile_case():
    """The weak battery under that title and a file name of mathematics."""
    path = CASES / "weak_battery.toml"
    title = load_case(path).case.title
    text = path.read_text(encoding="utf-8")
    assert title in text
    return case_from_text(text.replace(title, HOSTILE), "a$b_{c}")
