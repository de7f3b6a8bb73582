"""Transport properties: tables equal their source, gaps of CoolProp are filled, and every source is on record."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from thermo import ViscosityLiquid

from explore.fluids import transport
from explore.fluids.blend import equation_names
from explore.fluids.transport import TransportStack
from explore.fluids.transport_sources import PROPERTIES, RELATIVES, by_relative, scale, sourced


def bound(name, count=1):
    """Properties of one fluid for ``count`` designs."""
    return TransportStack.of((name,)).bind(np.zeros(count, dtype=np.intp))


@pytest.mark.parametrize("name", ["n-Butane", "R134a", "Ammonia"])
def test_tables_equal_coolprop(name):
    """Between the points of the table nothing is farther than 0.1 % from CoolProp, over the range of work."""
    T = np.linspace(283.0, min(368.0, 0.945 * PropsSI("Tcrit", name)), 60)
    found = bound(name, 60).at(T)
    keys = {"mu_l": ("V", 0), "mu_v": ("V", 1), "k_l": ("L", 0), "k_v": ("L", 1), "sigma": ("I", 0),
            "cp_l": ("C", 0), "cp_v": ("C", 1), "rho_l": ("D", 0), "rho_v": ("D", 1)}  # fmt: skip
    for field, (key, quality) in keys.items():
        direct = PropsSI(key, "T", T, "Q", quality, name)
        np.testing.assert_allclose(getattr(found, field), direct, rtol=1e-3, err_msg=field)
    latent = PropsSI("H", "T", T, "Q", 1, name) - PropsSI("H", "T", T, "Q", 0, name)
    np.testing.assert_allclose(found.latent, latent, rtol=1e-3)


def test_water_is_that_of_the_steam_tables():
    """Water at 20 and 60 degC: viscosity and conductivity of W. Wagner and H.-J. Kretzschmar, 2nd ed. 2008."""
    found = bound("n-Butane", 2).water(np.array([293.15, 333.15]))
    np.testing.assert_allclose(found.mu, [1.0016e-3, 0.4664e-3], rtol=2e-3)
    np.testing.assert_allclose(found.k, [0.5985, 0.6507], rtol=2e-3)
    np.testing.assert_allclose(found.cp, [4184.0, 4185.0], rtol=1e-3)


def test_pentane_is_not_taken_from_coolprop():
    """Liquid n-pentane at 25 degC has 0.224 mPa s (CRC Handbook, from memory), where CoolProp gives a fifth less."""
    found = float(bound("n-Pentane").at(np.array([298.15])).mu_l[0])
    np.testing.assert_allclose(found, 2.24e-4, rtol=0.03)
    assert PropsSI("V", "T", 298.15, "Q", 0, "n-Pentane") < 0.85 * found


def test_gaps_are_filled_from_handbooks():
    """What CoolProp lacks comes from the handbook fits of thermo: neopentane's viscosity by the VDI Heat Atlas."""
    found = sourced("Neopentane", "mu_l", np.linspace(280.0, 360.0, 9))
    direct = ViscosityLiquid(CASRN="463-82-1")
    values = [direct.calculate(T, "VDI_PPDS") for T in np.linspace(280.0, 360.0, 9)]
    np.testing.assert_allclose(found.values, values)
    assert found.source.startswith("VDI Heat Atlas")


def test_every_source_of_the_catalogue_is_on_record(orchard):
    """Each property of each pure fluid of the catalogue is finite, positive and says where it comes from."""
    names = orchard.pure_fluids()
    listed = transport.sources(names)
    assert len(listed) == len(names) * len(PROPERTIES)
    assert all(one["source"] for one in listed)
    stack = TransportStack.of(names)
    assert np.isfinite(stack.table).all()
    assert (stack.table > 0.0).all()
    estimated = {one["fluid"] for one in listed if one["source"].startswith("estimate")}
    assert estimated == {"R1336mzz(E)"}


@pytest.mark.parametrize(("name", "relative"), [("IsoButane", "n-Butane"), ("Isopentane", "n-Pentane")])
def test_an_isomer_stands_in_within_a_sixth(name, relative):
    """Corresponding states from an isomer meet the fluid's own properties within 17 %."""
    T = np.linspace(285.0, 360.0, 12)
    for key in PROPERTIES:
        guessed, own = by_relative(name, relative, key, T), sourced(name, key, T).values
        assert np.abs(guessed / own - 1.0).max() < 0.17, key


def test_relatives_are_fluids_of_the_property_library():
    """Both names of each pair are those under which CoolProp knows the fluids; else the pair would never be found."""
    assert {*RELATIVES, *RELATIVES.values()} <= set(equation_names())


@pytest.mark.parametrize("key", PROPERTIES)
def test_a_fluid_without_data_takes_those_of_its_named_relative(key):
    """What no source has of R1336mzz(E) comes from its isomer and not from R134a, and the source says so."""
    T = np.linspace(285.0, 340.0, 5)
    found = sourced("R1336mzz(E)", key, T)
    np.testing.assert_array_equal(found.values, by_relative("R1336mzz(E)", "R1336mzz(Z)", key, T))
    assert "R1336mzz(Z)" in found.source


def test_scale_of_round_numbers():
    """M 0.04 kg/mol, T_c 64 K and p_c 8 MPa: 4e4 x 0.2 x 1/2, 4e4 x 5 x 1/2 and 4e4 x 4, worked out by hand."""
    found = [scale(key, 0.04, 64.0, 8e6) for key in ("mu_l", "k_v", "sigma")]
    np.testing.assert_allclose(found, [4e3, 1e5, 1.6e5], rtol=1e-12)


def test_a_relatives_conductivity_is_not_followed_to_the_critical_point():
    """Liquid conductivity stands still from 0.90 of the critical temperature on; viscosity goes on falling."""
    T = np.array([0.85, 0.90, 0.94]) * PropsSI("Tcrit", "IsoButane")
    warm, held, hot = by_relative("IsoButane", "n-Butane", "k_l", T)
    assert warm > 1.05 * held
    assert hot == pytest.approx(held, rel=1e-9)
    warm, near, hot = by_relative("IsoButane", "n-Butane", "mu_l", T)
    assert warm > 1.05 * near > 1.1 * hot


def test_tables_are_kept(tmp_path, monkeypatch):
    """A second load reads the first one's file and builds nothing."""
    first = transport.load("n-Butane", tmp_path)
    monkeypatch.setattr(transport, "build", lambda name: pytest.fail("built again"))
    second = transport.load("n-Butane", tmp_path)
    np.testing.assert_array_equal(first.table, second.table)
    assert list(first.sources) == list(second.sources)
