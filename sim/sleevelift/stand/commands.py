"""Commands of the test stand: `card`, `reduce`, and `compare`, which also lays a measured trace over its band."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NamedTuple

import typer

from sleevelift.options import (
    CaseArgument,
    ClusterOption,
    DetectionDelayOption,
    IgniterScatterOption,
    OutOption,
    SeedOption,
    SetOption,
    UnitsOption,
    WorkersOption,
)
from sleevelift.stand.compare_command import compare
from sleevelift.stand.reduce_command import reduce
from sleevelift.study.commands import seconds
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer

PAPERS = ("a4", "letter")


class Tested(NamedTuple):
    """The case that a card is made for."""

    case: "Case"
    text: str | None
    """of a case file that was made for it; None: the one given"""
    notes: tuple[str, ...]
    """what was changed for the bench, and what that test cannot tell"""
    cautions: tuple[str, ...] = ()
    """of that bench"""


def case_for(case: "Case", path: Path, test: str) -> Tested:
    """The case of a test: the one given, or its dry or cold-flow bench case. CaseError where there is none."""
    from sleevelift.stand.channels import KINDS
    from sleevelift.study.values import refused

    kind = case.case.kind
    if test not in KINDS:
        raise refused(f"--test {test}", f"must be one of {', '.join(KINDS)}")
    if kind == test:
        return Tested(case, None, ())
    if kind != "hot":
        raise refused(f"--test {test}", f"{case.name} is a {kind} case and has not what a {test} test needs: give a {test} case")
    if case.changes:
        rule = "with --set: write the bench case first (sleevelift bench-case) and set its values"
        raise refused(f"--test {test}", f"{case.name} is a hot case: no bench case is made {rule}")
    return _bench_of(case, path, test)


def _bench_of(case: "Case", path: Path, test: str) -> Tested:
    """The bench case of a hot one, as `bench-case` makes it without further wishes."""
    from sleevelift.bench_case.answer import PRESSURE_DROP, Wishes
    from sleevelift.bench_case.make import proved, usual_margin
    from sleevelift.case.cautions import CAUTION
    from sleevelift.study.values import refused

    wishes = Wishes(test, usual_margin(case), max(case.limits.margin_at_least, 0.0), PRESSURE_DROP, "Water", None, None)
    answer, _ = proved(path.read_text(encoding="utf-8-sig"), case, wishes)
    if answer.text is None or answer.case is None:
        raise refused(f"--test {test}", f"no {test} case can be made of {case.name}: {'; '.join(answer.missing)}")
    made = (
        f"For the {test} case that bench-case makes of {case.name}: {test}_case.toml beside this card, every change marked in it."
    )
    cannot = tuple(f"This test cannot tell {one}" for one in answer.cannot)
    own = tuple(one for one in answer.cautions if one != CAUTION)
    return Tested(answer.case.read_in(case.reader.name), answer.text, (made, *answer.said, *cannot), own)


def card_command(
    case: CaseArgument,
    test: Annotated[str, typer.Option("--test", help="dry, cold-flow or hot.", show_default=False)],
    paper: Annotated[str, typer.Option("--paper", help="a4 or letter.")] = "a4",
    n: Annotated[int, typer.Option("--n", help="Runs over the case's ranges.")] = 400,
    igniter_scatter: IgniterScatterOption = "0 ms",
    detection_delay: DetectionDelayOption = "0 ms",
    seed: SeedOption = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
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
        early_late, detection, on_paper, found = together([*asked, sheet, partial(case_for, cases[0], case, test)])
        timing = timing_of(found.case, None, None, early_late, detection) if test == "hot" else None
        with working_on("card", folder, workers, cluster) as work:
            card = card_of(found.case, n, seed, timing, work)
        answer = card_answer(card._replace(cautions=[*card.cautions, *found.cautions]), on_paper, found.notes)
        files = {} if found.text is None else {f"{test}_case.toml": found.text}
        return answer._replace(texts=answer.texts | files)

    study([case], "card", out, make, settings=settings or (), units=units)


COMMANDS: dict[str, Callable[..., Any]] = {"card": card_command, "compare": compare, "reduce": reduce}


def add_stand_commands(app: typer.Typer) -> None:
    """Register the commands."""
    for name, command in COMMANDS.items():
        app.command(name)(command)
