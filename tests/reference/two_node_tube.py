"""The reference twin with a tube of two nodes: physics that the program does not have, for fits that must notice.

    valve -> first half -> second half -> lift chamber      each half with half the volume and the conductance of half the length

What the twin computes of a tube is kept for the second half; fill, exhaust and the flow between the halves are added to the rates
of the nodes they touch, which are linear in them.
"""

from __future__ import annotations

import numpy as np
import twin
from twin_gas import Orifice, Stream, node_rates, one_way, tube_component
from twin_machine import Machine
from twin_measures import traces_of


class TwoNodeTube(Machine):
    """The machine with its tube in two halves; a plenum and a bottle as they are."""

    def __init__(self, case, ignite=True):
        super().__init__(case, ignite)
        tube = case.tube
        self.tube_volume /= 2.0
        self.link = self.to_chamber = self.from_chamber = tube_component(tube.length / 2.0, tube.bore)
        self.own_fill, self.own_exhaust = self.fill, self.exhaust
        self.fill = self.exhaust = Orifice(0.0)
        self.i_first = len(self.names)
        self.names += ["first.rho", "first.T"]
        self.start = np.append(self.start, self.start[self.i_tube : self.i_tube + 2])
        self.atol = [*self.atol, 1e-9, 1e-7]

    def _gas(self, t, y, x, v, dy, s):
        super()._gas(t, y, x, v, dy, s)
        nodes = {"first": self.i_first, "tube": self.i_tube, "plenum": self.i_plenum}
        states = {name: self.gas.properties(y[i], y[i + 1]) for name, i in nodes.items()}
        first, second, plenum = (Stream(states[n][0], y[nodes[n]], states[n][4], states[n][1]) for n in nodes)
        opening = min(max(self._line("valve", t), 0.0), 1.0)
        filled = self._flow(self.own_fill, opening, plenum, first)
        vented = self._flow(self.own_exhaust, 1.0 - opening, first, self.ambient)
        if first.p >= second.p:
            along = one_way(self.link, first, second.p, self.straight)
        else:
            along = -one_way(self.link, second, first.p, self.straight)
        h_filled = (plenum if filled >= 0.0 else first).h
        h_vented = (first if vented >= 0.0 else self.ambient).h
        h_along = (first if along >= 0.0 else second).h
        volumes = {"first": self.tube_volume, "tube": self.tube_volume, "plenum": self.plenum_volume}
        moved = {
            "first": (filled - vented - along, filled * h_filled - vented * h_vented - along * h_along),
            "tube": (along, along * h_along),
            "plenum": (-filled, -filled * h_filled),
        }
        dy[self.i_first] = dy[self.i_first + 1] = 0.0
        for name, i in nodes.items():
            rates = node_rates(states[name], y[i], y[i + 1], volumes[name], 0.0, *moved[name], 0.0)
            dy[i] += rates[0]
            dy[i + 1] += rates[1]
        dy[self.i_filled] = filled
        s.update(p_tube=first.p, w_fill=filled, w_exhaust=vented, opening=opening)


def traces(case, t_end, machine=TwoNodeTube, rtol=1e-6):
    """Traces of a run of the twin with this machine, SI."""
    usual = twin.Machine
    twin.Machine = machine
    try:
        run = twin.Run(case, t_end, True, rtol, "LSODA")
        run.go()
        return traces_of(run)[0]
    finally:
        twin.Machine = usual
