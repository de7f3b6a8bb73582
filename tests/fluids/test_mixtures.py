"""Mixtures: tables against the flash, the flash against other equations, and what cannot be served."""

import numpy as np
import pytest

from explore import cache
from explore.config.compose import load_scenario
from explore.errors import InputError
from explore.fluids import mixture_tables
from explore.fluids.blend import Blend, UnusableError, is_known
from explore.fluids.bottled import worst_fault, worst_pressure
from explore.fluids.helmholtz import HelmholtzFluid, substance
from explore.fluids.mixture import Mixture
from tests.fluids.peng_robinson import PengRobinson

NAMES = ("n-Butane", "n-Propane")
BOTTLED = Blend("Butane-propane-70-30", NAMES, (0.7, 0.3), by_mass=True)
STATES = 60


@pytest.fixture(scope="module")
def pair():
    """Both property paths of bottled gas, and random states over the search space."""
    rng = np.random.default_rng(5)
    index = np.zeros(STATES, dtype=np.intp)
    table, plain = mixture_tables.stack(BOTTLED).bind(index), HelmholtzFluid([BOTTLED], index)
    temperature = rng.uniform(290.0, 362.0, STATES)
    share, superheat, ratio = (
        rng.uniform(0.0, 1.1, STATES),
        rng.uniform(0, 15, STATES),
        rng.uniform(1.1, 5, STATES),
    )
    return table, plain, temperature, plain.saturation_pressure(temperature), share, superheat, ratio


def gap(got, want):
    """Largest relative difference."""
    return np.abs(got / want - 1.0).max()


def test_lines_follow_the_flash(pair):
    """Bubble and dew pressures within 0.01 %; temperatures, latent heat and volumes of both lines."""
    table, plain, temperature, pressure, *_ = pair
    assert gap(table.saturation_pressure(temperature), pressure) < 1e-4
    assert gap(table.dew_pressure(temperature), plain.dew_pressure(temperature)) < 1e-4
    got, want = table.saturation(pressure), plain.saturation(pressure)
    assert np.abs(got.temperature - want.temperature).max() < 3e-3
    assert np.abs(got.dew_temperature - want.dew_temperature).max() < 3e-3
    assert gap(got.h_vapour - got.h_liquid, want.h_vapour - want.h_liquid) < 1e-3
    assert gap(got.v_vapour, want.v_vapour) < 1e-3
    assert gap(got.v_liquid, want.v_liquid) < 1e-3


def test_two_phase_states_follow_the_flash(pair):
    """Wet states from enthalpy and from entropy: temperature, volume and vapour's share are those of the flash."""
    table, plain, _, pressure, share, *_ = pair
    sat = plain.saturation(pressure)
    h = sat.h_liquid + share * (sat.h_vapour - sat.h_liquid)
    s = sat.s_liquid + share * (sat.s_vapour - sat.s_liquid)
    for got, want in (
        (table.from_enthalpy(pressure, h), plain.from_enthalpy(pressure, h)),
        (table.from_entropy(pressure, s), plain.from_entropy(pressure, s)),
    ):
        assert np.abs(got.temperature - want.temperature).max() < 0.01
        assert gap(got.volume, want.volume) < 1e-3
        assert np.abs(got.entropy - want.entropy).max() < 0.1
        assert np.abs(got.enthalpy - want.enthalpy).max() < 20.0
    assert np.abs(table.quality(pressure, h) - plain.quality(pressure, h)).max() < 1e-4


def test_expansion_follows_the_flash(pair):
    """Work of an isentropic expansion, wet or dry, follows the equation of state within 0.1 %."""
    table, plain, _, pressure, _, superheat, ratio = pair
    start, ours = plain.superheated(pressure, superheat), table.superheated(pressure, superheat)
    want = plain.from_entropy(pressure / ratio, start.entropy)
    got = table.from_entropy(pressure / ratio, ours.entropy)
    assert gap(ours.enthalpy - got.enthalpy, start.enthalpy - want.enthalpy) < 1e-3
    assert gap(got.volume, want.volume) < 1e-3
    assert np.abs(ours.temperature - start.temperature).max() < 0.01


def test_liquid_follows_the_equation(pair):
    """Compressed liquid from temperature, and back from enthalpy."""
    table, plain, temperature, pressure, *_ = pair
    cold = np.maximum(temperature - 15.0, 280.0)
    got, want = table.liquid(pressure, cold), plain.liquid(pressure, cold)
    latent = plain.saturation(pressure).h_vapour - plain.saturation(pressure).h_liquid
    assert (np.abs(got.enthalpy - want.enthalpy) / latent).max() < 2e-3
    assert np.abs(table.liquid_from_enthalpy(pressure, got.enthalpy).temperature - cold).max() < 1e-6


def test_boiling_at_constant_pressure_glides(pair):
    """From bubble to dew point the temperature rises all the way, by 8 to 13 K, and T = dh/ds along it."""
    table, _, _, pressure, *_ = pair
    sat = table.saturation(pressure)
    steps = np.linspace(0.0, 1.0, 60)[:, None]
    h = sat.h_liquid + steps * (sat.h_vapour - sat.h_liquid)
    states = [table.from_enthalpy(pressure, row) for row in h]
    T, s = np.array([x.temperature for x in states]), np.array([x.entropy for x in states])
    assert np.all(np.diff(T, axis=0) > 0.0)
    assert np.all((T[-1] - T[0] > 8.0) & (T[-1] - T[0] < 13.0))
    slope = np.diff(h, axis=0) / np.diff(s, axis=0)
    assert np.abs(slope - 0.5 * (T[1:] + T[:-1])).max() < 0.1


def test_part_of_a_batch_is_the_batch_itself(pair):
    """Binding a part of the batch gives the same bits."""
    table, _, _, pressure, *_ = pair
    some = np.array([3, 17, 41])
    got = table.take(some).saturation(pressure[some]).dew_temperature
    assert np.array_equal(got, table.saturation(pressure).dew_temperature[some])


@pytest.mark.parametrize("fractions", [(0.2, 0.8), (0.64, 0.36), (0.9, 0.1)])
def test_lines_are_those_of_another_equation(fractions):
    """Bubble and dew pressure and the first gas agree with Peng and Robinson within 1 %, -20 to 90 degC."""
    mixture = Mixture(Blend("other", NAMES, fractions))
    for T in (253.15, 293.15, 323.15, 353.15):
        other = PengRobinson(NAMES, T)
        bubble, gas = other.pressure(np.array(fractions))
        dew, _ = other.pressure(np.array(fractions), dew=True)
        assert mixture.vapour_pressure(T) == pytest.approx(bubble, rel=0.01)
        assert mixture.dew(T)[0] == pytest.approx(dew, rel=0.01)
        masses = gas * np.array([0.0581222, 0.0440956])
        assert mixture.gas_fractions(T) == pytest.approx(masses / masses.sum(), abs=0.01)


def test_published_numbers_are_worked_out_again():
    """The values after Peng and Robinson in explore/verify/mixtures.py follow from the equation."""
    fractions = np.array(BOTTLED.mole_fractions())
    found = {}
    for degC in (20.0, 50.0, 90.0):
        equation = PengRobinson(NAMES, degC + 273.15)
        found[degC] = (*equation.pressure(fractions), equation.pressure(fractions, dew=True)[0])
    assert found[20.0][0] / 1e5 - 1.01325 == pytest.approx(3.1866, abs=2e-4)
    assert found[90.0][0] / 1e5 - 1.01325 == pytest.approx(19.1421, abs=2e-4)
    assert found[20.0][2] / 1e5 == pytest.approx(2.8729, abs=2e-4)
    assert found[50.0][2] / 1e5 == pytest.approx(6.7748, abs=2e-4)
    gas = found[20.0][1] * np.array([0.0581222, 0.0440956])
    assert 100 * gas[1] / gas.sum() == pytest.approx(59.64, abs=0.02)


def test_bubble_line_lies_above_dew_line_and_just_below_raoult():
    """Dew < bubble; the bubble pressure lies 0 to 6 % below Raoult's sum, and between those of the components.

    'Slightly negative deviation from Raoult's law': Seong, Yoo and Lim, J. Chem. Eng. Data 53, 2008, 2783, abstract.
    """
    mixture, fractions = Mixture(BOTTLED), BOTTLED.mole_fractions()
    for T in np.linspace(273.15, 323.15, 6):
        pure = [substance(name).vapour_pressure(float(T)) for name in NAMES]
        bubble, dew = mixture.vapour_pressure(float(T)), mixture.dew(float(T))[0]
        raoult = float(np.dot(fractions, pure))
        assert pure[0] < dew < bubble < pure[1]
        assert 0.94 * raoult < bubble < raoult


def test_a_trace_of_the_other_leaves_the_pure_fluid():
    """As one component's share goes to one, lines, latent heat, volumes and gas go to those of the pure fluid."""
    for kept, name in enumerate(NAMES):
        fractions = [1e-8, 1e-8]
        fractions[kept] = 1.0 - 1e-8
        mixture, pure = Mixture(Blend("almost pure", NAMES, tuple(fractions))), substance(name)
        for T in (280.0, 320.0, 350.0):
            p = pure.vapour_pressure(T)
            assert mixture.vapour_pressure(T) == pytest.approx(p, rel=1e-5)
            assert mixture.dew(T)[0] == pytest.approx(p, rel=1e-5)
            got, want = mixture.saturation(p), pure.saturation(p)
            assert got[7] - got[0] == pytest.approx(0.0, abs=1e-3)
            assert got[2] - got[1] == pytest.approx(want[2] - want[1], rel=1e-5)
            assert got[5:7] == pytest.approx(want[5:7], rel=1e-5)
        assert mixture.gas_fractions()[kept] == pytest.approx(1.0, abs=1e-6)


def test_fractions_by_mass_and_by_mole_are_one_mixture():
    """70 % butane by mass is 63.9 % by mole; both describe the same states."""
    mole = BOTTLED.mole_fractions()
    assert mole == pytest.approx(
        [0.7 / 58.1222, 0.3 / 44.09562] / np.sum([0.7 / 58.1222, 0.3 / 44.09562]), rel=1e-6
    )
    assert BOTTLED.mass_fractions(mole) == pytest.approx([0.7, 0.3])
    by_mole = Mixture(Blend("by mole", NAMES, tuple(mole)))
    assert by_mole.vapour_pressure(300.0) == pytest.approx(Mixture(BOTTLED).vapour_pressure(300.0), rel=1e-12)


def test_gas_is_richer_in_the_lighter_part():
    """The first gas over 70/30 at 20 degC is about 60 % propane by mass; the charge is as written."""
    charge, gas = mixture_tables.shares(BOTTLED)
    assert charge == pytest.approx({"n-Butane": 0.7, "n-Propane": 0.3})
    assert gas["n-Propane"] == pytest.approx(0.596, abs=0.005)
    assert sum(gas.values()) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("components", "words"),
    [
        (("Ammonia", "Water"), "no mixing rule"),
        (("R1234yf", "R134a"), "no bubble or dew point"),
        (("Ethanol", "Water"), "bar_a"),
    ],
)
def test_what_the_equation_cannot_serve_is_refused(tmp_path, components, words):
    """No mixing rule, or a flash that fails in a part of the range: one sentence, remembered on disk."""
    blend = Blend("odd", components, (0.5, 0.5))
    with pytest.raises(UnusableError, match=words) as error:
        mixture_tables.load(blend, tmp_path)
    assert isinstance(error.value, InputError)
    assert "\n" not in str(error.value)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(mixture_tables, "build", lambda blend: pytest.fail("built again"))
        with pytest.raises(UnusableError, match=words):
            mixture_tables.load(blend, tmp_path)


def test_tables_are_kept_and_torn_ones_built_again(tmp_path, monkeypatch):
    """What is on disk is read; a torn file is built again; another composition has another file."""
    held = mixture_tables.load(BOTTLED)
    monkeypatch.setattr(mixture_tables, "build", lambda blend: held)
    mixture_tables.load(BOTTLED, tmp_path)
    (path,) = tmp_path.glob("*.npz")
    path.write_bytes(path.read_bytes()[:1000])
    again = mixture_tables.load(BOTTLED, tmp_path)
    assert np.array_equal(held.wet_by_enthalpy, again.wet_by_enthalpy)
    assert cache.read(path) is not None
    mixture_tables.load(Blend(BOTTLED.name, NAMES, (0.69, 0.31), by_mass=True), tmp_path)
    assert len(list(tmp_path.glob("*.npz"))) == 2


def test_tables_with_lines_out_of_order_are_refused():
    """A dew line that dips below the bubble line cannot be a mixture's."""
    held = mixture_tables.load(BOTTLED)
    line = held.line.copy()
    line[40, 9] = line[40, 0] - 1.0
    broken = mixture_tables.MixtureTables(**{**vars(held), "line": line})
    with pytest.raises(UnusableError, match="not in order"):
        mixture_tables._sound(BOTTLED, broken)


def test_card_is_this_mixture():
    """The shipped card is butane and propane, 70/30 by mass."""
    assert load_scenario("orchard").card("Butane-propane-70-30").substance == BOTTLED


def test_known_components():
    """Names and aliases of CoolProp are known; a misspelling and a mixture's string are not."""
    assert is_known("n-Butane")
    assert is_known("R600a")
    assert not is_known("Butanol-7")
    assert not is_known("n-Butane&n-Propane")


@pytest.mark.parametrize(("share", "rise_bar"), [(0.05, 1.1), (0.10, 2.3), (0.20, 4.6)])
def test_propane_lifts_the_pressure_of_butane(share, rise_bar):
    """With 5, 10 and 20 % of propane by mole butane stands 1.1, 2.3 and 4.6 bar higher at 100 degC (project's own)."""
    mixed = Blend("butane with propane", NAMES, (1.0 - share, share))
    boiling = np.array([373.15])
    rise = worst_pressure(("n-Butane", mixed), boiling) - worst_pressure(("n-Butane",), boiling)
    assert rise[0] / 1e5 == pytest.approx(rise_bar, abs=0.05)


def test_worst_pressure_is_that_of_the_equation_of_state():
    """Between its knots the line holds the equation of state to 1e-5, whichever order the compositions stand in."""
    temperatures = np.array([300.0, 325.7, 351.1, 372.9])
    rich = Blend("rich", NAMES, (0.6, 0.4), by_mass=True)
    exact = [substance(rich).vapour_pressure(T) for T in temperatures]
    for order in ((rich, BOTTLED), (BOTTLED, rich)):
        assert worst_pressure(order, temperatures) == pytest.approx(exact, rel=1e-5)


def test_the_worst_fault_is_that_of_the_strongest_composition():
    """At 350 K propane stands at 30 bar and butane at 9: the higher counts, whichever is named first."""
    strong = substance("n-Propane").vapour_pressure(350.0)
    for order in (("n-Butane", "n-Propane"), ("n-Propane", "n-Butane")):
        pressure, critical = worst_fault(order, 350.0)
        assert pressure == pytest.approx(strong, rel=1e-12)
        assert critical == pytest.approx(369.9, abs=0.1)


def test_above_a_critical_temperature_there_is_no_worst_pressure():
    """Propane, at the end of a range, is critical at 96.7 degC: no pressure beyond, and its is the temperature told."""
    assert np.isnan(worst_pressure(("n-Butane", "n-Propane"), np.array([371.0]))[0])
    pressure, critical = worst_fault(("n-Butane", "n-Propane"), 373.0)
    assert np.isnan(pressure)
    assert critical == pytest.approx(369.9, abs=0.1)
