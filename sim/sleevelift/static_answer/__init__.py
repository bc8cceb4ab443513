"""The static answer of a case, and steady curves against lift: no run, no picture, no screen."""
