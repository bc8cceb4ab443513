"""Area m: the motorization rule of a space standard."""

import pytest
from _record import EVALUATED, held
from sleevelift.sizing.force_rules import (
    MEASURED,
    THEORETICAL,
    Resistances,
    closing_rule_margin,
    countable_force,
    factored_resistance,
    opening_rule_margin,
    required_force,
    rule_margin,
)

# Published: ECSS-E-ST-33-01C (6 March 2009), clause 4.7.5.3.1 and table 4-2 (text read):
# F_min = 2 (1.1 I + 1.2 S + 1.5 HM + 3 FR + 3 HY + 3 HA + 3 HD) + 1.25 F_D + F_L; measured friction 1.5.


def test_least_actuation_force():
    """m-ecss-Fmin: spring 150 N, friction 40 N, F_D 10 N: 612.5 N."""
    force = required_force(Resistances(spring=150.0, friction=40.0), dynamic=10.0)
    source = EVALUATED + "ECSS-E-ST-33-01C (2009), clause 4.7.5.3.1 and table 4-2"
    held("m-ecss-Fmin", "least actuation force of the motorization rule", source, 612.5, force, 1e-6, "N")


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("inertia", 1.1),
        ("spring", 1.2),
        ("magnetic", 1.5),
        ("friction", 3.0),
        ("hysteresis", 3.0),
        ("other", 3.0),
        ("adhesion", 3.0),
    ],
)
def test_each_factor(name, factor):
    """One newton of each resistance asks for twice its factor (the formula as printed)."""
    assert required_force(Resistances(**{name: 1.0})) == pytest.approx(2.0 * factor, rel=1e-12)


def test_measured_friction_counts_half():
    """Measured friction 1.5 (text read): 2 (1.2 x 150 + 1.5 x 40) + 12.5 = 492.5 N."""
    resistances = Resistances(spring=150.0, friction=40.0)
    assert required_force(resistances, dynamic=10.0, factors=MEASURED) == pytest.approx(492.5, rel=1e-12)
    assert factored_resistance(resistances, MEASURED) < factored_resistance(resistances, THEORETICAL)


def test_delivered_force_is_not_factored():
    """F_L adds as it is; nothing to overcome needs nothing and has no margin."""
    assert required_force(Resistances(), delivered=7.0) == 7.0
    assert required_force(Resistances()) == 0.0
    assert rule_margin(10.0, 0.0) is None


def test_driving_spring_counts_four_fifths():
    """Clause 4.7.5.3: a spring used as actuator counts at most 0.8 of its force."""
    assert countable_force(0.0, 100.0) == pytest.approx(80.0)
    # 0.8 x 770 N against 2 (1.2 x 100 + 3 x 50) = 540 N
    assert closing_rule_margin(770.0, 100.0, 0.0, 50.0) == pytest.approx(616.0 / 540.0 - 1.0, rel=1e-12)


def test_opening_by_hand():
    """Closed form: gas 600 + assist 500 N against 2 (1.2 (770 + 2) + 3 x 40) = 2092.8 N: fails by the rule."""
    margin = opening_rule_margin(600.0, 500.0, 770.0, 2.0, 40.0)
    assert margin == pytest.approx(1100.0 / 2092.8 - 1.0, rel=1e-12)
    hanging = opening_rule_margin(600.0, 500.0, 770.0, -2.0, 40.0)  # the weight helps to open
    assert hanging == pytest.approx(1102.0 / (2 * (1.2 * 770 + 120)) - 1.0, rel=1e-12)
