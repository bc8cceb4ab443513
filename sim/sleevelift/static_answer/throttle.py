"""The valve at rest at some lifts: steady flow, the forces on the sleeve, and the gas energy stored around it."""

import numpy as np

from sleevelift.case.schema import Case
from sleevelift.physics.gas_node import expansion_energy
from sleevelift.physics.sleeve import FORCES
from sleevelift.plant.build import Plant
from sleevelift.plant.gas_rows import nodes_of
from sleevelift.static_answer import kernels
from sleevelift.static_answer.records import ForceState, StoredEnergy, Throttle

THROTTLE_STEPS = 10
"""Equal steps of lift in the throttle table."""
SAME_PRESSURE = 1e-9
"""-. A volume whose pressure exceeds ambient by no more than this share holds no energy."""
FILLED = "tube", "lift"
"""Gas nodes that are at actuation pressure while the valve is open; the others keep what they hold."""
SAME_LIFT = 1e-9
"""m. Lifts nearer than this are one row."""


def throttle_lifts(case: Case) -> list[float]:
    """Lifts of the throttle table, m: equal steps, and where slots or spigot begin and end."""
    stroke = case.sleeve.stroke
    wanted = [stroke * i / THROTTLE_STEPS for i in range(THROTTLE_STEPS + 1)]
    if case.slots is not None:
        for row in case.slots.row:
            wanted += [row.lap, row.lap + row.height]
    if case.seat is not None:
        wanted.append(case.seat.spigot_length)
    out: list[float] = []
    for lift in sorted(wanted):
        if lift <= stroke and (not out or lift - out[-1] > SAME_LIFT):
            out.append(lift)
    return out


def throttle_rows(plant: Plant, lifts: list[float], lit: bool, gas_on: bool = True) -> np.ndarray:
    """Compiled rows of the throttle table, with the gas at actuation pressure or vented."""
    rows = np.zeros((len(lifts), kernels.N_ROW))
    gas = plant.record[0]["ranges"]["gas_work"] if gas_on else plant.record[0]["ambient_pressure"]
    kernels.throttle_rows(plant.record, plant.tables, np.array(lifts), 1 if lit else 0, float(gas), rows)
    return rows


def throttle_table(rows: np.ndarray) -> list[Throttle]:
    """Rows with their names."""
    out = []
    for row in rows.tolist():
        w_o, w_f = row[kernels.R_OXIDIZER], row[kernels.R_FUEL]
        out.append(
            Throttle(
                lift=row[kernels.R_LIFT],
                slot_area=row[kernels.R_SLOT],
                seat_area=row[kernels.R_GAP],
                oxidizer_flow=w_o,
                fuel_flow=w_f,
                mixture_ratio=w_o / w_f if w_f > 0.0 else None,
                chamber_pressure=row[kernels.R_CHAMBER],
                net_force=row[kernels.R_NET],
                breakaway=row[kernels.R_BREAKAWAY],
            )
        )
    return out


def force_state(name: str, row: np.ndarray) -> ForceState:
    """Forces of one row of the throttle table."""
    forces = {force.name: float(row[kernels.R_FORCES + i]) + 0.0 for i, force in enumerate(FORCES)}
    net, breakaway = float(row[kernels.R_NET]), float(row[kernels.R_BREAKAWAY])
    return ForceState(name=name, lift=float(row[kernels.R_LIFT]), **forces, net=net, breakaway=breakaway)


def force_states(plant: Plant, unlit: np.ndarray, lit: np.ndarray | None) -> list[ForceState]:
    """Forces shut and at full lift."""
    stroke = float(plant.record[0]["sleeve"]["stroke"])
    vented = throttle_rows(plant, [0.0, stroke], lit=False, gas_on=False)
    out = [
        force_state("shut, gas vented", vented[0]),
        force_state("shut, gas on", unlit[0]),
        force_state("full lift, gas on" + (", unlit" if lit is not None else ""), unlit[-1]),
    ]
    if lit is not None:
        out.append(force_state("full lift, gas on, lit", lit[-1]))
        out.append(force_state("full lift, gas vented, lit", throttle_rows(plant, [stroke], lit=True, gas_on=False)[0]))
    else:
        out.append(force_state("full lift, gas vented", vented[-1]))
    return out


def stored_energies(case: Case, plant: Plant) -> list[StoredEnergy]:
    """Stored gas energy of each gas volume, J."""
    record, gas = plant.record[0], plant.gas
    amb, work = float(record["ambient_pressure"]), float(record["ranges"]["gas_work"])

    def energy(pressure: float, temperature: float, volume: float) -> float:
        if pressure <= amb * (1.0 + SAME_PRESSURE):
            return 0.0
        return volume * float(expansion_energy(pressure, temperature, amb, gas))

    out = []
    T = case.supply.temperature
    for node in nodes_of(plant):
        held = energy(node.pressure, node.temperature, node.volume)
        filled = held
        if node.name in FILLED:
            filled = energy(work, T, node.volume + max(node.swept, 0.0) * case.sleeve.stroke)
        out.append(StoredEnergy(node.title, node.volume, held, filled))
    return out
