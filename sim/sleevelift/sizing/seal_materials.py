"""Seal materials by the codes of ISO 1629 (rubbers) and ISO 1043-1 (plastics): service temperature, expansion, and warnings.

Temperatures are those at which general-purpose compounds serve; one compound may do better or worse, and its maker's sheet
decides. Expansion is linear, per K, near room temperature. Everything here is common practice, from memory, unless a source stands
beside it: none of it replaces a compatibility test of the very compound with the very fluid at its pressure.
"""

from typing import NamedTuple

ZERO_CELSIUS = 273.15
"""K. Exact."""

RUBBER_EXPANSION, PLASTIC_EXPANSION = 1.6e-4, 1.2e-4
"""1/K, linear: filled rubbers 1.4e-4 to 1.9e-4, PTFE 1.2e-4 to 1.4e-4 (common practice, from memory)."""


class SealMaterial(NamedTuple):
    """One material of a seal."""

    title: str
    elastomer: bool
    coldest: float
    """K"""
    hottest: float
    """K"""
    expansion: float
    """1/K, linear"""


def _celsius(title: str, elastomer: bool, low: float, high: float, expansion: float) -> SealMaterial:
    return SealMaterial(title, elastomer, low + ZERO_CELSIUS, high + ZERO_CELSIUS, expansion)


MATERIALS = {
    "NBR": _celsius("acrylonitrile-butadiene rubber", True, -30.0, 100.0, RUBBER_EXPANSION),
    "HNBR": _celsius("hydrogenated acrylonitrile-butadiene rubber", True, -30.0, 150.0, RUBBER_EXPANSION),
    "EPDM": _celsius("ethylene-propylene-diene rubber", True, -45.0, 130.0, RUBBER_EXPANSION),
    "CR": _celsius("chloroprene rubber", True, -35.0, 90.0, RUBBER_EXPANSION),
    "VMQ": _celsius("silicone rubber", True, -55.0, 200.0, 1.9e-4),
    "FVMQ": _celsius("fluorosilicone rubber", True, -60.0, 175.0, 1.9e-4),
    "FKM": _celsius("fluorocarbon rubber", True, -15.0, 200.0, RUBBER_EXPANSION),
    "FFKM": _celsius("perfluorocarbon rubber", True, -10.0, 260.0, 2.3e-4),
    "PTFE": _celsius("polytetrafluoroethylene", False, -200.0, 230.0, PLASTIC_EXPANSION),
    "PCTFE": _celsius("polychlorotrifluoroethylene", False, -200.0, 150.0, 0.7e-4),
    "PE-UHMW": _celsius("polyethylene of ultra-high molecular mass", False, -200.0, 80.0, 1.8e-4),
    "PEEK": _celsius("polyetheretherketone", False, -100.0, 240.0, 0.5e-4),
    "PA": _celsius("polyamide", False, -40.0, 90.0, 0.9e-4),
}
"""Code -> material. ISO 1629:2013 and ISO 1043-1:2011 for the codes."""

OXYGEN_FLUIDS = ("oxygen",)
NITROUS_FLUIDS = ("nitrousoxide", "nitrous oxide")
PEROXIDE_FLUIDS = ("peroxide",)
SHORT_NAMES = {"o2": "oxygen", "lox": "oxygen", "gox": "oxygen", "n2o": "nitrous oxide", "h2o2": "peroxide", "htp": "peroxide"}
"""Short names of the same."""
HALOGENATED = ("FKM", "FFKM", "PTFE", "PCTFE")
"""Codes that are used beside oxygen after a test of the compound: they burn least readily of the list (ASTM G63 ranks by oxygen
index and heat of combustion; from memory)."""


def _name(fluid: str) -> str:
    """A fluid's name in lower case, spelled out."""
    name = fluid.strip().lower()
    return SHORT_NAMES.get(name, name)


def is_oxidizer(fluid: str) -> bool:
    """Whether a fluid's name is that of an oxidizer of this list."""
    name = _name(fluid)
    return any(word in name for word in (*OXYGEN_FLUIDS, *NITROUS_FLUIDS, *PEROXIDE_FLUIDS))


def temperature_fault(code: str, temperature: float) -> str | None:
    """Why a material does not serve at a temperature (K); None where it does. KeyError for another code."""
    material = MATERIALS[code]
    if temperature < material.coldest:
        state = "it is glass there and neither seals nor gives way" if material.elastomer else "it is below its service range"
        return f"{code} at {temperature:.0f} K: serves down to {material.coldest:.0f} K, {state}"
    if temperature > material.hottest:
        return f"{code} at {temperature:.0f} K: serves up to {material.hottest:.0f} K"
    return None


def fluid_warning(code: str, fluid: str) -> str | None:
    """A plain warning where a material stands beside an oxidizer; None where nothing is known against it.

    KeyError for another code. Silence is no approval: it says only that this list holds nothing.
    """
    MATERIALS[code]
    name = _name(fluid)
    if any(word in name for word in OXYGEN_FLUIDS):
        if code not in HALOGENATED:
            return (
                f"{code} burns in oxygen, lit by impact, friction or a particle: not beside oxygen. What is used there after a "
                "test of the very compound: PTFE, PCTFE, some FKM and FFKM (ASTM G63, G86)"
            )
        test = "only after an ignition test of the very compound, cleaned for oxygen service"
        return f"{code} beside oxygen: {test} (ASTM G63, G86, G93)"
    if any(word in name for word in NITROUS_FLUIDS) and code not in HALOGENATED:
        return (
            f"{code} beside nitrous oxide: it swells rubbers, feeds their fire and may decompose with them. Test the very "
            "compound; PTFE and PCTFE are used"
        )
    if any(word in name for word in PEROXIDE_FLUIDS) and code in ("NBR", "HNBR", "CR", "PA", "EPDM", "VMQ"):
        return f"{code} beside strong hydrogen peroxide: may decompose it, or be attacked by it. PTFE, PCTFE and some FKM are used"
    return None
