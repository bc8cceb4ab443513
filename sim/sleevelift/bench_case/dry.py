"""The dry bench case of a hot case: the actuation alone, at a gas pressure that opens it without fuel's help."""

from sleevelift.bench_case import strip, words
from sleevelift.bench_case.answer import Answer, Wishes
from sleevelift.bench_case.document import Document
from sleevelift.bench_case.feeds import inlet_of
from sleevelift.bench_case.finish import PRESSURE_UNIT, finished
from sleevelift.case.schema import Case


def dry(text: str, hot: Case, wishes: Wishes) -> Answer:
    """The dry bench case of a hot case's text."""
    document = Document(text, hot.ambient.pressure)
    told = words.DRY if wishes.fuel_side is None else words.HELPED
    said = to_dry(document, hot, told.title)
    missing = fuel_side(document, hot, wishes.fuel_side)
    return finished(document, hot, wishes, said, missing, told)


def to_dry(document: Document, hot: Case, title: str) -> list[str]:
    """Take out what a dry case has not; what that moved to ambient, in words."""
    strip.title(document, "dry", title)
    strip.combustion_out(document)
    strip.propellants_out(document)
    document.drop("bench.back_pressure", "nothing is discharged")
    return strip.at_ambient(document, hot)


def fuel_side(document: Document, hot: Case, pressure: float | None) -> list[str]:
    """Set the pressure on the fuel side, Pa absolute (None: open); what stands against it."""
    if pressure is None:
        document.put("bench.fuel_side_pressure", "0 barg", "the fuel side is open, no fuel helps to open")
        return []
    assert hot.fuel is not None, "a hot case has fuel"
    text, rating, usual = hot.reader.text, hot.limits.fuel_manifold_rated_pressure, inlet_of(hot.fuel)
    given = f"{text('pressure', pressure)} on the fuel side"
    if rating is None and pressure > usual:
        why = "[limits] gives no fuel_manifold_rated_pressure, so nothing above the hot feed's own"
        return [f"{given}: {why} {text('pressure', usual)} is named as fit."]
    if rating is not None and pressure > rating:
        return [f"{given}: above the rated pressure of the fuel manifold, {text('pressure', rating)}."]
    document.move("bench.fuel_side_pressure", pressure, "pressure", "inert gas where fuel pushes in the hot case", PRESSURE_UNIT)
    return []
