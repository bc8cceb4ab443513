"""Quick exhaust: a shuttle between tube, lift chamber and its own vent.

    tube p_t ====[ shuttle ]==== lift chamber p_l        home (0): the chamber fills through the tube
                     |                                   moved (1): the chamber vents to ambient, the tube is shut off
                    vent

It moves in proportion to p_l - p_t over the cracking pressure; its own inertia and friction are left out. The linear passage keeps
the flows continuous; a real shuttle snaps. Common practice, no source.
"""

from sleevelift.jit import bare_kernel


@bare_kernel
def shuttle_position(difference, cracking):
    """Position of the shuttle, 0 to 1: clip((p_l - p_t)/cracking, 0, 1); Pa."""
    return min(max(difference / cracking, 0.0), 1.0)


@bare_kernel
def shuttle_slope(difference, cracking):
    """Derivative of `shuttle_position` by the pressure difference, 1/Pa."""
    return 1.0 / cracking if 0.0 < difference < cracking else 0.0
