#!/usr/bin/env python3
"""Table of c* and exponent g of a propellant pair against O/F, from chemical equilibrium, as lines for `[chamber]`.

    liquid reactants (their enthalpy) --HP equilibrium at p0--> chamber gas --isentrope, composition shifting--> throat

    c* = p0 / max over p of rho sqrt(2 (h0 - h)),   entropy constant      (the throat is where the mass flux is largest)
    g  = (d ln p / d ln rho) at constant entropy, composition shifting    (gamma_s of NASA RP-1311)

Assumptions: one-dimensional, adiabatic, chemical equilibrium everywhere (shifting), ideal gas mixture, infinite
contraction ratio. Species: the gas species of C, H, O, N without charge in Cantera's `nasa_gas.yaml` (NASA
thermodynamic data). **No solid carbon**: at 20 bar equilibrium would form graphite below an O/F of 0.55 (oxygen and
ethanol), 1.1 (oxygen and methane or RP-1), 1.3 (nitrous oxide and ethanol); those rows are named in the comment above
the lines, and are estimates. No efficiency is applied: the case's `efficiency` does that.

Validity: chamber temperature 0.13 % above the published value of NASA RP-1311 Part II, Example 8. Gas below some 1500 K
reacts too slowly to reach equilibrium (common knowledge, no source), so both ends of the table are estimates.

Source: Gordon and McBride, NASA RP-1311 Part I (1994), for the equations; reactant enthalpies beside each
reactant below. Needs Cantera, which is a test dependency and not one of the program.
"""

from __future__ import annotations

import argparse
import math
from pathlib import Path
from typing import Any, NamedTuple

SPECIES_FILE = "nasa_gas.yaml"
"""NASA polynomials shipped with Cantera."""

GRAPHITE_FILE = "graphite.yaml"
"""NASA polynomial of graphite shipped with Cantera; only used to tell where solid carbon would form."""

COLDEST, HOTTEST = 400.0, 6000.0
"""K. Bracket of the equilibrium temperature; the cold end at O/F 40 is about 560 K, the polynomials end at 6000 K."""

TEMPERATURE_TOLERANCE = 1e-6
"""K. Of the root find for the equilibrium temperature: far below anything visible in c*."""

THROAT_BRACKET = (0.40, 0.70)
"""-. Throat pressure / chamber pressure lies between 0.53 (exponent 1.4) and 0.60 (exponent 1.05)."""

EXPONENT_STEP = 1e-3
"""-. Relative pressure step of the central difference for g: truncation error of order its square."""

DEFAULT_O_F = (
    0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.5, 1.6, 1.8, 2.0, 2.3, 2.6, 3.0, 3.5, 4.0, 5.0, 6.0,
    8.0, 10.0, 13.0, 16.0, 20.0,
)  # fmt: skip
"""-. Closer together where c* and g bend (near stoichiometry of the shipped pairs), wide apart towards both ends."""

PASCAL_PER_BAR = 1e5


class Reactant(NamedTuple):
    """A propellant as it enters the chamber."""

    title: str
    atoms: dict[str, float]
    """atoms per formula unit"""
    molar_mass: float
    """kg/mol"""
    enthalpy: float
    """J/mol, of formation, at `temperature` and phase, where the elements at 298.15 K have none"""
    temperature: float
    """K"""
    source: str


NASA = "assigned enthalpy of NASA's thermodynamic library (RP-1311 Part II, 1996), read in public transcriptions"

REACTANTS = {
    "oxygen": Reactant("liquid oxygen", {"O": 2}, 31.9988e-3, -12_979.0, 90.17, NASA),
    "nitrous-oxide": Reactant(
        "liquid nitrous oxide", {"N": 2, "O": 1}, 44.0128e-3, 81_600.0 - 16_530.0, 298.15,
        "gas +81.6 kJ/mol (NASA polynomials) less 16.53 kJ/mol for the liquid, from memory",
    ),
    "nitrous-oxide-gas": Reactant(
        "gaseous nitrous oxide", {"N": 2, "O": 1}, 44.0128e-3, 81_600.0, 298.15, "NASA polynomials, +81.6 kJ/mol",
    ),
    "ethanol": Reactant("liquid ethanol", {"C": 2, "H": 6, "O": 1}, 46.06844e-3, -277_510.0, 298.15, NASA),
    "methane": Reactant("liquid methane", {"C": 1, "H": 4}, 16.04246e-3, -89_233.0, 111.64, NASA),
    "rp-1": Reactant("RP-1 as CH1.95", {"C": 1, "H": 1.95}, 13.97618e-3, -24_717.7, 298.15, NASA),
    "hydrogen": Reactant("liquid hydrogen", {"H": 2}, 2.01588e-3, -9_012.0, 20.27, NASA),
}  # fmt: skip

OXIDIZERS = ("oxygen", "nitrous-oxide", "nitrous-oxide-gas")
FUELS = ("ethanol", "methane", "rp-1", "hydrogen")


class Mixture(NamedTuple):
    """One kilogram of propellant."""

    atoms: dict[str, float]
    """mol of atoms per kg"""
    enthalpy: float
    """J/kg"""


class ChamberGas(NamedTuple):
    """Equilibrium at the chamber: what a row of the table holds, and what a reader may want to compare."""

    o_f: float
    c_star: float
    """m/s, no efficiency"""
    exponent: float
    """-, gamma_s"""
    temperature: float
    """K"""
    molar_mass: float
    """kg/mol"""
    carbon_condenses: bool
    """whether equilibrium would hold solid carbon, which is left out"""


def equilibrium_gas() -> Any:
    """Cantera's phase of the neutral gas species of C, H, O, N (146 species in Cantera 3.2.0)."""
    import cantera

    species = [
        one for one in cantera.Species.list_from_file(SPECIES_FILE) if set(one.composition) <= set("CHON") and one.charge == 0
    ]
    return cantera.Solution(thermo="ideal-gas", species=species)


def mixture(oxidizer: Reactant, fuel: Reactant, o_f: float) -> Mixture:
    """Atoms (mol/kg) and enthalpy (J/kg) of one kilogram of propellant at the mass ratio `o_f` (-, positive)."""
    moles = ((oxidizer, o_f / (1.0 + o_f) / oxidizer.molar_mass), (fuel, 1.0 / (1.0 + o_f) / fuel.molar_mass))
    atoms: dict[str, float] = {}
    for reactant, amount in moles:
        for element, count in reactant.atoms.items():
            atoms[element] = atoms.get(element, 0.0) + amount * count
    return Mixture(atoms, sum(amount * reactant.enthalpy for reactant, amount in moles))


def set_chamber_state(gas: Any, propellant: Mixture, pressure: float) -> None:
    """Bring `gas` to equilibrium at the propellant's enthalpy and `pressure` (Pa).

    A root find over temperature of equilibria at (T, p), which always exist; the direct (h, p) solution starts from
    atoms and fails where the products are cold.
    """
    from scipy.optimize import brentq

    def enthalpy_error(temperature: float) -> float:
        gas.TPX = temperature, pressure, propellant.atoms
        gas.equilibrate("TP")
        return float(gas.enthalpy_mass) - propellant.enthalpy

    enthalpy_error(float(brentq(enthalpy_error, COLDEST, HOTTEST, xtol=TEMPERATURE_TOLERANCE)))


def set_isentropic_state(gas: Any, entropy: float, pressure: float) -> None:
    """Bring `gas` to equilibrium at `entropy` (J/kg/K) and `pressure` (Pa), near the state it is in."""
    gas.SP = entropy, pressure
    gas.equilibrate("SP", rtol=1e-10)


def carbon_condenses(gas: Any) -> bool:
    """Whether carbon's chemical potential in `gas` exceeds that of graphite at the same state: soot would form."""
    import cantera

    graphite = cantera.Solution(GRAPHITE_FILE)
    graphite.TP = gas.T, gas.P
    return float(gas.chemical_potentials[gas.species_index("C")]) > float(graphite.chemical_potentials[0])


def characteristic_velocity(gas: Any) -> float:
    """c* (m/s) of the chamber gas that `gas` holds: p0 / (largest mass flux along the shifting isentrope)."""
    from scipy.optimize import minimize_scalar

    entropy, total_enthalpy, pressure = gas.entropy_mass, gas.enthalpy_mass, gas.P

    def negative_mass_flux(ratio: float) -> float:
        set_isentropic_state(gas, entropy, ratio * pressure)
        return -float(gas.density) * math.sqrt(2.0 * (total_enthalpy - gas.enthalpy_mass))

    throat = minimize_scalar(negative_mass_flux, bounds=THROAT_BRACKET, method="bounded", options={"xatol": 1e-5})
    return float(pressure / -throat.fun)


def isentropic_exponent(gas: Any) -> float:
    """g = (d ln p/d ln rho) at constant entropy (-) of the chamber gas that `gas` holds, composition shifting."""
    entropy, pressure = gas.entropy_mass, gas.P
    log_densities = []
    for ratio in (1.0 + EXPONENT_STEP, 1.0 - EXPONENT_STEP):
        set_isentropic_state(gas, entropy, ratio * pressure)
        log_densities.append(math.log(gas.density))
    return math.log((1.0 + EXPONENT_STEP) / (1.0 - EXPONENT_STEP)) / (log_densities[0] - log_densities[1])


def chamber_gas(oxidizer: str, fuel: str, o_f: float, pressure: float, gas: Any | None = None) -> ChamberGas:
    """Equilibrium chamber gas of a pair (names in REACTANTS) at mass ratio `o_f` (-) and `pressure` (Pa)."""
    gas = gas or equilibrium_gas()
    propellant = mixture(REACTANTS[oxidizer], REACTANTS[fuel], o_f)
    set_chamber_state(gas, propellant, pressure)
    temperature, molar_mass = float(gas.T), float(gas.mean_molecular_weight) * 1e-3
    sooty = carbon_condenses(gas)
    exponent = isentropic_exponent(gas)
    set_chamber_state(gas, propellant, pressure)
    return ChamberGas(o_f, characteristic_velocity(gas), exponent, temperature, molar_mass, sooty)


def explosion_pressure(oxidizer: str, fuel: str, o_f: float, mass_per_volume: float, gas: Any | None = None) -> float:
    """Pressure (Pa) after all propellant in a closed chamber burned at once, of the products alone.

    Equilibrium at constant internal energy and volume, the internal energy of the liquids taken as their enthalpy (p v
    of a liquid is below 0.1 % of what burning frees). `mass_per_volume` (kg/m3): propellant per chamber volume.
    """
    from scipy.optimize import brentq

    gas = gas or equilibrium_gas()
    propellant = mixture(REACTANTS[oxidizer], REACTANTS[fuel], o_f)

    def energy_error(temperature: float) -> float:
        gas.TDX = temperature, mass_per_volume, propellant.atoms
        gas.equilibrate("TV")
        return float(gas.int_energy_mass) - propellant.enthalpy

    energy_error(float(brentq(energy_error, COLDEST, HOTTEST, xtol=TEMPERATURE_TOLERANCE)))
    return float(gas.P)


def combustion_table(oxidizer: str, fuel: str, pressure: float, o_f: tuple[float, ...]) -> list[ChamberGas]:
    """Rows of the table, one per mass ratio."""
    gas = equilibrium_gas()
    return [chamber_gas(oxidizer, fuel, ratio, pressure, gas) for ratio in o_f]


def toml_list(key: str, numbers: list[float], digits: int) -> str:
    """`key = [..]` with ten numbers a line."""
    words = [f"{number:.{digits}f}" for number in numbers]
    lines = [", ".join(words[first : first + 10]) for first in range(0, len(words), 10)]
    return f"{key} = [\n    " + ",\n    ".join(lines) + ",\n]"


def toml_text(oxidizer: str, fuel: str, pressure: float, rows: list[ChamberGas]) -> str:
    """The lines for a case's `[chamber]`, the source as a comment above them."""
    import cantera

    sooty = [f"{row.o_f:g}" for row in rows if row.carbon_condenses]
    carbon = "nowhere in this table" if not sooty else "at O/F " + ", ".join(sooty) + ": estimates"
    comment = (
        f"# {REACTANTS[oxidizer].title} and {REACTANTS[fuel].title}, {pressure / PASCAL_PER_BAR:g} bar absolute:\n"
        "# shifting chemical equilibrium of the gas species of C, H, O, N\n"
        f"# (Cantera {cantera.__version__}, {SPECIES_FILE}). Solid carbon is left out; it would form\n"
        f"# {carbon}.\n"
        "# Made by scripts/make_combustion_table.py. c* without efficiency; g is the isentropic exponent gamma_s.\n"
    )
    return comment + "\n".join(
        [
            "o_f = [" + ", ".join(f"{row.o_f:g}" for row in rows) + "]",
            toml_list("c_star", [row.c_star for row in rows], 1),
            'c_star_unit = "m/s"',
            toml_list("g", [row.exponent for row in rows], 4),
            "",
        ]
    )


def main() -> None:
    parser = argparse.ArgumentParser(description="c* and exponent g against O/F from equilibrium, as TOML lines")
    parser.add_argument("--oxidizer", choices=OXIDIZERS, default="oxygen")
    parser.add_argument("--fuel", choices=FUELS, default="ethanol")
    parser.add_argument("--pressure", type=float, default=20.0, metavar="BAR", help="chamber pressure, bar absolute")
    parser.add_argument("--o-f", type=float, nargs="+", default=list(DEFAULT_O_F), metavar="RATIO", help="mass ratios")
    parser.add_argument("--out", type=Path, default=None, metavar="FILE", help="also write the lines into this file")
    choice = parser.parse_args()
    if choice.pressure <= 0.0 or min(choice.o_f) <= 0.0:
        parser.error("pressure and mass ratios must be positive")
    pressure = choice.pressure * PASCAL_PER_BAR
    rows = combustion_table(choice.oxidizer, choice.fuel, pressure, tuple(sorted(choice.o_f)))
    text = toml_text(choice.oxidizer, choice.fuel, pressure, rows)
    print(text, end="")
    if choice.out is not None:
        choice.out.write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
