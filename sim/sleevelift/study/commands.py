"""Commands of the studies. Each prints its one-sentence answer first, then tables; --out DIR also writes CSV, JSON and picture.

Studies kept in a folder go on where they stopped when called again. Seeds are printed; results do not depend on the
number of workers.
"""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

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
from sleevelift.study.leak_command import leaks_command
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer
    from sleevelift.study.finished_run import FinishedRun

UNSURE = ("left-out", "every", "none")
"""What `scatter --unsure` takes."""
LONGEST_TIME = 10.0
"""s. Of an igniter's rise, delay, scatter or detection."""


def map_command(
    case: CaseArgument,
    vary: Annotated[
        list[str],
        typer.Option("--vary", metavar="PATH=LOW:HIGH:N", help="A value and its range, or PATH=drills:LOW:HIGH. Once or twice."),
    ],
    of: Annotated[list[str] | None, typer.Option("--of", metavar="MEASURE", help="Measure to show; repeatable.")] = None,
    target: Annotated[
        list[str] | None,
        typer.Option(
            "--target", metavar="TARGET", help='"opening_time<=40 ms": its chance to hold over the ranges, at each point.'
        ),
    ] = None,
    points: Annotated[int, typer.Option("--points", help="Scattered points at each point of the map, for --target.")] = 256,
    seed: SeedOption = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Map measures over one or two values of the case: curves or contours, failing regions hatched."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.study.map import check_axes, map_study
        from sleevelift.study.targets import target_of
        from sleevelift.study.values import axis_of, known_measures, together

        read, wished = cases[0], target or []
        ranges = [partial(axis_of, read, text) for text in vary]
        limits = [partial(target_of, read, text, "--target") for text in wished]
        found = together([*ranges, *limits, partial(known_measures, of or [], "--of")])
        axes, targets = found[: len(vary)], found[len(vary) : -1]
        measures = found[-1] or list(dict.fromkeys(one.measure for one in targets)) or ["opening_time"]
        check_axes(read, axes)
        with working_on("map", folder, workers, cluster) as work:
            return map_study(read, axes, measures, work, targets, points, seed)

    study([case], "map", out, make, settings=settings or (), units=units)


def scatter_command(
    case: CaseArgument,
    n: Annotated[int, typer.Option("--n", help="Runs.")] = 2000,
    seed: SeedOption = 0,
    sampler: Annotated[str, typer.Option("--sampler", help="lhs or sobol.")] = "lhs",
    unsure: Annotated[
        str, typer.Option("--unsure", metavar="left-out|every|none", help="Which values without a range vary over their usual one.")
    ] = "left-out",
    indices: Annotated[bool, typer.Option("--indices", help="Also Sobol' indices: N (d + 2) further runs.")] = False,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Scatter every ranged value: P1, P50, P99, chance of failed checks, and what drives them."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.case.usual import with_usual_ranges
        from sleevelift.study.scatter import scatter_study
        from sleevelift.study.values import refused

        if unsure not in UNSURE:
            raise refused(f"--unsure {unsure}", f"must be one of {', '.join(UNSURE)}")
        spread = cases[0] if unsure == "none" else with_usual_ranges(cases[0], every=unsure == "every")
        with working_on("scatter", folder, workers, cluster) as work:
            return scatter_study(spread, n, seed, sampler, work, indices, stated=cases[0].ranges)

    study([case], "scatter", out, make, settings=settings or (), units=units)


def faults_command(
    case: CaseArgument,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Faults, alone or of one cause, each run: does it end closed, what is last, safe, degraded, not known or unsafe."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.study.faults import fault_study

        with working_on("faults", folder, workers, cluster) as work:
            return fault_study(cases[0], work)

    study([case], "faults", out, make, settings=settings or (), units=units)


def seconds(text: str | None, option: str) -> float | None:
    """A time on the command line, s. CaseError where it is none."""
    from sleevelift.study.values import refused
    from sleevelift.units import UnitError, read_quantity

    if text is None:
        return None
    try:
        value = read_quantity(text, "time").si
    except UnitError as error:
        raise refused(f"{option} {text}", str(error)) from None
    if not 0.0 <= value <= LONGEST_TIME:
        raise refused(f"{option} {text}", f"must be from 0 s to {LONGEST_TIME:g} s")
    return value


def window_command(
    case: CaseArgument,
    rise: Annotated[str | None, typer.Option("--rise", metavar="TIME", help="Igniter on to flame; else the case's.")] = None,
    delay: Annotated[str | None, typer.Option("--delay", metavar="TIME", help="Ignition delay; else the case's.")] = None,
    igniter_scatter: IgniterScatterOption = "0 ms",
    detection_delay: DetectionDelayOption = "0 ms",
    n: Annotated[int, typer.Option("--n", help="Never-lit runs of the scatter.")] = 200,
    seed: SeedOption = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """The igniter's window: earliest and latest light-off, igniter-on time, abort time, and the stop."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.study.values import together
        from sleevelift.study.window import timing_of, window_study

        texts = {"--rise": rise, "--delay": delay, "--igniter-scatter": igniter_scatter, "--detection-delay": detection_delay}
        own_rise, own_delay, early_late, detection = together([partial(seconds, text, name) for name, text in texts.items()])
        timing = timing_of(cases[0], own_rise, own_delay, early_late or 0.0, detection or 0.0)
        with working_on("window", folder, workers, cluster) as work:
            return window_study(cases[0], timing, n, seed, work)

    study([case], "window", out, make, settings=settings or (), units=units)


def compare_command(
    cases: Annotated[
        list[Path],
        typer.Argument(metavar="CASE...", help="Case files (TOML), or folders that a run left.", show_default=False),
    ],
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Cases or finished runs side by side: measures with differences from the first, traces over each other."""

    def make(read: "list[Case | FinishedRun]", folder: Path) -> "Answer":
        from sleevelift.study.compare import compare_study

        with working_on("compare", folder, workers, cluster) as work:
            return compare_study(read, work)

    study(cases, "compare", out, make, runs_too=True, settings=settings or (), units=units)


def choose_command(
    case: CaseArgument,
    targets: Annotated[
        list[str],
        typer.Option("--for", metavar="TARGET", help='"opening_time<=60ms", "full_lift_margin>=0.05", "oxidizer_lead=1ms:4ms".'),
    ],
    moves: Annotated[
        list[str],
        typer.Option(
            "--move", metavar="PATH=LOW:HIGH", help="What may move: a range, or PATH=drills:LOW:HIGH, PATH=wires:LOW:HIGH."
        ),
    ],
    points: Annotated[int, typer.Option("--points", help="Scattered points that confirm each finalist.")] = 256,
    seed: SeedOption = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
    workers: WorkersOption = None,
    cluster: ClusterOption = None,
) -> None:
    """Choose a design that holds targets over the stated ranges; writes it as a new case file."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.case.read import load_case
        from sleevelift.study.choose import choose_study, move_of
        from sleevelift.study.rewrite import rewritten
        from sleevelift.study.targets import target_of
        from sleevelift.study.values import together

        read = cases[0]
        found = together([*[partial(target_of, read, text) for text in targets], *[partial(move_of, read, text) for text in moves]])
        wanted, axes = found[: len(targets)], found[len(targets) :]
        text = case.read_text("utf-8-sig")
        if read.changes:  # the new files hold what was set as well
            text = rewritten(text, load_case(case), dict(read.changes))
        with working_on("choose", folder, workers, cluster) as work:
            return choose_study(read, text, wanted, axes, seed, work, points)

    study([case], "choose", out, make, settings=settings or (), units=units)


def mixture_command(
    case: CaseArgument,
    stoichiometric: Annotated[
        float | None, typer.Option("--stoichiometric", help="Stoichiometric O/F; else that of the pair, as far as it is known.")
    ] = None,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: OutOption = None,
) -> None:
    """Mixture ratio from the first propellant to steady and over the stop: when it is rich in oxidizer, when in fuel."""

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.study.mixture import mixture_study
        from sleevelift.study.values import refused

        if stoichiometric is not None and not 0.0 < stoichiometric <= 1000.0:
            raise refused(f"--stoichiometric {stoichiometric}", "must be above 0, at most 1000")
        return mixture_study(cases[0], stoichiometric)

    study([case], "mixture", out, make, settings=settings or (), units=units)


COMMANDS: dict[str, Callable[..., Any]] = {
    "map": map_command,
    "scatter": scatter_command,
    "faults": faults_command,
    "window": window_command,
    "choose": choose_command,
    "leaks": leaks_command,
    "mixture": mixture_command,
}


def add_study_commands(app: typer.Typer) -> None:
    """Register the commands."""
    for name, command in COMMANDS.items():
        app.command(name)(command)
