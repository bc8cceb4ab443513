"""From a dozen wishes (a napkin) to a complete case: a first cut of a sleeve valve, each number with its formula or practice.

    napkin -> engine -> injector -> actuation (smallest lift area whose margins hold) <-> spring -> gas path -> case text
           -> simulator: fill orifice by the wanted opening time, spigot by the wanted lead, checks

A first cut is no design release: it says where a design may begin, not that anything may be built or pressurised.
"""
