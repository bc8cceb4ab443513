"""Physical constants and reference states, each with its unit and source.

SI throughout. Nothing here is tuned; what a case may change stands in the case file.
"""

STANDARD_GRAVITY = 9.80665
"""m/s2. CGPM 1901, ISO 80000-3."""

GAS_CONSTANT = 8.31446261815324
"""J/mol/K. 2019 SI (exact)."""

STANDARD_ATMOSPHERE = 101325.0
"""Pa. CGPM 1954."""

ANR_DENSITY = 1.185
"""kg/m3. Air at the standard reference atmosphere, ISO 8778 (100 kPa, 293.15 K, 65 % RH)."""

ANR_TEMPERATURE = 293.15
"""K. ISO 8778."""

ANR_PRESSURE = 100000.0
"""Pa. ISO 8778."""

AIR_GAS_CONSTANT = 287.05
"""J/kg/K. Dry air, ISO 2533."""

AIR_EXPONENT = 1.4
"""-. Dry air near ambient."""
