"""Bind plant and integrator: one run is one lane.

    Plant -> initial state -> integrate -> raw arrays and a status

A hot run carries a side branch: from the instant of light-off the same run goes on unlit until the pool reaches the allowable
pressure, which gives the latest light-off.
"""
