"""Bench cases of a hot case: the same valve dry, or with water or a gas in place of its propellants."""
