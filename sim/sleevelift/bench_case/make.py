"""A bench case made, run, and held against the hot case.

made(text, hot, wishes)  ->  Answer          pressures from static margins
proved(text, hot, wishes)  ->  (Answer, run of the bench case)      raised until the run opens, within the ratings
"""

from typing import Any

from sleevelift.bench_case.answer import DRY, Answer, Wishes
from sleevelift.bench_case.cold_flow import cold_flow
from sleevelift.bench_case.dry import dry
from sleevelift.bench_case.gas import opening
from sleevelift.bench_case.gas_flow import INERT, gas_flow
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.liquids import LiquidError
from sleevelift.case.schema import Case
from sleevelift.case.tabled_liquids import names
from sleevelift.result import Result
from sleevelift.run import simulate
from sleevelift.slips import FUELS, OXIDIZERS

USUAL_MARGIN = 0.10
"""-. Least opening and full-lift margin of a bench where the hot case's own is larger (common practice, no source)."""
STEP, TRIES = 0.05, 8
"""By how much more margin is asked for, and how often, where a run does not open with what the static margins gave."""


def usual_margin(hot: Case) -> float:
    """The margin that a bench is given: that of the hot case, between its own limit and USUAL_MARGIN."""
    return max(hot.limits.margin_at_least, 0.0, min(USUAL_MARGIN, opening(hot)))


def refuse(hot: Case, wishes: Wishes) -> None:
    """CaseError with every reason why no bench case can be made of these."""
    faults = []
    if hot.case.kind != "hot":
        rule = f"is a {hot.case.kind} case: a bench case is made of a hot one"
        faults.append(Fault((), f"{hot.name}.toml {rule}"))
    plain, gas = _plain(wishes.fluid), plain_name(wishes.fluid)
    if gas in ADMITTED and gas not in INERT:
        faults.append(Fault((), f"--fluid {wishes.fluid}: burns or feeds a fire; an inert gas is one of {', '.join(INERT)}"))
    elif gas not in ADMITTED and any(plain.startswith(name) for name in (*OXIDIZERS, *FUELS, *map(_plain, names()))):
        faults.append(
            Fault((), f"--fluid {wishes.fluid}: is a propellant, which one of the two sides must never see; water or an inert gas")
        )
    for option, value in (("--fuel-side", wishes.fuel_side), ("--back-pressure", wishes.back_pressure)):
        if value is not None and value < hot.ambient.pressure:
            faults.append(Fault((), f"{option}: must be at least the ambient pressure of the case"))
    if wishes.fuel_side is not None and not (wishes.kind == DRY or gas in ADMITTED):
        faults.append(Fault((), "--fuel-side: belongs to --kind dry, or to a gas as --fluid"))
    if wishes.back_pressure is not None and (wishes.kind == DRY or gas in ADMITTED):
        faults.append(Fault((), "--back-pressure: belongs to --kind cold-flow with a liquid"))
    if faults:
        raise CaseError(faults, "bench-case")


def _plain(name: str) -> str:
    """A name without signs."""
    return "".join(letter for letter in name.lower() if letter.isalnum())


def made(text: str, hot: Case, wishes: Wishes) -> Answer:
    """The bench case. CaseError where the wishes do not make one."""
    refuse(hot, wishes)
    if wishes.kind == DRY:
        return dry(text, hot, wishes)
    if plain_name(wishes.fluid) in ADMITTED:
        return gas_flow(text, hot, wishes)
    try:
        return cold_flow(text, hot, wishes)
    except LiquidError as error:
        at = hot.reader.text("temperature", hot.ambient.temperature)
        raise CaseError([Fault((), f"--fluid {wishes.fluid} at {at}: {error.rule.said(hot.reader)}")], "bench-case") from None


def proved(text: str, hot: Case, wishes: Wishes) -> tuple[Answer, Result | None]:
    """The bench case and its run; with more margin where the run's first pulse does not reach full lift."""
    answer, result = made(text, hot, wishes), None
    for step in range(1, TRIES + 1):
        if answer.case is None:
            break
        result = simulate(answer.case, with_traces=False)
        if result.measures["opening_time"] is not None or not hot.solenoid.on:
            break
        more = made(text, hot, wishes._replace(margin=wishes.margin + step * STEP, least=wishes.least + step * STEP))
        if more.case is None:
            break
        answer = more
    return answer, result


def rows(hot: Result, bench: Result) -> list[tuple[str, Any, Any]]:
    """(measure, hot, bench) of what a bench is compared by."""
    return [(name, hot.measures[name], bench.measures[name]) for name in COMPARED if name in hot.measures]


COMPARED = (
    "valve_delay", "fill_delay", "travel_time", "opening_time", "breakaway_pressure", "stop_impact_speed",
    "release_delay", "vent_delay", "return_time", "closing_time", "seat_impact_speed", "oxidizer_lead",
    "steady_oxidizer_flow", "steady_fuel_flow", "peak_oxidizer_manifold", "peak_fuel_manifold", "stored_gas_energy",
)  # fmt: skip
"""Measures that stand side by side."""
