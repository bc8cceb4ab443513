"""What `choose` says: the sentence, designs side by side, slacks, chances, costs, and the new case files."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.case.walk import own_value
from sleevelift.plant.names import NAMES
from sleevelift.plots.choice import write_choice
from sleevelift.shown import in_column, screen_unit
from sleevelift.study.answer import Answer, Sheet
from sleevelift.study.judge import Design, Found, given_up
from sleevelift.study.odds import chance_text
from sleevelift.study.rewrite import rewritten
from sleevelift.study.spring_moves import weaker_strength, wound_anew
from sleevelift.study.targets import Target
from sleevelift.study.values import Axis, kind_of, number, size_name
from sleevelift.units import KINDS, in_unit

COSTS = (
    "opening_time", "closing_time", "stop_impact_speed", "seat_impact_speed", "oxidizer_lead", "hard_start_pressure",
    "peak_oxidizer_manifold", "peak_fuel_manifold", "steady_oxidizer_flow", "steady_fuel_flow", "opening_margin",
    "full_lift_margin", "no_fuel_margin", "fuel_loss_margin", "closing_margin", "closing_margin_unlit", "surge_margin",
    "sealing_load", "gas_per_cycle",
)  # fmt: skip
"""Measures shown beside the targets: what a design costs elsewhere."""
AT_END = 1e-3
"""-. Share of a range within which a value counts as standing at its end."""
DIGITS = 6
LISTED = 5
"""Failed runs listed on screen; all are in the JSON."""
FOLLOW_KINDS = ("length", "mass")
"""Kinds in the reader's units, on screen, of what follows from the moves; others are SI for the metric reader."""


def binding(design: Design, targets: Sequence[Target]) -> list[str]:
    """The two of least slack: of the designer's targets and of whatever else is missed."""
    own = {target.text for target in targets}
    counted = [name for name, slack in design.slacks.items() if name in own or slack < 0.0]
    return sorted(counted, key=lambda name: design.slacks[name])[:2]


def value_text(axis: Axis, si: float, ambient: float) -> str:
    """A moved value with its unit and the name of its size."""
    return f"{number(float(axis.shown(si, ambient)), DIGITS)} {axis.unit}".strip() + size_name(axis, si, ambient)


def design_text(design: Design, axes: Sequence[Axis], ambient: float) -> str:
    """The values of a design, with units and names of sizes."""
    return ", ".join(f"{axis.path} {value_text(axis, design.values[axis.path], ambient)}" for axis in axes)


def at_ends(design: Design, axes: Sequence[Axis]) -> list[str]:
    """Moved values that stand at an end of their range."""
    out = []
    for axis in axes:
        low, high = float(axis.values[0]), float(axis.values[-1])
        near = AT_END * (high - low)
        if min(design.values[axis.path] - low, high - design.values[axis.path]) <= near:
            out.append(axis.path)
    return out


def sentence_of(found: Found, targets: Sequence[Target], axes: Sequence[Axis], ambient: float) -> str:
    """The best design and how many hold, or the nearest one and what binds."""
    best = found.shown[0]
    pair = binding(best, targets)
    what = design_text(best, axes, ambient)
    if found.holds:
        count = f"{len(found.shown)} distinct designs hold" if len(found.shown) > 1 else "no other distinct design does"
        return (
            f"{what} holds all targets at {found.confirm_points} points of the stated ranges, with {100 * best.slack:.3g} % of the "
            f"scale to spare ({pair[0]} binds); {count}."
        )
    if best.refusal is not None:
        return f"No design could be run; the first refusal: {best.refusal}"
    missed = sum(slack < 0.0 for slack in best.slacks.values())
    return (
        f"No design holds all targets over the stated ranges; the best, {what}, misses {missed} of {len(best.slacks)} by at most "
        f"{-100 * best.slack:.3g} % of the scale; {' and '.join(pair)} bind{'s' if len(pair) == 1 else ''}."
        + given_up_text(found, axes, ambient)
    )


def _follow_rows(case: Case, listed: Sequence[Design]) -> list[tuple[str, ...]]:
    paths = list(dict.fromkeys(path for design in listed for path in design.follows))
    rows = []
    for path in paths:
        kind = kind_of(case, path)
        customary = kind in FOLLOW_KINDS or case.reader.name == "inch"
        unit = "" if kind == "number" else case.reader.unit(kind) if customary else KINDS[kind].si_unit
        cells = []
        for design in listed:
            value = design.follows.get(path, own_value(case, path))
            cells.append(number(in_unit(value, unit, kind, case.ambient.pressure), DIGITS))
        rows.append((f"{path} [{unit or '-'}], follows", *cells))
    return rows


def odds_text(design: Design, name: str) -> str:
    """A chance with its interval, and whether the worst case over the ranges holds."""
    if name not in design.odds:
        return "-"
    return f"{chance_text(design.odds[name])}; {'yes' if holds_at_worst(design, name) else 'no'}"


def holds_at_worst(design: Design, name: str) -> bool:
    """Whether it holds at every judged point, its margins the worst over the ranges."""
    return design.slacks.get(name, 0.0) >= 0.0


def given_up_text(found: Found, axes: Sequence[Axis], ambient: float) -> str:
    """What the nearest design gives up of what the case as written holds, and what keeping it costs; empty if nothing."""
    lost = given_up(found.shown[0], found.own)
    if not lost:
        return ""
    said = f" It gives up {', '.join(lost)}, which the case as written holds"
    if len(found.shown) < 2:
        return f"{said}; no other design found keeps all that the case holds."
    keeper = found.shown[1]
    missed = [name for name, slack in keeper.slacks.items() if slack < 0.0]
    return (
        f"{said}; the nearest that gives up nothing, {design_text(keeper, axes, ambient)}, misses {' and '.join(missed)} by at "
        f"most {-100 * keeper.slack:.3g} % of the scale."
    )


def _cell(axis: Axis, design: Design, ambient: float) -> str:
    si = design.values[axis.path]
    return number(float(axis.shown(si, ambient)), DIGITS) + size_name(axis, si, ambient)


def sheets_of(case: Case, targets: Sequence[Target], axes: Sequence[Axis], found: Found) -> list[Sheet]:
    """Designs, slacks, chances and costs side by side, the case as written last."""
    listed, ambient = [*found.shown, found.own], case.ambient.pressure
    columns = ("", *[f"design {i + 1}" for i in range(len(found.shown))], "case as written")
    values = [(f"{axis.path} [{axis.unit or '-'}]", *[_cell(axis, design, ambient) for design in listed]) for axis in axes]
    names = list(dict.fromkeys(name for design in listed for name in design.slacks))
    slacks = [(name, *[f"{d.slacks[name]:+.3f}" if name in d.slacks else "held" for d in listed]) for name in names]
    own = {target.text for target in targets}
    shares = [
        (name, *[odds_text(design, name) for design in listed])
        for name in dict.fromkeys(name for design in listed for name in design.odds)
        if name in own or any(not holds_at_worst(d, name) or (name in d.odds and d.odds[name].share < 1.0) for d in listed)
    ]  # fmt: skip
    wanted = [n for n in NAMES if n in {t.measure for t in targets} or n in COSTS]
    costs = [(f"{n} [{screen_unit(n, case.reader) or '-'}]", *[in_column(n, d.measures[n], case.reader) for d in listed])
             for n in wanted if any(np.isfinite(d.measures[n]) for d in listed)]  # fmt: skip
    sheets = [
        Sheet("Designs", columns, [*values, *_follow_rows(case, listed)]),
        Sheet("Slack of each target, worst over the points (0 just holds)", columns, slacks),
        Sheet("What each costs (nominal)", columns, costs),
    ]
    if shares:
        runs = max(odds.runs for design in listed for odds in design.odds.values())
        title = f"Chance that each target holds, of {runs} points of their own values (95 % interval); holds in the worst case?"
        sheets.insert(2, Sheet(title, columns, shares))
    return sheets


def notes_of(case: Case, axes: Sequence[Axis], found: Found, failures: Sequence[dict[str, Any]], seed: int) -> list[str]:
    """How it was found, what was rejected, what failed."""
    notes = [
        f"{len(found.screened)} designs searched at {found.screen_points} points each (nominal, all ranges low, all high, Latin "
        f"hypercube), finalists confirmed at {found.confirm_points}; {found.runs} runs, seed {seed}.",
        "Slack 1 is a whole scale to spare: width of a band, size of a limit, at least 0.1 for a ratio. A check that the case as "
        "written passes must not be lost; to spare in it counts for nothing.",
    ]
    if found.own.odds:
        notes.append(
            "Chances count scattered points with the margins of their own values, as scatter does, each ranged value uniform over "
            "its range. The worst case takes nominal, both ends and every point with margins the worst over the ranges."
        )
    else:
        notes.append("No value carries a range: nothing to scatter, so no chances.")
    if found.rejected:
        notes.append(f"{found.rejected} candidates held in the search and not in the confirmation.")
    ends = at_ends(found.shown[0], axes)
    if ends:
        notes.append(f"At the end of its range: {', '.join(ends)}. A wider range may give a better design.")
    if wound_anew(axis.path for axis in axes):
        wire = found.shown[0].complete.get("spring.wire_diameter", case.spring.wire_diameter)
        strength = weaker_strength(case.spring.shear_modulus, float(wire or np.nan))
        notes.append(
            "The spring is wound anew: length seated and end coils as in the case, free length follows; index, gaps and stress at "
            f"solid length after EN 13906-1 with a tensile strength of {case.reader.text('stress', strength)}."
        )
    refusals = [design for design in found.screened if design.refusal is not None]
    if refusals:
        notes.append(f"{len(refusals)} designs make no case; the first: {refusals[0].refusal}")
    if failures:
        notes.append(f"{len(failures)} runs failed or did not come to their end (all are in the JSON); such a design misses:")
        notes += [f"  {one['sentence']} [{one['design']}]" for one in failures[:LISTED]]
    else:
        notes.append("Every run came to its end.")
    return notes


def choice_answer(case: Case, text: str, targets: Sequence[Target], axes: Sequence[Axis], found: Found, seed: int) -> Answer:
    """The answer of `choose`. `text`: the case file, rewritten for each design shown."""
    shown = found.shown
    sentence = sentence_of(found, targets, axes, case.ambient.pressure)
    failures = [one for design in [*shown, found.own, *found.screened] for one in design.failures]
    si_units = [KINDS[axis.kind].si_unit for axis in axes]
    header = [*[f"{axis.path} [{unit or '-'}]" for axis, unit in zip(axes, si_units)], "worst slack [-]",
              *[f"slack {target.text} [-]" for target in targets], "refused"]  # fmt: skip
    rows = [[*d.values.values(), d.slack, *[d.slacks[t.text] for t in targets], d.refusal or ""] for d in found.screened]
    word = "chosen" if found.holds else "nearest"
    texts = {
        f"{case.name}-{word}{f'-{i + 1}' if i else ''}.toml": rewritten(text, case, design.complete)
        for i, design in enumerate(shown) if design.refusal is None
    }  # fmt: skip

    def draw(path: Path) -> Any:
        return write_choice(case, sentence, axes, targets, found, path)

    data = {
        "targets": list(targets), "moves": [axis.path for axis in axes], "holds": found.holds, "designs": shown,
        "case_as_written": found.own, "binding": binding(shown[0], targets), "chances": [design.odds for design in shown],
        "worst_case": [{name: holds_at_worst(design, name) for name in design.odds} for design in shown],
        "given_up": [given_up(design, found.own) for design in shown],
        "seed": seed, "designs_searched": len(found.screened), "search_points": found.screen_points,
        "confirm_points": found.confirm_points, "rejected": found.rejected, "runs": found.runs, "failed_runs": failures,
    }  # fmt: skip
    sheets, notes = sheets_of(case, targets, axes, found), notes_of(case, axes, found, failures, seed)
    return Answer("choose", case, sentence, sheets, notes, header, rows, data, draw, texts)
