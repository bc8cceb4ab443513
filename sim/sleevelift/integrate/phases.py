"""What a run may request for, and what it may be waiting for.

The integrator does not call the system. It goes on until it needs something of it, says what (a request) and remembers
what for (a phase); the loop that knows the system grants the request and lets it go on. So everything but that loop is
compiled without the system in it, and the system's functions, which are large, stand in one place only.
"""

DERIVATIVE, DERIVATIVE_AND_GUARDS, JACOBIAN, POINT, RESET, AT_TARGET, NEXT_TARGET, OVER = 0, 1, 2, 3, 4, 5, 6, 7
"""Requests, in this order: the right-hand side at (t_at, y_at) into f_at and outputs_at; then also the guards there into
g_at; the derivatives of the right-hand side at (t, y); the point (t, y) stored, and, if no guard fires at it, whether
the run may end there; the jump of guard `which`; a time event's action; the next time event; nothing any more:
`status` says why."""
GO_ON = 8
"""Not a request: the phase has changed, and the run goes on without the system."""

SETTLING, RESETTING, ARRIVING, AIMING, STORING = 0, 1, 2, 3, 4
"""Phases, between steps: waiting for the derivative at a fresh start; for a jump; for a time event's action; for the
next time event; for the point to be stored."""
PREPARING, BEGINNING, STAGING, ENDING, SEARCHING = 5, 6, 7, 8, 9
"""Phases, in a step: waiting for the Jacobian; for nothing, a step begins; for the derivative at a stage, at the end,
at a trial of the search for an event."""

NO_TROUBLE, LEFT_RANGE, NOT_SOLVED = 0, 1, 2
"""Why an attempted step was rejected: its error; a state outside the model's range; a singular matrix."""
STORED, STORED_AND_FINISHED, NO_ROOM = 0, 1, 2
"""Answers to POINT."""
NO_RESET = 100
"""Answer to RESET and AT_TARGET where the event could not be logged; `status` says why."""
