"""Checks of gas in a manifold: its purge, or what it is full of at the start."""

from sleevelift.case.check_chamber import ALWAYS_GAS
from sleevelift.case.check_parts import Faults, increases, missing, refused
from sleevelift.case.check_sequence import commanded
from sleevelift.case.facts import Facts
from sleevelift.case.gases import ADMITTED, INERT, plain_name
from sleevelift.case.purge_gases import STARTING, saturation_pressure

SIDES = ("oxidizer", "fuel")


def purges_whole(facts: Facts) -> Faults:
    """A purge has a run valve before it, one orifice, an inert gas, and is switched on and off by turns."""
    for side in SIDES:
        path = f"{side}.purge"
        if not facts.has(path):
            continue
        if not facts.has(f"{side}.valve"):
            rule = f"needs [{side}.valve]: without a run valve it blows into an open line, and gas in a line is not followed"
            yield missing(path, rule)
        if facts.has(f"{path}.orifice") == facts.has(f"{path}.effective_area"):
            yield missing(path, "needs orifice or effective_area, one of the two")
        if facts.has(f"{path}.effective_area") and facts.has(f"{path}.discharge_coefficient"):
            yield refused(facts, f"{path}.discharge_coefficient", "belongs to orifice; effective_area has it in it")
        yield from _admitted(facts, f"{path}.gas", INERT, "an inert gas")
        yield from _always_gas(facts, f"{path}.gas", f"{path}.temperature")
        on, off = facts.get(f"{path}.on"), facts.get(f"{path}.off")
        if isinstance(on, tuple) and isinstance(off, tuple):
            moves = sorted([(t, True) for t in on] + [(t, False) for t in off])
            if not increases(on) or not increases(off):
                yield refused(facts, f"{path}.on" if not increases(on) else f"{path}.off", "the instants must increase")
            elif [up for _, up in moves] != [k % 2 == 0 for k in range(len(moves))] or len({t for t, _ in moves}) < len(moves):
                yield refused(facts, f"{path}.off" if off else f"{path}.on", "the purge must be on and off by turns, on first")


def start_gas_fits(facts: Facts) -> Faults:
    """A manifold full of gas at the start is shut then, and has the gas of its purge."""
    for side in SIDES:
        path, purge = f"{side}.valve", f"{side}.purge"
        pocket = facts.get(f"{side}.trapped_gas_volume")
        if pocket and (facts.has(purge) or facts.has(f"{path}.start_gas")):
            rule = "has no place where gas in the manifold is followed (purge, start_gas): leave it out"
            yield refused(facts, f"{side}.trapped_gas_volume", rule)
        if not facts.has(f"{path}.start_gas"):
            if facts.has(f"{path}.start_gas_temperature"):
                yield refused(facts, f"{path}.start_gas_temperature", "belongs to start_gas, which is not given")
            continue
        yield from _admitted(facts, f"{path}.start_gas", STARTING, "a gas")
        if facts.get(f"{path}.open_at_start"):
            yield refused(facts, f"{path}.start_gas", "needs the valve shut at the start: an open one has primed it")
        gas, other = facts.get(f"{path}.start_gas"), facts.get(f"{purge}.gas")
        if isinstance(gas, str) and isinstance(other, str) and plain_name(gas) != plain_name(other):
            yield refused(facts, f"{path}.start_gas", f"must be the purge's gas, {other}: one gas in a manifold is followed")
        if facts.has(purge) and facts.has(f"{path}.start_gas_temperature"):
            yield refused(facts, f"{path}.start_gas_temperature", f"is given by [{purge}] gas_temperature: leave it out")


def _admitted(facts: Facts, path: str, names: tuple[str, ...], what: str) -> Faults:
    name = facts.get(path)
    if isinstance(name, str) and plain_name(name) not in names:
        yield refused(facts, path, f"must be {what}, one of {', '.join(names)}")


def _always_gas(facts: Facts, gas: str, path: str) -> Faults:
    """Ahead of the orifice it is a gas at any pressure."""
    name, temperature = facts.get(gas), facts.get(path)
    if isinstance(name, str) and isinstance(temperature, float) and plain_name(name) in INERT:
        coldest = ALWAYS_GAS * ADMITTED[plain_name(name)].critical_temperature
        if temperature < coldest:
            said = facts.reader.text("temperature", coldest, ".4g")
            rule = f"must be at least {said}: {ALWAYS_GAS:g} of the gas's critical temperature"
            yield refused(facts, path, rule)


def gas_stays_gas(facts: Facts) -> Faults:
    """A gas does not condense in the liquid beside it, at the highest pressure that it meets there."""
    for side in SIDES:
        temperature = facts.get(f"{side}.temperature")
        inlet = _highest_inlet(facts, side)
        first = min(facts.get(f"{side}.purge.on") or (), default=None)
        opens = facts.get(f"{side}.valve.on") or ()
        again = commanded(facts, f"{side}.valve", "open") or (first is not None and any(t > first for t in opens))
        for path, meets in (
            (f"{side}.purge.gas", [facts.get(f"{side}.purge.pressure"), inlet if again else None]),
            (f"{side}.valve.start_gas", [facts.get(f"{side}.valve.manifold_pressure"), inlet]),
        ):
            name = facts.get(path)
            known = ADMITTED.get(plain_name(name)) if isinstance(name, str) and facts.has(path) else None
            highest = max((p for p in meets if isinstance(p, float)), default=0.0)
            if known is None or not isinstance(temperature, float) or temperature >= known.critical_temperature:
                continue
            condenses = saturation_pressure(name, temperature)
            if condenses < highest:
                say = facts.reader.text
                rule = (
                    f"condenses in a liquid of {say('temperature', temperature, '.4g')}: its saturation pressure there is "
                    f"{say('pressure', condenses, '.3g')}, below the {say('pressure', highest, '.4g')} it meets (helium does not)"
                )
                yield refused(facts, path, rule)


def _highest_inlet(facts: Facts, side: str) -> float | None:
    """Pa."""
    table = facts.get(f"{side}.inlet_table.pressure")
    if isinstance(table, tuple) and table:
        return float(max(table))
    found = facts.get(f"{side}.inlet_pressure")
    return found if isinstance(found, float) else None


CHECKS = (purges_whole, start_gas_fits, gas_stays_gas)
