"""The cautions that stand with everything the program writes: starter, cases, runs, studies."""

CAUTION = (
    "Pressurised gas, oxidizer and fuel can kill: operate remotely, keep everyone away from a pressurised rig, follow local "
    "codes, and have a qualified person review the design. A model is no permission to test."
)
NOT_LOOKED_AT = (
    "Not looked at, so nothing here speaks for it: leaks that the case does not give, the slug of fuel that a leaking rod seal "
    "leaves in the tube, wear, dirt, vibration, heat from the flame, combustion instability, detonation, condensation in the tube, "
    "mistakes in the case file, and people."
)
GENERAL = (CAUTION, NOT_LOOKED_AT)
"""What is said of every case."""
HEAD = """\
# CAUTION: pressurised gas, oxidizer and fuel can kill. Operate remotely, nobody near a pressurised rig; local codes and a
# qualified, independent review come before any test. A model is no permission to test."""
"""The same at the head of a case file."""
