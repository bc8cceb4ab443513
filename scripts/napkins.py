#!/usr/bin/env python3
"""Random napkins through `sleevelift size`: shares of the three ends, what fails, time per napkin.

    python scripts/napkins.py --n 200 --seed 1 --out napkins.json

Drawn: thrust 50 N to 50 kN (even in the logarithm), four pairs, nitrogen or helium, chamber 8 to 40 bara, mixture ratio around
the highest c*, feed pressures 1.35 to 1.9 times and gas pressure 1.2 to 3 times the chamber's, ranges of 2 to 8 %, opening time 30
to 150 ms, lead 1 to 6 % of it, allowable pressure 3 to 5 times the chamber's, margin 0 to 0.1.
Ends: a case whose checks all hold; a proof that the static margins exclude
each other; not found, with the nearest case. Measured shares stand in DEVELOPERS.md.
"""

from __future__ import annotations

import argparse
import json
import time
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
from sleevelift import combustion_tables
from sleevelift.first_cut.napkin import napkin_from_text
from sleevelift.first_cut.size import EXCLUDED, HOLDS, NOT_FOUND, size

PAIRS = ("oxygen/ethanol", "oxygen/methane", "nitrous-oxide/isopropanol", "peroxide-90/rp-1")
LEAST_NITROUS = 24.0
"""bara. Above the vapour pressure of nitrous oxide at 253 K, so that it is a liquid at the inlet."""


LONG = 30.0
"""s. A first cut takes no longer on a machine that has nothing else to do."""


def napkin(rng: np.random.Generator) -> str:
    """The text of a random napkin."""
    pair = PAIRS[rng.integers(len(PAIRS))]
    thrust = float(np.exp(rng.uniform(np.log(50.0), np.log(50e3))))
    chamber = rng.uniform(8.0, 40.0)
    table = combustion_tables.table_at(pair, chamber * 1e5)
    best = table.o_f[max(range(len(table.o_f)), key=table.c_star.__getitem__)]
    oxidizer, fuel = (chamber * rng.uniform(1.35, 1.9) for _ in range(2))
    if pair.startswith("nitrous"):
        oxidizer = max(oxidizer, LEAST_NITROUS)
    gas, opening = chamber * rng.uniform(1.2, 3.0), rng.uniform(30.0, 150.0)
    fuel_width, gas_width = rng.uniform(0.02, 0.06), rng.uniform(0.02, 0.08)
    return f"""[napkin]
title = "random"
thrust = "{thrust:.4g} N"
chamber_pressure = "{chamber:.4g} bara"
mixture_ratio = {best * rng.uniform(0.75, 1.05):.4g}
propellants = "{pair}"
oxidizer_pressure = "{oxidizer:.4g} bara"
fuel_pressure = {{ value = "{fuel:.4g} bara", plus_minus = "{fuel_width:.2%}" }}
gas = "{("nitrogen", "helium")[rng.integers(2)]}"
gas_pressure = {{ value = "{gas:.4g} bara", plus_minus = "{gas_width:.2%}" }}
oxidizer_lead = "{opening * rng.uniform(0.01, 0.06):.3g} ms"
opening_time = "{opening:.4g} ms"
allowable_pressure = "{chamber * rng.uniform(3.0, 5.0):.4g} bara"
least_margin = {rng.uniform(0.0, 0.1):.3f}
"""


def sized(text: str) -> dict[str, Any]:
    """What became of a napkin."""
    start, busy = time.perf_counter(), time.process_time()
    row: dict[str, Any] = {"napkin": text}
    try:
        answer = size(napkin_from_text(text))
    except Exception as error:  # noqa: BLE001  a crash is a finding here, and must not hide the other napkins
        return row | {"status": f"error: {type(error).__name__}: {error}", "seconds": time.perf_counter() - start}
    row |= {"status": answer.status, "failed": answer.failed, "seconds": time.perf_counter() - start, "notes": answer.notes}
    row["processor_seconds"] = time.process_time() - busy
    row["binding"] = answer.binding[:2]
    if answer.exclusion is not None:
        row["exclusion"] = answer.exclusion._asdict()
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description="random napkins through sleevelift size")
    parser.add_argument("--n", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--first", type=int, default=0, help="number of the first napkin: to go on, or to look at one")
    parser.add_argument("--out", type=Path, default=None, metavar="FILE", help="every row as JSON lines")
    parser.add_argument("--print", action="store_true", help="print each napkin")
    choice = parser.parse_args()
    rows = []
    for number in range(choice.first, choice.first + choice.n):
        row = sized(napkin(np.random.default_rng([choice.seed, number])))
        rows.append(row)
        if choice.print:
            print(row["napkin"])
        print(
            f"{number:4} {row['status'][:70]:12} {row['seconds']:5.1f} s  {row.get('failed') or ''} {row.get('exclusion') or ''}",
            flush=True,
        )
        if choice.out is not None:
            with choice.out.open("a", encoding="utf-8") as file:
                file.write(json.dumps(row) + "\n")
    ends = Counter(row["status"] if row["status"] in (HOLDS, EXCLUDED, NOT_FOUND) else "error" for row in rows)
    failing = Counter(name for row in rows if row["status"] == NOT_FOUND for name in row["failed"])
    seconds = sorted(row["seconds"] for row in rows)
    print(f"{len(rows)} napkins: " + ", ".join(f"{name} {count}" for name, count in ends.most_common()))
    print("what fails where none was found: " + ", ".join(f"{name} {count}" for name, count in failing.most_common()))
    print(f"seconds: median {seconds[len(seconds) // 2]:.1f}, greatest {seconds[-1]:.1f}")
    busy = sorted(row.get("processor_seconds", 0.0) for row in rows)
    slow = sum(value > LONG for value in busy)
    print(f"seconds of the processor: median {busy[len(busy) // 2]:.1f}, greatest {busy[-1]:.1f}, {slow} over {LONG:g}")


if __name__ == "__main__":
    main()
