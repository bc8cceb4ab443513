"""Tables on narrow screens: on a pseudo-terminal of any width every number of every command stands there whole."""

import os
import re
import struct
import subprocess
import sys
from pathlib import Path

import pytest
import sleevelift
from rich.text import Text
from runs import CASES
from sleevelift.report.tables import Column, lines_of, wrapped

SIM = Path(sleevelift.__file__).resolve().parents[1]
HOT, DRY = str(CASES / "hot_start.toml"), str(CASES / "dry_bench.toml")
ORIFICE = "solenoid.fill_orifice="
COMMANDS = (
    ("check", HOT),
    ("check", DRY),
    ("show", HOT),
    ("run", HOT, DRY, "--no-pictures", "--timeline", "--out", "runs"),
    ("map", HOT, "--vary", ORIFICE + "drills:1mm:1.1mm", "--of", "opening_time", "--of", "full_lift_margin", "--out", "map"),
    ("scatter", HOT, "--n", "8", "--out", "scatter"),
    ("faults", HOT, "--out", "faults"),
    ("window", HOT, "--n", "8", "--out", "window"),
    ("compare", DRY, str(CASES / "dry_interlock.toml"), "runs/dry_bench", "--out", "compare"),
    ("choose", DRY, "--for", "opening_time<=90ms", "--move", ORIFICE + "drills:1mm:1.1mm", "--points", "8", "--out", "choose"),
)
SCRIPT = f"""
import sleevelift.study.answer as answer
from sleevelift.cli import app
answer.written = lambda *_: ([], None)
for arguments in {COMMANDS!r}:
    print("=====", arguments[0], flush=True)
    app(list(arguments), standalone_mode=False)
"""
"""Every command that prints a table, in one process; files of studies are not written."""
NUMBER = re.compile(r"(?<![\w.])[+-]?\d+(?:\.\d+)?(?:e[+-]\d+)?(?![\w.])")
LEAST_WIDTH = 60
ENOUGH = 600


def on_terminal(width: int, folder: Path) -> str:
    """What the commands print on a terminal of so many columns."""
    import fcntl
    import pty
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 50, width, 0, 0))
    surroundings = {**os.environ, "PYTHONPATH": str(SIM), "PYTHONSAFEPATH": "1", "TERM": "xterm", "NO_COLOR": "1"}
    surroundings.pop("COLUMNS", None)
    with subprocess.Popen(
        [sys.executable, "-c", SCRIPT], cwd=folder, env=surroundings, stdin=theirs, stdout=theirs, stderr=subprocess.DEVNULL
    ) as child:
        os.close(theirs)
        parts = []
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            parts.append(part)
        os.close(ours)
        assert child.wait(ENOUGH) == 0
    return re.sub(r"\x1b\[[0-9;?]*[A-Za-z]", "", b"".join(parts).decode()).replace("\r\n", "\n")


def by_command(text: str) -> list[str]:
    """What each command printed."""
    return text.split("===== ")[1:]


@pytest.fixture(scope="module")
def wide(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """The same on a screen where nothing has to give way."""
    pytest.importorskip("pty")
    return by_command(on_terminal(260, tmp_path_factory.mktemp("wide")))


@pytest.mark.parametrize("width", [60, 80, 100, 140])
def test_no_number_is_cut_on_a_terminal(width: int, wide: list[str], tmp_path: Path) -> None:
    told = by_command(on_terminal(width, tmp_path))
    assert len(told) == len(wide) == len(COMMANDS)
    for narrow, whole in zip(told, wide):
        assert set(NUMBER.findall(narrow)) == set(NUMBER.findall(whole)), narrow[:20]
        assert max(map(len, narrow.split("\n"))) <= width, narrow[:20]
        assert "\u2026" not in narrow


def test_a_row_gives_way_in_order() -> None:
    """Headings break, then what explains goes below, then columns go below: at each width each number stands whole."""
    columns = [Column("name"), Column("value", "right"), Column("its limit", "right"), Column("words", explains=True)]
    rows = [("opening_time", "26.05", "1234.5678", "from the command to full lift, at 12.5 mm")]
    for width in range(24, 100):
        lines = [line.plain for line in lines_of(columns, rows, width)]
        assert all(len(line) <= width for line in lines), width
        for number in ("26.05", "1234.5678", "12.5 mm"):
            assert any(number in line for line in lines), (width, number)
    assert len(lines_of(columns, rows, 99)) == 2
    assert [line.plain for line in lines_of(columns, rows, 40)] == [
        "name          value  its limit",
        "opening_time  26.05  1234.5678",
        "    from the command to full lift, at",
        "    12.5 mm",
    ]


def test_styles_and_breaks() -> None:
    lines = lines_of([Column(""), Column("", "right")], [(Text("a", style="bold"), "1")], 20)
    assert str(lines[0].spans[0].style) == "bold"
    assert wrapped("solenoid.fill_orifice = 1.25 mm", 12) == ["solenoid.", "fill_orifice", "= 1.25 mm"]
    assert wrapped("1234567890.5", 4) == ["1234567890.5"]
