"""What `size` prints: cautions, the chain of reasoning line by line, what binds, what excludes each other, what comes next."""

import textwrap
from collections.abc import Iterator

from sleevelift.case.cautions import CAUTION
from sleevelift.first_cut.size import EXCLUDED, HOLDS, Answer

WIDTH = 79
"""columns, also of a plain terminal"""
CAUTIONS = (
    "A FIRST CUT IS NO DESIGN RELEASE: it says where a design may begin. Guesses in it are guesses; what it did not look at: "
    "strength of post, sleeve and housing, heat, vibration, tolerances, wear, cleanliness, materials, leaks, anything "
    "outside the valve.",
    CAUTION,
)
MARGIN_ROWS = 4
"""Least margins that are printed."""


def wrapped(text: str, first: str = "", later: str = "") -> Iterator[str]:
    """A paragraph in lines."""
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=later)


def lines(answer: Answer, name: str, written: str | None, command: str = "") -> Iterator[str]:
    """Everything that is printed. `written`: the file of the case, or None; `command`: how `choose` moves what is free."""
    yield f"{name}: first cut"
    for caution in CAUTIONS:
        yield from wrapped(caution, "  ! ", "    ")
    yield ""
    yield "Chain of reasoning"
    for step in answer.chain:
        yield f"  {step.what:<26} {step.value}"
        yield from wrapped(f"{step.how} [{step.source}]", " " * 8, " " * 8)
    yield ""
    yield "What binds (static margins, worst over the ranges)"
    for margin, value in answer.binding[:MARGIN_ROWS]:
        yield f"  {margin:<26} {value:+.1%}"
    for text in answer.notes:
        yield from wrapped(text, "  - ", "    ")
    yield ""
    yield from _outcome(answer, written, command)


def _outcome(answer: Answer, written: str | None, command: str) -> Iterator[str]:
    """How it ended."""
    if answer.status == HOLDS:
        found = answer.measures
        yield from wrapped(
            f"All checks hold: opens in {found['opening_time'] * 1e3:.3g} ms, oxidizer leads by "
            f"{found['oxidizer_lead'] * 1e3:.3g} ms, closes in {found['closing_time'] * 1e3:.3g} ms. "
            "That is what the model says of guessed numbers."
        )
    elif answer.status == EXCLUDED and answer.exclusion is not None:
        proof = answer.exclusion
        yield from wrapped(
            f"Excluded, proved: {proof.pair[0]}, and {proof.pair[1]}, exclude each other here. No sleeve in this room has more "
            f"than {proof.largest_margin:+.1%} of both, whatever its areas and preload (a linear programme of milder demands than "
            "the margins)."
        )
        yield "What would free them, one of:"
        for text in proof.frees:
            yield from wrapped(text, "  - ", "    ")
    else:
        yield from wrapped(
            "Not found: neither a case whose checks all hold nor a proof that there is none. The nearest case fails in:"
        )
        for check, value in answer.failed.items():
            yield f"  - {check}: {value}"
    if written is not None:
        yield ""
        yield f"Written: {written}"
        yield from wrapped(f"Next: sleevelift check {written}; sleevelift run {written}; to move what is free again:")
        yield from shell_lines(f"sleevelift choose {written} {command}")


def shell_lines(command: str) -> Iterator[str]:
    """A command on lines that a shell joins."""
    parts = command.split(" --")
    rest = [f"--{part}" for part in parts[1:]]
    for number, part in enumerate([parts[0], *rest]):
        yield f"{'  ' if number == 0 else '      '}{part}{' ' + chr(92) if number < len(rest) else ''}"
