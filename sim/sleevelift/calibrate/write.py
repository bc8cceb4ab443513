"""The cases that a fit writes: one for each that was given, all of them or none."""

import contextlib
from collections.abc import Iterator, Sequence
from pathlib import Path

from sleevelift.calibrate.answer import changes_of
from sleevelift.calibrate.fit import Fit
from sleevelift.case.read import case_from_text, load_case
from sleevelift.case.schema import Case
from sleevelift.report.files import distinct_names, write_text_atomically
from sleevelift.study.rewrite import rewritten
from sleevelift.study.values import refused


def places_of(out: Path, cases: Sequence[Path]) -> list[Path]:
    """Where each case is written: at `out`, of several beside it with its own name added. CaseError where one is there.

    >>> [place.name for place in places_of(Path("nowhere/fitted.toml"), [Path("dry_65.toml"), Path("dry_80.toml")])]
    ['fitted-dry_65.toml', 'fitted-dry_80.toml']
    """
    names = distinct_names([path.stem for path in cases])
    places = [out] if len(cases) == 1 else [out.with_name(f"{out.stem}-{name}.toml") for name in names]
    there = [str(place) for place in places if place.exists()]
    if there:
        raise refused(f"--out {out}", f"file exists: {', '.join(there)}")
    return places


def written_text(file: Path, case: Case, fit: Fit, tests: Sequence[int]) -> str:
    """A case file with the fitted values and their intervals; those of a trace's own too where the case has but one trace."""
    values, ranges = changes_of(fit, tests[0] if len(tests) == 1 else None)
    base = load_case(file)
    text = file.read_text("utf-8-sig")
    if case.changes:
        text = rewritten(text, base, dict(case.changes))
    names = ", ".join(fit.problem.tests[k].name for k in range(len(fit.problem.tests)))
    return rewritten(text, case_from_text(text, base.name), values, ranges, f"fitted to {names}")


@contextlib.contextmanager
def none_if_not_all(places: Sequence[Path]) -> Iterator[list[Path]]:
    """A list of what has been written: taken away again where the block ends in an error."""
    done: list[Path] = []
    try:
        yield done
    except BaseException:
        for place in done:
            place.unlink(missing_ok=True)
        raise


def write_cases(
    out: Path, places: Sequence[Path], files: Sequence[Path], cases: Sequence[Case], tests: Sequence[Sequence[int]], fit: Fit
) -> str:
    """Write every case at its place, all or none; what was written and what was left as it was, in words. tests: of each case,
    their numbers."""
    if all(value.open for value in fit.values):
        raise refused(f"--out {out}", "the data determine none of the values: there is nothing to write")
    texts = [written_text(file, case, fit, mine) for file, case, mine in zip(files, cases, tests)]
    with none_if_not_all(places) as done:
        for place, text in zip(places, texts):
            write_text_atomically(place, text, overwrite=False)
            done.append(place)
    said = f"Written: {', '.join(map(str, places))}, with the fitted values and their 90 % intervals as ranges"
    left = [value.free.path for value in fit.values if value.open]
    said += f"; left as they were, not determined: {', '.join(dict.fromkeys(left))}" if left else ""
    own = {value.free.path for value in fit.values if value.free.owner is not None}
    if own and any(len(mine) > 1 for mine in tests):
        said += f"; of a case with several traces each trace's own value is not written ({', '.join(sorted(own))})"
    return said + "."
