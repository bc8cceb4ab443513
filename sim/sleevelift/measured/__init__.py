"""Measured traces of a test stand: read, checked, in SI; nothing here knows how they are compared with a run."""
