"""Barriers between fluids as tables of words (title, columns, rows), for screen and page alike."""

from sleevelift.barriers import Barriers
from sleevelift.report.tables import Sheet

NOT_GIVEN = "not given"
"""What stands where a case does not say where a vent ends."""
NONE_BETWEEN = "nothing"


def seals_text(seals: tuple[str, ...]) -> str:
    """Seals on a way, each named."""
    return ", ".join(seals) if seals else NONE_BETWEEN


def barrier_sheets(found: Barriers) -> list[Sheet]:
    """Where fluids can meet, how each gets out, and where vents end."""
    meetings = [
        (" and ".join(m.fluids), m.place, str(len(m.seals)), seals_text(m.seals), ", ".join(m.vents) or "none")
        for m in found.meetings
    ]
    ways = [(e.fluid, str(len(e.seals)), seals_text(e.seals), ", ".join(e.way[1:])) for e in found.escapes]
    vents = [(v.name, v.space, v.when, v.ends or NOT_GIVEN) for v in found.vents]
    sheets = [
        Sheet("Barriers: where two fluids can meet, and the seals that part them there",
              ("fluids", "meet in", "seals", "which", "open ways out there and on the way"), meetings),
        Sheet("Shortest way of each fluid to the outside", ("fluid", "seals", "which", "through"), ways),
        Sheet("Where vents end", ("vent", "of", "open", "ends"), vents),
    ]  # fmt: skip
    return [sheet for sheet in sheets if sheet.rows]
