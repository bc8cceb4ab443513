"""The igniter's window as a test card has it: four instants after the first on command, and whether the setting holds."""

from typing import Any

from sleevelift.case.schema import Case
from sleevelift.shown import milliseconds as ms
from sleevelift.stand.abort import IgniterTimes
from sleevelift.study.store import Work
from sleevelift.study.window import Timing, sentence_of, window_study


def igniter_times(case: Case, timing: Timing, n: int, seed: int, work: Work) -> tuple[IgniterTimes, dict[str, Any], str]:
    """(instants after T0, facts of the window in SI, its one sentence) of a hot case.

    Instants are P1 or P99 of never-lit runs, whichever leaves more room; see `study.window`.
    """
    facts = window_study(case, timing, n, seed, work).data
    origin = facts["origin"]

    def after(instant: float | None) -> float | None:
        return None if instant is None else instant - origin

    setting, abort = facts["setting"], facts["abort"]
    decide = after(abort["last_decision"])
    words = f"last instant to decide {ms(decide)}" if decide is not None else f"abort: {abort['note']}"
    times = IgniterTimes(
        after(setting["on_before_both"]),
        after(setting["latest_expected_light_off"]),
        decide,
        after(abort["last_off_command"]),
        setting["holds"],
        words,
    )
    return times, facts, sentence_of(facts)
