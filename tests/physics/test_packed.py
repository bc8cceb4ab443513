"""Four at a time is the same as one by one: numbers, nodes, flows."""

import math

import numpy as np
import pytest
from sleevelift.gas_tables import load_gas
from sleevelift.jit import bare_kernel, packed
from sleevelift.jit.packed import (
    all_of,
    any_of,
    choose,
    exponential,
    first_without,
    item,
    least,
    logarithm,
    most,
    pack,
    pack_row,
    put_row,
    root,
    size,
    whole,
)
from sleevelift.physics.gas import gas_at, perfect_gas
from sleevelift.physics.gas_node import node_state, node_states
from sleevelift.physics.restriction import choked_flux, flow_fraction

GASES = {"N2": load_gas("nitrogen"), "He": load_gas("helium"), "Ar": load_gas("argon"), "perfect": perfect_gas(1.4, 296.8)}


@bare_kernel
def one_of_each(a, b, out):
    """A row of `out` for each function; a and b hold four numbers each."""
    x = pack_row(a)
    y = pack(b[0], b[1], b[2], b[3])
    below = x < y
    rows = (
        x + y, x - y, x * y, x / y, -x, 2.0 * x - 1.0, choose(below, x, y), choose(below, 0.5, y), least(x, y), most(x, y),
        size(x - y), root(x), logarithm(x), exponential(-x), whole(x), choose((x <= 2.0) | (y >= 3.0), 1.0, 0.0),
        choose((x > 1.0) & below, 1.0, 0.0),
    )  # fmt: skip
    for k in range(4):
        out[0, k], out[1, k], out[2, k], out[3, k] = item(rows[0], k), item(rows[1], k), item(rows[2], k), item(rows[3], k)
        out[4, k], out[5, k], out[6, k], out[7, k] = item(rows[4], k), item(rows[5], k), item(rows[6], k), item(rows[7], k)
        out[8, k], out[9, k], out[10, k], out[11, k] = item(rows[8], k), item(rows[9], k), item(rows[10], k), item(rows[11], k)
        out[12, k], out[13, k], out[14, k] = item(rows[12], k), item(rows[13], k), item(rows[14], k)
        out[15, k], out[16, k] = item(rows[15], k), item(rows[16], k)
    return any_of(below), all_of(below), first_without(below), first_without(x > 0.0)


def test_functions_of_four_numbers_against_numpy():
    a, b = np.array([0.5, 2.0, 3.7, 9.0]), np.array([1.5, 2.0, 3.0, 10.0])
    out = np.zeros((17, 4))
    questions = one_of_each(a, b, out)
    below = a < b
    expected = [
        a + b, a - b, a * b, a / b, -a, 2.0 * a - 1.0, np.where(below, a, b), np.where(below, 0.5, b), np.minimum(a, b),
        np.maximum(a, b), np.abs(a - b), np.sqrt(a), np.log(a), np.exp(-a), np.floor(a), (a <= 2.0) | (b >= 3.0), (a > 1.0) & below,
    ]  # fmt: skip
    for got, wanted in zip(out, expected):
        assert got == pytest.approx(np.asarray(wanted, dtype=float), rel=1e-15)
    assert questions == (True, False, 1, 4)


@bare_kernel
def doubled(a, out):
    """Put twice the first four of a into the first four of out."""
    put_row(out, 2.0 * pack_row(a))


def test_the_first_four_are_read_and_put():
    out = np.zeros(6)
    doubled(np.arange(1.0, 7.0), out)
    assert list(out) == [2.0, 4.0, 6.0, 8.0, 0.0, 0.0]
    packed.put_row(out, np.ones(4))
    assert list(packed.pack_row(out)) == [1.0] * 4


def test_one_number_means_itself():
    """The same functions for one number, compiled and in plain Python."""

    @bare_kernel
    def one(a, b):
        small = a < b
        sums = choose(small, a, b) + least(a, b) + most(a, b), size(-a) + root(a), logarithm(a) + exponential(a)
        return sums[0], sums[1], sums[2], whole(a), any_of(small)

    a, b = 2.5, 1.25
    assert one(a, b) == pytest.approx(
        (1.25 + 1.25 + 2.5, 2.5 + math.sqrt(2.5), math.log(2.5) + math.exp(2.5), 2.0, False), rel=1e-15
    )
    plain = packed.choose(a < b, a, b) + packed.least(a, b) + packed.most(a, b)
    assert plain == 1.25 + 1.25 + 2.5
    assert packed.first_without(np.array([True, True, False, True])) == 2
    assert packed.first_without(np.array([True] * 4)) == 4


@bare_kernel
def states(masses, energies, volumes, gas, out):
    """Fill out (4, 8) with the states of four nodes; the first that is outside."""
    found, outside = node_states(pack_row(masses), pack_row(energies), pack_row(volumes), gas)
    for k in range(4):
        out[k, 0], out[k, 1], out[k, 2], out[k, 3] = item(found[0], k), item(found[1], k), item(found[2], k), item(found[3], k)
        out[k, 4], out[k, 5], out[k, 6], out[k, 7] = item(found[4], k), item(found[5], k), item(found[6], k), item(found[7], k)
    return outside


def four_nodes(gas, conditions):
    """(masses, energies, volumes) of nodes at (p Pa, T K)."""
    volumes = np.array([3e-6, 4e-5, 2e-4, 2e-3])
    found = [gas_at(p, T, gas) for p, T in conditions]
    masses = np.array([rho for rho, _, _ in found]) * volumes
    return masses, masses * np.array([u for _, u, _ in found]), volumes


@pytest.mark.parametrize("name", GASES)
def test_four_nodes_are_what_each_is_by_itself(name):
    """Each of the eight numbers, from near vacuum to 200 bar, one of the four close to where vapour condenses."""
    gas = GASES[name]
    cold = 130.0 if name == "Ar" else 120.0
    nodes = four_nodes(gas, [(1e3, 290.0), (31e5, 310.0), (17e5, cold), (200e5, 400.0)])
    out = np.zeros((4, 8))
    assert states(*nodes, gas, out) == 4
    for k in range(4):
        alone = node_state(nodes[0][k], nodes[1][k], nodes[2][k], gas)
        assert out[k] == pytest.approx(np.array(alone, dtype=float), rel=1e-12)


def test_supersaturated_vapour_is_flagged_in_its_place():
    """3 K below saturation (CoolProp's saturation line) the status is 1, in that node only."""
    from CoolProp.CoolProp import PropsSI

    gas = GASES["Ar"]
    p = PropsSI("P", "T", 120.0, "Q", 1, "Argon")
    nodes = four_nodes(gas, [(1e5, 290.0), (p, 117.0), (10e5, 300.0), (20e5, 350.0)])
    out = np.zeros((4, 8))
    assert states(*nodes, gas, out) == 4
    assert list(out[:, 7]) == [0.0, 1.0, 0.0, 0.0]


@pytest.mark.parametrize("place", range(4))
@pytest.mark.parametrize("wrong", ["empty", "inverted", "cold", "too dense", "nan"])
def test_the_node_that_is_outside_is_named(place, wrong):
    gas = GASES["N2"]
    masses, energies, volumes = four_nodes(gas, [(1e5, 290.0), (31e5, 310.0), (5e5, 200.0), (150e5, 300.0)])
    if wrong == "empty":
        masses[place] = 0.0
    elif wrong == "inverted":
        volumes[place] *= -1.0
    elif wrong == "cold":
        energies[place] *= -1.0
    elif wrong == "too dense":
        masses[place] *= 1e3
    else:
        energies[place] = math.nan
    assert node_state(masses[place], energies[place], volumes[place], gas)[7] == 2
    assert states(masses, energies, volumes, gas, np.zeros((4, 8))) == place


@bare_kernel
def fractions(r, n, stars, b, m, straight, out):
    """Fill out (4,) with the flow fractions of four restrictions."""
    found = flow_fraction(pack_row(r), pack_row(n), pack_row(stars), pack_row(b), pack_row(m), straight)
    for k in range(4):
        out[k] = item(found, k)


@pytest.mark.parametrize("laws", [(-1.0, -1.0, -1.0, -1.0), (-1.0, 0.3, -1.0, 0.0), (0.1, 0.2, 0.3, 0.5)])
@pytest.mark.parametrize("indices", [(0.5, 0.5, 0.5, 0.5), (0.5, 0.48, 0.6, 0.5)])
@pytest.mark.parametrize(
    "ratios", [(0.1, 0.3, 0.45, 0.52), (0.53, 0.7, 0.9, 0.97), (0.9985, 0.9995, 1.0, 0.6), (0.2, 0.9995, 0.7, 1.0)]
)
def test_four_flows_are_what_each_is_by_itself(laws, indices, ratios):
    """Orifices and components together, choked, subsonic and near equal pressures."""
    exponents = np.array([1.4, 1.135, 2.6, 3.4])
    stars = np.array([choked_flux(1e5, 1.2, n)[1] for n in exponents])
    b, m, r = np.array(laws), np.array(indices), np.array(ratios)
    out = np.zeros(4)
    fractions(r, exponents, stars, b, m, 0.999, out)
    alone = [flow_fraction(r[k], exponents[k], stars[k], b[k], m[k], 0.999) for k in range(4)]
    assert out == pytest.approx(np.array(alone), rel=1e-12, abs=1e-15)
    assert all(0.0 <= share <= 1.0 for share in out)
