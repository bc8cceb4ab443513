"""Run every outside check and show what was expected, by whom, and what the program gives.

    python scripts/evidence.py [--out DIR] [--python PATH]

Runs `tests/published` and the quick comparisons with the independent twin (`tests/reference/test_twin.py`) with pytest.
Each row registers itself (`tests/published/_record.py`). Prints the table and a summary line, and writes DIR/evidence.html
(default results/evidence) with the comparison plots. Exit 1 if a check fails. Needs the package with what its tests
need (`pip install .[test]`)."""

import argparse
import base64
import html
import io
import json
import os
import subprocess
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
VARIABLE = "SLEEVELIFT_EVIDENCE"
"""Environment variable by which the tests are told where to write their rows (`tests/published/_record.py`)."""
AREAS = {
    "a": "Gas properties and critical flow",
    "b": "Restrictions",
    "c": "Filling and blow-down of vessels",
    "d": "Solenoid coil",
    "e": "Springs",
    "f": "Seals",
    "g": "Metal seats",
    "h": "Flow areas, clearances",
    "i": "Friction, impacts, motion",
    "j": "Liquid lines",
    "k": "Combustion",
    "l": "Actuator motion",
    "m": "Force-margin rules",
    "twin": "Whole machine against an independent second formulation",
}
HEADINGS = ("check", "quantity", "source", "expected", "got", "error", "allowed", "")
COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#56b4e9", "#e69f00")
"""Okabe and Ito's colour-blind safe set."""
STYLE = """
body { font: 15px/1.45 system-ui, sans-serif; max-width: 76rem; margin: 2rem auto; padding: 0 1rem; color: #1a1a1a; }
h1 { font-size: 1.5rem; } h2 { font-size: 1.15rem; margin-top: 2.2rem; border-bottom: 1px solid #999; }
table { border-collapse: collapse; width: 100%; font-size: .86rem; }
th, td { text-align: left; padding: .25rem .5rem; border-bottom: 1px solid #ddd; vertical-align: top; }
td.n { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
tr.failed td { background: #fde0d8; } .source { color: #555; } figure { margin: 1.2rem 0; }
img { max-width: 100%; } figcaption { color: #555; }
"""


def run_checks(python: str) -> tuple[int, list[dict]]:
    """(pytest's exit code, every row the tests wrote)."""
    with tempfile.TemporaryDirectory(prefix="evidence-") as place:
        rows = Path(place) / "rows.jsonl"
        rows.touch()
        places = [str(ROOT / "tests" / "published"), str(ROOT / "tests" / "reference" / "test_twin.py")]
        command = [python, "-m", "pytest", *places, "-q", "--no-header", "--tb=short"]
        code = subprocess.run(command, cwd=ROOT, env={**os.environ, VARIABLE: str(rows)}, check=False).returncode
        return code, [json.loads(line) for line in rows.read_text(encoding="utf-8").splitlines()]


def number(value: float) -> str:
    """A number to six digits."""
    return f"{value:.6g}"


def share(value: float) -> str:
    """A relative error in words of its own size."""
    size = abs(value)
    if size < 1e-6:
        return f"{value:.0e}" if size > 0.0 else "0"
    return f"{value:+.2%}" if size >= 5e-5 else f"{value * 1e6:+.0f} ppm"


def cells(row: dict) -> tuple[str, ...]:
    """One row of the table, as text in the order of HEADINGS."""
    unit = "" if row["unit"] == "-" else " " + row["unit"]
    verdict = "held" if row["passed"] else "FAILED"
    if row["kind"] == "bracket":
        expected = f"{number(row['low'])} .. {number(row['high'])}{unit}"
        return row["id"], row["quantity"], row["source"], expected, number(row["got"]), "inside", "bracket", verdict
    if row["kind"] == "stated":
        allowed, verdict = "stated", ""
    else:
        allowed = share(row["allowed"]).lstrip("+")
    return (
        row["id"], row["quantity"], row["source"], number(row["expected"]) + unit, number(row["got"]),
        share(row["error"]), allowed, verdict,
    )  # fmt: skip


def area_of(row: dict) -> str:
    """Area a row belongs to: the first word of its test's file."""
    name = Path(row["test"].split("::")[0]).stem
    return name.removeprefix("test_").split("_")[0]


def printed(rows: list[dict]) -> None:
    """The table on screen."""
    widths = (30, 52, 16, 22, 12, 9, 9, 6)
    print("\n" + "  ".join(name.ljust(width) for name, width in zip(HEADINGS, widths)))
    for row in rows:
        texts = cells(row)
        kind = texts[2].split(":")[0]
        shown = (texts[0], texts[1], kind, *texts[3:])
        print("  ".join(text[:width].ljust(width) for text, width in zip(shown, widths)))


def picture(row: dict) -> str:
    """A comparison plot as the source of an image."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    figure, axes = plt.subplots(figsize=(7.6, 4.2), layout="constrained")
    for (name, (x, y)), colour in zip(row["curves"].items(), COLOURS):
        axes.plot(x, y, color=colour, label=name)
    for (name, (x, y)), marker in zip(row["points"].items(), "ovs^"):
        axes.plot(x, y, marker, color="black", markerfacecolor="none", label=name)
    axes.set(xlabel=row["x_label"], ylabel=row["y_label"], title=row["title"])
    axes.set_ylim(bottom=0.0)
    axes.grid(alpha=0.3)
    axes.legend(frameon=False)
    store = io.BytesIO()
    figure.savefig(store, format="png", dpi=110)
    plt.close(figure)
    return "data:image/png;base64," + base64.b64encode(store.getvalue()).decode()


def table(rows: list[dict]) -> str:
    """HTML table of one area."""
    lines = ["<table><tr>" + "".join(f"<th>{name}</th>" for name in HEADINGS) + "</tr>"]
    for row in rows:
        texts = [html.escape(text) for text in cells(row)]
        classes = ("", "", "source", "n", "n", "n", "n", "")
        inside = "".join(f'<td class="{kind}">{text}</td>' for kind, text in zip(classes, texts))
        lines.append(f'<tr class="{"" if row["passed"] else "failed"}">{inside}</tr>')
    return "\n".join([*lines, "</table>"])


def further(tests: list[dict]) -> str:
    """HTML list of the tests of one area, in their own words."""
    items = []
    for row in tests:
        name = row["test"].split("::", 1)[1]
        says = html.escape(row["says"].split("\n\n")[0])
        items.append(f"<li><code>{html.escape(name)}</code> {html.escape(row['outcome'])}. {says}</li>")
    return f"<details><summary>{len(items)} tests in full</summary><ul>{''.join(items)}</ul></details>"


def page(rows: list[dict], plots: list[dict], tests: list[dict], line: str) -> str:
    """The whole HTML page."""
    parts = [
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>Outside checks</title><style>{STYLE}</style>',
        f"<h1>Outside checks</h1><p>{html.escape(line)}</p>",
        "<p>Every row calls the program and compares it with a number from outside it: <em>published</em>, "
        "<em>computed</em> with a general-purpose library, a <em>closed form</em>, <em>measured</em>, or from memory, "
        "which is said; or a <em>second formulation</em> of the same model, independent of the program. "
        "Rows marked <em>stated</em> are measured data with unknown inputs: "
        "their error is shown as it is "
        "and nothing is asserted. No opening or closing of a valve of this kind has been checked against hardware.</p>",
    ]
    for letter, title in AREAS.items():
        mine = [row for row in rows if area_of(row) == letter]
        parts += [f"<h2>{html.escape(title)}</h2>", table(mine)]
        for plot in plots:
            if area_of(plot) == letter:
                words = html.escape(plot["title"])
                parts.append(f'<figure><img alt="{words}" src="{picture(plot)}"></figure>')
        full = [row for row in tests if area_of(row) == letter]
        parts += [further(full)] if full else []
    return "\n".join(parts)


def summary(rows: list[dict], tests: list[dict]) -> str:
    """One line for the README."""
    checked = [row for row in rows if row["kind"] != "stated"]
    failed = sum(not row["passed"] for row in checked)
    kinds = ("published", "computed", "closed form", "measured", "from memory", "second formulation")
    counts = {kind: sum(row["source"].startswith(kind) for row in checked) for kind in kinds}
    parts = ", ".join(f"{count} {kind}" for kind, count in counts.items() if count)
    stated = len(rows) - len(checked)
    skipped = sum(row["outcome"] == "skipped" for row in tests)
    missed = f"; {skipped} tests skipped for want of a library" if skipped else ""
    day = datetime.now(UTC).date().isoformat()
    return f"{len(checked) - failed} of {len(checked)} outside checks held ({parts}); {stated} more "
    f"stated without a bound{missed}; {day}"


def main() -> int:
    """Run, print, write."""
    parser = argparse.ArgumentParser(description=("Run every outside check and write the table of what was expected and got."))
    parser.add_argument("--out", type=Path, default=ROOT / "results" / "evidence", help="folder of evidence.html")
    parser.add_argument("--python", default=sys.executable, help=("interpreter that has the package and its tests' needs"))
    given = parser.parse_args()
    code, lines = run_checks(given.python)
    rows = [row for row in lines if row["kind"] in ("value", "bracket", "stated")]
    rows.sort(key=area_of)
    plots = [row for row in lines if row["kind"] == "plot"]
    tests = [row for row in lines if row["kind"] == "test"]
    line = summary(rows, tests)
    printed(rows)
    given.out.mkdir(parents=True, exist_ok=True)
    temporary = given.out / "evidence.html.part"
    temporary.write_text(page(rows, plots, tests, line), encoding="utf-8")
    temporary.replace(given.out / "evidence.html")
    print(f"\n{line}\nwritten: {given.out / 'evidence.html'}")
    return 1 if code != 0 else 0


if __name__ == "__main__":
    sys.exit(main())
