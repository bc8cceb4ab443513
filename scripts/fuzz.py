"""Fuzzed case files through the reader and, where they are valid, through the solver: nothing may break.

    python scripts/fuzz.py --n 100000 [--seed 1] [--workers 2] [--out results/fuzz] [--seconds 3600]

Each text is a shipped case with one to four things changed: values scaled, swapped, cut, made hostile (not a number, huge, a
wrong unit, a wrong type), keys dropped, doubled, misspelt, whole blocks moved, bytes flipped. A text is refused with one
line per fault that names a key or a place, or it is run. Counted as broken: any exception but a refusal, a run longer than
LONGEST, a number in a result that is not finite, an outcome that is not in the list, a balance that does not close.

Work goes in chunks over processes; each finished chunk is written, so that a run that was interrupted goes on where it was.
"""

import argparse
import json
import math
import os
import random
import re
import sys
import time
import traceback
from concurrent.futures import ProcessPoolExecutor, as_completed
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "sim"))

CHUNK = 50
LONGEST = 20.0
"""s of wall time a fuzzed case may run (the slowest shipped case takes 0.1 s)."""
MASS_ALLOWED, ENERGY_ALLOWED = 1e-6, 1e-3
"""-. Balances of a fuzzed case: gas mass as everywhere; machine energy looser, since the numbers may be absurd."""
HOSTILE = (
    "nan", "inf", "-inf", '"nan bara"', '"1e400 mm"', '"-1 mm"', '"0 mm"', '"1e-300 m"', '"5 parsec"', '"12"', '"12 mm mm"',
    "true", "[]", "{}", '""', '"\\u0000"', '"\\u202e mm"', "[1, 2, 3]", '"1 bar"', '"1 barg"', "-7", "1e308", '"10 kg"',
    '"../../etc/passwd"', '"<script>alert(1)</script>"', '{ value = "3 mm", plus_minus = "200 %" }', "0x10", "1979-05-27",
)  # fmt: skip
NUMBER = re.compile(r"(?<![\w.])(\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)(?![\w.])")
PLACE = re.compile(r"\[\w[\w. ]*\]|\bline \d+|at end of document|\d+ more fault")
"""What a line of a refusal must name: a table (with its key), or a place in the text; the last line may count further faults."""
SCALES = (0.0, 1e-6, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 1e3, 1e6, -1.0)


def key_lines(lines: list[str]) -> list[int]:
    """Indices of the lines that hold a key."""
    return [i for i, line in enumerate(lines) if "=" in line and not line.lstrip().startswith("#")]


def scaled_number(line: str, rng: random.Random) -> str:
    """One number of the line's value multiplied."""
    key, _, value = line.partition("=")
    hits = list(NUMBER.finditer(value))
    if not hits:
        return line
    hit = rng.choice(hits)
    changed = f"{float(hit.group(1)) * rng.choice(SCALES):.6g}"
    return key + "=" + value[: hit.start()] + changed + value[hit.end() :]


def fuzzed(text: str, rng: random.Random) -> str:
    """The text with one to four things changed."""
    lines = text.split("\n")
    for _ in range(rng.choice((1, 1, 1, 2, 2, 3, 4))):
        keys = key_lines(lines)
        if not keys:
            break
        i = rng.choice(keys)
        how = rng.random()
        if how < 0.5:
            lines[i] = scaled_number(lines[i], rng)
        elif how < 0.65:
            lines[i] = lines[i].split("=")[0] + "= " + rng.choice(HOSTILE)
        elif how < 0.72:
            del lines[i]
        elif how < 0.77:
            lines.insert(i, lines[rng.choice(keys)])
        elif how < 0.82:
            j = rng.choice(keys)
            a, b = lines[i].split("=", 1), lines[j].split("=", 1)
            lines[i], lines[j] = a[0] + "=" + b[1], b[0] + "=" + a[1]
        elif how < 0.87:
            name = lines[i].split("=")[0].strip()
            lines[i] = lines[i].replace(name, name[:-1] + rng.choice("abcxyz_"), 1)
        elif how < 0.92:
            lines[i] = lines[i][: rng.randrange(len(lines[i]) + 1)]
        elif how < 0.96:
            j = rng.randrange(len(lines))
            block = lines[min(i, j) : max(i, j)]
            lines[min(i, j) : max(i, j)] = block[::-1] if rng.random() < 0.3 else []
        else:
            line = lines[i]
            at = rng.randrange(len(line) + 1)
            lines[i] = line[:at] + chr(rng.choice((0, 9, 27, 0x2028, 0x1F680, 65533, 34, 39, 91))) + line[at:]
    return "\n".join(lines)


def broken_result(result: Any) -> str | None:
    """What is wrong with a result, or None."""
    from sleevelift.plant.scan import OUTCOMES

    if result.outcome not in OUTCOMES:
        return f"outcome {result.outcome}"
    for name, value in result.measures.items():
        if value is not None and not math.isfinite(value):
            return f"{name} = {value}"
        if value is None and not result.reasons.get(name):
            return f"{name} is null without a reason"
    if result.outcome in ("failed", "left-gas-range"):
        return None if result.failure else "failed without a sentence"
    mass, energy = result.measures["gas_mass_error"], result.measures["energy_error"]
    if mass is not None and mass > MASS_ALLOWED:
        return f"gas mass error {mass:.2e}"
    if energy is not None and energy > ENERGY_ALLOWED:
        return f"energy error {energy:.2e}"
    return None


def one(seed: int, texts: list[str]) -> tuple[str, str]:
    """(what became of it, detail) of the fuzzed text number `seed`."""
    from sleevelift.case.read import CaseError, case_from_text
    from sleevelift.run import simulate

    rng = random.Random(seed)
    text = fuzzed(rng.choice(texts), rng)
    began = time.monotonic()
    try:
        case = case_from_text(text)
    except CaseError as refusal:
        lines = str(refusal).strip().split("\n")
        unplaced = [line for line in lines if not PLACE.search(line)]
        if unplaced:
            return "broken", f"a refusal that names no key and no place: {unplaced[0]}"
        return "refused", ""
    except BaseException:  # noqa: BLE001 - every other exception is what this script looks for
        return "broken", "reader: " + traceback.format_exc(limit=-2)
    try:
        result = simulate(case, with_traces=False)
    except BaseException:  # noqa: BLE001
        return "broken", "solver: " + traceback.format_exc(limit=-2)
    took = time.monotonic() - began
    if took > LONGEST:
        return "slow", f"{took:.1f} s, {result.outcome}"
    wrong = broken_result(result)
    if wrong is not None:
        return "broken", f"result: {wrong} ({result.outcome})"
    return result.outcome, result.failure or ""


def chunk(first: int, count: int, seed: int) -> dict[str, Any]:
    """Counts of what became of `count` texts, and the details of those that broke, ran slowly or failed."""
    texts = [p.read_text(encoding="utf-8") for p in sorted((ROOT / "cases").glob("*.toml"))]
    counts: dict[str, int] = {}
    details = []
    for number in range(first, first + count):
        what, detail = one(1_000_003 * seed + number, texts)
        counts[what] = counts.get(what, 0) + 1
        if what in ("broken", "slow", "failed"):
            details.append({"number": number, "what": what, "detail": detail})
    return {"first": first, "counts": counts, "details": details}


def total(parts: list[dict[str, Any]]) -> dict[str, int]:
    """Counts over all chunks."""
    counts: dict[str, int] = {}
    for part in parts:
        for what, n in part["counts"].items():
            counts[what] = counts.get(what, 0) + n
    return dict(sorted(counts.items()))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--n", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--seconds", type=float, default=3600.0, help="stop after this long; a later call goes on")
    parser.add_argument("--out", type=Path, default=ROOT / "results" / "fuzz")
    options = parser.parse_args()
    folder = options.out / f"seed-{options.seed}"
    folder.mkdir(parents=True, exist_ok=True)
    parts = [json.loads(p.read_text()) for p in sorted(folder.glob("chunk-*.json"))]
    done = {part["first"] for part in parts}
    todo = [first for first in range(0, options.n, CHUNK) if first not in done]
    print(f"seed {options.seed}: {len(done) * CHUNK} of {options.n} done before")
    began = time.monotonic()
    with ProcessPoolExecutor(options.workers) as pool:
        waiting = {pool.submit(chunk, f, min(CHUNK, options.n - f), options.seed) for f in todo[: 4 * options.workers]}
        queue = iter(todo[4 * options.workers :])
        while waiting:
            for future in as_completed(list(waiting)):
                waiting.discard(future)
                part = future.result()
                temporary = folder / f".chunk-{part['first']:09d}.tmp"
                temporary.write_text(json.dumps(part))
                os.replace(temporary, folder / f"chunk-{part['first']:09d}.json")
                parts.append(part)
                print(f"\r{sum(sum(p['counts'].values()) for p in parts)} texts", end="", flush=True)
                following = next(queue, None) if time.monotonic() - began < options.seconds else None
                if following is not None:
                    waiting.add(pool.submit(chunk, following, min(CHUNK, options.n - following), options.seed))
                break
    counts = total(parts)
    print("\n" + json.dumps(counts, indent=1))
    bad = [d for part in parts for d in part["details"]]
    for d in bad[:40]:
        print(f"{d['what']} {d['number']}: {d['detail']}")
    return 1 if any(d["what"] != "failed" for d in bad) else 0


if __name__ == "__main__":
    sys.exit(main())
