"""The napkin: a dozen values that a first cut begins from, and any other value of the case that is settled already.

    [napkin]                            [pin]
    thrust = "2.5 kN"                   "sleeve.post_diameter" = "16 mm"
    chamber_pressure = "18 bara" ...

Read as a case file is: texts with units, ranges, every fault at once. `[pin]` holds paths of the case; what is pinned is
taken as it stands, and the rest is sized around it.
"""

import os
import tomllib
from pathlib import Path
from typing import Any, Literal, NamedTuple

from pydantic import ValidationError

from sleevelift import combustion_tables
from sleevelift.case.faults import CaseError, Fault
from sleevelift.case.gases import ADMITTED, plain_name
from sleevelift.case.quantity import (
    Context,
    Flow,
    Force,
    Length,
    Number,
    Pressure,
    PressureDifference,
    QuantityFault,
    ReadValue,
    Speed,
    Table,
    Temperature,
    Time,
    key,
    quantity_of,
    read_value,
)
from sleevelift.case.read import LARGEST_FILE
from sleevelift.case.walk import info_at, split
from sleevelift.constants import STANDARD_ATMOSPHERE
from sleevelift.reader import READERS, Reader, UnitsName

GAS_RANGE = 0.05
"""-. Range of the gas pressure where the napkin gives none: regulator's droop and setting, common practice, no source."""
FULL_BOTTLE = 2.0
"""-. Pressure of a fresh bottle over the regulator's set pressure, at least (common practice, no source)."""
FUEL_RANGE = 0.05
"""-. The same of the fuel's tank pressure."""


class Wishes(Table):
    """What is wanted of the valve."""

    title: str = key("one line that says what it is", default="First cut", reason="none given", max_length=120)
    units: UnitsName = key("units of the reader: metric or inch", default="metric", reason="--units of the command wins")
    thrust: Force | None = key("thrust at the ambient pressure; or flow", default=None, gt=0.0, le=1e6)
    flow: Flow | None = key("both propellants together, instead of thrust", default=None, gt=0.0, le=500.0)
    chamber_pressure: Pressure = key("chamber pressure, lit", gt=2e5, le=160e5)
    mixture_ratio: Number = key("oxidizer over fuel, by mass", gt=0.05, le=60.0)
    propellants: str = key('pair, such as "oxygen/ethanol"', max_length=60)
    oxidizer_pressure: Pressure | None = key(
        "at the inlet of the oxidizer's line",
        default=None,
        reason="chamber pressure, injector's drop and a tenth",
        gt=0.0,
        le=400e5,
    )
    fuel_pressure: Pressure | None = key(
        "at the inlet of the fuel's line, with its range", default=None, reason="the same", gt=0.0, le=400e5
    )
    gas: str = key("actuation gas", default="nitrogen", reason="the cheapest dry one", max_length=40)
    gas_pressure: Pressure = key("actuation gas, with its range", gt=2e5, le=340e5)
    supply: Literal["constant", "regulator", "bottle"] = key(
        "where the actuation gas comes from: constant (a large source), regulator (a bottle behind one) or bottle alone",
        default="constant",
        reason="sizes of bottle and regulator come after the valve's",
    )
    bottle_pressure: Pressure = key(
        "of a fresh bottle behind a regulator", default=200e5, reason="a usual filling", gt=2e5, le=340e5
    )
    cycles: Number = key(
        "starts and stops that a bottle is to hold", default=10.0, reason="a day of tests, a guess", ge=1.0, le=1e4
    )
    oxidizer_lead: Time = key("oxidizer ahead of the fuel, at least", ge=0.0, le=1.0)
    opening_time: Time = key("command to full lift, at most", gt=1e-3, le=10.0)
    least_margin: Number = key("least of every static margin", default=0.05, reason="common practice, no source", ge=0.0, le=1.0)
    ambient_pressure: Pressure = key(
        "ambient, absolute", default=STANDARD_ATMOSPHERE, reason="standard atmosphere", ge=1e3, le=10e5
    )
    area_ratio: Number | None = key(
        "nozzle exit over throat", default=None, reason="adapted to the ambient pressure", ge=1.0, le=400.0
    )
    c_star_efficiency: Number = key(
        "c* reached over c* of the table", default=0.93, reason="0.90 to 0.97, common practice", gt=0.3, le=1.0
    )
    nozzle_efficiency: Number = key(
        "thrust coefficient over the ideal one", default=0.95, reason="0.92 to 0.98, common practice", gt=0.3, le=1.0
    )
    characteristic_length: Length | None = key(
        "chamber volume over throat area", default=None, reason="of the pair", gt=0.05, le=10.0
    )
    injector_drop: Number = key(
        "pressure drop of each injector side over chamber pressure",
        default=0.20,
        reason="15 to 25 %, common practice",
        ge=0.05,
        le=2.0,
    )
    blockage: Number = key("slots' share of the post's rim", default=0.4, reason="0.3 to 0.7, common practice", ge=0.05, le=0.9)
    oxidizer_temperature: Temperature | None = key("of the liquid", default=None, reason="of the pair", gt=10.0, le=400.0)
    fuel_temperature: Temperature | None = key("of the liquid", default=None, reason="of the pair", gt=10.0, le=400.0)
    largest_diameter: Length | None = key("room: largest piston", default=None, reason="five times the post", gt=1e-3, le=1.0)
    seat_impact_speed: Speed = key("on the seat, at most", default=2.0, reason="metal on metal, a guess", gt=0.0, le=20.0)
    rated_loss: PressureDifference | None = key(
        "of each feed line at rated flow, at least", default=None, reason="a twentieth of the chamber pressure", ge=0.0, le=100e5
    )
    allowable_pressure: Pressure = key("highest pressure the chamber may see, by its stress calculation", gt=0.0, le=1e9)


class Napkin(NamedTuple):
    """A napkin, read."""

    wishes: Wishes
    gas_pressure: ReadValue
    fuel_pressure: ReadValue | None
    pins: dict[str, Any]
    """path of the case -> as written"""
    name: str

    @property
    def reader(self) -> Reader:
        """The units in which the first cut speaks."""
        return READERS[self.wishes.units]


_LIMITS = {
    "greater_than_equal": ("ge", "must be at least"), "greater_than": ("gt", "must be above"),
    "less_than_equal": ("le", "must be at most"), "less_than": ("lt", "must be below"),
}  # fmt: skip


def _faults(error: ValidationError, raw: dict[str, Any]) -> list[Fault]:
    """One fault per error of pydantic."""
    faults = []
    for details in error.errors(include_url=False):
        name = str(details["loc"][0])
        given, kind, context = raw.get(name), details["type"], details.get("ctx", {})
        field = Wishes.model_fields.get(name)
        if kind == "quantity":
            faults.append(Fault(("napkin", name), context["rule"], given))
        elif kind == "missing" and field is not None:
            faults.append(Fault(("napkin", name), f"is missing ({field.description})"))
        elif kind == "extra_forbidden":
            from difflib import get_close_matches

            close = get_close_matches(name, list(Wishes.model_fields), n=1, cutoff=0.5)
            known = f"nearest: {close[0]}" if close else f"known: {', '.join(Wishes.model_fields)}"
            faults.append(Fault(("napkin", name), f"is no key of a napkin; {known}; any value of the case may stand in [pin]"))
        elif kind in _LIMITS:
            limit, words = _LIMITS[kind]
            quantity = quantity_of(field) if field is not None else None
            unit = "" if quantity is None or quantity.kind == "number" else f" {quantity.si_unit}"
            faults.append(Fault(("napkin", name), f"{words} {float(context[limit]):g}{unit}", given))
        else:
            faults.append(Fault(("napkin", name), f"cannot be used: {details['msg']}", given))
    return faults


def _consistency(wishes: Wishes) -> list[Fault]:
    """Faults between the keys."""
    faults = []
    if (wishes.thrust is None) == (wishes.flow is None):
        faults.append(Fault(("napkin", "thrust"), "or flow is wanted, one of the two"))
    if wishes.propellants not in combustion_tables.pairs():
        rule = f"is no shipped pair; they are {', '.join(combustion_tables.pairs())}"
        faults.append(Fault(("napkin", "propellants"), rule, wishes.propellants))
    else:
        ratios = combustion_tables.mixture_ratios(wishes.propellants)
        if not ratios[0] <= wishes.mixture_ratio <= ratios[-1]:
            rule = f"must be from {ratios[0]:g} to {ratios[-1]:g} (the pair's table)"
            faults.append(Fault(("napkin", "mixture_ratio"), rule, wishes.mixture_ratio))
    if plain_name(wishes.gas) not in ADMITTED:
        faults.append(Fault(("napkin", "gas"), f"must be one of {', '.join(ADMITTED)}", wishes.gas))
    if wishes.supply == "regulator" and wishes.bottle_pressure < FULL_BOTTLE * wishes.gas_pressure:
        rule = f"must be at least {FULL_BOTTLE:g} times gas_pressure, or the regulator soon starves"
        faults.append(Fault(("napkin", "bottle_pressure"), rule, f"{wishes.bottle_pressure / 1e5:.4g} bara"))
    if not wishes.chamber_pressure >= 2.0 * wishes.ambient_pressure:
        faults.append(Fault(("napkin", "chamber_pressure"), "must be at least twice the ambient pressure (a choked throat)"))
    least = (1.0 + 0.5 * wishes.injector_drop) * wishes.chamber_pressure
    for name in ("oxidizer_pressure", "fuel_pressure"):
        pressure = getattr(wishes, name)
        if pressure is not None and pressure < least:
            rule = f"must be at least {least / 1e5:.4g} bara: chamber pressure and half the injector's drop"
            faults.append(Fault(("napkin", name), rule, f"{pressure / 1e5:.4g} bara"))
    return faults


def _pin_faults(pins: dict[str, Any]) -> list[Fault]:
    """Pins must be paths of a case that hold one value."""
    faults = []
    for path in pins:
        info = info_at(split(path))
        if info is None or info.table is not None:
            faults.append(Fault(("pin", path), "is no value of a case (sleevelift schema lists them)"))
    return faults


def _ranged(raw: Any, default: float, ambient: float) -> ReadValue:
    """A pressure with its range, or with the default share either way of what it is above ambient."""
    value = read_value(raw, "pressure", ambient)
    if value.has_range:
        return value
    width = default * (value.value - ambient)
    return value._replace(low=value.value - width, high=value.value + width)


def napkin_from_text(text: str, name: str = "napkin") -> Napkin:
    """The napkin in a text. CaseError with every fault."""
    file = f"{name}.toml"
    if len(text) > LARGEST_FILE:
        raise CaseError([Fault((), f"is larger than {LARGEST_FILE / 1e6:g} MB: no napkin is")], file)
    try:
        raw = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise CaseError([Fault((), f"is no TOML: {str(error)[:120]}")], file) from None
    tables = raw.get("napkin")
    faults = [Fault((other,), "is no table of a napkin: [napkin] and [pin] are") for other in raw if other not in ("napkin", "pin")]
    pins = raw.get("pin", {})
    if not isinstance(tables, dict):
        raise CaseError([*faults, Fault(("napkin",), "is missing (sleevelift new --kind napkin writes one)")], file)
    if not isinstance(pins, dict):
        raise CaseError([*faults, Fault(("pin",), "must be a table of paths and values")], file)
    pins = _flat(pins)
    ambient = STANDARD_ATMOSPHERE
    try:
        if "ambient_pressure" in tables:
            ambient = read_value(tables["ambient_pressure"], "pressure", float("nan")).value
    except QuantityFault:
        pass
    faults += _pin_faults(pins)
    try:
        wishes = Wishes.model_validate(tables, context=Context(ambient))
    except ValidationError as error:
        raise CaseError([*faults, *_faults(error, tables)], file) from None
    faults += _consistency(wishes)
    if faults:
        raise CaseError(faults, file)
    fuel = tables.get("fuel_pressure")
    return Napkin(
        wishes,
        _ranged(tables["gas_pressure"], GAS_RANGE, ambient),
        None if fuel is None else _ranged(fuel, FUEL_RANGE, ambient),
        pins,
        name,
    )


def _flat(table: dict[str, Any], before: str = "") -> dict[str, Any]:
    """Nested tables as dotted paths, a range of a value left whole."""
    out: dict[str, Any] = {}
    for name, value in table.items():
        path = f"{before}{name}"
        if isinstance(value, dict) and "value" not in value:
            out |= _flat(value, f"{path}.")
        else:
            out[path] = value
    return out


def load_napkin(path: str | os.PathLike[str], units: UnitsName | None = None) -> Napkin:
    """The napkin in a file, in the reader's units where given. CaseError if it cannot be used."""
    shown = Path(os.fspath(path))
    try:
        text = shown.read_bytes()[: LARGEST_FILE + 1].decode("utf-8-sig")
    except OSError as error:
        raise CaseError([Fault((), f"cannot be read: {(error.strerror or 'unknown error').lower()}")], shown.name) from None
    except UnicodeDecodeError:
        raise CaseError([Fault((), "is no text in UTF-8")], shown.name) from None
    found = napkin_from_text(text, shown.stem)
    return found if units is None else found._replace(wishes=found.wishes.model_copy(update={"units": units}))


STARTER = """\
# A napkin: sleevelift size FILE --out CASE.toml makes a complete case of it. INVENTED numbers, nobody's hardware.
# A first cut is no design release. Pressurised gas and oxidizers kill: local codes and a qualified, independent review come first.

[napkin]
title = "Invented 2.5 kN test article"
thrust = "2.5 kN"               # at the ambient pressure; or flow = "1.1 kg/s", both propellants together
chamber_pressure = "18 bara"
mixture_ratio = 1.3             # oxidizer over fuel, by mass
propellants = "oxygen/ethanol"  # oxygen, nitrous-oxide or peroxide-90 with ethanol, isopropanol, isopropanol-75, methane, propane,
#                               # rp-1 or hydrogen
oxidizer_pressure = "27 bara"   # at the inlet of its line
fuel_pressure = { value = "27 bara", low = "25.5 bara", high = "28 bara" }
gas = "nitrogen"                # actuation gas
gas_pressure = { value = "31 bara", low = "29.5 bara", high = "32.5 bara" }
oxidizer_lead = "2 ms"          # at least
opening_time = "65 ms"          # at most, command to full lift
allowable_pressure = "60 bara"  # highest the chamber may see, by its stress calculation: the hard-start estimate is held against it
least_margin = 0.02             # of every static margin, over the ranges
# c_star_efficiency = 0.93      # further wishes with their defaults: nozzle_efficiency, characteristic_length, area_ratio,
#                               # injector_drop, blockage, ambient_pressure, oxidizer_temperature, fuel_temperature,
#                               # largest_diameter, seat_impact_speed, rated_loss, supply (constant, regulator, bottle),
#                               # bottle_pressure, cycles, units ("metric" or "inch": what is printed)

# [pin]                         # any value of the case that is settled already
# "sleeve.post_diameter" = "16 mm"
"""
"""What `sleevelift new --kind napkin` writes."""
