"""A hundred fuzzed case files, read and, where they are valid, run: nothing may break (`scripts/fuzz.py`, which runs more)."""

import importlib.util
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SPEC = importlib.util.spec_from_file_location("fuzz", ROOT / "scripts" / "fuzz.py")
assert SPEC is not None and SPEC.loader is not None
fuzz = importlib.util.module_from_spec(SPEC)
SPEC.loader.exec_module(fuzz)

TEXTS = [path.read_text(encoding="utf-8") for path in sorted((ROOT / "cases").glob("*.toml"))]
A_SEED = 77


@pytest.mark.parametrize("first", range(0, 100, 10))
def test_mangled_files_are_refused_with_a_place_or_run_to_an_outcome(first):
    for number in range(first, first + 10):
        what, detail = fuzz.one(1_000_003 * A_SEED + number, TEXTS)
        assert what not in ("broken", "failed"), f"text {number}: {detail}"
