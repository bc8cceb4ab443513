"""Commands of the test stand: `card`."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sleevelift.study.commands import CaseArgument, ClusterOption, OutOption, SeedOption, SetOption, WorkersOption, seconds
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer

PAPERS = ("a4", "letter")


def case_for(case: "Case", test: str) -> "Case":
    """The case of a test. CaseError where the case is of another kind."""
    from sleevelift.stand.channels import KINDS
    from sleevelift.study.values import refused

    kind = case.case.kind
    if test not in KINDS:
        raise refused(f"--test {test}", f"must be one of {', '.join(KINDS)}")
    if kind == test:
        return case
    if KINDS.index(test) > KINDS.index(kind):
        raise refused(f"--test {test}", f"{case.name} is a {kind} case and has not what a {test} test needs: give a {test} case")
    raise refused(f"--test {test}", f"{case.name} is a {kind} case: make its {test} case first and give that one")


def card_command(
    case: CaseArgument,
    test: Annotated[str, typer.Option("--test", help="dry, cold-flow or hot.", show_default=False)],
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    n: Annotated[int, typer.Option("--n", help="Runs over the case's ranges.")] = 400,
    igniter_scatter: Annotated[str, typer.Option("--igniter-scatter", metavar="TIME", help="Of light-off, either way.")] = "0 ms",
    detection_delay: Annotated[str, typer.Option("--detection-delay", metavar="TIME", help="No light to off command.")] = "0 ms",
    seed: SeedOption = 0,
    settings: SetOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """The test card: hold points, sequence, channels with their bands, accept and abort limits, instruments; a page to print."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.stand.card import card_of
        from sleevelift.stand.card_answer import card_answer
        from sleevelift.study.values import refused, together
        from sleevelift.study.window import timing_of

        def sheet() -> str:
            if paper not in PAPERS:
                raise refused(f"--paper {paper}", f"must be one of {', '.join(PAPERS)}")
            return paper

        asked = [partial(seconds, igniter_scatter, "--igniter-scatter"), partial(seconds, detection_delay, "--detection-delay")]
        early_late, detection, on_paper, read = together([*asked, sheet, partial(case_for, cases[0], test)])
        timing = timing_of(read, None, None, early_late, detection) if test == "hot" else None
        with working_on("card", folder, workers, cluster) as work:
            return card_answer(card_of(read, n, seed, timing, work), on_paper)

    study([case], "card", out, make, settings=settings or ())


COMMANDS: dict[str, Callable[..., Any]] = {"card": card_command}


def add_stand_commands(app: typer.Typer) -> None:
    """Register the commands."""
    for name, command in COMMANDS.items():
        app.command(name)(command)
