"""The spring of a case that gives its wire, coils and free length: what it does between its two working lengths."""

from sleevelift.case.schema import Case
from sleevelift.sizing.spring_design import SpringState, spring_state


def wound_state(case: Case) -> SpringState | None:
    """`spring_state` of the case's spring over its stroke; None where wire, coils or free length are not given."""
    s = case.spring
    if s.wire_diameter is None or s.mean_diameter is None or s.active_coils is None:
        return None
    if s.total_coils is None or s.free_length is None:
        return None
    return spring_state(
        wire_diameter=s.wire_diameter,
        mean_diameter=s.mean_diameter,
        active_coils=s.active_coils,
        total_coils=s.total_coils,
        free_length=s.free_length,
        preload=s.preload,
        stroke=case.sleeve.stroke,
        shear_modulus=s.shear_modulus,
        elastic_modulus=s.elastic_modulus,
        density=s.density,
    )
