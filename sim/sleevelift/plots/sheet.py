"""What every page carries: title, case, INVENTED label, the answer in words, the caution at the foot."""

from collections.abc import Sequence

from sleevelift.plots.style import ALARM, FAINT, GOOD, HEIGHT, INK, INVENTED_BADGE, LARGE, LINE, NORMAL, SMALL, TITLE, WIDTH, Page
from sleevelift.plots.words import CAUTION, KIND_WORDS, plain_text
from sleevelift.result import Result

LEFT, RIGHT = 20.0, 191.0
"""mm. Where axes begin and end; their labels stand outside."""
MARGIN = 9.0
"""mm. Edge of the page that stays white."""
FOOT = HEIGHT - 7.5
"""mm. Top of the caution."""


def sheet(result: Result, what: str, lines: Sequence[tuple[str, str]]) -> tuple[Page, float]:
    """(page with head and foot, top of what follows, mm). `lines`: text of the answer, "plain", "good" or "alarm"."""
    page = Page()
    case = result.case
    top = MARGIN
    page.text(MARGIN, top, what, TITLE, weight="bold")
    if case.case.invented:
        page.text(
            WIDTH - MARGIN - 1.0, top + 0.8, "INVENTED: nobody's hardware", NORMAL,
            ha="right", weight="bold", color=ALARM, box=INVENTED_BADGE,
        )  # fmt: skip
    top += 7.5
    top = page.paragraph(MARGIN, top, WIDTH - 2 * MARGIN, case.case.title, LARGE, most=2)
    kind = f"{KIND_WORDS[case.case.kind]}, case {plain_text(case.name, 60)}, {case.gas.name}"
    page.text(MARGIN, top, kind, SMALL, color=FAINT)
    top += LINE + 0.6
    colours = {"plain": INK, "good": GOOD, "alarm": ALARM}
    for text, tone in lines:
        if text:
            look = {"color": colours[tone], "weight": "normal" if tone == "plain" else "bold"}
            top = page.paragraph(MARGIN, top, WIDTH - 2 * MARGIN, text, NORMAL, most=3, **look)
    page.text(WIDTH / 2.0, FOOT, CAUTION, SMALL, ha="center", color=FAINT)
    return page, top + 0.5


def failed_line(failed: Sequence[str]) -> tuple[str, str]:
    """The line that names the failed checks."""
    if not failed:
        return "Checks: all passed.", "good"
    return f"Failed checks ({len(failed)}): {', '.join(failed)}.", "alarm"


def empty_note(page: Page, top: float, text: str) -> None:
    """A sentence where there is nothing to draw."""
    page.paragraph(LEFT, top + 6.0, RIGHT - LEFT, text, LARGE, most=8)
