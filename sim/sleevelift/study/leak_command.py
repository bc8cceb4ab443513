"""The command `leaks`: the leak-check sheet of a case, or what readings mean and a case that holds them."""

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from sleevelift.options import SetOption, UnitsOption
from sleevelift.study.shell import study

if TYPE_CHECKING:
    from sleevelift.case.schema import Case
    from sleevelift.study.answer import Answer
    from sleevelift.study.leak_readings import Answered
    from sleevelift.study.leak_sheet import Rig


def rig_of(case: "Case", texts: dict[str, tuple[str, str]], gas: str | None, margin: float) -> "Rig":
    """The rig of the options. CaseError with every fault at once."""
    from sleevelift.case.gases import plain_name
    from sleevelift.study.leak_sheet import INERT, Rig, gas_of_case
    from sleevelift.study.values import refused, together
    from sleevelift.units import UnitError, read_quantity

    def number(option: str, text: str, kind: str) -> float:
        try:
            value = read_quantity(text, kind, case.ambient.pressure).si
        except UnitError as error:
            raise refused(f"{option} {text}", str(error)) from None
        least = case.ambient.pressure if kind == "pressure" else 0.0
        if not value > least and not (value == 0.0 and option in ("--gauge-error", "--temperature-error", "--settle")):
            raise refused(f"{option} {text}", "must be above ambient pressure" if kind == "pressure" else "must be above 0")
        if kind == "temperature" and not text.strip().endswith("K"):
            raise refused(f"{option} {text}", "is a difference: give it in K")
        return value

    def inert() -> str:
        name = gas_of_case(case) if gas is None else plain_name(gas)
        if name not in INERT:
            raise refused(f"--gas {gas}", f"must be one of {', '.join(INERT)}: a leak check is made with an inert gas")
        return name

    def share() -> float:
        if not 0.0 <= margin <= 10.0:
            raise refused(f"--margin {margin}", "must be from 0 to 10")
        return margin

    found = together([*[partial(number, option, *pair) for option, pair in texts.items()], inert, share])
    pressure, volume, gauge, temperature, settle, name, held = found
    return Rig(pressure, volume, gauge, temperature, settle, held, name)


def runs_of(case: "Case", found: "list[Answered]") -> tuple[Any, dict[tuple[str, str], Any]]:
    """(run of the case, (leak, picture) -> run with that leak) of every leak that the simulation has."""
    from sleevelift.case.read import with_values
    from sleevelift.run import simulate
    from sleevelift.study.leak_readings import change_of

    runs = {}
    for one in found:
        for picture, area in zip(("hole", "gap"), one.service):
            changes = change_of(case, one.point, area)
            if changes is not None:
                runs[one.point.seal, picture] = simulate(with_values(case, changes))
    return simulate(case), runs


def write_case(path: Path, case: "Case", file: Path, found: "list[Answered]") -> None:
    """Write the case with the leaks that the readings showed. CaseError where the simulation has none of them."""
    from sleevelift.case.read import load_case
    from sleevelift.report.files import write_text_atomically
    from sleevelift.study.leak_readings import area_to_use, change_of
    from sleevelift.study.rewrite import rewritten
    from sleevelift.study.values import refused

    changes: dict[str, float] = dict(case.changes)
    for one in found:
        changes |= change_of(case, one.point, area_to_use(one)[0]) or {}
    if not changes:
        raise refused(f"--out {path}", "the simulation has no such leak: nothing to write into a case")
    write_text_atomically(path, rewritten(file.read_text("utf-8-sig"), load_case(file), changes), overwrite=False)


def leaks_command(
    case: Annotated[Path, typer.Argument(metavar="CASE", help="Case file (TOML).", show_default=False)],
    measured: Annotated[
        list[str] | None,
        typer.Option("--measured", metavar="READING", help='"rod: 6.9 bara to 6.7 bara in 300 s, 20 cm3"; repeatable.'),
    ] = None,
    pressure: Annotated[
        str, typer.Option("--pressure", help="Test pressure wanted; never above what the sheet allows.")
    ] = "7 bara",
    rig_volume: Annotated[str, typer.Option("--rig-volume", help="Volume of gauge and hoses.")] = "10 cm3",
    gauge_error: Annotated[str, typer.Option("--gauge-error", help="Repeatability of the gauge, +-.")] = "0.02 bar",
    temperature_error: Annotated[str, typer.Option("--temperature-error", help="Change not excluded, +-.")] = "1 K",
    settle: Annotated[str, typer.Option("--settle", help="From filling to the first reading.")] = "120 s",
    margin: Annotated[float, typer.Option("--margin", help="By which the sleeve must stay shut, no friction.")] = 0.5,
    gas: Annotated[str | None, typer.Option("--gas", help="Inert test gas; the case's, else nitrogen.")] = None,
    settings: SetOption = None,
    units: UnitsOption = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="DIR|CASE.toml", help="Folder for CSV, JSON and page; or a case file for the readings."),
    ] = None,
) -> None:
    """Leak checks before any propellant: what to pressurise, how far, how long, and what a fall means."""
    file = out if out is not None and out.suffix == ".toml" else None

    def make(cases: "list[Case]", folder: Path) -> "Answer":
        from sleevelift.study.leak_answer import readings_answer, sheet_answer
        from sleevelift.study.leak_readings import answered, measured_of, together_by_leak
        from sleevelift.study.leak_sheet import sheet_rows, yardsticks
        from sleevelift.study.values import refused, together

        read = cases[0]
        texts = {"--pressure": (pressure, "pressure"), "--rig-volume": (rig_volume, "volume"),
                 "--gauge-error": (gauge_error, "pressure difference"), "--temperature-error": (temperature_error, "temperature"),
                 "--settle": (settle, "time")}  # fmt: skip
        rig = rig_of(read, texts, gas, margin)
        if not measured:
            if file is not None:
                raise refused(f"--out {file}", "a case file is written from readings: give --measured")
            return sheet_answer(read, rig, sheet_rows(read, rig), yardsticks(read))
        readings = together([partial(measured_of, read, one, rig) for one in measured])
        found = [answered(read, group) for group in together_by_leak(readings)]
        nominal, runs = runs_of(read, found)
        if file is not None:
            write_case(file, read, case, found)
        return readings_answer(read, rig, found, runs, nominal)

    study([case], "leaks", None if file is not None else out, make, settings=settings or (), units=units)
