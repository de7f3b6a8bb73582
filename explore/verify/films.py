"""Checks of films and pressure drops in tubes, and of the transport properties they take."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial

import numpy as np

from explore.fluids.interface import Array
from explore.fluids.transport import Transport, TransportStack
from explore.plant.correlations import boiling, condensation, drop, single_phase
from explore.verify.check import Check, Kind, given
from explore.verify.sources import cite

TOPIC = "films and pressure drops"
WATER_CRITICAL_PA, WATER_MOLAR = 22_048_321.0, 18.02e-3
ANNULI = ((0.05, 17.46), (0.1, 11.56), (0.25, 7.37), (0.5, 5.74))


def checks() -> Iterator[Check]:
    """Every check of this module."""
    for name, quantity, unit, value, tolerance, source, kind, ours in (
        *_one_phase(),
        *_phase_change(),
        *_drops(),
        *_transport(),
    ):
        yield Check(
            name, TOPIC, quantity, unit, value, tolerance, True, cite(source), kind, "component", given(ours)
        )


Row = tuple[str, str, str, float, float, str, Kind, Callable[[], float]]


def _a(value: float) -> Array:
    return np.array([float(value)])


def _state(**values: float) -> Transport:
    """Return a saturated state with the ``values`` given; the others are not used by the function checked."""
    return Transport(**{name: _a(values.get(name, np.nan)) for name in Transport._fields})


def _one_phase() -> Iterator[Row]:
    yield (
        "gnielinski", "Nusselt number, turbulent, Re 1e5, Pr 1.2, f 0.0185", "-", 254.6268, 1e-6,
        "gnielinski/eq. for fully developed flow, digits as in the package ht", "recomputed",
        lambda: float(single_phase.gnielinski(_a(1e5), _a(1.2), _a(0.0185))[0]),
    )  # fmt: skip
    yield (
        "churchill-chu", "Nusselt number, horizontal cylinder, Gr 2.63e9, Pr 0.69", "-", 139.1349, 1e-6,
        "bergman/Ex. 9.2, digits as in the package ht", "published",
        lambda: float(single_phase.churchill_chu(_a(0.69 * 2.63e9), _a(0.69))[0][0]),
    )  # fmt: skip
    for ratio, nusselt in ANNULI:
        yield (
            f"annulus-{ratio:g}", f"Nusselt number at the inner wall, laminar, diameters {ratio:g} to 1", "-",
            nusselt, 0.04, "bergman/table 8.2", "from memory",
            partial(_annulus, ratio),
        )  # fmt: skip


def _annulus(ratio: float) -> float:
    return float(single_phase.annulus_nusselt(_a(900.0), _a(3.0), _a(ratio), 0.0)[0])


def _phase_change() -> Iterator[Row]:
    yield (
        "cooper-water", "pool boiling of water at 1 atm, wall 4.3 K above", "W/(m2 K)", 1558.1435, 1e-5,
        "rohsenow/ch. 15, digits as in the package ht", "published",
        lambda: _cooper(4.3, 101_325.0),
    )  # fmt: skip
    yield (
        "gorenflo-water", "pool boiling of water at 3 bar, 20 kW/m2", "W/(m2 K)", 3043.3446, 1e-5,
        "vdi93/sec. Ha, digits as in the package ht", "recomputed",
        lambda: float(
            boiling.gorenflo(
                _a(2e4), _a(3e5 / 22_048_320.0), _a(boiling.GORENFLO_H0["Water"]), np.array([True])
            )[0][0]
        ),
    )  # fmt: skip
    yield (
        "liu-winterton", "flow boiling in a tube, x 0.4, pool part at 7 K", "W/(m2 K)", 4747.7495, 1e-5,
        "liu/eq. of saturated boiling, digits as in the package ht", "recomputed", _liu_winterton,
    )  # fmt: skip
    film = _state(rho_v=7.0, rho_l=585.0, k_l=0.091, mu_l=158.9e-6, latent=776_900.0)
    yield (
        "nusselt-film", "condensing film on a plate of 0.1 m, 20 K", "W/(m2 K)", 1482.2064, 1e-5,
        "hewitt/p. 578, digits as in the package ht", "published",
        lambda: float(condensation.film(_a(20.0), 0.1, film, condensation.VERTICAL_PLATE)[0]),
    )  # fmt: skip
    liquid = _state(rho_l=800.0, mu_l=1e-5, k_l=0.6, cp_l=2300.0)
    yield (
        "shah", "condensation in a tube of 0.3 m, 1 kg/s, x 0.4, p* 0.05", "W/(m2 K)", 2561.2593, 1e-5,
        "shah/eq. 8, digits as in the package ht", "recomputed",
        lambda: float(condensation.shah(_a(0.4), _a(_flux(1.0, 0.3)), 0.3, liquid, _a(0.05))[0]),
    )  # fmt: skip


def _flux(flow: float, diameter: float) -> float:
    """Mass flux [kg/(m2 s)] of a flow [kg/s] in a round tube."""
    return flow / (0.25 * np.pi * diameter**2)


def _cooper(superheat: float, pressure: float) -> float:
    """Coefficient at a wall superheat [K]: the flux it drives, found by repeated use."""
    h = _a(1000.0)
    for _ in range(60):
        h, _exponent = boiling.cooper(h * superheat, _a(pressure / WATER_CRITICAL_PA), _a(WATER_MOLAR))
    return float(h[0])


def _liu_winterton() -> float:
    state = _state(rho_l=567.0, rho_v=18.09, k_l=0.086, mu_l=156e-6, cp_l=2300.0)
    reduced, mass, h = _a(1e6 / 22e6), _a(44.02e-3), _a(1000.0)
    for _ in range(60):  # the package takes the flux that pool boiling alone has at 7 K
        h, _exponent = boiling.cooper(h * 7.0, reduced, mass)
    found, _exponent = boiling.liu_winterton(h * 7.0, _a(0.4), _a(_flux(1.0, 0.3)), 0.3, state, reduced, mass)
    return float(found[0])


def _drops() -> Iterator[Row]:
    yield (
        "moody", "friction factor, Re 1e5, roughness 1e-4", "-", 0.0185139, 5e-5,
        "colebrook/eq. of the transition region", "recomputed",
        lambda: float(single_phase.turbulent_friction(_a(1e5), 1e-4)[0]),
    )  # fmt: skip
    wet = _state(rho_l=915.0, rho_v=2.67, mu_l=180e-6, mu_v=14e-6)
    yield (
        "mueller-steinhagen-heck", "two-phase gradient, 0.6 kg/s in 50 mm, x 0.1", "Pa/m", 793.4465, 1e-4,
        "mueller/eq. of the pressure gradient, digits as in the package fluids", "recomputed",
        lambda: float(drop.mueller_steinhagen_heck(_a(_flux(0.6, 0.05)), _a(0.1), 0.05, wet, 0.0)[0]),
    )  # fmt: skip


def _transport() -> Iterator[Row]:
    yield (
        "water-viscosity", "viscosity of water at 20 degC", "mPa s", 1.0016, 2e-3,
        "iso3666/recommended value", "published",
        lambda: 1e3 * float(_water(293.15, "mu")),
    )  # fmt: skip
    yield (
        "water-conductivity", "conductivity of water at 25 degC", "W/(m K)", 0.6065, 4e-3,
        "ramires/standard reference value", "published",
        lambda: float(_water(298.15, "k")),
    )  # fmt: skip
    yield (
        "pentane-viscosity", "viscosity of liquid n-pentane at 25 degC", "mPa s", 0.224, 0.03,
        "crc/viscosity of liquids", "from memory",
        lambda: 1e3 * float(TransportStack.of(("n-Pentane",)).bind(np.array([0])).at(_a(298.15)).mu_l[0]),
    )  # fmt: skip


def _water(temperature: float, name: str) -> float:
    water = TransportStack.of(("n-Pentane",)).bind(np.array([0])).water(_a(temperature))
    return float(getattr(water, name)[0])
