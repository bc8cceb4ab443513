"""The last steps of every bench case: faults that fit, gas pressure, relief valve, head, and reading what was written."""

import math

from sleevelift import units
from sleevelift.bench_case import strip, words
from sleevelift.bench_case.answer import DRY, Answer, Wishes
from sleevelift.bench_case.document import Document, moved
from sleevelift.bench_case.feeds import inlet_of
from sleevelift.bench_case.gas import GasPressure, gas_pressure, relief_setting, supply_path, with_supply
from sleevelift.case.read import case_from_text
from sleevelift.case.schema import Case
from sleevelift.case.toml_text import tables_of
from sleevelift.case.walk import value_at

PRESSURE_UNIT = "bara"
"""Of a pressure that the case does not give."""


def finished(document: Document, hot: Case, wishes: Wishes, said: list[str], missing: list[str], told: words.Told) -> Answer:
    """The case with its gas pressure set, or what stands in the way."""
    said = [*strip.sequence_out(document, hot), *said]
    gone = strip.faults_that_fit(document, hot.name)
    case = case_from_text(document.text(""), hot.name).read_in(hot.reader.name)
    found = gas_pressure(case, wishes.margin, wishes.least, *_written(document, case))
    said, missing = [*said, _pressure_words(found, hot, wishes)], [*missing]
    raised = found.value is not None and found.value > found.hot
    relief = None
    if found.value is None:
        missing += _no_pressure(found, hot, wishes)
    elif raised:
        relief = _set_gas(document, case, found.value)
    if relief is not None:
        said.append(f"The relief valve of the supply line is set to {hot.reader.text('pressure', relief)}.")
    if gone:
        said.append(f"Faults to try that this case cannot have are left out: {'; '.join(gone)}.")
    cautions = words.cautions(hot, told.wets, raised, relief is not None)
    if missing:
        return Answer(None, None, document.changes, said, missing, told.tells, told.cannot, cautions)
    text = document.text(_head(hot, said, told, cautions))
    assert tables_of(text) == document.tables, "what is written is what was meant"
    return Answer(
        text, case_from_text(text, hot.name).read_in(hot.reader.name), document.changes, said, [], told.tells, told.cannot, cautions
    )


def _first(raw: object) -> object:
    """The first entry of a list, the value itself of anything else."""
    return raw[0] if isinstance(raw, list) and raw else raw


def _written(document: Document, case: Case) -> tuple[float, float]:
    """(Pa per unit, Pa absolute where it counts from) of the supply's pressure as the case gives it."""
    raw = _first(document.get(supply_path(case)))
    text = raw.get("value") if isinstance(raw, dict) else raw
    name = units.parts(text, "pressure")[1] if isinstance(text, str) else PRESSURE_UNIT
    return units.NAMED_UNITS[name[:-1]].factor, case.ambient.pressure if name.endswith("g") else 0.0


def _set_gas(document: Document, case: Case, pressure: float) -> float | None:
    """Write the supply's pressure, Pa absolute, and the relief valve's setting where that must move; the latter."""
    path, why = supply_path(case), "gas alone (or with less fuel pressure) must open it here; within the rated pressures given"
    raw = document.get(path)
    if isinstance(raw, list):
        entries = value_at(with_supply(case, pressure), path)
        document.put(path, [moved(old, si, "pressure", case.ambient.pressure, PRESSURE_UNIT) for old, si in zip(raw, entries)], why)
    else:
        document.move(path, pressure, "pressure", why, PRESSURE_UNIT)
    relief = relief_setting(case, pressure)
    if relief is not None:
        relief = float(f"{relief - 0.5 * 10.0 ** (math.floor(math.log10(relief)) - 2):.3g}")  # three digits, never above the rating
        document.move(
            "supply.relief_pressure", relief, "pressure", "above the bench's supply, within the rated pressures", PRESSURE_UNIT
        )
    return relief


def _pressure_words(found: GasPressure, hot: Case, wishes: Wishes) -> str:
    """What the gas pressure is and why."""
    if found.value is None:
        return f"Actuation pressure: none fits; the hot case has {hot.reader.text('pressure', found.hot)}."
    kept = "as in the hot case" if found.value == found.hot else f"the hot case has {hot.reader.text('pressure', found.hot)}"
    return (
        f"Actuation pressure {hot.reader.text('pressure', found.value)} ({kept}): opening and full-lift margin are at least "
        f"{found.margin:+.0%} over the stated "
        f"ranges, wanted {wishes.margin:+.0%}; allowed up to {hot.reader.text('pressure', found.highest)} ({found.limit})."
    )


def _no_pressure(found: GasPressure, hot: Case, wishes: Wishes) -> list[str]:
    """Why no gas pressure fits, and what would free it."""
    wanted = f"opening and full-lift margin of {wishes.margin:+.0%}"
    if found.needed is None:
        return [
            f"No gas pressure in the gas tables gives {wanted}: friction grows with it as fast as the lift force, or "
            f"the areas are wrong."
        ]
    out = [
        f"{wanted} needs {hot.reader.text('pressure', found.needed)} of actuation gas; allowed are "
        f"{hot.reader.text('pressure', found.highest)} ({found.limit}), which gives "
        f"{found.margin:+.0%}."
    ]
    if hot.fuel is not None and wishes.kind == DRY and wishes.fuel_side is None:
        out.append(_with_fuel_side(hot))
    if "no rated pressure" in found.limit:
        out.append("Give the rated pressures that are missing, from datasheet or drawing, in [limits] of the hot case.")
    elif not wishes.kind == "dry":
        out.append("--like inlet keeps the hot feed pressures, whose fuel helps to open; or --back-pressure.")
    out.append(
        "A softer spring for the bench, or parts with a higher rating, free it too. No pressure above a rating is fit for any test."
    )
    return out


def _with_fuel_side(hot: Case) -> str:
    """What inert gas on the fuel side would do."""
    assert hot.fuel is not None, "a hot case has fuel"
    rating, text = hot.limits.fuel_manifold_rated_pressure, hot.reader.text
    rated = f"up to the rated {text('pressure', rating)}" if rating is not None else "no more without a rated pressure"
    usual = text("pressure", inlet_of(hot.fuel))
    return f'With inert gas on the fuel side less is needed: --fuel-side "{usual}" is the hot feed\'s own pressure ({rated}).'


def _head(hot: Case, said: list[str], told: words.Told, cautions: tuple[str, ...]) -> str:
    """The head of the case file."""
    lines = [f"{told.title} of {hot.name}, made by sleevelift bench-case. Changed numbers are marked BENCH."]
    lines += [f"CAUTION: {text}" for text in cautions]
    lines += said
    lines += [f"Tells: {text}." for text in told.tells]
    lines += [f"Does not tell: {text}." for text in told.cannot]
    return "\n".join(f"# {part}" for text in lines for part in strip.wrapped(text))
