"""A sequencer that marches through time, and a plant it can march with: an independent formulation.

The plant is a tank: its level x (from 0) goes up at the rate of each part that is on, and down as exp(-t/TAU) of itself; parts
switch at once. Between two switchings x(t) = target + (x0 - target) exp(-(t - t0)/TAU), which a view reads in closed form.
"""

import math

TAU = 0.2
RATES = {"solenoid": 5.0, "igniter": 2.0}
HORIZON = 2.5


def levels(commands, horizon=HORIZON):
    """[(t0, x0, target)] of each stretch between two switchings."""
    out, on, x, t = [], set(), 0.0, 0.0
    edges = sorted(commands, key=lambda c: c[2])
    for part, turns_on, instant in [*edges, ("", True, horizon)]:
        target = sum(RATES[p] for p in on) * TAU
        out.append((t, x, target))
        x = target + (x - target) * math.exp(-(instant - t) / TAU)
        t = instant
        (on.add if turns_on else on.discard)(part) if part else None
    return [*out, (t, x, sum(RATES[p] for p in on) * TAU)]


class TankView:
    """What a sensor of the tank's level shows under given commands, in closed form."""

    def __init__(self, commands):
        self.stretches = levels(commands)

    def first(self, condition, begin):
        sign = 1.0 if condition.rises else -1.0
        ends = [s[0] for s in self.stretches[1:]] + [math.inf]
        for (t0, x0, target), end in zip(self.stretches, ends):
            start = max(begin, t0)
            if start >= end:
                continue
            at_start = target + (x0 - target) * math.exp(-(start - t0) / TAU)
            if sign * (at_start - condition.level) > 0.0:
                return start
            if sign * (target - condition.level) > 0.0:
                crossing = t0 + TAU * math.log((x0 - target) / (condition.level - target))
                if crossing < end:
                    return max(crossing, start)
        return math.inf


def holds(condition, x):
    return x > condition.level if condition.rises else x < condition.level


def begins(item, done, started):
    if item.at is not None:
        return item.at
    if item.after is not None:
        return done.get(item.after)
    return started[1] if item.abort else 0.0


def marched(items, aborts, dt, lost=math.inf, horizon=HORIZON):
    """(key -> instant of each step, (abort, instant) or None): every dt the sequencer looks at the tank and acts."""
    x, on = 0.0, set()
    done, seen, pending = {}, {}, {}
    tripped, started, time = {}, None, 0.0
    decay = math.exp(-dt / TAU)
    for tick in range(int(horizon / dt)):
        time = tick * dt
        active = list(items) + (list(started[0].steps) if started else [])
        for abort in aborts if started is None else ():
            after = 0.0 if abort.armed_after is None else done.get(abort.armed_after, math.inf)
            until = math.inf if abort.armed_until is None else done.get(abort.armed_until, math.inf)
            if abort.name not in tripped and time >= after + abort.armed_delay and holds(abort.condition, x):
                tripped[abort.name] = time
            if abort.name in tripped and time >= tripped[abort.name] + abort.detection and time < min(until, lost):
                started = abort, time
                break
        for item in active:
            start = begins(item, done, started)
            if item.key in done or start is None or time < start or (started and not item.abort) or time >= lost:
                continue
            if item.condition is None:
                ready = start
            else:
                if item.key not in seen and holds(item.condition, x):
                    seen[item.key] = time
                over = item.limit is not None and time >= start + item.limit
                sees = item.key in seen and time >= seen[item.key] + item.detection
                if item.key not in pending:
                    if sees:
                        pending[item.key] = time
                    elif over:
                        pending[item.key] = time if item.otherwise == "go on" else None
                        if item.otherwise not in ("go on", "stay") and started is None:
                            started = next(a for a in aborts if a.name == item.otherwise), time
                            break
                ready = pending.get(item.key)
            if ready is not None and time >= ready + item.delay:
                done[item.key] = time
                if item.part:
                    (on.add if item.turns_on else on.discard)(item.part)
        target = sum(RATES[p] for p in on) * TAU
        x = target + (x - target) * decay
    return done, None if started is None else (started[0].name, started[1])
