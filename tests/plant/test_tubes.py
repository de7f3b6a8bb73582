"""Exchangers of tubes: size and rating against a fine march with scalar functions of ht."""

from types import SimpleNamespace

import fluids
import ht
import numpy as np
import pytest
from scipy.optimize import brentq

from explore.fluids.transport import TransportStack
from explore.plant import tubes as parts
from explore.plant.sizing import COUNT_EXPONENT, Service, Sized, _aimed, mean_coefficients, rate, size
from explore.plant.tube_zone import Duty
from explore.plant.tubes import Tubes, Tubing

FLUID = "n-Butane"
BOILING_K, CONDENSING_K = 343.15, 300.15
FLOW, WATER_FLOW = 0.009, 0.2
TUBE = Tubes("jacket", 0.010, 0.012, 0.016, 15.0)


@pytest.fixture(scope="module")
def stack():
    """Transport tables of the fluid."""
    return TransportStack.of((FLUID,))


@pytest.fixture
def tubing(stack):
    """Make the tubing with the given tubes everywhere."""

    def make(tubes=TUBE, **changes):
        plain = dict(
            boiler=tubes, coil=tubes, condenser=tubes, boiling="liu_winterton", fouling_water=1.8e-4,
            fouling_fluid=1e-4, roughness=1.5e-6, aimed_drop=0.03, aimed_water_drop=2e4, heads=4.0,
            largest_drop=0.1, largest_water_drop=1e5, transport=stack, references=np.array([3600.0]),
            is_water=np.array([False]), places=np.array([0]),
        )  # fmt: skip
        return Tubing(**(plain | changes))

    return make


def duty(stack, name, temperature, hot, cold, heat=None, **more):
    """Make the duty of one zone, its water by the mean difference warmer (boiling) or colder (condensing)."""
    state = stack.bind(np.array([0])).at(np.array([temperature]))
    gap = 0.5 * (hot + cold) * (-1.0 if temperature == CONDENSING_K else 1.0)
    heat = FLOW * float(state.latent[0]) if heat is None else heat
    values = (heat, hot, cold, FLOW, WATER_FLOW, temperature, temperature + gap)
    return Duty(name, *(np.array([float(v)]) for v in values), **more)


def fitted(tubing, stack, process, temperature, duties, count=2.0):
    """Size one exchanger for one design."""
    bound = stack.bind(np.array([0]))
    pressure = np.array([8.1e5 if process == "boiling" else 2.6e5])
    own = tubing.boiler
    service = Service(process, np.array([temperature]), pressure, duties)
    return size(tubing, own, bound, service, count=np.array([count]))


def water_film(stack, temperature, count, tubes=TUBE):
    """Coefficient of water along the tubes by ht's Gnielinski times the annulus factor, Re above 4000."""
    w = stack.bind(np.array([0])).water(np.array([temperature]))
    mu, k, cp = float(w.mu[0]), float(w.k[0]), float(w.cp[0])
    gap = tubes.jacket - tubes.outside
    area = 0.25 * np.pi * (tubes.jacket**2 - tubes.outside**2) * count
    Re, Pr = WATER_FLOW / area * gap / mu, cp * mu / k
    assert Re > 4000
    f = fluids.friction_factor(Re, 1.5e-6 / gap)
    return ht.turbulent_Gnielinski(Re, Pr, f) * 0.86 * (tubes.outside / tubes.jacket) ** -0.16 * k / gap


def marched_area(stack, one, film, process, count, pieces=400):
    """Outside area of a two-phase zone by a march in equal steps of heat, each solved by itself."""
    s = {k: float(v[0]) for k, v in stack.bind(np.array([0])).at(one.fluid_temperature)._asdict().items()}
    mu, spread = s["mu_l"], TUBE.outside / TUBE.inside
    wall = TUBE.outside * np.log(spread) / 2.0 / 15.0 + 1.8e-4 + 1e-4 * spread
    G = FLOW / count / TUBE.bore_area
    outer = water_film(stack, float(one.water_temperature[0]), count)
    area = 0.0
    for i in range(pieces):
        share = (i + 0.5) / pieces
        cold, hot = float(one.cold_difference[0]), float(one.hot_difference[0])
        # equal steps of heat are equal steps of the water's temperature and so of the difference
        d, x = cold + share * (hot - cold), share

        def lack(q, d=d, x=x):
            inner = film(q * spread, x, G, s, mu)
            return q * (1.0 / outer + wall + spread / inner) - d

        q = brentq(lack, 1.0, 1e6, xtol=1e-9)
        area += float(one.heat[0]) / pieces / q
    return area


def boiling_by_ht(q, x, G, s, mu):
    """Liu and Winterton's sum with ht's parts, Cooper at the whole heat flux."""
    Re, Pr = G * TUBE.inside / mu, s["cp_l"] * mu / s["k_l"]
    liquid = ht.turbulent_Dittus_Boelter(Re, Pr) * s["k_l"] / TUBE.inside
    E = (1.0 + x * Pr * (s["rho_l"] / s["rho_v"] - 1.0)) ** 0.35
    S = 1.0 / (1.0 + 0.055 * E**0.1 * Re**0.16)
    return np.hypot(E * liquid, S * ht.Cooper(8.1e5, 3.796e6, 58.1222, q=q))


def condensing_by_ht(q, x, G, s, mu):
    """The larger of ht's Shah and Chato's film."""
    m = G * TUBE.bore_area
    shear = ht.condensation.Shah(m, x, TUBE.inside, s["rho_l"], mu, s["k_l"], s["cp_l"], 2.6e5, 3.796e6)
    drive = 9.80665 * s["rho_l"] * (s["rho_l"] - s["rho_v"]) * s["k_l"] ** 3 * s["latent"] / mu
    falling = brentq(lambda h: h - 0.555 * (drive * h / (q * TUBE.inside)) ** 0.25, 1.0, 1e5)
    return max(shear, falling)


@pytest.mark.parametrize(
    ("process", "film", "T", "hot", "cold"),
    [
        ("boiling", boiling_by_ht, BOILING_K, 9.0, 4.0),
        ("condensing", condensing_by_ht, CONDENSING_K, 4.0, 8.0),
    ],
)
def test_area_is_that_of_a_fine_march(tubing, stack, process, film, T, hot, cold):
    """Three places along a zone give the area of a march in 400 steps with ht's scalar functions, within 0.5 %."""
    one = duty(stack, "two_phase", T, hot, cold)
    sized = fitted(tubing(), stack, process, T, [one])
    np.testing.assert_allclose(sized.area, marched_area(stack, one, film, process, 2.0), rtol=5e-3)
    np.testing.assert_allclose(sized.length * np.pi * TUBE.outside * 2.0, sized.area)


def test_single_phase_zone_is_the_sum_of_resistances(tubing, stack):
    """U of liquid in a tube follows from ht's films, wall and fouling; its pressure drop from Darcy and Weisbach."""
    one = duty(stack, "liquid", BOILING_K, 20.0, 12.0, heat=900.0)
    two = duty(stack, "two_phase", BOILING_K, 9.0, 4.0)
    s = stack.bind(np.array([0])).at(np.array([BOILING_K]))
    count = 1.0
    sized = fitted(tubing(), stack, "boiling", BOILING_K, [one, two], count)
    G, mu, k, cp, rho = FLOW / TUBE.bore_area, *(float(v[0]) for v in (s.mu_l, s.k_l, s.cp_l, s.rho_l))
    Re = G * TUBE.inside / mu
    f = fluids.friction_factor(Re, 1.5e-6 / TUBE.inside)
    inner = ht.turbulent_Gnielinski(Re, cp * mu / k, f) * k / TUBE.inside
    outer, spread = water_film(stack, float(one.water_temperature[0]), count), 1.2
    wall = 0.012 * np.log(1.2) / 30.0 + 1.8e-4 + 1e-4 * spread
    U = 1.0 / (1.0 / outer + wall + spread / inner)
    np.testing.assert_allclose(mean_coefficients([sized])["liquid"], U, rtol=1e-3)
    length = 900.0 / (U * (8.0 / np.log(20.0 / 12.0))) / (np.pi * 0.012)
    drop = fluids.dP_from_K(f * length / TUBE.inside, rho, G / rho)
    np.testing.assert_allclose(sized.zones[0].fluid_drop, drop, rtol=1e-3)


def test_coil_feels_free_convection(tubing, stack):
    """A coil's water side is Churchill and Chu's at the water's own difference to the wall."""
    coil = Tubes("coil", 0.010, 0.012, 0.0, 340.0)
    one = duty(stack, "two_phase", BOILING_K, 7.0, 7.0)._replace(water_flow=np.zeros(1))
    sized = fitted(tubing(coil), stack, "boiling", BOILING_K, [one])
    w = stack.bind(np.array([0])).water(one.water_temperature)
    flux = float(one.heat[0] / sized.area[0])
    places = sized.zones[0].places
    assert places.flux.min() <= flux <= places.flux.max()
    mu, k, cp, rho, beta = (float(v[0]) for v in w)
    spread, state = 1.2, stack.bind(np.array([0])).at(np.array([BOILING_K]))
    s = {name: float(v[0]) for name, v in state._asdict().items()}
    for q, x in zip(places.flux[:, 0], places.quality[:, 0], strict=True):
        inner = boiling_by_ht(q * spread, x, FLOW / 2.0 / coil.bore_area, s, s["mu_l"])
        wall = 0.012 * np.log(1.2) / 2.0 / 340.0 + 1.8e-4 + 1e-4 * spread
        outside = 7.0 - q * (wall + spread / inner)
        Pr = cp * mu / k
        Gr = 9.80665 * beta * outside * 0.012**3 * rho**2 / mu**2
        h = ht.Nu_horizontal_cylinder_Churchill_Chu(Pr, Gr) * k / 0.012
        np.testing.assert_allclose(h * outside, q, rtol=2e-3)
    assert (sized.water_drop == 0.0).all()


def test_bundle_has_one_shell():
    """A shell's hydraulic diameter is four times its free area over the wetted perimeter of shell and tubes."""
    way = parts.shell(Tubes("bundle", 0.010, 0.012, 0.06, 15.0), np.array([7.0]))
    area = 0.25 * np.pi * (0.06**2 - 7 * 0.012**2)
    np.testing.assert_allclose([way.area[0], way.streams[0]], [area, 1.0])
    np.testing.assert_allclose(way.hydraulic, 4.0 * area / (np.pi * (0.06 + 7 * 0.012)))
    free = parts.shell(Tubes("bundle", 0.010, 0.012, 0.0, 15.0), np.array([7.0]))
    pitch = np.sqrt(3.0) / 2.0 * (1.4 * 0.012) ** 2
    np.testing.assert_allclose(free.area, 7 * (pitch - 0.25 * np.pi * 0.012**2))


def test_number_of_tubes_keeps_the_losses_aimed_at(tubing, stack):
    """With no number given there are about as many tubes as needed for the pressure drops aimed at."""
    bound = stack.bind(np.array([0]))
    given = tubing()
    one = duty(stack, "two_phase", BOILING_K, 9.0, 4.0)._replace(fluid_flow=np.array([0.3]))
    one = one._replace(heat=one.heat * 0.3 / FLOW, water_flow=np.array([1.5]))
    service = Service("boiling", np.array([BOILING_K]), np.array([8.1e5]), [one])
    arguments = (given, TUBE, bound, service)
    sized = size(*arguments, count=size(*arguments).number)
    fewer = size(*arguments, count=sized.number * 0.7)

    def lost(x):
        return max(float(x.fluid_drop[0]) / (0.03 * 8.1e5), float(x.water_drop[0]) / 2e4)

    assert sized.number[0] > 5
    assert lost(sized) < 1.25
    assert lost(fewer) > 1.7


def test_rating_is_the_inverse_of_sizing(tubing, stack):
    """Tubes as long as sizing asks at an approach reach that approach; longer ones a smaller, shorter a larger."""

    def length(approach):
        one = duty(stack, "two_phase", BOILING_K, float(approach[0]) + 3.0, float(approach[0]))
        return fitted(tubing(), stack, "boiling", BOILING_K, [one]).length

    low, high, guess = np.array([0.1]), np.array([60.0]), np.array([20.0])
    needed = float(length(np.array([4.0]))[0])
    found = [float(rate(length, f * needed, low, high, guess)[0]) for f in (0.8, 1.0, 1.25)]
    np.testing.assert_allclose(found[1], 4.0, rtol=1e-8)
    assert found[0] > 4.2 > 3.8 > found[2]


def test_tubes_are_whole_and_lose_no_more_than_is_aimed_at(tubing):
    """Where 10.1 would lose just that, eleven are taken."""
    bundle = SimpleNamespace(tubing=tubing())
    pressure, number = np.array([1e6]), np.array([10.0])
    aimed = bundle.tubing.aimed_drop * pressure
    tried = Sized(number, number, number, aimed * 1.01**COUNT_EXPONENT, 0.0 * number, bundle, [], [])
    found = _aimed(tried, pressure)
    assert found.number == 11.0
    assert found.fluid_drop < aimed
