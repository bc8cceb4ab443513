"""The command `size`, and the napkin of `new`."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from sleevelift.command import EXIT_DONE, EXIT_STRICT, EXIT_UNUSABLE, compiled, guarded, note, os_fault, units_name, working
from sleevelift.options import ForceOption, NewCaseOption, UnitsOption


def add_size_command(app: typer.Typer) -> None:
    """Register `size`."""
    app.command()(size)


def size(
    napkin: Annotated[Path, typer.Argument(metavar="NAPKIN", help="Napkin file (TOML): new --kind napkin.", show_default=False)],
    out: NewCaseOption,
    force: ForceOption = False,
    strict: Annotated[bool, typer.Option("--strict", help="Exit 3 unless all checks hold.")] = False,
    units: UnitsOption = None,
) -> None:
    """A first cut: from a dozen wishes to a complete case.

    Sizes the valve around thrust, pressures, lead and opening time, says why line by line, and what two wishes exclude each other.
    """
    guarded(lambda: sized(napkin, out, force, strict, units))


def sized(napkin: Path, out: Path, force: bool, strict: bool, units: str | None = None) -> int:
    """The work of the command; the exit code. CaseError for an unusable napkin."""
    from sleevelift.case.gases import plain_name
    from sleevelift.first_cut import free
    from sleevelift.first_cut import size as first_cut
    from sleevelift.first_cut.napkin import load_napkin
    from sleevelift.first_cut.restate import restated
    from sleevelift.first_cut.screen import lines
    from sleevelift.gas_tables import load_gas
    from sleevelift.report.files import write_text_atomically

    wishes = load_napkin(napkin, units_name(units))
    if out.is_dir():
        note(f"{out}: is a directory")
        return EXIT_UNUSABLE
    if out.exists() and not force:
        note(f"{out}: is there already; --force replaces it")
        return EXIT_UNUSABLE
    load_gas(plain_name(wishes.wishes.gas), progress=lambda sentence: note(f"{wishes.name}: {sentence}"))
    with compiled(wishes.name, "run"), working(f"{wishes.name}: sizing ..."):
        answer = first_cut.size(wishes)
        freed = free.freed(wishes, answer)
        answer = freed.answer
    written = None
    if answer.status != first_cut.EXCLUDED:
        try:
            write_text_atomically(out, restated(answer.text, answer.case), overwrite=force)
        except OSError as error:
            note(f"{out}: cannot be written: {os_fault(error)}")
            return EXIT_UNUSABLE
        written = str(out)
    for line in lines(answer, wishes.name, written, freed.command):
        print(line)
    sys.stdout.flush()
    return EXIT_STRICT if strict and answer.status != first_cut.HOLDS else EXIT_DONE
