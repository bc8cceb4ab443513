"""What a fit says: one sentence, values with intervals, channels, what the data leave open, the rewritten case."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sleevelift import units
from sleevelift.calibrate.data import TWO_SIDED, Experiment, Number, number_of_run
from sleevelift.calibrate.fit import Fit, Value
from sleevelift.calibrate.judge import NUMBER_OFF, RMS_EXPLAINED, Judged, Stretch
from sleevelift.calibrate.problem import ZERO
from sleevelift.calibrate.runs import first_on
from sleevelift.case.schema import Case
from sleevelift.columns import parted, plain
from sleevelift.plots.fits import Drawn, write_fit
from sleevelift.reader import METRIC, Reader, in_unit
from sleevelift.report.tables import Sheet
from sleevelift.shown import kind_of, practical, together
from sleevelift.study.answer import Answer

LIMITS = (
    "A fit speaks of the tests it was given: of other pressures, temperatures, propellants and wear it knows nothing.",
    "A value that fits is no proof of its cause: another fault that does the same fits as well.",
)


DIFFERENCES = {"pressure": "pressure difference", "temperature": "temperature difference", "time": "time"}
"""Kind of quantity -> kind of a difference of two of them."""


def amount(value: float, kind: str, reader: Reader = METRIC) -> str:
    """A difference of a channel as a person reads it."""
    other = DIFFERENCES.get(kind, kind)
    name = reader.fitting(other, value)
    return f"{float(in_unit(name, other, value)):.3g} {name}".rstrip()


def where(one: Stretch, kind: str, on: float, reader: Reader = METRIC) -> str:
    """A stretch in words; times from the first on command."""
    side = "above" if one.mean > 0.0 else "below"
    begin, end = (one.begin - on) * 1e3, (one.end - on) * 1e3
    return f"{amount(abs(one.mean), kind, reader)} {side} the model from {begin:.4g} to {end:.4g} ms"


def _test(fit: Fit, name: str) -> Experiment:
    return next(test for test in fit.problem.tests if test.name == name)


def _first_on(test: Experiment) -> float:
    return first_on(test.case)


def channel_verdict(fit: Fit, one: Judged) -> str:
    """What is said of a channel."""
    test = _test(fit, one.test)
    kind = next(series.kind for series in test.series if series.header == one.header)
    if one.explained:
        return "explained"
    if not one.stretches:
        return f"not explained: {one.rms:.2g} times its noise is left all over"
    return "not explained: " + "; ".join(where(s, kind, _first_on(test), test.case.reader) for s in one.stretches)


def digits_of(value: Value, more: int = 2) -> int:
    """Digits of a fitted value that its interval lets stand."""
    half = 0.5 * (value.high - value.low)
    size = max(abs(value.fitted), half)
    if not half > 0.0 or not size > 0.0:
        return 4
    return int(np.clip(np.ceil(np.log10(size / half)) + more, 3, 8))


def rounded(value: Value, si: float) -> float:
    """A number of a fitted value, with the digits that its interval lets stand."""
    return float(f"{si:.{digits_of(value, 3)}g}")


def _value_remark(value: Value, ambient: float) -> str:
    free = value.free
    said = []
    if value.beyond is not None:
        said.append(f"at the {value.at_end} end of its range; the data want {free.shown(value.beyond, ambient)}")
    elif value.at_end:
        said.append(f"at the {value.at_end} end of its range")
    if value.open:
        said.append("the data do not determine it")
    if value.unusual:
        low, high = (free.shown(end, ambient) for end in free.usual)
        said.append(f"outside its usual range ({low} to {high})")
    return "; ".join(said)


def sentence(fit: Fit) -> str:
    """The answer in one sentence."""
    bad = [one for one in fit.verdict.channels if not one.explained]
    off = [measure for _, measure, rest in fit.verdict.numbers if abs(rest) >= NUMBER_OFF]
    strange = [value.free.path for value in fit.values if value.unusual]
    count = len(fit.problem.free)
    said = f"{count} value{'s' if count != 1 else ''} fitted: "
    if bad or off:
        names = ", ".join(dict.fromkeys([*[one.header for one in bad], *off]))
        said += f"the model does NOT explain what was measured ({names}): no value that was free mends that"
        if strange:
            said += f", and {', '.join(strange)} leaves its usual range to absorb it"
        return said + "."
    if strange:
        return (
            said
            + f"the model follows what was measured only with {', '.join(strange)} outside its usual range: "
            + "look for a cause it lacks."
        )
    left = [value.free.path for value in fit.values if value.open]
    said += "the model explains what was measured"
    return said + (f"; it does not determine {', '.join(left)}." if left else ".")


def _values_sheet(fit: Fit, ambient: float) -> Sheet:
    names = [test.name for test in fit.problem.tests]
    rows = []
    for value in fit.values:
        free = value.free
        name = free.path if free.owner is None else f"{free.path} ({names[free.owner]})"
        digits = digits_of(value)
        fitted = free.shown(value.fitted, ambient, digits)
        interval = (
            "open" if value.open else f"{free.shown(value.low, ambient, digits)} to {free.shown(value.high, ambient, digits)}"
        )
        rows.append(
            (
                name, free.shown(value.before, ambient), fitted, interval,
                f"{free.shown(free.low, ambient)} to {free.shown(free.high, ambient)} ({free.whence})",
                _value_remark(value, ambient),
            )
        )  # fmt: skip
    return Sheet("Values", ("value", "in the case", "fitted", "90 % interval", "range", "remark"), rows)


def _rms(fit: Fit, p: np.ndarray, test: int, series: int) -> float:
    return float(np.sqrt(np.mean(np.minimum(fit.problem.series_residual(p, test, series) ** 2, 1e8))))


def _channels_sheet(fit: Fit) -> Sheet:
    rows = []
    for one in fit.verdict.channels:
        k = next(i for i, test in enumerate(fit.problem.tests) if test.name == one.test)
        i = next(i for i, series in enumerate(fit.problem.tests[k].series) if series.header == one.header)
        series = fit.problem.tests[k].series[i]
        noise = amount(series.sigma, series.kind, fit.problem.tests[k].case.reader) + ("" if series.known_noise else " (estimated)")
        before = _rms(fit, fit.before, k, i)
        rows.append((one.test, one.header, noise, f"{before:.3g}", f"{one.rms:.3g}", channel_verdict(fit, one)))
    title = (
        f"Channels (misfit: rms over noise, 1 is noise alone, explained up to {RMS_EXPLAINED:g}; times from the first on command)"
    )
    return Sheet(title, ("test", "column", "noise", "misfit before", "after", "verdict"), rows)


def number_text(number: Number, value: float, reader: Reader = METRIC) -> str:
    """A value of a measured number with its unit."""
    if not np.isfinite(value):
        return "did not happen"
    if number.across is not None:
        return reader.text("line force", value)
    return together(practical(number.measure, value, number.unit, reader=reader))


def _wide_text(number: Number, reader: Reader) -> str:
    """Half-width of a number's 90 % interval with its unit."""
    kind = "line force" if number.across is not None else kind_of(number.measure, number.unit)
    return amount(TWO_SIDED * number.sigma, kind, reader)


def _numbers_sheet(fit: Fit) -> Sheet:
    rows = []
    for k, test in enumerate(fit.problem.tests):
        reader = test.case.reader
        for number in test.numbers:
            found = []
            for p in (fit.before, fit.p):
                run = fit.problem.run(p, k) if number.across is None else None
                found.append(number_of_run(test.case, run[0] if run else None, fit.problem.changes(p, k), number))
            off = abs(found[1] - number.value) / number.sigma
            verdict = "explained" if off < NUMBER_OFF else f"not explained: {off:.2g} standard deviations off"
            shown = number_text(number, number.value, reader)
            name = number.measure if number.across is None else f"{number.measure} at {amount(number.across, 'pressure', reader)}"
            rows.append(
                (
                    test.name,
                    name,
                    f"{shown} +- {_wide_text(number, reader)}",
                    *[number_text(number, v, reader) for v in found],
                    verdict,
                )
            )
    return Sheet("Measured numbers (+- 90 %)", ("test", "measure", "measured", "before", "after", "verdict"), rows)


def _sensors_sheet(fit: Fit) -> Sheet:
    rows = []
    for k, one in enumerate(fit.problem.nuisances):
        mine = fit.verdict.intervals[fit.problem.n_free + k]
        test = fit.problem.tests[one.test]
        half = TWO_SIDED * mine.sigma * fit.sensor_size(k)
        if one.what == ZERO:
            kind = test.series[one.series].kind
            found, wide = _signed(fit.sensor(k), kind, test.case.reader), f"+- {amount(half, kind, test.case.reader)}"
        else:
            found, wide = f"{fit.sensor(k):.5g} ms", f"+- {half:.2g} ms"
        rows.append((test.name, one.name, found, "at its end" if mine.at_end else wide))
    title = "Clocks and sensors (first-order lag; zero: shown above what is there), found with the values"
    return Sheet(title, ("test", "what", "found", "90 %"), rows)


def _signed(value: float, kind: str, reader: Reader) -> str:
    return f"{'+' if value >= 0.0 else '-'}{amount(abs(value), kind, reader)}"


def zero_notes(fit: Fit) -> list[str]:
    """What must be said of zeros that were found: what they take over, and whether they are there at rest, as a zero must be."""
    notes = []
    for one in fit.verdict.taken:
        notes.append(
            f"{one.zero} takes over what {one.value} should explain: with the zero held that value's interval is {one.times:.2g} "
            "times narrower. The data do not tell them apart: read the gauge at rest, at a known pressure, and set it right."
        )
    for k, nuisance in enumerate(fit.problem.nuisances):
        if nuisance.what != ZERO:
            continue
        test = fit.problem.tests[nuisance.test]
        series, reader = test.series[nuisance.series], test.case.reader
        sigma = fit.verdict.intervals[fit.problem.n_free + k].sigma * fit.sensor_size(k)
        zero = fit.sensor(k)
        rest = next((one for one in fit.verdict.rests if one.zero == nuisance.name), None)
        if rest is None:
            if abs(zero) > TWO_SIDED * sigma:
                notes.append(
                    f"{nuisance.name}: nothing was measured at rest, before the command, where a zero would show by itself."
                )
            continue
        apart = abs(rest.off - zero)
        if abs(zero) > TWO_SIDED * sigma and apart > max(3.0 * rest.sigma, 0.5 * abs(zero)):
            notes.append(
                f"{nuisance.name}: {_signed(zero, series.kind, reader)} fits best, but at rest it shows "
                f"{_signed(rest.off, series.kind, reader)}: a zero is the same at rest, so this one hides something else."
            )
    if any(one.what == ZERO for one in fit.problem.nuisances):
        notes.append(
            "A zero that is found is taken off what the case must explain: a wrong pressure of the case looks like one, in all its "
            "channels. Zeros are not written into a case: set the gauge right."
        )
    return notes


def notes_of(fit: Fit) -> list[str]:
    """What else must be said."""
    notes = []
    for group in fit.verdict.groups:
        names = f"{', '.join(group.names[:-1])} and {group.names[-1]}"
        if group.wide:
            notes.append(
                f"The data cannot tell apart {names} (correlation {group.correlation:+.3f}): hold one, or measure one by itself."
            )
        else:
            notes.append(f"{names} move together inside their intervals (correlation {group.correlation:+.3f}).")
    for test in fit.problem.tests:
        notes += [f"{test.name}: {text}" for text in test.notes]
        notes += [f"{test.name}: {n.measure}: no uncertainty given, 1 % taken." for n in test.numbers if n.assumed]
    together_text = "; ".join(f"{one.header} {one.together:.3g}" for one in fit.verdict.channels if one.together > 1.5)
    if together_text:
        notes.append(f"Residuals that hang together count so many samples as one, in the intervals too: {together_text}.")
    notes += zero_notes(fit)
    if fit.elsewhere:
        notes.append(f"{fit.elsewhere} of {len(fit.ended)} starts ended elsewhere, with a worse misfit.")
    if not fit.verdict.explained:
        notes.append("Where the model does not explain the data, the intervals are those of its best imitation, not of the truth.")
    return [*notes, *LIMITS]


def _csv(fit: Fit, ambient: float) -> tuple[list[str], list[list[Any]]]:
    header = ["value", "unit", "in the case", "fitted", "low", "high", "range low", "range high", "at end", "outside usual range"]
    rows: list[list[Any]] = []
    for value in fit.values:
        free = value.free
        name = free.path if free.owner is None else f"{free.path}@{fit.problem.tests[free.owner].name}"
        numbers = (value.before, value.fitted, value.low, value.high, free.low, free.high)
        shown = [units.in_unit(v, free.unit, free.kind, ambient) for v in numbers]
        rows.append([name, free.unit, *shown, value.at_end, int(value.unusual)])
    return header, rows


def drawn(fit: Fit) -> list[Drawn]:
    """Every channel for the picture."""
    found = []
    for k, test in enumerate(fit.problem.tests):
        on = _first_on(test)
        for i, one in enumerate(test.series):
            mine = next(c for c in fit.verdict.channels if c.test == test.name and c.header == one.header)
            reader = test.case.reader
            size = float(
                in_unit(reader.column(DIFFERENCES.get(one.kind, one.kind)), DIFFERENCES.get(one.kind, one.kind), one.sigma)
            )
            clock = fit.problem.clock_offset(fit.p, k)
            name = parted(one.header)[0]
            title = name if plain(name) == one.quantity else f"{name} ({one.quantity})"
            found.append(
                Drawn(
                    f"{test.name}: {title}" if len(fit.problem.tests) > 1 else title,
                    reader.column(one.kind) or "-",
                    (one.bins.middle - clock - on) * 1e3,
                    reader.in_column(one.kind, one.value),
                    reader.in_column(one.kind, fit.problem.model(fit.before, k, i)),
                    reader.in_column(one.kind, fit.problem.model(fit.p, k, i)),
                    size,
                    [((s.begin - on) * 1e3, (s.end - on) * 1e3) for s in mine.stretches],
                )  # fmt: skip
            )
    return found


def fit_answer(case: Case, fit: Fit, texts: dict[str, str] | None = None) -> Answer:
    """The whole of what a fit says."""
    ambient = case.ambient.pressure
    said = sentence(fit)
    sheets = [_values_sheet(fit, ambient)]
    if fit.verdict.channels:
        sheets.append(_channels_sheet(fit))
    if fit.verdict.numbers:
        sheets.append(_numbers_sheet(fit))
    if fit.problem.nuisances:
        sheets.append(_sensors_sheet(fit))
    header, rows = _csv(fit, ambient)
    channels = drawn(fit)
    data = {
        "explained": fit.explained,
        "values": [
            {
                "path": v.free.path,
                "unit": units.KINDS[v.free.kind].si_unit,
                "trace": None if v.free.owner is None else fit.problem.tests[v.free.owner].name,
                "before": v.before,
                "fitted": v.fitted,
                "low": v.low,
                "high": v.high,
                "range": [v.free.low, v.free.high],
                "usual": list(v.free.usual),
                "at_end": v.at_end,
                "open": v.open,
                "beyond": v.beyond,
            }
            for v in fit.values
        ],  # fmt: skip
        "channels": [
            {
                "test": c.test,
                "column": c.header,
                "quantity": c.quantity,
                "rms": c.rms,
                "samples_as_one": c.together,
                "explained": c.explained,
                "stretches": [s._asdict() for s in c.stretches],
            }
            for c in fit.verdict.channels
        ],  # fmt: skip
        "numbers": [{"test": t, "measure": m, "standard_deviations_off": r} for t, m, r in fit.verdict.numbers],
        "sensors": [
            {
                "test": fit.problem.tests[n.test].name,
                "what": n.name,
                **(
                    {"si": fit.sensor(k), "sigma_si": i.sigma * fit.sensor_size(k)}
                    if n.what == ZERO
                    else {"ms": fit.sensor(k), "sigma_ms": i.sigma}
                ),
            }
            for k, (n, i) in enumerate(zip(fit.problem.nuisances, fit.verdict.intervals[len(fit.values) :]))
        ],
        "zeros_take_over": [one._asdict() for one in fit.verdict.taken],
        "not_told_apart": [group._asdict() for group in fit.verdict.groups],
        "starts": [{"cost": one.cost, "steps": one.steps} for one in fit.ended],
        "traces": [
            {"test": t.name, "file": t.trace.path.name, "sha256": t.trace.sha256, "rows": t.trace.rows}
            for t in fit.problem.tests
            if t.trace is not None
        ],
    }

    def draw(path: Path) -> Path:
        return write_fit(case, said, channels, path)

    return Answer("fit", case, said, sheets, notes_of(fit), header, rows, data, draw if channels else None, texts or {})


def changes_of(fit: Fit, owner: int | None = None) -> tuple[dict[str, float], dict[str, tuple[float, float]]]:
    """(values, ranges), SI, of the shared values that the data determine, for a case file; with those of one test's own."""
    kept = [value for value in fit.values if value.free.owner in (None, owner) and not value.open]
    values = {value.free.path: rounded(value, value.fitted) for value in kept}
    ranges = {
        value.free.path: (
            min(rounded(value, value.low), values[value.free.path]),
            max(rounded(value, value.high), values[value.free.path]),
        )
        for value in kept
        if value.low < value.high
    }
    return values, ranges


def tests_named(names: Sequence[str]) -> list[str]:
    """The names, those that repeat numbered."""
    return [name if names.count(name) == 1 else f"{name}-{names[: k + 1].count(name)}" for k, name in enumerate(names)]
