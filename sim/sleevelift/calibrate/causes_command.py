"""The command `causes`: what alone would explain a measured number, and what to measure next."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from sleevelift.options import CaseArgument, SetOption, UnitsOption, WorkersOption
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer

MOST_TOLD = 6
"""Causes that sensors are to tell apart."""


def causes_command(
    case: CaseArgument,
    measured: Annotated[
        str, typer.Option("--measured", metavar="NUMBER", help='"opening_time=100 ms +- 1 ms" (+- of 90 %).', show_default=False)
    ],
    among: Annotated[
        list[str] | None, typer.Option("--among", metavar="PATH", help="Only these values, commas between several; repeatable.")
    ] = None,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Folder for CSV and JSON; results/<case>-causes without it.")
    ] = None,
    workers: WorkersOption = None,
) -> None:
    """Why is it late: each single value that would explain a measured number, how plausible, what tells them apart."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.calibrate.causes import STRETCHED, candidates, found
        from sleevelift.calibrate.causes_answer import causes_answer
        from sleevelift.calibrate.data import measured_number
        from sleevelift.calibrate.tell_apart import told_apart
        from sleevelift.study.values import kind_of, refused, together

        read = cases[0]
        only = [part.strip() for text in among or [] for part in text.split(",") if part.strip()]
        number, *_ = together([partial(measured_number, read, measured), *[partial(kind_of, read, path) for path in only]])
        if number.across is not None:
            raise refused(f"--measured {measured}", "causes are found for a number of a run; fit takes frictions")
        known = {one.path for one in candidates(read)}
        for path in only:
            if path not in known:
                raise refused(f"--among {path}", "is not among the values that are looked at, or has none in this case")
        with working_on("causes", folder, workers, None) as work:
            search = found(read, number, work, only)
        near = [one for one in search.causes if abs(one.s) <= STRETCHED][:MOST_TOLD] or list(search.causes[:2])
        return causes_answer(read, number, search, near, told_apart(read, near))

    study([case], "causes", out, make, settings=settings or (), units=units)
