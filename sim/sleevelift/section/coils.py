"""Where the section plane cuts the wire of a helical compression spring with closed, ground ends.

    |O  O   O   O  OO|      one side of the axis: turns 0.25, 1.25, ...   the other: 0.75, 1.75, ...
     0             L

The end coils ((total - active)/2 at either end) lie d apart, the active ones (L - 2 e d)/n; at solid length total x d, all d apart.
"""


def place_along(turn: float, length: float, wire: float, active: float, total: float) -> float:
    """Distance of the wire's centre from the spring's first end, m, after so many turns (0 to total); length, wire m.

    >>> [round(place_along(t, 12.0, 1.0, 8.0, 10.0), 9) for t in (0.0, 1.0, 5.0, 9.0, 10.0)]
    [0.0, 1.0, 6.0, 11.0, 12.0]
    """
    end = 0.5 * (total - active)
    pitch = (length - 2.0 * end * wire) / active
    if turn < end:
        return turn * wire
    return end * wire + min(turn - end, active) * pitch + max(turn - end - active, 0.0) * wire


def coil_centres(length: float, wire: float, active: float, total: float, other_side: bool = False) -> list[float]:
    """Centres of the cut wires on one side of the axis, m from the first end."""
    first = 0.75 if other_side else 0.25
    turns: list[float] = []
    while first + len(turns) <= total:
        turns.append(first + len(turns))
    return [place_along(turn, length, wire, active, total) for turn in turns]
