"""Lanes of a study, computed in chunks and kept on disk as they finish, so that an interrupted study goes on where it stopped.

    computed(case, overrides, Work(folder)) -> Batch;  folder/.parts/<key>/manifest.json, part-00000.npz, part-00001.npz ...

The key is a hash of everything that the numbers depend on: text of the case and its changes, sources and version of the
program, versions of the libraries and of Python, and the values of every lane (which carry sampler and seed). Parts hold plain
arrays (no pickle) under a checksum; a part that is missing, cut short or altered is computed again. A kill loses the chunks in
flight, one per worker.
"""

import contextlib
import hashlib
import io
import json
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import numpy as np

from sleevelift.batch import GROUP, Batch, Override, gather, run_group
from sleevelift.case.schema import Case
from sleevelift.plant.names import NAMES
from sleevelift.reader import METRIC
from sleevelift.report.files import json_text, write_bytes_atomically, write_text_atomically
from sleevelift.scheduler import delivered, threads, workers_by_default
from sleevelift.study.cluster import executor
from sleevelift.study.mark import computing_mark, marked

PARTS = ".parts"
"""Hidden folder of finished chunks in a study's folder."""
CHUNK = 64
"""Lanes that are computed and kept together: a fraction of a second of work."""
DIGEST = 32
"""bytes. A part is its SHA-256, then the npz."""
RETRIES = 5
"""Times a chunk is given out again when a worker of a cluster is lost."""
Progress = Callable[[int, int], None]
T = TypeVar("T")


class Work(NamedTuple):
    """How lanes are computed; nothing here changes a number."""

    folder: Path | None = None
    """where finished chunks are kept; None: nowhere"""
    workers: int | None = None
    """threads; None: all cores"""
    progress: Progress | None = None
    cluster: str | None = None
    """address of a Dask scheduler; None: this machine"""


ALONE = Work()
"""All cores of this machine, nothing kept."""


def _plain(override: Override | Case) -> Any:
    """What a lane is made of, for its hash."""
    if isinstance(override, Case):
        return {"case": override.sha256, "values": override.model_dump_json(warnings=False), "ranges": dict(override.ranges)}
    return {path: value.tolist() if hasattr(value, "tolist") else value for path, value in override.items()}


def study_key(case: Case, overrides: Sequence[Override | Case]) -> str:
    """Hash of everything that the lanes' numbers depend on."""
    head = [computing_mark(), case.sha256, _plain(case), dict(case.changes)]
    head += [] if case.reader == METRIC else [case.reader.name]  # sentences are kept too
    digest = hashlib.sha256(json.dumps(head, default=repr, sort_keys=True).encode())
    for override in overrides:
        digest.update(json.dumps(_plain(override), default=repr, sort_keys=True).encode())
    return digest.hexdigest()[:24]


# ---------------------------------------------------------------------------------------- parts


def part_bytes(batch: Batch) -> bytes:
    """A batch as checksum and npz."""
    names = sorted(batch.checks)
    buffer = io.BytesIO()
    np.savez_compressed(
        buffer,
        measures=np.column_stack([batch.measures[name] for name in NAMES]),
        outcomes=batch.outcomes.astype(np.str_),
        status=batch.status,
        checks=np.array([batch.checks[name] for name in names]).reshape(len(names), len(batch)),
        names=np.array(json.dumps([list(NAMES), names])),
        failures=np.array(json.dumps({str(lane): text for lane, text in batch.failures.items()})),
    )
    content = buffer.getvalue()
    return hashlib.sha256(content).digest() + content


def part_of(content: bytes, lanes: int) -> Batch | None:
    """The batch in a part; None where the part is damaged or not of so many lanes."""
    mark, body = content[:DIGEST], content[DIGEST:]
    if hashlib.sha256(body).digest() != mark:
        return None
    with np.load(io.BytesIO(body), allow_pickle=False) as data:
        names, checks = json.loads(str(data["names"]))
        if tuple(names) != NAMES or len(data["status"]) != lanes:
            return None
        return Batch(
            {name: data["measures"][:, i].copy() for i, name in enumerate(NAMES)},
            data["outcomes"],
            data["status"],
            dict(zip(checks, data["checks"])),
            {int(lane): text for lane, text in json.loads(str(data["failures"])).items()},
        )


def joined(batches: Sequence[Batch]) -> Batch:
    """Batches one after the other."""
    names = sorted({name for batch in batches for name in batch.checks})
    starts = np.cumsum([0, *map(len, batches)])
    return Batch(
        {name: np.concatenate([batch.measures[name] for batch in batches]) for name in NAMES},
        np.concatenate([batch.outcomes for batch in batches]),
        np.concatenate([batch.status for batch in batches]),
        {name: np.concatenate([b.checks.get(name, np.full(len(b), np.nan)) for b in batches]) for name in names},
        {int(start) + lane: text for start, batch in zip(starts, batches) for lane, text in batch.failures.items()},
    )


def part_rows(batch: Batch, start: int, stop: int) -> Batch:
    """The lanes start..stop of a batch."""
    return Batch(
        {name: values[start:stop] for name, values in batch.measures.items()},
        batch.outcomes[start:stop],
        batch.status[start:stop],
        {name: values[start:stop] for name, values in batch.checks.items()},
        {lane - start: text for lane, text in batch.failures.items() if start <= lane < stop},
    )


def _read_part(path: Path, lanes: int) -> Batch | None:
    try:
        return part_of(path.read_bytes(), lanes)
    except (OSError, ValueError, KeyError):
        return None


# ------------------------------------------------------------------------------------- computing


@contextlib.contextmanager
def _pool(work: Work) -> Iterator[tuple[Executor, int, Callable[[], None] | None]]:
    """(executor, workers, what to do while none of them delivers) on this machine or on a cluster."""
    if work.cluster is None:
        workers = work.workers or workers_by_default()
        with threads(workers) as pool:
            yield pool, workers, None
        return
    with executor(work.cluster, RETRIES) as (pool_there, workers, tell_if_alone):
        yield pool_there, workers, tell_if_alone


def chunk_batch(case: Case, overrides: Sequence[Override | Case]) -> Batch:
    """One chunk, computed here: the unit of work on a thread or on a cluster."""
    groups = (overrides[start : start + GROUP] for start in range(0, len(overrides), GROUP))
    return gather([row for group in groups for row in run_group(case, group)])


class Piece(NamedTuple):
    """A part of a study: what computes it, how many lanes it has, where it is kept (None: nowhere)."""

    make: Callable[..., Any]
    arguments: tuple[Any, ...]
    lanes: int
    path: Path | None


def finished(pieces: Sequence[Piece], work: Work, read: Callable[[Path, int], T | None], written: Callable[[T], bytes]) -> list[T]:
    """Every piece, those on disk read, the others computed and kept as they finish; in order.

    read(path, lanes): a kept piece, None where there is none or it is damaged. written(piece): its bytes.
    """
    parts = [read(piece.path, piece.lanes) if piece.path is not None else None for piece in pieces]
    total = sum(piece.lanes for piece in pieces)
    done = sum(piece.lanes for piece, part in zip(pieces, parts) if part is not None)
    if work.progress is not None:
        work.progress(done, total)
    missing = [number for number, part in enumerate(parts) if part is None]
    if not missing:
        return [part for part in parts if part is not None]
    here = () if work.cluster is None else (marked, computing_mark())
    calls = ((number, (*here, pieces[number].make, *pieces[number].arguments)) for number in missing)
    with _pool(work) as (pool, workers, tell_if_alone):
        for number, part in delivered(pool, calls, workers, tell_if_alone):
            parts[number] = part
            path = pieces[number].path
            if path is not None:
                write_bytes_atomically(path, written(part))
            done += pieces[number].lanes
            if work.progress is not None:
                work.progress(done, total)
    return [part for part in parts if part is not None]


def computed(
    case: Case, overrides: Sequence[Override | Case], work: Work = ALONE, parameters: Mapping[str, Any] | None = None
) -> Batch:
    """Every lane of a study. `parameters` are told in the manifest; the same lanes are never computed twice in a folder."""
    total = len(overrides)
    chunks = [range(i, min(i + CHUNK, total)) for i in range(0, total, CHUNK)]
    if not chunks:
        return gather([])
    place = None
    if work.folder is not None:
        place = work.folder / PARTS / study_key(case, overrides)
        place.mkdir(parents=True, exist_ok=True)
        manifest = {"program": computing_mark(), "case": case.name, "case_sha256": case.sha256, "lanes": total, "chunk": CHUNK}
        write_text_atomically(place / "manifest.json", json_text({**manifest, "study": dict(parameters or {})}))
    pieces = [
        Piece(chunk_batch, (case, [overrides[i] for i in lanes]), len(lanes), None if place is None else _part_path(place, number))
        for number, lanes in enumerate(chunks)
    ]
    return joined(finished(pieces, work, _read_part, part_bytes))


DELIVERED = "delivered"
"""File in the folder of parts whose study has been delivered: the next one may remove them."""


def leave_delivered(folder: Path, began: float) -> None:
    """After a study that began at `began` (s since the epoch) was delivered: mark the parts it used, and remove those of a study
    delivered before that it did not use. Parts of a study that was stopped stay: it goes on from them."""
    for manifest in (folder / PARTS).glob("*/manifest.json"):
        mark = manifest.parent / DELIVERED
        with contextlib.suppress(OSError):
            if manifest.stat().st_mtime >= began - 1.0:
                mark.touch()
            elif mark.exists():
                shutil.rmtree(manifest.parent)


def _part_path(place: Path, number: int) -> Path:
    return place / f"part-{number:05d}.npz"
