#!/usr/bin/env python3
"""Table of c* and exponent g of a propellant pair against O/F, from chemical equilibrium, as lines for `[chamber]`.

With `--ship FOLDER` instead: every pair of OXIDIZERS and FUELS at every one of SHIPPED_PRESSURES, a CSV file a pair,
what `sim/sleevelift/combustion_tables/` holds and a case names by `propellants = "oxygen/ethanol"` (ten minutes).

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

SHIPPED_PRESSURES = (2.5, 5.0, 10.0, 20.0, 40.0, 80.0, 160.0)
"""bar absolute. Twofold steps: between them c* and g are interpolated in ln p."""

OVER_STOICHIOMETRIC = (
    0.144, 0.192, 0.24, 0.288, 0.336, 0.384, 0.432, 0.48, 0.528, 0.576, 0.624, 0.672, 0.72, 0.768, 0.816, 0.864, 0.912, 0.96,
    1.03, 1.1, 1.25, 1.44, 1.68, 1.92, 2.4, 2.88, 3.84, 4.8, 6.24, 7.68, 9.6,
)  # fmt: skip
"""-. Mass ratios of the shipped tables over the stoichiometric one (to CO2, H2O, N2): DEFAULT_O_F for any pair."""

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


NASA = "assigned enthalpy of NASA's thermodynamic library (RP-1311 Part II, 1996), copy's address not kept"

PURE = {
    "oxygen": Reactant("liquid oxygen", {"O": 2}, 31.9988e-3, -12_979.0, 90.17, NASA),
    "nitrous-oxide": Reactant(
        "liquid nitrous oxide", {"N": 2, "O": 1}, 44.0128e-3, 81_600.0 - 16_530.0, 298.15,
        "gas +81.6 kJ/mol (NASA polynomials) less 16.53 kJ/mol for the liquid, from memory",
    ),
    "nitrous-oxide-gas": Reactant(
        "gaseous nitrous oxide", {"N": 2, "O": 1}, 44.0128e-3, 81_600.0, 298.15, "NASA polynomials, +81.6 kJ/mol",
    ),
    "peroxide": Reactant(
        "liquid hydrogen peroxide", {"H": 2, "O": 2}, 34.01468e-3, -187_780.0, 298.15,
        "-44.88 kcal/mol, as the public input cards of equilibrium programs have it (NASA's library, Wagman et al.)",
    ),
    "water": Reactant("liquid water", {"H": 2, "O": 1}, 18.01528e-3, -285_830.0, 298.15, "CODATA key values (1989)"),
    "ethanol": Reactant("liquid ethanol", {"C": 2, "H": 6, "O": 1}, 46.06844e-3, -277_510.0, 298.15, NASA),
    "isopropanol": Reactant(
        "liquid isopropanol", {"C": 3, "H": 8, "O": 1}, 60.09502e-3, -318_200.0, 298.15,
        "-318.2 kJ/mol, Snelson and Skinner 1961, as collected by the NIST Chemistry WebBook",
    ),
    "methane": Reactant("liquid methane", {"C": 1, "H": 4}, 16.04246e-3, -89_233.0, 111.64, NASA),
    "propane": Reactant(
        "liquid propane at its boiling point", {"C": 3, "H": 8}, 44.09562e-3, -128_228.0, 231.08,
        "NASA's library, from memory; a test makes it from the gas's -104.7 kJ/mol and CoolProp's evaporation and cooling",
    ),
    "rp-1": Reactant("RP-1 as CH1.95", {"C": 1, "H": 1.95}, 13.97618e-3, -24_717.7, 298.15, NASA),
    "hydrogen": Reactant("liquid hydrogen", {"H": 2}, 2.01588e-3, -9_012.0, 20.27, NASA),
}  # fmt: skip


def blend(title: str, parts: tuple[tuple[str, float], ...]) -> Reactant:
    """Liquids of PURE mixed by mass shares (-, sum 1), one kilogram as the formula unit; the heat of mixing is left out.

    It is some 0.5 kJ per mole of mixture for either blend below (from memory), so 0.2 % of c* at most.
    """
    atoms: dict[str, float] = {}
    enthalpy = 0.0
    for name, share in parts:
        part = PURE[name]
        enthalpy += share / part.molar_mass * part.enthalpy
        for element, count in part.atoms.items():
            atoms[element] = atoms.get(element, 0.0) + share / part.molar_mass * count
    return Reactant(title, atoms, 1.0, enthalpy, 298.15, " and ".join(f"{name}: {PURE[name].source}" for name, _ in parts))


REACTANTS = {
    **PURE,
    "peroxide-90": blend("hydrogen peroxide, 90 % by mass in water", (("peroxide", 0.9), ("water", 0.1))),
    "isopropanol-75": blend("isopropanol, 75 % by mass in water", (("isopropanol", 0.75), ("water", 0.25))),
}

OXIDIZERS = ("oxygen", "nitrous-oxide", "peroxide-90")
FUELS = ("ethanol", "isopropanol", "isopropanol-75", "methane", "propane", "rp-1", "hydrogen")


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


def oxygen_balance(reactant: Reactant) -> float:
    """Oxygen left over (positive) or wanting per kilogram when it burns to CO2, H2O and N2, mol of O atoms."""
    atoms = reactant.atoms
    spare = atoms.get("O", 0.0) - 2.0 * atoms.get("C", 0.0) - 0.5 * atoms.get("H", 0.0)
    return spare / reactant.molar_mass


def stoichiometric_ratio(oxidizer: Reactant, fuel: Reactant) -> float:
    """Mass ratio of oxidizer to fuel that leaves neither (-)."""
    return -oxygen_balance(fuel) / oxygen_balance(oxidizer)


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


def shipped_text(oxidizer: str, fuel: str) -> str:
    """A shipped file: comment lines, a header, a row per pressure and mass ratio."""
    import cantera

    gas = equilibrium_gas()
    first, second = REACTANTS[oxidizer], REACTANTS[fuel]
    stoichiometric = stoichiometric_ratio(first, second)
    lines = [
        f"# {first.title} and {second.title}: c* (no efficiency) and isentropic exponent, composition shifting.",
        f"# Chemical equilibrium of the gas species of C, H, O, N (Cantera {cantera.__version__}, {SPECIES_FILE}),",
        "# solid carbon left out; soot = 1 where it would form: an estimate. Made by scripts/make_combustion_table.py --ship.",
        f"# Enthalpy of the oxidizer: {first.source}",
        f"# Enthalpy of the fuel: {second.source}",
        f"# Stoichiometric ratio: {stoichiometric:.4f}",
        "pressure_bar,o_f,c_star_m_s,g,temperature_K,molar_mass_g_mol,soot",
    ]
    ratios = tuple(float(f"{part * stoichiometric:.3g}") for part in OVER_STOICHIOMETRIC)
    for pressure in SHIPPED_PRESSURES:
        for row in (chamber_gas(oxidizer, fuel, ratio, pressure * PASCAL_PER_BAR, gas) for ratio in ratios):
            state = f"{row.c_star:.1f},{row.exponent:.4f},{row.temperature:.0f},{row.molar_mass * 1e3:.3f}"
            lines.append(f"{pressure:g},{row.o_f:g},{state},{row.carbon_condenses:d}")
    return "\n".join(lines) + "\n"


def ship(folder: Path) -> None:
    """Write every shipped pair into `folder`, `oxygen_ethanol.csv` and so on."""
    for oxidizer in OXIDIZERS:
        for fuel in FUELS:
            (folder / f"{oxidizer}_{fuel}.csv").write_text(shipped_text(oxidizer, fuel), encoding="utf-8")
            print(f"{oxidizer}/{fuel}", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="c* and exponent g against O/F from equilibrium, as TOML lines")
    parser.add_argument("--oxidizer", choices=(*OXIDIZERS, "nitrous-oxide-gas"), default="oxygen")
    parser.add_argument("--fuel", choices=FUELS, default="ethanol")
    parser.add_argument("--pressure", type=float, default=20.0, metavar="BAR", help="chamber pressure, bar absolute")
    parser.add_argument("--o-f", type=float, nargs="+", default=list(DEFAULT_O_F), metavar="RATIO", help="mass ratios")
    parser.add_argument("--out", type=Path, default=None, metavar="FILE", help="also write the lines into this file")
    parser.add_argument("--ship", type=Path, default=None, metavar="FOLDER", help="write the shipped tables of every pair there")
    choice = parser.parse_args()
    if choice.ship is not None:
        ship(choice.ship)
        return
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
