"""What a run must say of fuel past the rod seal: what it leaves in the lift chamber, what of it is not modelled."""

from collections.abc import Mapping
from math import inf
from typing import Any

from sleevelift.case.leaks import warmest_vapour
from sleevelift.case.schema import Case
from sleevelift.plant.build import Plant
from sleevelift.plant.params import LIFT, TUBE
from sleevelift.plant.state import B_LIQUID_OUT, FUEL, M_PASSED, M_STOOD, S_LIFT_P

Measures = Mapping[str, float | None]


def rod_remarks(found: Measures, case: Case, plant: Plant, raw: Any) -> list[str]:
    """Remarks on a run whose rod seal leaks; none where it is tight, or the case dry."""
    record = plant.record[0]
    if not record["rod"]["present"] or len(raw.t) == 0:
        return []
    return [*_chamber(case, record, raw), *_slug(case, record, raw), *_vapour(case), *_into_line(found, case)]


def _chamber(case: Case, record: Any, raw: Any) -> list[str]:
    """What stands in the lift chamber as the run begins and at most, and whether it lifted before."""
    text = case.reader.text
    liquid = raw.y[:, int(record["index"]["lift_liquid"])]
    dead = float(record["nodes"]["volume"][LIFT])
    stood = float(raw.event_memory[M_STOOD])
    most = text("volume", float(liquid.max()), ".3g")
    said = f"Fuel leaks past the rod seal into the lift chamber (port {case.lift_chamber.port}): at most {most} of it there "
    said += f"(dead volume {text('volume', dead, '.3g')})"
    if stood > 0.0:
        said += f", {text('volume', float(liquid[0]), '.3g')} after standing {stood:.3g} s before the run"
        said += f", which begins with {text('pressure', float(raw.outputs[0][S_LIFT_P]), '.4g')} there"
    out = [said + ". Where gas and liquid leave first, and how full is full, are guesses."]
    if 0.0 < stood < case.run.pressurised_before_command:
        out.append(
            f"It lifts without command {stood:.3g} s after the propellants stand at the valve, before the run's own start: the run "
            "begins there."
        )
    return out


def _slug(case: Case, record: Any, raw: Any) -> list[str]:
    """Liquid that left by the port is in the tube, which the model does not follow."""
    rho = float(record["lines"][FUEL]["rho"])
    passed = float(raw.event_memory[M_PASSED])
    gone = passed + float(raw.y[-1, int(record["index"]["rod"]) + B_LIQUID_OUT])
    tube = float(record["nodes"]["volume"][TUBE])
    if not gone > 1e-3 * rho * tube:
        return []
    text = case.reader.text
    if passed > rho * tube:
        return [
            f"The fuel has filled the tube ({text('volume', tube, '.3g')}) too before the command: the slug in it is not modelled, "
            "so no time of this run is to be trusted. To change: drain the tube, or mend the seal."
        ]
    return [
        f"{text('volume', gone / rho, '.3g')} of fuel leaves the lift chamber by its port into a tube of "
        f"{text('volume', tube, '.3g')}: it is counted as gone to ambient at once; the slug in the tube, which slows the next "
        "filling, is not modelled."
    ]


def _vapour(case: Case) -> list[str]:
    """A fuel that may evaporate in the lift chamber needs far more room than the liquid that the run counts with."""
    warmest, pressure = warmest_vapour(case)
    if not pressure > case.ambient.pressure:
        return []
    known = "far above ambient" if pressure == inf else case.reader.text("pressure", pressure, ".3g")
    return [
        f"The fuel may evaporate in the lift chamber (vapour pressure {known} at {warmest:.0f} K): as gas it needs far more room "
        "and holds the pressure much higher. The run counts with liquid and is not conservative; `check` states the largest leak "
        "as vapour where that is less."
    ]


def _into_line(found: Measures, case: Case) -> list[str]:
    """Gas that went back into the fuel line."""
    gas = found.get("gas_into_fuel_line")
    if gas is None or gas <= 1e-9:
        return []
    return [
        f"{1e6 * gas:.3g} mg of actuation gas passes the rod seal into the fuel line: gas in the manifold (a softer line, a gap in "
        "the flow) is not modelled."
    ]
