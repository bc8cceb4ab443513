"""What must hold between the keys of a case: geometry in order, lists increasing, tables that belong together.

Each check takes the facts and yields faults; it says nothing where a value that it needs is not known. The bounds of a
single key stand with the key (`schema_*`), the checks of one side of the machine in `check_*`.
"""

from collections.abc import Callable

from sleevelift.case import (
    check_chamber,
    check_gas,
    check_geometry,
    check_machine,
    check_purge,
    check_seals,
    check_sequence,
    check_wet,
)
from sleevelift.case.check_parts import Faults, increases, missing, refused
from sleevelift.case.facts import Facts
from sleevelift.case.faults import Fault

PROPELLANT_TABLES = ("oxidizer", "fuel", "slots", "seat")


def tables_of_kind(facts: Facts) -> Faults:
    """A cold-flow case has propellants, a hot one a chamber too, a dry one neither."""
    kind = facts.get("case.kind")
    if kind in ("cold-flow", "hot"):
        for table in PROPELLANT_TABLES:
            if not facts.has(table):
                yield missing(table, f"is missing (a {kind} case has both propellants)")
    if kind == "hot" and not facts.has("chamber"):
        yield missing("chamber", "is missing (a hot case has a combustion chamber; without one its kind is cold-flow)")
    out_of_place = {"dry": ("oxidizer", "fuel", "slots", "chamber", "igniter"), "cold-flow": ("chamber", "igniter")}
    for table in out_of_place.get(kind, ()) if isinstance(kind, str) else ():
        if facts.has(table):
            what = "propellants" if table in ("oxidizer", "fuel", "slots") else "combustion"
            yield missing(table, f"has no place here (a {kind} case has no {what}): take it out, or change [case] kind")
    for path, only in (("bench.fuel_side_pressure", "dry"), ("bench.back_pressure", "cold-flow")):
        if facts.has(path) and kind is not None and kind != only:
            yield refused(facts, path, f"has no place in a {kind} case (it belongs to {only} cases)")


INCREASING = (
    "solenoid.on",
    "solenoid.off",
    "igniter.on",
    "igniter.off",
    "chamber.purge.on",
    "chamber.purge.off",
    "supply.table.time",
    "oxidizer.inlet_table.time",
    "fuel.inlet_table.time",
    "slots.table.lift",
    "seat.table.lift",
    "chamber.o_f",
)
PAIRED = (
    ("supply.table.time", "supply.table.pressure"),
    ("oxidizer.inlet_table.time", "oxidizer.inlet_table.pressure"),
    ("fuel.inlet_table.time", "fuel.inlet_table.pressure"),
    ("slots.table.lift", "slots.table.area"),
    ("seat.table.lift", "seat.table.area"),
    ("chamber.o_f", "chamber.c_star"),
    ("chamber.o_f", "chamber.g"),
)


def lists_increase(facts: Facts) -> Faults:
    """Instants, lifts and mixture ratios of a list increase."""
    for path in INCREASING:
        entries = facts.get(path)
        if isinstance(entries, tuple) and not increases(entries):
            yield refused(facts, path, "must increase from entry to entry")


def lists_pair(facts: Facts) -> Faults:
    """The columns of a table have as many entries as its first."""
    for first, second in PAIRED:
        left, right = facts.get(first), facts.get(second)
        if not isinstance(left, tuple) or not isinstance(right, tuple):
            continue
        if second == "chamber.g" and len(right) == 1:
            continue
        if len(left) != len(right):
            name = first.rsplit(".", 1)[1]
            yield refused(facts, second, f"must have as many entries as {name}: {len(left)}, not {len(right)}")


CHECKS: tuple[Callable[[Facts], Faults], ...] = (
    tables_of_kind,
    check_gas.gas_admitted,
    check_gas.supply_complete,
    check_gas.supply_table_in_range,
    check_gas.relief_complete,
    check_gas.restrictions_given_once,
    lists_increase,
    lists_pair,
    check_gas.commands_alternate,
    check_gas.run_covers_commands,
    check_gas.dead_times_or_coil,
    check_machine.diameters_in_order,
    check_machine.spring_side_keeps_volume,
    check_machine.spring_known,
    check_machine.spring_fits,
    check_machine.seals_known,
    check_seals.glands_whole,
    check_seals.leaks_given_once,
    check_wet.feeds_complete,
    check_wet.run_valves_complete,
    *check_purge.CHECKS,
    check_wet.slots_fit,
    check_wet.slot_metals_known,
    check_wet.seat_complete,
    check_wet.gaps_leave_metal,
    check_geometry.spring_clears_post_and_cylinder,
    check_geometry.rings_leave_sleeve,
    check_geometry.rows_of_slots_leave_post,
    check_geometry.spigot_clears_nose,
    check_wet.combustion_known,
    check_wet.mixture_bracketed,
    check_wet.cold_vapour_known,
    check_wet.igniter_complete,
    check_chamber.purge_complete,
    *check_sequence.CHECKS,
)


def consistency_faults(facts: Facts) -> list[Fault]:
    """Every fault between keys."""
    return [fault for check in CHECKS for fault in check(facts)]
