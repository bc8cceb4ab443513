"""Feed lines of the hot case: pressure at the inlet, loss on the way."""

from sleevelift.case.schema_liquid import Propellant


def inlet_of(side: Propellant) -> float:
    """Pressure at the inlet of a line, Pa absolute; of a table its highest."""
    return (
        side.inlet_pressure if side.inlet_pressure is not None else max(side.inlet_table.pressure if side.inlet_table else (0.0,))
    )


def line_loss(side: Propellant, flow: float, density: float) -> float:
    """Loss of line and run valve, Pa, at a flow, kg/s, of a liquid of this density, kg/m3."""
    if side.rated_flow is None:
        return 0.0
    return side.rated_loss * (flow / side.rated_flow) ** 2 * side.rated_density / density
