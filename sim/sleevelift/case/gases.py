"""The gases that may drive the sleeve, and why others are refused.

Admitted: critical temperature below 160 K, so that expansion from a bottle does not condense the gas in ordinary cases.
Values: CoolProp 8.0.0, PropsSI("Tcrit"), PropsSI("gas_constant")/PropsSI("molar_mass") and cp/cv at 293.15 K, 1 kPa,
rounded; a test recomputes them.
"""

from typing import NamedTuple

HIGHEST_CRITICAL_TEMPERATURE = 160.0
"""K."""


class KnownGas(NamedTuple):
    critical_temperature: float
    """K"""
    gas_constant: float
    """J/(kg K)"""
    gamma: float
    """-, at 293.15 K and low pressure"""


ADMITTED = {
    "helium": KnownGas(5.1953, 2077.264, 1.666665),
    "hydrogen": KnownGas(33.1443, 4124.488, 1.405941),
    "deuterium": KnownGas(38.340, 2064.064, 1.398341),
    "neon": KnownGas(44.400, 412.0353, 1.666669),
    "nitrogen": KnownGas(126.192, 296.8039, 1.399590),
    "air": KnownGas(132.531, 287.0491, 1.400139),
    "carbon monoxide": KnownGas(132.860, 296.8384, 1.399365),
    "argon": KnownGas(150.687, 208.1333, 1.666696),
    "oxygen": KnownGas(154.599, 259.8329, 1.395226),
}

INERT = ("nitrogen", "helium", "argon", "neon")
"""What may purge a chamber or a manifold: burns with nothing there, feeds no fire."""

REFUSED = {
    # K, critical temperature (CoolProp 8.0.0)
    "methane": 190.56,
    "krypton": 209.48,
    "ethylene": 282.35,
    "xenon": 289.73,
    "carbon dioxide": 304.13,
    "ethane": 305.32,
    "nitrous oxide": 309.52,
    "sulfur hexafluoride": 318.72,
    "propane": 369.89,
    "ammonia": 405.56,
    "water": 647.10,
    "steam": 647.10,
}

ALIASES = {
    "n2": "nitrogen",
    "gn2": "nitrogen",
    "he": "helium",
    "ar": "argon",
    "h2": "hydrogen",
    "ne": "neon",
    "o2": "oxygen",
    "gox": "oxygen",
    "co": "carbon monoxide",
    "carbonmonoxide": "carbon monoxide",
    "co2": "carbon dioxide",
    "carbondioxide": "carbon dioxide",
    "n2o": "nitrous oxide",
    "nitrousoxide": "nitrous oxide",
    "d2": "deuterium",
}


def plain_name(name: str) -> str:
    """The name under which a gas stands in the tables above: lower case, aliases resolved."""
    small = " ".join(name.lower().replace("_", " ").split())
    return ALIASES.get(small, small)
