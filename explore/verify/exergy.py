"""Checks of what a litre of hot water can give at most: exergy, and the bounds of boilers in series."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from explore.cycle.supply import evaporating_temperatures
from explore.plant import boiler
from explore.units import kelvin
from explore.verify.bench import Bench
from explore.verify.check import Check, on_bench
from explore.verify.reading import rows
from explore.verify.sources import cite

TOPIC = "exergy and bounds"
HOT_K, COLD_K = kelvin(95.0), kelvin(15.0)
LATENT_HEAT = 1e5
BOUNDS = {1: 0.52061, 2: 0.68480, 3: 0.76522, 5: 0.84455}
"""Share of the exergy that N boilers in series win from a stream of constant heat capacity, 95 to 15 degC.

Boiling at T_k = T_1 (T_0/T_1)^(k/(N+1)), reversible engines: [T_1 - T_1 r^N - N T_0 (1/r - 1)] over
[T_1 - T_0 - T_0 ln(T_1/T_0)], r = (T_0/T_1)^(1/(N+1)).
"""


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _exergy_of_water()
    yield from _boilers_in_series()
    yield from _level_temperatures()


def exergy_per_litre(bench: Bench, top_degC: float, cold_degC: float) -> float:
    """Exergy of a litre [kJ] as a design reports it."""
    return bench.figure("exergy_per_litre_kJ", cooling_degC=cold_degC, top_temperature_degC=top_degC)


def _exergy_of_water() -> Iterator[Check]:
    for row in rows("exergy_of_water"):
        top, cold = float(row["top_temperature_degC"]), float(row["surroundings_degC"])
        yield Check(
            f"exergy-{top:g}-{cold:g}",
            TOPIC,
            f"exergy of a litre at {top:g} degC against {cold:g} degC",
            "kJ/L",
            float(row["exergy_kJ_per_L"]),
            float(row["tolerance"]),
            True,
            cite("if97/region 1, equation 7, in rho [h - h0 - T0 (s - s0)]"),
            "recomputed",
            "system",
            on_bench(exergy_per_litre, top, cold),
        )


def best_temperatures(count: int) -> list[float]:
    """Best boiling temperatures [K] of reversible engines in series, from the hottest."""
    return [HOT_K * (COLD_K / HOT_K) ** (k / (count + 1)) for k in range(1, count + 1)]


def ideal_level(temperature: float) -> boiler.Level:
    """Return a boiler whose fluid needs no heat to come to the boil; its latent heat is arbitrary."""
    zero, T = np.zeros(1), np.array([temperature])
    return boiler.Level(
        temperature=T,
        pressure=zero,
        bubble_enthalpy=zero,
        bubble_entropy=zero,
        bubble_volume=zero,
        dew_enthalpy=zero + LATENT_HEAT,
        exit_enthalpy=zero + LATENT_HEAT,
        exit_entropy=LATENT_HEAT / T,
        exit_temperature=T,
        lift_work=zero,
        lifted_temperature=T,
        dew_temperature=T,
    )


def share_won(bench: Bench, count: int) -> float:
    """Share of the exergy of store water that the plant's boilers in series hand to reversible engines [-]."""
    water, temperatures = bench.water, best_temperatures(count)
    hot, cold = np.array([HOT_K]), np.array([COLD_K])
    raised = boiler.flows(water, hot, [ideal_level(T) for T in temperatures], np.zeros(1))
    work = sum(
        float(m[0]) * LATENT_HEAT * (1.0 - COLD_K / T) for m, T in zip(raised, temperatures, strict=True)
    )
    heat, entropy = water.enthalpy(hot) - water.enthalpy(cold), water.entropy(hot) - water.entropy(cold)
    return work / float((heat - COLD_K * entropy)[0])


def _boilers_in_series() -> Iterator[Check]:
    for count, share in BOUNDS.items():
        boilers = "one boiler" if count == 1 else f"{count} boilers in series"
        yield Check(
            f"bound-{count}",
            TOPIC,
            f"{boilers}, reversible engines, 95 to 15 degC: share of the exergy",
            "-",
            share,
            0.002,
            True,
            f"{cite('chambadal')} (one boiler), carried on to boilers in series; constant heat capacity",
            "recomputed",
            "component",
            on_bench(share_won, count),
        )


def _level_temperatures() -> Iterator[Check]:
    def middle(bench: Bench) -> float:
        hottest, _, coldest = best_temperatures(3)
        return float(evaporating_temperatures(np.array([hottest]), np.array([coldest]), 3)[1][0])

    yield Check(
        "bound-middle-level",
        TOPIC,
        "the middle of three boilers, between the best hottest and coldest: sqrt(T1 T0)",
        "K",
        325.703,
        0.01,
        False,
        f"{cite('chambadal')}: best temperature of one boiler, and by symmetry of the middle one of three",
        "recomputed",
        "system",
        middle,
    )
