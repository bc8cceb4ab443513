"""Mixture ratio over start and stop: flows, their ratio against the stoichiometric one, and what is in the chamber unburned."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.plots.studies import panels, study_page
from sleevelift.plots.style import ALARM, DASH_DOT, DASHED, FUEL, GOOD, INK, OXIDIZER, SMALL, legend_above, look, panel_title

LEAST, MOST = 0.05, 50.0
"""-. Mixture ratios that are drawn, times the stoichiometric one: what is beyond is one propellant alone."""
KEY = "shaded: rich in oxidizer; hatched: and lit (red line: light-off); at an edge of the axis one propellant is alone"
AWAY = 1.25
"""-. Factor by which the mixture ratio has left what it was."""
BEFORE = 0.15
"""-. Share of a stretch shown before it and behind it."""
LIT, RICH = "#f3d9d6", "#dbe8f5"


def _turns_away(facts: Mapping[str, Any], traces: Mapping[str, np.ndarray]) -> float:
    """Instant, s, from which the mixture ratio of the flows is no more what it was as the stop began; inf: it stays."""
    t, o, f = (traces[name] for name in ("time", "oxidizer_flow", "fuel_flow"))
    before = [float(np.interp(facts["stop"], t, flow)) for flow in (o, f)]
    if min(before) <= 0.0:
        return float("inf")
    ratio = np.divide(o, f, out=np.zeros(len(t)), where=f > 0.0) * before[1] / before[0]
    away = np.flatnonzero((t > facts["stop"]) & ((ratio < 1.0 / AWAY) | (ratio > AWAY)))
    return float(t[away[0]]) if len(away) else float("inf")


def _span(facts: Mapping[str, Any], traces: Mapping[str, np.ndarray], stop: bool) -> tuple[float, float] | None:
    """Stretch of the run that a panel shows, s: start or stop of its first pulse."""
    own = [one for one in facts["stretches"] if one["begin"] < facts["end"]]
    if not own or (stop and facts["stop"] is None):
        return None
    if stop:
        later = [one for one in own if one["end"] > facts["stop"]]
        if not later:
            return None
        turns = [one["begin"] for one in later if one["begin"] > facts["stop"]]
        begin, end = min([*turns, _turns_away(facts, traces), later[-1]["end"]]), later[-1]["end"]
        reach = max(end - begin, 2e-3)
        return begin - 0.5 * reach, end + BEFORE * reach
    begin, end = own[0]["begin"], max(facts["steady"], own[0]["begin"] + 2e-3)
    return begin - BEFORE * (end - begin), end + BEFORE * (end - begin)


def _burns(traces: Mapping[str, np.ndarray]) -> list[tuple[float, float]]:
    """Stretches, s, in which the chamber is lit."""
    t, lit = traces["time"], np.concatenate([[False], traces.get("lit", np.zeros(len(traces["time"]))) > 0.5, [False]])
    begins, ends = np.flatnonzero(lit[1:-1] & ~lit[:-2]), np.flatnonzero(lit[1:-1] & ~lit[2:])
    return list(zip(t[begins].tolist(), t[ends].tolist()))


def _shade(ax: Any, traces: Mapping[str, np.ndarray], facts: Mapping[str, Any]) -> None:
    """Shade where the flows are rich in oxidizer, hatched where the chamber is lit as well."""
    origin, burns = facts["origin"], _burns(traces)
    for one in facts["stretches"]:
        if one["kind"] not in ("oxidizer alone", "oxidizer-rich"):
            continue
        ax.axvspan(1e3 * (one["begin"] - origin), 1e3 * (one["end"] - origin), facecolor=RICH, linewidth=0.0, zorder=0.3)
        for begin, end in burns:
            both = [1e3 * (max(begin, one["begin"]) - origin), 1e3 * (min(end, one["end"]) - origin)]
            if both[0] < both[1]:
                ax.axvspan(*both, facecolor=LIT, edgecolor=ALARM, hatch="///", linewidth=0.0, zorder=0.4)


def _ratio_panel(ax: Any, traces: Mapping[str, np.ndarray], facts: Mapping[str, Any], title: str) -> None:
    """O/F of the flows and of what is unburned, on a logarithmic axis."""
    from matplotlib.ticker import FuncFormatter

    ratio, origin, t = facts["stoichiometric"], facts["origin"], 1e3 * (traces["time"] - facts["origin"])

    def of(over: np.ndarray, under: np.ndarray, least: float) -> np.ndarray:
        value = np.divide(over, under, out=np.full(len(over), MOST * ratio), where=under > 0.0)
        return np.where((over > least) | (under > least), np.clip(value, LEAST * ratio, MOST * ratio), np.nan)

    handles = ax.plot(t, of(traces["oxidizer_flow"], traces["fuel_flow"], min(facts["levels"])), color=INK, label="flows")
    if "unburned_oxidizer" in traces:
        held = of(traces["unburned_oxidizer"], traces["unburned_fuel"], 1e-7)
        handles += ax.plot(t, held, color=GOOD, linestyle=DASH_DOT, label="unburned in the chamber")
    line = ax.axhline(ratio, color=ALARM, linestyle=DASHED, linewidth=1.1, label=f"stoichiometric, {ratio:.3g}")
    _shade(ax, traces, facts)
    ax.set_yscale("log")
    ax.set_ylim(0.8 * LEAST * ratio, 1.25 * MOST * ratio)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.set_ylabel("O/F [-]")
    ax.set_xlabel("time after the first on command [ms]")
    if facts["light_off"] is not None:
        ax.axvline(1e3 * (facts["light_off"] - origin), color=ALARM, linewidth=0.9)
    panel_title(ax, title)
    legend_above(ax, [*handles, line])


def write_mixture(case: Case, answer: str, result: Any, facts: Mapping[str, Any], path: Path) -> Path:
    """Flows at the start, mixture ratio at start and stop; rich in oxidizer shaded, lit as well hatched."""
    traces, origin = result.traces, facts["origin"]
    spans = [_span(facts, traces, stop) for stop in (False, False, True)]
    read = case.reader.in_column
    with look():
        page, top = study_page(case, "Mixture ratio", answer)
        page.text(
            24.0,
            top + 1.0,
            KEY,
            SMALL,
        )
        flows, start, stop = panels(page, top + 4.0, 3)
        t = 1e3 * (traces["time"] - origin)
        handles = flows.plot(t, read("flow", traces["oxidizer_flow"]), color=OXIDIZER, label="oxidizer")
        handles += flows.plot(t, read("flow", traces["fuel_flow"]), color=FUEL, linestyle=DASHED, label="fuel")
        scaled = read("flow", facts["stoichiometric"] * traces["fuel_flow"])
        handles += flows.plot(t, scaled, color=ALARM, linestyle=(0, (1.5, 1.5)), linewidth=1.0, label="oxidizer that would burn it")
        _shade(flows, traces, facts)
        flows.set_ylabel(f"flow into the chamber [{case.reader.column('flow')}]")
        flows.set_xlabel("time after the first on command [ms]")
        panel_title(flows, "Flows, start")
        legend_above(flows, handles)
        _ratio_panel(start, traces, facts, "Mixture ratio, start")
        _ratio_panel(stop, traces, facts, "Mixture ratio, stop")
        for ax, span in zip((flows, start, stop), spans):
            if span is not None:
                ax.set_xlim(1e3 * (span[0] - origin), 1e3 * (span[1] - origin))
        return page.save(path)
