"""One pulse of a run as if it were the run: what the start and the stop page of a pulse are drawn from.

view(result, k) -> Result whose measures, reasons, timeline and traces are those of pulse k, cut at the next on command
"""

import numpy as np

from sleevelift.result import Result


def otherwise(result: Result) -> int | None:
    """Index of the first pulse that ends otherwise than the first one; None where all end alike."""
    if not result.pulses:
        return None
    first = result.pulses[0].outcome
    return next((k for k, pulse in enumerate(result.pulses) if pulse.outcome != first), None)


def view(result: Result, k: int) -> Result:
    """The result as pulse k alone tells it; the result itself where there is but one."""
    if len(result.pulses) < 2:
        return result
    pulse = result.pulses[k]
    following = result.pulses[k + 1].measures["energize_time"] if k + 1 < len(result.pulses) else None
    begin = result.pulses[k].measures["energize_time"] if k > 0 else None
    before = result.pulses[k - 1].measures["deenergize_time"] if k > 0 else None
    low = -np.inf if before is None else before
    high = np.inf if following is None else following
    t = result.traces.get("time", np.zeros(0))
    here = (t >= low) & (t <= high)
    return result._replace(
        measures={**result.measures, **pulse.measures},
        reasons={**result.reasons, **pulse.reasons},
        outcome=pulse.outcome,
        timeline=[event for event in result.timeline if (begin is None or event.instant >= begin) and event.instant < high],
        traces={name: values[here] for name, values in result.traces.items()},
        pulses=(pulse,),
    )


def named(result: Result) -> str:
    """, pulse 4, where the result is a view of a later pulse, else nothing."""
    number = result.pulses[0].number if len(result.pulses) == 1 else 1
    return f", pulse {number}" if number > 1 else ""
