"""Checks of the working fluids and of water: the tables and equations the plant is computed with."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.fluids.water import ATMOSPHERE_PA, boiling_temperature
from explore.units import J_PER_KJ, L_PER_M3, PA_PER_BAR, bar_gauge, kelvin
from explore.verify.bench import Bench, boiling_point, saturated
from explore.verify.check import Check, Kind, given, on_bench
from explore.verify.reading import rows
from explore.verify.sources import SOURCES, cite

ROOM_K = 298.15
KINDS: dict[str, Kind] = {"published": "published", "from memory": "from memory"}
FILLING_K, FILLING_SHARE = 323.15, 0.95


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _vapour_pressures()
    yield from _boiling_points()
    yield from _critical_temperatures()
    yield from _latent_heats()
    yield from _densities()
    yield from _filling_ratios()
    yield from _steam()
    yield from _store_water()
    yield from _bottled_butane()


def pressure_bar(bench: Bench, fluid: str, degC: float) -> float:
    """Vapour pressure [bar_a] by the tables of a fluid."""
    return float(bench.tables(fluid).saturation_pressure(np.array([kelvin(degC)]))[0]) / PA_PER_BAR


def _vapour_pressures() -> Iterator[Check]:
    for row in rows("vapour_pressure"):
        fluid, degC, handbook = row["fluid"], float(row["temperature_degC"]), row["source"].partition("/")[0]
        yield Check(
            f"pressure-{fluid}-{degC:g}-{handbook}",
            "vapour pressure",
            f"{fluid} at {degC:g} degC",
            "bar_a",
            float(row["pressure_bar_a"]),
            float(row["tolerance"]),
            True,
            cite(row["source"]),
            "published",
            "property",
            on_bench(pressure_bar, fluid, degC),
        )


def _boiling_points() -> Iterator[Check]:
    for row in rows("boiling_point"):
        fluid = row["fluid"]
        yield Check(
            f"boiling-{fluid}",
            "boiling and critical points",
            f"{fluid}: normal boiling point",
            "K",
            float(row["temperature_K"]),
            float(row["tolerance"]),
            False,
            cite(row["source"]),
            KINDS[row["kind"]],
            "property",
            given(boiling_point, fluid, ATMOSPHERE_PA),
        )


def critical_temperature(bench: Bench, fluid: str) -> float:
    """Critical temperature [K] by the tables."""
    return float(bench.tables(fluid).critical_temperature[0])


def _critical_temperatures() -> Iterator[Check]:
    for row in rows("critical_temperature"):
        fluid = row["fluid"]
        yield Check(
            f"critical-{fluid}",
            "boiling and critical points",
            f"{fluid}: critical temperature",
            "K",
            float(row["temperature_K"]),
            float(row["tolerance"]),
            False,
            cite(row["source"]),
            "published",
            "property",
            on_bench(critical_temperature, fluid),
        )


def latent_heat(bench: Bench, fluid: str) -> float:
    """Molar enthalpy of vaporisation at 25 degC [kJ/mol] by the tables."""
    table = bench.tables(fluid)
    sat = table.saturation(table.saturation_pressure(np.array([ROOM_K])))
    return float((sat.h_vapour - sat.h_liquid)[0] * table.molar_mass[0]) / J_PER_KJ


def _latent_heats() -> Iterator[Check]:
    for row in rows("latent_heat"):
        fluid = row["fluid"]
        yield Check(
            f"latent-{fluid}",
            "heat of vaporisation",
            f"{fluid} at 25 degC",
            "kJ/mol",
            float(row["heat_kJ_per_mol"]),
            float(row["tolerance"]),
            True,
            cite(row["source"]),
            "published",
            "property",
            on_bench(latent_heat, fluid),
        )


def liquid_density(bench: Bench, fluid: str, temperature: float) -> float:
    """Density of the saturated liquid [kg/m3] at T [K] by the tables."""
    table, T = bench.tables(fluid), np.array([temperature])
    return float(1.0 / table.liquid(table.saturation_pressure(T), T).volume[0])


def _densities() -> Iterator[Check]:
    for row in rows("liquid_density"):
        fluid, degC = row["fluid"], float(row["temperature_degC"])
        yield Check(
            f"density-{fluid}-{degC:g}",
            "liquid density",
            f"{fluid} at {degC:g} degC",
            "kg/m3",
            float(row["density_kg_per_m3"]),
            float(row["tolerance"]),
            True,
            cite(row["source"]),
            "published",
            "property",
            on_bench(liquid_density, fluid, kelvin(degC)),
        )


def filling_ratio(bench: Bench, fluid: str) -> float:
    """Mass a tank may hold per litre [kg/L]: 0.95 of the liquid density at 50 degC."""
    return FILLING_SHARE * liquid_density(bench, fluid, FILLING_K) / L_PER_M3


def _filling_ratios() -> Iterator[Check]:
    for row in rows("filling_ratio"):
        fluid = row["fluid"]
        yield Check(
            f"filling-{fluid}",
            "liquid density",
            f"{fluid}: filling ratio, 0.95 of the density at 50 degC",
            "kg/L",
            float(row["ratio_kg_per_L"]),
            float(row["tolerance"]),
            False,
            cite("adr/clause 4.3.3.2.2 and instruction P200"),
            "from memory",
            "property",
            on_bench(filling_ratio, fluid),
        )


def steam(quantity: str, temperature: float) -> float:
    """One property of water on the saturation line at T [K], in the unit of the data file."""
    water = saturated("Water")
    pressure = water.saturation_pressure(np.array([temperature]))
    sat = water.saturation(pressure)
    found = {
        "pressure": pressure / 1e6,
        "liquid enthalpy": sat.h_liquid / J_PER_KJ,
        "vapour enthalpy": sat.h_vapour / J_PER_KJ,
        "liquid entropy": sat.s_liquid / J_PER_KJ,
        "vapour entropy": sat.s_vapour / J_PER_KJ,
        "liquid density": 1.0 / sat.v_liquid,
        "vapour density": 1.0 / sat.v_vapour,
    }
    return float(found[quantity][0])


def _steam() -> Iterator[Check]:
    for row in rows("steam"):
        quantity, T = row["quantity"], float(row["temperature_K"])
        yield Check(
            f"steam-{quantity.replace(' ', '-')}-{T:g}",
            "water and steam",
            f"saturated water at {T:g} K: {quantity}",
            row["unit"],
            float(row["value"]),
            float(row["tolerance"]),
            True,
            cite("iapws95/Table 8"),
            "published",
            "property",
            given(steam, quantity, T),
        )
    for megapascal, T in ((0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)):
        yield Check(
            f"water-boils-{megapascal:g}",
            "water and steam",
            f"water boils at {megapascal:g} MPa",
            "K",
            T,
            1e-8,
            True,
            cite("if97/Table 36"),
            "published",
            "property",
            given(boiling_temperature, megapascal * 1e6),
        )


def _store_water() -> Iterator[Check]:
    hot, cold = np.array([kelvin(95.0)]), np.array([kelvin(15.0)])
    found: list[tuple[str, str, str, float, Callable[[Bench], float]]] = [
        ("heat", "heat from 15 to 95 degC", "kJ/kg", 334.95225,
         lambda b: float((b.water.enthalpy(hot) - b.water.enthalpy(cold))[0]) / J_PER_KJ),
        ("entropy", "entropy from 15 to 95 degC", "kJ/(kg K)", 1.0257174,
         lambda b: float((b.water.entropy(hot) - b.water.entropy(cold))[0]) / J_PER_KJ),
        ("density", "density at 95 degC", "kg/m3", 961.89506, lambda b: float(b.water.density(hot)[0])),
        ("capacity", "heat capacity at 80 degC", "kJ/(kg K)", 4.1955156,
         lambda b: float(b.water.heat_capacity(np.array([kelvin(80.0)]))[0]) / J_PER_KJ),
    ]  # fmt: skip
    for name, quantity, unit, value, ours in found:
        yield Check(
            f"store-water-{name}",
            "water and steam",
            f"store water: {quantity}",
            unit,
            value,
            5e-4,
            True,
            cite("if97/region 1, equation 7, at 0.101325 MPa"),
            "recomputed",
            "property",
            ours,
        )


def butane_gauge(bench: Bench, degC: float) -> float:
    """Gauge pressure of n-butane [bar_g] at sea level."""
    return bar_gauge(pressure_bar(bench, "n-Butane", degC) * PA_PER_BAR, ATMOSPHERE_PA)


def _bottled_butane() -> Iterator[Check]:
    """Facts of the trade; the tolerance is that of a 10 bar gauge of class 2.5."""
    for degC, gauge, words in (
        (22.0, 1.4, "a little under 1.5 bar"),
        (40.0, 2.6, "about 2.5 bar or somewhat more"),
        (-3.0, 0.0, "none a few degrees below freezing"),
    ):
        yield Check(
            f"bottled-butane-{degC:g}",
            "vapour pressure",
            f"gauge on bottled butane near {degC:g} degC ({words}), here pure n-butane",
            "bar_g",
            gauge,
            0.25,
            False,
            SOURCES["practice"],
            "common practice, no source",
            "property",
            on_bench(butane_gauge, degC),
        )
