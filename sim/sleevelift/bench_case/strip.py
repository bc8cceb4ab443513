"""What a bench case leaves out of the hot case, and what stands at ambient on a bench."""

import textwrap

from sleevelift.bench_case.document import LINE, Document
from sleevelift.case.faults import CaseError
from sleevelift.case.read import case_from_text
from sleevelift.case.schema import Case

NEAR_AMBIENT = 20.0
"""K. A temperature this near to ambient is left as it is."""
LONGEST_TITLE = 200
"""letters of a title."""
OF_THE_HOT_START = (
    ("limits.opening_time_at_most", "a limit of the hot start; here the valve opens at other pressures, in another time"),
    ("limits.closing_time_at_most", "a limit of the hot stop; here nothing but spring and friction sets the time"),
    ("limits.oxidizer_lead_at_least", "a rule of the hot start; the lead on a bench is another"),
    ("limits.steady_flow_band", "of the hot case's rated flows"),
)
OF_FLOWS = (
    ("limits.manifold_pressure_at_most", "no propellant side in a dry case"),
    ("limits.oxidizer_manifold_rated_pressure", "no propellant side in a dry case"),
    ("limits.fuel_manifold_rated_pressure", "no propellant side in a dry case"),
)
COLD_PLACES = (
    "lift_chamber.wall_temperature",
    "lift_chamber.temperature",
    "spring_side.wall_temperature",
    "spring_side.temperature",
)
SEALS = ("post", "rod", "piston", "flange")


def title(document: Document, kind: str, words: str) -> None:
    """Title, kind and note of the bench case."""
    before = str(document.get("case.title"))
    document.put("case.title", f"{words}: {before}"[:LONGEST_TITLE], "a bench case of that valve")
    document.put("case.kind", kind, "no fire")
    document.put(
        "case.note",
        "A bench case: the head of this file says what it tells and what it does not.",
        "the hot case's note was of the hot test",
    )


def wrapped(text: str) -> list[str]:
    """A paragraph in lines of a case file's comment."""
    return textwrap.wrap(text, LINE - 4, subsequent_indent="  ", break_long_words=False)


def combustion_out(document: Document) -> None:
    """Chamber, igniter and the limits of a hot start."""
    document.drop("chamber", "no combustion on this bench")
    document.drop("igniter", "nothing to light")
    document.drop("run.count_pool_before_command", "no chamber to burn a pool in")
    for path, why in OF_THE_HOT_START:
        document.drop(path, why)


def sequence_out(document: Document, hot: Case) -> list[str]:
    """A sequence, which may wait for what a bench has not (light-off, a chamber's pressure), becomes the instants that it came to
    in the hot run; what was done, in words."""
    if hot.sequence is None:
        return []
    from sleevelift.run import simulate

    pulses = simulate(hot, with_traces=False).pulses
    for key, measure in (("on", "energize_time"), ("off", "deenergize_time")):
        found = [pulse.measures[measure] for pulse in pulses]
        instants = sorted({instant for instant in found if instant is not None})
        document.put(f"solenoid.{key}", [f"{instant:.6g} s" for instant in instants], "what the sequence came to in the hot run")
    document.drop("sequence", "its steps wait for parts and readings that this bench has not")
    return ["The sequence is left out: the solenoid valve is switched at the instants that it came to in the hot run."]


def propellants_out(document: Document) -> None:
    """Feeds and slots of a dry case."""
    for path, why in (
        ("oxidizer", "a dry bench has no propellants"),
        ("fuel", "a dry bench has no propellants"),
        ("slots", "a dry bench has no propellants; the slots stay where they are in the metal"),
        ("run.pressurised_before_command", "nothing stands at the closed valve"),
        *OF_FLOWS,
    ):
        document.drop(path, why)


def at_ambient(document: Document, case: Case) -> list[str]:
    """Temperatures that the hot case gives for cold or warm parts, taken out; which, in words."""
    ambient, moved = case.ambient.temperature, []
    for path in COLD_PLACES:
        table, key = path.split(".")
        value = getattr(getattr(case, table), key)
        if document.get(path) is not None and abs(value - ambient) > NEAR_AMBIENT:
            document.drop(path, "on the bench at ambient temperature, the default")
            moved.append(path)
    for seal in SEALS:
        part = getattr(case.seals, seal)
        given = getattr(part, "gland_temperature", None)
        if given is not None and abs(given - ambient) > NEAR_AMBIENT:
            document.drop(f"seals.{seal}.gland_temperature", "on the bench at ambient temperature, the default")
            moved.append(f"seals.{seal}.gland_temperature")
    return [f"{', '.join(moved)}: at ambient temperature on the bench."] if moved else []


def cold_sides(case: Case) -> list[tuple[str, float]]:
    """(side, temperature K) of propellants far from ambient."""
    ambient = case.ambient.temperature
    sides = (("oxidizer", case.oxidizer), ("fuel", case.fuel))
    return [(name, side.temperature) for name, side in sides if side is not None and abs(side.temperature - ambient) > NEAR_AMBIENT]


def faults_that_fit(document: Document, name: str) -> list[str]:
    """Faults to try that this case cannot have are taken out; their names."""
    entries = document.get("faults")
    if not entries:
        return []
    kept, gone = [], []
    for entry in entries:
        document.tables["faults"] = [entry]
        try:
            case_from_text(document.text(""), name)
            kept.append(entry)
        except CaseError:
            gone.append(str(entry.get("name", "")))
    document.tables["faults"] = kept
    if not kept:
        del document.tables["faults"]
    return gone
