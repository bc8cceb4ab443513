"""Checks between the keys of the combustion chamber's purge."""

from sleevelift.case.check_parts import Faults, increases, missing, refused
from sleevelift.case.facts import Facts
from sleevelift.case.gases import ADMITTED, INERT, plain_name

PURGE = "chamber.purge"
ALWAYS_GAS = 1.05
"""-. Times its critical temperature, from where a gas is tabled at every density."""


def purge_complete(facts: Facts) -> Faults:
    """A purge is of an inert gas that stays one, above ambient pressure, through one orifice; a swept share belongs to a purge."""
    if not facts.has(PURGE):
        return
    if facts.has(f"{PURGE}.orifice") == facts.has(f"{PURGE}.effective_area"):
        yield missing(PURGE, "needs orifice or effective_area, one of the two")
    elif facts.has(f"{PURGE}.discharge_coefficient") and not facts.has(f"{PURGE}.orifice"):
        yield refused(facts, f"{PURGE}.discharge_coefficient", "belongs to orifice: effective_area has it in it")
    on, off = facts.get(f"{PURGE}.on"), facts.get(f"{PURGE}.off")
    if isinstance(on, tuple) and isinstance(off, tuple):
        moves = sorted([(t, True) for t in on] + [(t, False) for t in off])
        by_turns = [up for _, up in moves] == [k % 2 == 0 for k in range(len(moves))] and len({t for t, _ in moves}) == len(moves)
        if increases(on) and increases(off) and not by_turns:
            yield refused(facts, f"{PURGE}.off" if off else f"{PURGE}.on", "the purge must be on and off by turns, on first")
    name, temperature = facts.get(f"{PURGE}.gas"), facts.get(f"{PURGE}.temperature")
    if isinstance(name, str) and plain_name(name) not in INERT:
        yield refused(facts, f"{PURGE}.gas", f"must be an inert gas: {', '.join(INERT)}")
    elif isinstance(name, str) and isinstance(temperature, float):
        coldest = ALWAYS_GAS * ADMITTED[plain_name(name)].critical_temperature
        if temperature < coldest:
            say = facts.reader.text("temperature", coldest, ".4g")
            rule = f"must be at least {say}: 1.05 of the gas's critical temperature, from where it is a gas at any pressure"
            yield refused(facts, f"{PURGE}.temperature", rule)
    pressure, ambient = facts.numbers(f"{PURGE}.pressure", "ambient.pressure") or (None, None)
    if pressure is not None and ambient is not None and not pressure > ambient:
        rule = f"must be above ambient ({facts.reader.text('pressure', ambient)}): nothing would flow"
        yield refused(facts, f"{PURGE}.pressure", rule)
