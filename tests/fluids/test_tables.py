"""Tables against the Helmholtz equations they are built from."""

import numpy as np
import pytest

from explore import cache
from explore.fluids import tables
from explore.fluids.helmholtz import HelmholtzFluid
from explore.fluids.table_fluid import MANY, SHAPES, STACKS, Stack, stacked
from tests.scalar.designs import FLUIDS

STATES = 24


@pytest.fixture(scope="module")
def pair():
    """Both property paths for every fluid, and random evaporating states over the search space."""
    rng = np.random.default_rng(3)
    index = np.repeat(np.arange(len(FLUIDS)), STATES)
    table, plain = Stack.of(FLUIDS).bind(index), HelmholtzFluid(FLUIDS, index)
    roof = np.minimum(0.95 * plain.critical_temperature, 365.0)
    temperature = rng.uniform(290.0, roof)
    pressure = plain.saturation_pressure(temperature)
    return (
        table,
        plain,
        temperature,
        pressure,
        rng.uniform(0.0, 15.0, len(index)),
        rng.uniform(1.1, 5.0, len(index)),
    )


def test_vapour_pressure_within_two_hundredths_of_a_percent(pair):
    """Pressure follows HEOS within 0.02 %."""
    table, _, temperature, pressure, *_ = pair
    assert np.abs(table.saturation_pressure(temperature) / pressure - 1.0).max() < 2e-4


def test_saturation_lines(pair):
    """Latent heat, volumes and temperature of saturation follow HEOS."""
    table, plain, _, pressure, *_ = pair
    got, want = table.saturation(pressure), plain.saturation(pressure)
    latent = want.h_vapour - want.h_liquid
    assert np.abs((got.h_vapour - got.h_liquid) / latent - 1.0).max() < 1e-3
    assert np.abs(got.v_vapour / want.v_vapour - 1.0).max() < 1e-3
    assert np.abs(got.v_liquid / want.v_liquid - 1.0).max() < 1e-3
    assert np.abs(got.temperature - want.temperature).max() < 2e-3
    assert np.abs((got.s_vapour - got.s_liquid) / (want.s_vapour - want.s_liquid) - 1.0).max() < 1e-3


def test_isentropic_drop_within_a_tenth_of_a_percent(pair):
    """Work of an isentropic expansion, wet or dry, follows HEOS within 0.1 %."""
    table, plain, _, pressure, superheat, ratio = pair
    start = plain.superheated(pressure, superheat)
    want = plain.from_entropy(pressure / ratio, start.entropy)
    got = table.from_entropy(pressure / ratio, table.superheated(pressure, superheat).entropy)
    drop = start.enthalpy - want.enthalpy
    ours = table.superheated(pressure, superheat).enthalpy - got.enthalpy
    assert np.abs(ours / drop - 1.0).max() < 1e-3
    assert np.abs(got.volume / want.volume - 1.0).max() < 1e-3


def test_throttled_states(pair):
    """States from pressure and enthalpy follow HEOS: entropy, volume, temperature."""
    table, plain, _, pressure, superheat, ratio = pair
    h = plain.superheated(pressure, superheat).enthalpy
    got, want = table.from_enthalpy(pressure / ratio, h), plain.from_enthalpy(pressure / ratio, h)
    assert np.abs(got.entropy - want.entropy).max() < 0.5
    assert np.abs(got.volume / want.volume - 1.0).max() < 1e-3
    assert np.abs(got.temperature - want.temperature).max() < 0.05


def test_compressed_liquid(pair):
    """Liquid under a pressure above its own follows HEOS, from temperature and from enthalpy."""
    table, plain, temperature, pressure, *_ = pair
    cold = np.maximum(temperature - 15.0, 280.0)
    got, want = table.liquid(pressure, cold), plain.liquid(pressure, cold)
    latent = plain.saturation(pressure).h_vapour - plain.saturation(pressure).h_liquid
    assert (np.abs(got.enthalpy - want.enthalpy) / latent).max() < 2e-3
    back = table.liquid_from_enthalpy(pressure, got.enthalpy)
    assert np.abs(back.temperature - np.minimum(cold, table.saturation(pressure).temperature)).max() < 1e-6


def test_two_phase_is_lever_rule(pair):
    """Half-way between bubble and dew entropies lies half the latent heat."""
    table, _, _, pressure, *_ = pair
    sat = table.saturation(pressure)
    state = table.from_entropy(pressure, 0.5 * (sat.s_liquid + sat.s_vapour))
    np.testing.assert_allclose(state.enthalpy, 0.5 * (sat.h_liquid + sat.h_vapour), rtol=1e-12)
    np.testing.assert_allclose(state.volume, 0.5 * (sat.v_liquid + sat.v_vapour), rtol=1e-9)
    np.testing.assert_allclose(state.temperature, sat.temperature, rtol=1e-12)


def test_part_of_a_batch_is_the_batch_itself(pair):
    """Binding a part of the batch gives the same bits."""
    table, _, temperature, *_ = pair
    some = np.array([5, 77, 301])
    assert np.array_equal(
        table.take(some).saturation_pressure(temperature[some]), table.saturation_pressure(temperature)[some]
    )


def test_torn_cache_is_built_again(tmp_path):
    """A cache file cut short does not stop the program nor change a number."""
    whole = tables.load("n-Butane", tmp_path)
    (path,) = tmp_path.glob("*.npz")
    path.write_bytes(path.read_bytes()[:1000])
    again = tables.load("n-Butane", tmp_path)
    assert np.array_equal(whole.line, again.line)
    assert cache.read(path) is not None


def test_cache_that_cannot_be_written_is_done_without(tmp_path):
    """A cache folder that is a file costs time only."""
    (tmp_path / "blocked").write_text("")
    assert tables.load("n-Butane", tmp_path / "blocked").line.shape[0] == tables.PRESSURES


@pytest.fixture(scope="module")
def many(tmp_path_factory):
    """Fluids enough to be kept stacked, and a folder with the tables of each."""
    folder = tmp_path_factory.mktemp("many")
    names = FLUIDS[:MANY]
    for name in names:
        cache.store(folder / f"{tables.cache_key(name)}.npz", vars(tables.load(name)))
    return names, folder


def same(stack, names, folder):
    """Whether a stack is that of the fluids' own tables, to the bit."""
    own = Stack.of(names, folder)
    return stack.names == own.names and all(
        np.array_equal(getattr(stack, key), getattr(own, key)) for key in SHAPES
    )


def test_a_kept_stack_is_that_of_the_tables(many):
    """What is read where it lies on disk is what was laid together, and free to be written to in memory."""
    names, folder = many
    first, second = (stacked.__wrapped__(names, folder) for _ in range(2))
    assert same(first, names, folder)
    assert same(second, names, folder)
    (path,) = folder.glob("stack-*.npy")
    before = path.read_bytes()
    assert all(getattr(second, key).flags.carray for key in SHAPES)
    second.line[0, 0] = -1.0
    assert path.read_bytes() == before


@pytest.mark.parametrize("damage", [lambda b: b[:1000], lambda b: b"", lambda b: b[:-8], lambda _: b"PK\3\4"])
def test_a_kept_stack_that_is_torn_is_laid_anew(many, damage):
    """Nothing but time is lost."""
    names, folder = many
    stacked.__wrapped__(names, folder)
    (path,) = folder.glob("stack-*.npy")
    path.write_bytes(damage(path.read_bytes()))
    assert same(stacked.__wrapped__(names, folder), names, folder)
    assert cache.mapped(path) is not None


def test_of_stacks_the_latest_are_kept(many, tmp_path):
    """One of all fluids takes seventy megabytes."""
    names, folder = many
    for path in folder.glob("*.npz"):
        (tmp_path / path.name).symlink_to(path)
    for turn in range(STACKS + 2):
        stacked.__wrapped__(names[turn:] + names[:turn], tmp_path)
    assert len(list(tmp_path.glob("stack-*.npy"))) == STACKS


def test_cache_key_follows_layout(monkeypatch):
    """Another table layout or CoolProp version has another key."""
    before = tables.cache_key("n-Butane")
    monkeypatch.setattr(tables, "LAYOUT", "other")
    assert tables.cache_key("n-Butane") != before
