"""What a sequence does where there is no light: does its abort come in time, with its own steps and over the ranges.

    never-lit runs of the case as written -> abort, and the first instant at which the pool reaches the allowable pressure

The latest light-off of these runs is the one with abort steps: where the pool stays below, none is too late.
"""

from typing import Any

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.result import Result
from sleevelift.run import simulate
from sleevelift.sequence.findings import headline
from sleevelift.shown import milliseconds as ms
from sleevelift.shown import origin_of
from sleevelift.study.odds import scaled, unit_points
from sleevelift.study.store import Work, computed

OWN_KEYS = "igniter."


def dark_as_written(case: Case) -> Case:
    """The case without its igniter, its sequence kept; ranges of the igniter are gone."""
    new = case.model_copy(update={"igniter": None})
    new._ranges = {path: ends for path, ends in case.ranges.items() if not path.startswith(OWN_KEYS)}
    return new


def no_light(case: Case, work: Work, n: int, seed: int) -> tuple[dict[str, Any], Result]:
    """(what happens with no light, the nominal run of it); points over every range but the igniter's, the sequence's included."""
    dark = dark_as_written(case)
    nominal = simulate(dark)
    ranges = {path: ends for path, ends in sorted(dark.ranges.items()) if ends[1] > ends[0]}
    lanes: list[dict[str, Any]] = scaled(unit_points(len(ranges), n, seed, "lhs"), ranges) if ranges else [{}]
    batch = computed(dark, lanes, work, {"study": "no light", "n": n, "seed": seed})
    latest = batch.measures["latest_light_off"]
    found = nominal.sequence
    assert found is not None, "a case with a sequence"
    origin = origin_of(nominal.case.solenoid.on)
    facts = {
        "abort": found.abort, "went": headline(found, origin), "latest_light_off": nominal.measures["latest_light_off"],
        "too_late": int(np.isfinite(latest).sum()), "n": len(lanes), "origin": origin.instant,
        "first_too_late": float(np.nanmin(latest)) if np.isfinite(latest).any() else None,
    }  # fmt: skip
    return facts, nominal


def words(facts: dict[str, Any] | None) -> str:
    """One sentence; empty without a sequence. Instants count from the first on command."""
    if facts is None:
        return ""
    abort, late, n, origin = facts["abort"], facts["too_late"], facts["n"], facts["origin"]
    if abort is None:
        return "With no light the sequence does NOT abort." + (f" {facts['went']}" if facts["went"] else "")
    came = f'its abort "{abort.name}" at {ms(abort.instant - origin)}'
    if late:
        return (
            f"With no light the sequence is TOO LATE in {late} of {n} runs: {came}, the pool at the allowable pressure from "
            f"{ms(facts['first_too_late'] - origin)} on."
        )
    return f"With no light the sequence ends in time in all of {n} runs: {came}, and the pool stays below the allowable pressure."
