"""The command `fit`: values of a case from measured traces and times.

sleevelift fit CASE TRACE.csv TRACE.csv CASE TRACE.csv ...      each trace belongs to the case before it
"""

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sleevelift.calibrate.causes_command import causes_command
from sleevelift.command import note
from sleevelift.options import BarometerOption, FolderOrCaseOption, SetOption, SkipBadOption, UnitsOption, WorkersOption
from sleevelift.study.shell import study, working_on

if TYPE_CHECKING:
    from sleevelift.calibrate.data import Experiment, Settings
    from sleevelift.calibrate.free import Free
    from sleevelift.case.schema import Case
    from sleevelift.columns import Given
    from sleevelift.measured.trace import Trace
    from sleevelift.study.answer import Answer

SLOW_READ = 1 << 24
"""bytes from which reading a file says how far it is"""


def grouped(files: Sequence[Path]) -> list[tuple[Path, list[Path]]]:
    """Each case with its traces. CaseError where the first file is no case."""
    from sleevelift.study.values import refused

    found: list[tuple[Path, list[Path]]] = []
    for file in files:
        if file.suffix == ".toml":
            found.append((file, []))
        elif not found:
            raise refused(str(file), "the first file must be a case (.toml); the traces of a case follow it")
        else:
            found[-1][1].append(file)
    return found


def sensor_numbers(case: "Case", texts: Sequence[str], option: str) -> dict[str, float]:
    """quantity or header -> number, SI, of "lift=0.02 mm" or "PT-3=0.1 bar". CaseError where one is none."""
    from sleevelift.columns import BY_NAME
    from sleevelift.study.values import refused
    from sleevelift.units import RANGE_KIND, UnitError, read_quantity

    found = {}
    for text in texts:
        name, sign, value = text.rpartition("=")
        if not sign:
            raise refused(f"{option} {text}", "must be QUANTITY=NUMBER UNIT or COLUMN=NUMBER UNIT")
        kinds = ["time"] if option == "--lag" else [BY_NAME[name].kind] if name in BY_NAME else ["pressure", "length", "flow"]
        read = None
        for kind in kinds:
            try:
                read = read_quantity(value, RANGE_KIND.get(kind, kind)).si
                break
            except UnitError as error:
                why = str(error)
        if read is None or not read >= 0.0:
            raise refused(f"{option} {text}", why if read is None else "must be at least 0")
        found[name.strip()] = read
    return found


def zeros(case: "Case", texts: Sequence[str]) -> dict[str, float]:
    """quantity or header -> by how much its zero may be off, SI, of "PT-3" (0: not said) or "PT-3=0.5 bar"."""
    named = {part.strip(): 0.0 for text in texts if "=" not in text for part in text.split(",") if part.strip()}
    return named | sensor_numbers(case, [text for text in texts if "=" in text], "--zero")


def known_clock(text: str | None) -> float | None:
    """s of --clock; CaseError where it is no time."""
    from sleevelift.study.values import refused
    from sleevelift.units import UnitError, read_quantity

    try:
        return None if text is None else read_quantity(text, "time").si
    except UnitError as error:
        raise refused(f"--clock {text}", str(error)) from None


def gauge_from(case: "Case", barometer: str | None) -> float:
    """Pa absolute, what gauge pressures of a case's traces count from: --barometer, else the case's own, else ambient."""
    from sleevelift.study.values import refused
    from sleevelift.units import UnitError, read_quantity

    if barometer is None:
        return case.ambient.pressure if case.trace.barometer is None else case.trace.barometer
    try:
        return read_quantity(barometer, "pressure").si
    except UnitError as error:
        raise refused(f"--barometer {barometer}", str(error)) from None


def reading(path: Path, case: "Case", columns: Sequence[str], barometer: str | None, forgiving: bool) -> "Trace":
    """A trace of a case, by the mappings of the command line and of the case; with a line of progress for a long file."""
    from sleevelift.case.schema_trace import columns_of
    from sleevelift.measured.trace import read_trace

    told = [0]

    def progress(done: int, total: int) -> None:
        if total >= SLOW_READ and done >= told[0] + total // 4:
            told[0] = done
            note(f"{path.name}: {100 * done // total} % read")

    mappings: list[str | Given] = [*columns, *columns_of(case.trace.columns)]
    return read_trace(path, mappings, barometer=gauge_from(case, barometer), forgiving=forgiving, progress=progress)


def numbers_for(cases: "Sequence[Case]", names: Sequence[str], texts: Sequence[str]) -> "list[list[Any]]":
    """The measured numbers of each test. With several tests a number says whose it is: "dry_07: opening_time=81 ms"."""
    from sleevelift.calibrate.data import measured_number
    from sleevelift.study.values import refused

    found: list[list[Any]] = [[] for _ in names]
    for text in texts:
        name, sign, rest = text.partition(":")
        if sign and name.strip() in names:
            k, text = names.index(name.strip()), rest
        elif len(names) == 1:
            k = 0
        else:
            raise refused(f"--measured {text}", f'must say of which test it is: "{names[0]}: ..."; tests: {", ".join(names)}')
        found[k].append(measured_number(cases[k], text))
    return found


def fit_command(
    files: Annotated[
        list[Path], typer.Argument(metavar="CASE [TRACE.csv]...", help="A case and its traces; further cases with theirs.",
        show_default=False),
    ],
    free: Annotated[
        list[str] | None,
        typer.Option("--free", metavar="PATH[=LOW:HIGH]", help="A value that may move, commas between several; repeatable."),
    ] = None,
    own: Annotated[
        list[str] | None,
        typer.Option("--own", metavar="PATH[=LOW:HIGH]", help="A value that may move for each trace by itself; repeatable."),
    ] = None,
    measured: Annotated[
        list[str] | None,
        typer.Option(
            "--measured", metavar="NUMBER", help='"opening_time=81 ms +- 1 ms" (+-: 90 %), or "rod_seal_friction at 5 bar=60 N/m".'
        ),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="COLUMN=QUANTITY", help='"PT-3 [psig]=lift_chamber_pressure"; repeatable.'),
    ] = None,
    barometer: BarometerOption = None,
    noise: Annotated[
        list[str] | None, typer.Option("--noise", metavar="CHANNEL=SPREAD", help='Known noise: "lift=0.02 mm"; repeatable.')
    ] = None,
    lag: Annotated[
        list[str] | None, typer.Option("--lag", metavar="CHANNEL=TIME", help='Known sensor lag: "lift=0 ms"; repeatable.')
    ] = None,
    zero: Annotated[
        list[str] | None,
        typer.Option("--zero", metavar="CHANNEL[=MOST]", help='Whose zero may be off: "PT-3", "PT-3=0.5 bar"; repeatable.'),
    ] = None,
    clock: Annotated[
        str | None, typer.Option("--clock", metavar="TIME", help="Known: time of the files less time of the run.")
    ] = None,
    skip_bad: SkipBadOption = False,
    starts: Annotated[int, typer.Option("--starts", min=1, max=32, help="Starts over the ranges.")] = 3,
    seed: Annotated[int, typer.Option("--seed", min=0, help="Seed of the starts.")] = 0,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: FolderOrCaseOption = None,
    workers: WorkersOption = None,
) -> None:  # fmt: skip
    """Fit a case to what was measured: values with intervals, what the data leave open, what no value explains."""
    from sleevelift.case.faults import CaseError

    file = out if out is not None and out.suffix == ".toml" else None
    try:
        groups = grouped(files)
    except CaseError as error:
        note(str(error))
        raise typer.Exit(2) from None
    paths = [path for path, _ in groups]

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.calibrate.answer import fit_answer
        from sleevelift.calibrate.data import Settings
        from sleevelift.calibrate.fit import fit as fit_tests
        from sleevelift.calibrate.write import places_of, write_cases

        places = [] if file is None else places_of(file, paths)
        known = Settings(
            sensor_numbers(cases[0], noise or [], "--noise"), sensor_numbers(cases[0], lag or [], "--lag"), known_clock(clock),
            zeros(cases[0], zero or []),
        )  # fmt: skip
        tests = tests_of(groups, cases, column or [], barometer, skip_bad, measured or [], known)
        refuse_strangers(known, tests)
        values = values_of(cases, free or [], own or [], len(tests))
        with working_on("fit", folder, workers, None) as work:
            found = fit_tests(tests, values, known, work, seed, starts)
        answer = fit_answer(cases[0], found)
        if file is not None:
            answer.notes.insert(0, write_cases(file, places, paths, cases, numbered(groups), found))
        return answer

    study(paths, "fit", None if file is not None else out, make, settings=settings or (), units=units)


def refuse_strangers(known: "Settings", tests: "Sequence[Experiment]") -> None:
    """CaseError with a line for each channel of --noise, --lag or --zero that no test has."""
    from sleevelift.calibrate.data import strangers
    from sleevelift.case.faults import CaseError, Fault
    from sleevelift.columns import parted

    have = ", ".join(dict.fromkeys(parted(one.header)[0] for test in tests for one in test.series))
    faults = [
        Fault((), f"{option} {name}: no channel is called so; there are {have or 'none'}")
        for option, name in strangers(known, tests)
    ]
    if faults:
        raise CaseError(faults)


def numbered(groups: Sequence[tuple[Path, list[Path]]]) -> list[list[int]]:
    """The numbers of the tests of each case, in the order of `tests_of`.

    >>> numbered([(Path("a.toml"), [Path("1.csv"), Path("2.csv")]), (Path("b.toml"), [])])
    [[0, 1], [2]]
    """
    found, at = [], 0
    for _, traces in groups:
        found.append(list(range(at, at + max(1, len(traces)))))
        at = found[-1][-1] + 1
    return found


def tests_of(
    groups: Sequence[tuple[Path, list[Path]]], cases: "Sequence[Case]", columns: Sequence[str], barometer: str | None,
    forgiving: bool, measured: Sequence[str], known: "Settings",
) -> "list[Experiment]":  # fmt: skip
    """A test for each trace, and for each case without one. CaseError with every fault."""
    from sleevelift.calibrate.answer import tests_named
    from sleevelift.calibrate.data import experiment
    from sleevelift.study.values import refused, together

    pairs: list[tuple[Case, Path | None]] = []
    for case, (_, traces) in zip(cases, groups):
        pairs += [(case, path) for path in traces] or [(case, None)]
    names = tests_named([case.name if path is None else path.stem for case, path in pairs])
    numbers = numbers_for([case for case, _ in pairs], names, measured)
    for (_, path), name, mine in zip(pairs, names, numbers):
        if path is None and not mine:
            raise refused(name, "has neither a trace nor a measured number (--measured): there is nothing to fit it to")
    read = together(
        [partial(reading, path, case, columns, barometer, forgiving) if path is not None else lambda: None for case, path in pairs]
    )
    return list(
        together(
            [
                partial(experiment, case, trace, mine, known, name)
                for (case, _), trace, mine, name in zip(pairs, read, numbers, names)
            ]
        )
    )


def values_of(cases: "Sequence[Case]", shared: Sequence[str], own: Sequence[str], tests: int) -> "list[Free]":
    """The free values: those of the options, else the usual unknowns. CaseError with every fault."""
    from sleevelift.calibrate.free import by_default, free_of
    from sleevelift.study.values import refused, together

    texts = [part.strip() for text in shared for part in text.split(",") if part.strip()]
    mine = [part.strip() for text in own for part in text.split(",") if part.strip()]
    if not texts and not mine:
        return by_default(cases[0])
    calls = [partial(free_of, case, text) for text in texts for case in cases[::-1]]
    found = together(calls)
    values = found[len(cases) - 1 :: len(cases)]  # each as the first case has it; the others have it too
    for text in mine:
        values += [free_of(cases[0], text, "--own", k) for k in range(tests)]
    paths = [value.path for value in values if value.owner in (None, 0)]
    twice = sorted({path for path in paths if paths.count(path) > 1})
    if twice:
        raise refused("--free", f"names {', '.join(twice)} twice")
    return list(values)


def add_fit_command(app: typer.Typer) -> None:
    """Register `fit` and `causes`."""
    app.command("fit")(fit_command)
    app.command("causes")(causes_command)
