"""The last part on the simulator: fill orifice by the opening time, spigot by the lead, exhaust by the impact on the seat.

    opening_time falls with the fill orifice:   bisection, then the next metric drill up
    oxidizer_lead grows with the spigot:        bisection, rounded up to 0.01 mm
    seat_impact_speed falls with the exhaust:   next drill down, as long as it is too fast

Each run is the whole transient. What cannot be had here goes back to the static part: a longer stroke for the lead, more margin
against surges or hanging part-way.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from sleevelift.batch import run_lane
from sleevelift.case.schema import Case
from sleevelift.first_cut.assemble import Static, assembled
from sleevelift.first_cut.engine import Engine
from sleevelift.first_cut.gas_path import TUBE_BORES, TUBE_OVER_ORIFICE, Path
from sleevelift.first_cut.injector import SEAT_DISCHARGE, SEAT_GAP_SHARE, Injector
from sleevelift.first_cut.napkin import Napkin
from sleevelift.first_cut.sheet import Sheet, mm
from sleevelift.first_cut.trim import trimmed
from sleevelift.plant.names import NAMES
from sleevelift.reader import Reader
from sleevelift.sizing.orifice_sizes import drill_label, drill_sizes

OPENED = ("opened-and-closed", "opened-no-off-command", "did-not-close")
IN_TIME = 0.97
"""-. Share of the wanted opening time that is aimed at."""
LEAD_TO_SPARE = 1.04
"""-. Lead that is looked for over the wanted one."""
EXHAUST_SHARES = (1.2, 1.8, 2.6, 3.8, 5.5, 8.0, 12.0, 0.9, 0.6)
"""-. Exhaust over fill orifice, in the order they are tried."""
HALVINGS, DRILL_ROUNDS = 9, 4
PATIENT_ROUNDS, LESS = 5, 0.92
"""How often the dead volume is taken back, and by what factor, where the spigot that the lead then asks for opens too late."""
POCKET_HALVINGS = 5
"""of the bracket of the dead volume."""
SMALLEST, LARGEST_DRILL, LARGEST, BORED = 0.2e-3, 14e-3, 40e-3, 0.5e-3
"""m. Drills looked at; above the largest drill holes are bored, in steps."""


class Finished(NamedTuple):
    """A case after its runs."""

    case: Case
    text: str
    path: Path
    failed: dict[str, str]
    score: float
    """0: all holds; else less the more fails"""
    wanted_spigot: float | None
    """m, for a next round with a longer stroke; None: no such wish"""
    raise_margins: dict[str, float]
    """static margin -> how much of it a next round wants"""
    measures: dict[str, float]
    notes: list[str]


class Ran(NamedTuple):
    """One run."""

    outcome: str
    measures: dict[str, float]
    checks: dict[str, bool]


def run(case: Case, changes: dict[str, float]) -> Ran:
    """The transient of a case with some values changed."""
    row = run_lane(case, changes)
    measures = dict(zip(NAMES, np.asarray(row.values, dtype=float).tolist()))
    return Ran(row.outcome, measures, dict(row.checks))


def bisected(holds: Callable[[float], bool], bad: float, good: float, halvings: int = HALVINGS) -> float:
    """The value nearest to `bad` that holds, between `bad` and `good` (which holds), in the logarithm."""
    for _ in range(halvings):
        middle = math.sqrt(bad * good)
        if holds(middle):
            good = middle
        else:
            bad = middle
    return good


def drills_of(reader: Reader) -> dict[float, str]:
    """Diameter (m), increasing -> what it is called: drills of the reader's standard (metric below the smallest of the inch
    standards), then bored holes."""
    inch = drill_sizes(SMALLEST, LARGEST_DRILL, ("number", "letter", "fractional")) if reader.name == "inch" else []
    smallest = inch[0][1] if inch else LARGEST_DRILL
    found = {
        size: f"{reader.text('length', size, '.4f' if inch else '.2f')} drill"
        for _, size in drill_sizes(SMALLEST, smallest, ("metric",))
    }
    found |= {size: f"{drill_label(name, size)} drill" for name, size in inch}
    bored = [round(LARGEST_DRILL + BORED * (k + 1), 6) for k in range(round((LARGEST - LARGEST_DRILL) / BORED))]
    return found | {size: reader.text("length", size, ".4g") for size in bored}


class Finisher:
    """Runs of one sized case with its fill orifice, exhaust and spigot free."""

    def __init__(self, napkin: Napkin, case: Case, path: Path, spigot: float, longest: float, aim: float, spare: float) -> None:
        self.aim, self.spare = aim, spare
        self.wishes, self.case, self.path, self.spigot, self.longest = napkin.wishes, case, path, spigot, longest
        self.pins = napkin.pins
        self.bore = path.tube
        self.dead: float | None = None
        self.names = drills_of(napkin.reader)
        self.drills = sorted(self.names)
        self.runs = 0

    def ran(self, fill: float, spigot: float, exhaust: float) -> Ran:
        """The run with these (m)."""
        self.runs += 1
        bore = self.bore_for(fill)
        changes = {
            "solenoid.fill_orifice": fill, "seat.spigot_length": spigot, "solenoid.exhaust_orifice": exhaust, "tube.bore": bore,
        }  # fmt: skip
        if self.dead is not None and "lift_chamber.dead_volume" not in self.pins:
            changes["lift_chamber.dead_volume"] = max(self.dead, self.case.lift_chamber.dead_volume)
        return run(self.case, changes)

    def bore_for(self, fill: float) -> float:
        """Tube bore (m) with this fill orifice (m)."""
        return self.case.tube.bore if "tube.bore" in self.pins else max(self.bore, tube_for(fill))

    def slower(self, fill: float) -> bool:
        """Takes the next wider tube where the smallest drill is still too fast for the lead; False: there is none."""
        wider = [bore for bore in TUBE_BORES if bore > self.bore_for(fill)]
        if "tube.bore" in self.pins or fill > self.drills[0] or not wider:
            return False
        self.bore = wider[0]
        return True

    def faster(self) -> None:
        """Takes back the last wider tube."""
        self.bore = max((bore for bore in TUBE_BORES if bore < self.bore), default=self.bore)

    def in_time(self, fill: float, spigot: float) -> bool:
        """Whether it opens within the wanted time."""
        found = self.ran(fill, spigot, self.path.exhaust)
        return found.outcome in OPENED and found.measures["opening_time"] <= self.aim * self.wishes.opening_time

    def fill(self, spigot: float) -> float | None:
        """Drill (m) that opens in time; None: none up to the largest."""
        if "solenoid.fill_orifice" in self.pins:
            return self.case.solenoid.fill_orifice
        guess = self.path.fill
        good, factor = guess, 1.0
        while not self.in_time(min(good, LARGEST), spigot):
            if good >= LARGEST:
                return None
            factor *= 1.6
            good = min(guess * factor, LARGEST)
        bad = max(good / 1.6, SMALLEST * 0.99)
        while bad > SMALLEST and self.in_time(bad, spigot):
            good, bad = bad, bad / 1.6
        return self.drill_above(bisected(lambda d: self.in_time(d, spigot), bad, good))

    def patient(self, fill: float, spigot: float, pocket: float) -> None:
        """Takes the largest dead volume of the lift chamber with which it still opens in time: the sleeve travels the slower.

        pocket: that volume over a passage's, at most.
        """
        least = self.case.lift_chamber.dead_volume
        if "lift_chamber.dead_volume" in self.pins:
            return

        def in_time(volume: float) -> bool:
            self.dead = volume
            return self.in_time(fill, spigot)

        most = least
        while most < pocket * least and in_time(2.0 * most):
            most *= 2.0
        self.dead = bisected(in_time, 2.0 * most, most, POCKET_HALVINGS) if most < pocket * least else most

    def drill_above(self, diameter: float) -> float:
        """Next drill (m) at or above a diameter."""
        return next((d for d in self.drills if d >= diameter - 1e-9), self.drills[-1])

    def drill_below(self, diameter: float) -> float:
        """Next drill (m) below a diameter, the smallest if there is none."""
        return next((d for d in reversed(self.drills) if d < diameter - 1e-9), self.drills[0])

    def lead(self, fill: float, spigot: float) -> float:
        """Oxidizer lead (s); -inf where the fuel or the oxidizer never came."""
        value = self.ran(fill, spigot, self.path.exhaust).measures["oxidizer_lead"]
        return value if math.isfinite(value) else -math.inf

    def spigot_for(self, fill: float) -> tuple[float, bool]:
        """(spigot in m, whether the lead is had)."""
        wanted = self.spare * self.wishes.oxidizer_lead
        if "seat.spigot_length" in self.pins:
            return self.spigot, True
        if self.lead(fill, self.longest) < wanted:
            return self.longest, False
        shortest = 0.02e-3
        if self.lead(fill, shortest) >= wanted:
            return shortest, True
        found = bisected(lambda length: self.lead(fill, length) >= wanted, shortest, self.longest)
        return min(math.ceil(found * 1e5) / 1e5, self.longest), True

    def calmer(self, fill: float, spigot: float) -> float:
        """Exhaust (m): the first drill of EXHAUST_SHARES of the fill orifice that spares seat and fuel line; else the nearest.

        A sleeve that lets its gas go slowly is seated with the gas still pushing: then a surge lifts it again, and a larger exhaust
        helps; where the impact is too hard a smaller one does.
        """
        if "solenoid.exhaust_orifice" in self.pins:
            return self.case.solenoid.exhaust_orifice or fill
        best, least = self.drill_above(EXHAUST_SHARES[0] * fill), math.inf
        for share in EXHAUST_SHARES:
            exhaust = self.drill_above(min(share * fill, LARGEST))
            if exhaust > self.bore_for(fill):
                continue
            found = self.ran(fill, spigot, exhaust)
            speed, surge = found.measures["seat_impact_speed"], found.measures["surge_margin"]
            over = 0.0 if found.outcome == "opened-and-closed" else 1.0
            over += max(speed / self.wishes.seat_impact_speed - 1.0, 0.0) if math.isfinite(speed) else 1.0
            over += max(self.wishes.least_margin - surge, 0.0) if math.isfinite(surge) else 1.0
            if over < least:
                best, least = exhaust, over
            if over == 0.0:
                break
        return best


def tube_for(fill: float) -> float:
    """Tube bore (m) for a fill orifice (m)."""
    return next((bore for bore in TUBE_BORES if bore >= TUBE_OVER_ORIFICE * fill), TUBE_BORES[-1])


def finished(
    napkin: Napkin, eng: Engine, inj: Injector, static: Static, sheet: Sheet, pocket: float = 0.0, aim: float = IN_TIME,
    spare: float = LEAD_TO_SPARE,
) -> Finished:  # fmt: skip
    """Fill orifice, spigot and exhaust by runs; the checks of the outcome.

    pocket: dead volume of the lift chamber over a passage's, at most, to use the whole opening time, up to `aim`, a share of the
    wanted one; 0: the passage alone. spare: lead that is looked for over the wanted one.
    """
    gap = SEAT_GAP_SHARE * inj.fuel_area / (SEAT_DISCHARGE * math.pi * inj.seat)
    work = Finisher(napkin, static.case, static.path, inj.spigot, max(inj.stroke - gap, inj.lap), aim, spare)
    spigot, fill, had = inj.spigot, None, True
    for _ in range(DRILL_ROUNDS):
        fill = work.fill(spigot)
        if fill is None:
            break
        spigot, had = work.spigot_for(fill)
        while not had and work.slower(fill):
            if not work.in_time(fill, spigot):
                work.faster()
                break
            spigot, had = work.spigot_for(fill)
        if not had or work.in_time(fill, spigot):
            break
    if pocket > 0.0 and fill is not None:
        work.patient(fill, spigot, pocket)
        spigot, had = work.spigot_for(fill)
        for _ in range(PATIENT_ROUNDS):
            if work.dead is None or work.in_time(fill, spigot):
                break
            work.dead *= LESS
    opened = fill is not None
    chosen = fill if fill is not None else LARGEST
    exhaust = work.calmer(chosen, spigot) if opened else static.path.exhaust
    path = static.path._replace(fill=chosen, exhaust=exhaust, tube=work.bore_for(chosen), dead_volume=work.dead)
    final = inj._replace(spigot=spigot)
    sheet.put("seat.spigot_length", mm(spigot), "lead by a root find on the simulator")
    case, text = assembled(napkin, eng, final, static.moving, path, sheet)
    case, text = trimmed(napkin, eng, final, static.moving, path, case, text, sheet)
    ran = run(case, {})
    r, drill = napkin.reader, napkin.reader.fine if napkin.reader.name == "inch" else ".2f"
    opens = f"opens in {ran.measures['opening_time'] * 1e3:.4g} ms of {napkin.wishes.opening_time * 1e3:.4g}"
    fill_name = work.names.get(chosen, r.text("length", chosen, drill))
    sheet.step("fill orifice", fill_name, opens, f"root find on the simulator, {work.runs} runs")
    sheet.step(
        "spigot", r.text("length", spigot, drill), f"lead {ran.measures['oxidizer_lead'] * 1e3:.3g} ms",
        "root find on the simulator",
    )  # fmt: skip
    sheet.step(
        "exhaust orifice",
        work.names.get(exhaust, r.text("length", exhaust, drill)),
        f"{exhaust / chosen:.2g} times the fill orifice: first tried that spares seat and fuel line",
        "simulator",
    )
    failed = {name: said(name, ran, case) for name, ok in ran.checks.items() if not ok}
    wanted = None
    if not had:
        lead, least = ran.measures["oxidizer_lead"], 0.2 * napkin.wishes.oxidizer_lead
        lead = max(lead, least) if math.isfinite(lead) else least
        lead = lead if opened else napkin.wishes.oxidizer_lead
        wanted = min(spigot * min(max(1.1 * napkin.wishes.oxidizer_lead / lead, 1.1), 2.0), 3.0 * inj.stroke)
    return Finished(
        case, text, path, failed, -float(len(failed)) - 0.01 * (not opened), wanted,
        raised(ran, failed, napkin, static.found.margins), ran.measures,
        exclusive_wishes(napkin, opened, had, work),
    )  # fmt: skip


def raised(ran: Ran, failed: dict[str, str], napkin: Napkin, had: dict[str, float]) -> dict[str, float]:
    """What the next round wants of a static margin, for what failed in the run; `had`: what the static part left of each.

    A surge lifts the sleeve where its force exceeds the preload: the same ratio of forces as the margin with fuel alone, at a
    higher pressure. So both rise by the same factor.
    """
    wants: dict[str, float] = {}
    limit, found = napkin.wishes.least_margin, ran.measures

    def at_least(name: str, value: float) -> None:
        wants[name] = max(wants.get(name, value), value)

    surge = found["surge_margin"]
    if ("surge_margin" in failed or ran.outcome == "lifted-without-command") and math.isfinite(surge):
        factor = 1.02 * (1.0 + limit) / max(1.0 + surge, 0.3)
        for name in ("fuel_alone_margin", "closing_margin_unlit"):
            at_least(name, factor * (1.0 + had[name]) - 1.0)
    if "opens" in failed and ran.outcome == "hung-part-way":
        at_least("full_lift_margin", had["full_lift_margin"] + 0.03)
    if "closes" in failed:
        at_least("closing_margin", had["closing_margin"] + 0.05)
    for name in failed:
        if name in had:
            at_least(name, had[name] + max(limit - found[name], 0.0) + 0.003)
    return wants


def exclusive_wishes(napkin: Napkin, opened: bool, had: bool, work: Finisher) -> list[str]:
    """Which two wishes exclude each other here, in words."""
    wishes, r = napkin.wishes, napkin.reader
    if not opened:
        largest = r.text("length", LARGEST, ".3g")
        dead = (work.case.solenoid.open_dead_time or 0.0) * 1e3
        return [
            f"opening_time = {wishes.opening_time * 1e3:g} ms and gas_pressure exclude each other: even a {largest} "
            f"orifice opens later (dead time {dead:.3g} ms)"
        ]
    if not had:
        longest = r.text("length", work.longest, ".3g")
        return [
            f"oxidizer_lead = {wishes.oxidizer_lead * 1e3:g} ms and opening_time = {wishes.opening_time * 1e3:g} ms exclude each "
            f"other at this stroke: the longest spigot, {longest}, is passed sooner; a longer stroke is tried"
        ]
    return []


def said(name: str, ran: Ran, case: Case) -> str:
    """A failing check's number in words."""
    value = ran.measures.get(name, math.nan)
    if name in ("opens", "closes"):
        return ran.outcome
    return f"{value:.4g}" if math.isfinite(value) else "did not happen"
