"""The command `cycles`: how many pulses the bottle holds."""

from typing import Annotated

import typer

from sleevelift.command import EXIT_DONE, compiled, guarded, loaded, prepare_gas, read_time, working
from sleevelift.options import CaseArgument, SetOption, UnitsOption

SHOWN_FIRST, SHOWN_LAST = 5, 10
"""Pulses of a count of cycles that are shown, from its beginning and from its end."""


def cycles_command(
    case: CaseArgument,
    period: Annotated[
        str | None, typer.Option("--period", metavar="TIME", help='From on to on, such as "2 s"; without it twice the pulse.')
    ] = None,
    most: Annotated[int, typer.Option("--most", min=1, max=10000, help="Cycles after which it is left at that.")] = 1000,
    values: SetOption = None,
    units: UnitsOption = None,
) -> None:
    """How many cycles the bottle holds.

    The first pulse, simulated again and again until one does not open and close.
    """

    def action() -> int:
        from sleevelift.report.screen import console, heading, print_pulses
        from sleevelift.shown import origin_of
        from sleevelift.study.cycles import cycles, sentence

        read = loaded(case, values or (), units)
        prepare_gas(read)
        with compiled(read.name, "run"), working(f"{read.name}: running ..."):
            found = cycles(read, period=None if period is None else read_time(period), most=most)
        out = console()
        heading(out, sentence(found, read.reader))
        pulses = found.pulses[:SHOWN_FIRST] + found.pulses[SHOWN_FIRST:][-SHOWN_LAST:]
        origin = origin_of([t for pulse in found.pulses[:1] if (t := pulse.measures["energize_time"]) is not None])
        print_pulses(out, pulses, f"Pulses, the first and the last (on: from {origin.words})", origin, read.reader)
        return EXIT_DONE

    guarded(action)
