"""What a bench test can tell and what it cannot, and its cautions."""

from typing import NamedTuple

from sleevelift.bench_case.strip import cold_sides
from sleevelift.case.cautions import CAUTION
from sleevelift.case.schema import Case

DRY_TELLS = (
    "electrical delay, fill and vent times of the solenoid valve, tube and lift chamber, at the bench's own pressure",
    "lift-chamber pressure at breakaway and at seating: friction, preload and spring rate of the parts at hand",
    "travel and return times, impacts on stop and seat, rebounds",
    "leaks of the gas side, and that the vents are free",
)
NO_FLOW = (
    "oxidizer lead, flows, ramps, mixture ratio: no liquid flows",
    "reverse flow, light-off, hard start, combustion",
    "the jet's pull, the pressure between seat and annulus, chamber pressure on nose and face",
    "pressure surges of the feed lines, water hammer",
    "seals and clearances at running temperature",
)
DRY_CANNOT = (
    *NO_FLOW,
    "fuel's help in opening, so neither the opening pressure nor the opening time of the hot start",
    "the interlock, and what happens when fuel is lost: where gas alone opens it, no_fuel_margin and fuel_loss_margin "
    "fail, as they must",
)
HELPED_CANNOT = (*NO_FLOW, "a fuel pressure that sags when the fuel comes on, so not the hot start's times")
WET_TELLS = (
    "flow against lift of slots, seat and annulus, and their discharge coefficients, at the Reynolds number stated above",
    "which side flows first with these pressures, and how flows ramp",
    "leaks of closed slots and seat, surges of the lines with this liquid, losses of lines and filters",
)
WET_CANNOT = (
    "the hot start's times and lead: no chamber pressure lifts the sleeve or holds back the flows, the liquids' "
    "densities differ, and "
    "other gas and feed pressures move the sleeve at another speed",
    "reverse flow out of a burning chamber, light-off, hard start, combustion, chamber pressure on nose and face",
    "cavitation and flashing as in the hot case: vapour pressure and pressure behind the injector differ",
    "jets, sheet and spray, mixing: surface tension, viscosity and what surrounds the jet differ, and so does the ratio of momenta",
    "heat: seals, clearances and liquids at running temperature; chilldown",
)
GAS_TELLS = (
    *DRY_TELLS,
    "flow of gas through slots, seat and annulus at full lift, held against the figures above: a drilling that is "
    "missing or blocked",
)
HANDS_OFF = (
    "No one near it while it is pressurised: fill, run and vent from a distance, and prove it vented before anyone comes near.",
    CAUTION,
)
NOT_CLEAN = (
    "Water, test gas and their hoses bring oil, particles and moisture. A valve that was cleaned for oxidizer service "
    "never sees a "
    "liquid or gas that is not as clean; after this test it counts as dirty: strip it, clean it again to the procedure "
    "of that oxidizer, "
    "verify and dry it before any oxidizer enters. Water left in it freezes in a cold passage and jams the sleeve; "
    "peroxide decomposes "
    "on what water leaves behind."
)
BREATHE = "Inert gas drives out the air: vent it outdoors or into a vented room with an oxygen monitor."
PURGED = "No propellant before this test: purged, vented and proved free of both, since seals leak and vapour stays in dead ends."


class Told(NamedTuple):
    """What is said of one kind of bench case."""

    title: str
    tells: tuple[str, ...]
    cannot: tuple[str, ...]
    wets: bool
    """whether something flows through the propellant passages"""


DRY = Told("Dry bench", DRY_TELLS, DRY_CANNOT, False)
HELPED = Told("Dry bench, gas on the fuel side", DRY_TELLS, HELPED_CANNOT, True)
WET = Told("Cold flow", WET_TELLS, WET_CANNOT, True)
GAS = Told("Gas flow", GAS_TELLS, HELPED_CANNOT, True)


def cautions(hot: Case, wets: bool, raised: bool, relief: bool) -> tuple[str, ...]:
    """What stands at the head of the case and is printed: of a raised gas pressure, of what wets the valve, of cold parts.

    relief: the relief valve is set anew.
    """
    said = [*HANDS_OFF, PURGED, BREATHE]
    if raised:
        words = "The actuation pressure is above that of the hot case, within the rated pressures that the case gives"
        if relief:
            words += "; the relief valve is set anew to the value in the case, and back before the hot test"
        if hot.supply.relief_pressure is None and hot.supply.kind == "regulator":
            words += "; the case has no relief valve, so a regulator that fails open puts bottle pressure on all that is behind it"
        said.append(f"{words}.")
    if wets:
        said.append(NOT_CLEAN)
    say = hot.reader.text
    for side, temperature in cold_sides(hot):
        said.append(
            f"The {side} side runs at {say('temperature', temperature)}, the bench at "
            f"{say('temperature', hot.ambient.temperature)}: a seal for "
            f"that service rubs and "
            "leaks otherwise at ambient and may not hold there, and clearances are those of warm parts. A test at "
            "running temperature is "
            "another test, with hazards of its own (liquid nitrogen: no air to breathe, burst of what is locked in)."
        )
    return tuple(said)
