"""Instants found by running again and again are those of a sequencer that marches through time once."""

import math

import numpy as np
import pytest
from marching import HORIZON, TankView, marched
from sleevelift.case.conditions import Condition
from sleevelift.sequence.items import Abort, Item
from sleevelift.sequence.sequencer import Sequencer

DT = 1e-3
NEAR = 10.0 * DT
"""s. The marching one acts up to a dt late at each step of a chain; chains here have at most nine links."""


def item(key, part="", do="on", at=None, after=None, level=None, rises=True, abort="", **more):
    condition = None if level is None else Condition(f"level {level}", "tank", rises, level, "")
    times = {"detection": 0.0, "delay": 0.0, "limit": None, "otherwise": None} | more
    return Item(key, key, abort, part, do, at, after, condition, short=False, **times)


def sequencer(items, aborts=(), lost=math.inf, power=None, at_first=()):
    new = Sequencer.__new__(Sequencer)
    new.items, new.aborts, new.failed, new.power_lost, new.lost = tuple(items), tuple(aborts), None, power, lost
    new.stuck, new.open, new.end = None, frozenset(at_first), math.inf
    new.seen, new.started = {}, None
    return new


def found_by_running(one):
    """(instants, abort, runs)."""
    runs = 1
    view, commands = TankView(one.commands()), one.commands()
    while one.look(view):
        if one.commands() != commands:
            commands, runs = one.commands(), runs + 1
            view = TankView(commands)
    assert one.read_again(view) == 0.0, "the last run says what the earlier ones said"
    return one.instants(), one.started, runs


def test_a_rise_through_a_level_in_closed_form():
    """x = r tau (1 - exp(-t/tau)) reaches L at t = -tau ln(1 - L/(r tau)); then detection, then delay."""
    steps = [item("go", "solenoid", at=0.1), item("stop", "solenoid", "off", after="go", level=0.6, detection=0.01, delay=0.05)]
    instants, abort, runs = found_by_running(sequencer(steps))
    assert abort is None and runs == 2
    assert instants["stop"] == pytest.approx(0.1 - 0.2 * math.log(1.0 - 0.6 / 1.0) + 0.06, abs=1e-12)


def test_a_time_limit_goes_on_stays_or_aborts():
    go = item("go", "solenoid", at=0.1)
    wait = {"after": "go", "level": 2.0, "limit": 0.3}
    then = item("then", "igniter", after="wait", delay=0.1)
    on, _, _ = found_by_running(sequencer([go, item("wait", do="hold", otherwise="go on", **wait), then]))
    assert on["wait"] == pytest.approx(0.4) and on["then"] == pytest.approx(0.5)
    stays, _, _ = found_by_running(sequencer([go, item("wait", do="hold", otherwise="stay", **wait), then]))
    assert set(stays) == {"go"}
    shut = Abort("shut", None, 0.0, None, 0.0, None, (item("shut: off", "solenoid", "off", abort="shut", delay=0.02),))
    ends, started, _ = found_by_running(sequencer([go, item("wait", do="hold", otherwise="shut", **wait), then], [shut]))
    assert started.seen.instant == pytest.approx(0.4) and ends["shut: off"] == pytest.approx(0.42) and "then" not in ends


def random_sequence(rng):
    """A few steps that wait for instants, for each other and for the tank, and up to two aborts."""
    aborts = []
    for number in range(rng.integers(0, 3)):
        name = f"abort {number}"
        steps = tuple(
            item(f"{name}: {i}", str(rng.choice(["solenoid", "igniter"])), "off", abort=name, delay=float(rng.uniform(0.0, 0.1)))
            for i in range(rng.integers(1, 3))
        )
        level, rises = float(rng.uniform(0.1, 1.3)), bool(rng.random() < 0.5)
        armed = "step 0" if rng.random() < 0.7 else None
        until = f"step {rng.integers(1, 3)}" if rng.random() < 0.5 else None
        condition = Condition("x", "tank", rises, level, "")
        aborts.append(Abort(name, condition, float(rng.uniform(0, 0.03)), armed, float(rng.uniform(0, 0.6)), until, steps))
    items = []
    for number in range(rng.integers(3, 8)):
        hold = number > 0 and rng.random() < 0.3
        waits = hold or (number > 0 and rng.random() < 0.4)
        after = f"step {rng.integers(0, number)}" if number and rng.random() < 0.7 else None
        at = float(rng.uniform(0.0, 1.0)) if after is None and (not waits or rng.random() < 0.5) else None
        more = {"delay": float(rng.uniform(0.0, 0.3))}
        if waits:
            more |= {
                "level": float(rng.uniform(0.1, 1.3)),
                "rises": bool(rng.random() < 0.6),
                "detection": float(rng.uniform(0, 0.05)),
            }
            if rng.random() < 0.5:
                choices = ["go on", "stay", *(abort.name for abort in aborts)]
                more |= {"limit": float(rng.uniform(0.05, 0.5)), "otherwise": str(rng.choice(choices))}
        part = "" if hold else str(rng.choice(["solenoid", "igniter"]))
        do = "hold" if hold else "on" if number < 2 else str(rng.choice(["on", "off"]))
        items.append(item(f"step {number}", part, do, at, after, **more))
    return items, aborts


LEVEL = 0.05
"""What the tank's level may differ by where a part is switched NEAR later (rates of 7 at most)."""


def moved_by(items, aborts, limit, detection, level):
    """The sequence with its limits, the aborts' detection and all levels moved a little."""

    def shifted(condition):
        return None if condition is None else condition._replace(level=condition.level + level)

    return (
        [one._replace(condition=shifted(one.condition), limit=None if one.limit is None else one.limit + limit) for one in items],
        [one._replace(condition=shifted(one.condition), detection=max(one.detection + detection, 0.0)) for one in aborts],
    )


def decided_by_a_hair(items, aborts):
    """Whether a dt or two decides which steps come: what marches in steps of dt says nothing then."""
    ends = []
    for moves in ((0, 0, 0), (NEAR, 0, 0), (-NEAR, 0, 0), (0, NEAR, 0), (0, -NEAR, 0), (0, 0, LEVEL), (0, 0, -LEVEL)):
        instants, started, _ = found_by_running(sequencer(*moved_by(items, aborts, *moves)))
        ends.append((set(instants), None if started is None else started.abort.name))
    return any(end != ends[0] for end in ends)


def test_random_sequences_go_as_one_that_marches_through_time():
    rng = np.random.default_rng(7)
    compared = aborted = waited = 0
    for _ in range(100):
        items, aborts = random_sequence(rng)
        if decided_by_a_hair(items, aborts):
            continue
        done, abort = marched(items, aborts, DT)
        instants, started, runs = found_by_running(sequencer(items, aborts))
        inside = {key: t for key, t in instants.items() if t < HORIZON - NEAR}
        late = {key for key, t in done.items() if t >= HORIZON - 2.0 * NEAR}
        assert set(inside) | late == set(done) | late, (items, aborts)
        assert (None if started is None else started.abort.name) == (None if abort is None else abort[0])
        for key, t in inside.items():
            assert done.get(key, t) == pytest.approx(t, abs=NEAR), (key, items, aborts)
        assert runs <= 1 + len(items) + 2 * len(aborts)
        compared += 1
        aborted += started is not None
        waited += any(one.condition is not None for one in items)
    assert compared >= 40 and aborted >= 5 and waited >= 30, (compared, aborted, waited)


def test_nothing_is_done_before_what_causes_it():
    rng = np.random.default_rng(8)
    for _ in range(200):
        items, aborts = random_sequence(rng)
        one = sequencer(items, aborts)
        instants, started, _ = found_by_running(one)
        view = TankView(one.commands())
        for step in one.active():
            if step.key not in instants:
                continue
            begins = one.begins(step, instants)
            assert begins is not None and instants[step.key] >= begins
            seen = one.seen.get(step.key)
            if seen is not None and seen.event < math.inf:
                assert instants[step.key] >= seen.event + step.detection
                assert view.first(step.condition, begins) == seen.event
        if started is not None:
            assert all(t < started.seen.instant for key, t in instants.items() if not key.startswith(started.abort.name))


def test_a_part_that_stands_open_at_first_is_closed_first():
    steps = [item("shut", "solenoid", "off", at=0.3), item("again", "solenoid", at=0.5)]
    assert sequencer(steps, at_first=["solenoid"]).commands() == (("solenoid", False, 0.3), ("solenoid", True, 0.5))
    assert sequencer(steps).commands() == (("solenoid", True, 0.5),), "what is off already is not switched off"


def test_power_lost_switches_off_and_a_lost_sequencer_leaves_what_there_is():
    steps = [item("go", "solenoid", at=0.1), item("light", "igniter", at=0.2), item("stop", "solenoid", "off", at=0.6)]
    assert sequencer(steps, lost=0.4, power=0.4).commands() == (
        ("solenoid", True, 0.1), ("igniter", True, 0.2), ("solenoid", False, 0.4), ("igniter", False, 0.4)
    )  # fmt: skip
    assert sequencer(steps, lost=0.4).commands() == (("solenoid", True, 0.1), ("igniter", True, 0.2))
