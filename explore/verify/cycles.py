"""Checks of the whole cycle round the fluid: worked Rankine examples, hot water of a finite stream, regenerator."""

from __future__ import annotations

from collections.abc import Iterator

from explore.cycle.rated import exhaust_quality
from explore.plant.circuit import Cycle
from explore.plant.site import SEA_LEVEL_PA
from explore.units import J_PER_KJ, PA_PER_BAR, SECONDS_PER_HOUR, celsius, kelvin
from explore.verify.bench import Bench, boiling_point, efficiency, saturated, textbook
from explore.verify.check import Check, Kind, given, on_bench
from explore.verify.reading import rows
from explore.verify.sources import cite

KINDS: dict[str, Kind] = {"published": "published", "from memory": "from memory"}
POWER_W = 100e6
HOT_WATER_KG_PER_S = 2.0
COLD_END_K = 10.0
HALVINGS = 30
TOPIC = "Rankine cycles"


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _worked_examples()
    yield from _finite_hot_water()
    yield from _cooling_water()
    yield from _regenerator()
    yield from _pressures_of_a_design()


def figure(cycle: Cycle, fluid: str, name: str) -> float:
    """One figure of a textbook cycle in the unit of the data file."""
    bound = saturated(fluid)
    if name == "efficiency":
        return efficiency(cycle)
    found = {
        "back work ratio": cycle.pump_work / cycle.shaft_work,
        "pump work": cycle.pump_work / J_PER_KJ,
        "expander work": cycle.shaft_work / J_PER_KJ,
        "heat": cycle.heat / J_PER_KJ,
        "condenser heat": (cycle.into_condenser - cycle.condensate.enthalpy) / J_PER_KJ,
        "exhaust enthalpy": cycle.into_condenser / J_PER_KJ,
        "exhaust quality": exhaust_quality(bound, cycle, bound.saturation(cycle.condenser_pressure)),
        "steam per hour for 100 MW": POWER_W / cycle.net_work * SECONDS_PER_HOUR,
    }
    return float(found[name][0])


def worked_example(row: dict[str, str]) -> float:
    """Run one row of the data file through the plant's cycle and return its figure."""
    fluid, ends = row["fluid"], (float(row["evaporating"]), float(row["condensing"]))
    hot, cold = (boiling_point(fluid, p * 1e6) if row["scale"] == "MPa" else kelvin(p) for p in ends)
    expander, pump = float(row["expander"]), float(row["pump"])
    above = kelvin(float(row["superheated_to_degC"])) - hot if row["superheated_to_degC"] else 0.0
    return figure(
        textbook(fluid, hot, cold, superheat=above, expander_efficiency=expander, pump_efficiency=pump),
        fluid,
        row["figure"],
    )


def _described(row: dict[str, str]) -> str:
    above = f", heated to {row['superheated_to_degC']} degC" if row["superheated_to_degC"] else ""
    losses = f", {row['expander']} and {row['pump']}" if row["expander"] != "1" else ""
    return f"{row['fluid']} {row['evaporating']}/{row['condensing']} {row['scale']}{above}{losses}"


def _worked_examples() -> Iterator[Check]:
    for row in rows("rankine"):
        yield Check(
            f"{row['case']}-{row['figure'].replace(' ', '-')}",
            TOPIC,
            f"{_described(row)}: {row['figure']}",
            row["unit"],
            float(row["value"]),
            float(row["tolerance"]),
            True,
            cite(row["source"]),
            KINDS[row["kind"]],
            "system",
            given(worked_example, row),
        )


def finite_hot_water() -> Cycle:
    """R134a boiling at 85 degC on water of 95 degC that pinches to nothing, condensing at 40 degC, no losses."""
    return textbook("R134a", kelvin(85.0), kelvin(40.0), hot_water=kelvin(95.0))


def _finite_hot_water() -> Iterator[Check]:
    def power(bench: Bench) -> float:
        cycle = finite_hot_water()
        return HOT_WATER_KG_PER_S * float(cycle.net_work[0] / cycle.hot_water[0]) / J_PER_KJ

    place = "sonntag/problem on geothermal water at 95 degC"
    words = "R134a, 85/40 degC on 2 kg/s of water at 95 degC: greatest power"
    yield Check(
        "finite-water-power", TOPIC, words, "kW", 15.2, 0.01, True, cite(place), "published", "system", power
    )

    yield Check(
        "finite-water-return",
        TOPIC,
        "the same: temperature at which the water leaves",
        "degC",
        77.2,
        0.1,
        False,
        f"{cite(place)}, heat balance of the water",
        "recomputed",
        "system",
        lambda bench: celsius(float(finite_hot_water().return_temperature[0])),
    )


def cooling_water_kg_per_h(efficiency: float) -> float:
    """Cooling water [kg/h], 15 to 35 degC, of 100 MW of steam plant 8/0.008 MPa, by the plant's condenser."""
    ends = boiling_point("Water", 8e6), boiling_point("Water", 8e3)
    cycle = textbook(
        "Water",
        *ends,
        expander_efficiency=efficiency,
        pump_efficiency=efficiency,
        cooling_water=(kelvin(15.0), kelvin(35.0)),
    )
    return float((POWER_W / cycle.net_work * cycle.condenser.water_flow)[0]) * SECONDS_PER_HOUR


def _cooling_water() -> Iterator[Check]:
    for name, losses, value in (("8.1", 1.0, 7.3e6), ("8.2", 0.85, 9.39e6)):
        words = "" if losses == 1.0 else f", {losses:g} and {losses:g}"
        yield Check(
            f"moran-{name}-cooling-water",
            TOPIC,
            f"Water 8.0/0.008 MPa{words}, 100 MW: cooling water from 15 to 35 degC",
            "kg/h",
            value,
            0.005,
            True,
            cite(f"moran/Ex. {name}"),
            "from memory",
            "system",
            given(cooling_water_kg_per_h, losses),
        )


def with_cold_end(difference: float) -> Cycle:
    """n-Butane 100/30 degC, 0.85 and 0.65, with the regenerator whose cold end has a difference [K]."""
    low, high = 0.0, 1.0
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        cycle = textbook("n-Butane", kelvin(100.0), kelvin(30.0), expander_efficiency=0.85, pump_efficiency=0.65,
                         regenerator=middle)  # fmt: skip
        wide = cycle.regenerator.fitted[0] and cycle.regenerator.cold_difference[0] > difference
        low, high = (middle, high) if wide else (low, middle)
    return cycle


def _regenerator() -> Iterator[Check]:
    yield Check(
        "saleh-butane-regenerator",
        TOPIC,
        "n-Butane, 100/30 degC with internal heat exchanger: efficiency",
        "-",
        0.130,
        0.015,
        True,
        cite("saleh/abstract"),
        "published",
        "system",
        lambda bench: efficiency(with_cold_end(COLD_END_K)),
    )

    yield Check(
        "regenerator-effectiveness",
        TOPIC,
        "n-Butane, 100/30 degC: heat of a regenerator over that which would cool the exhaust to the feed",
        "-",
        0.80,
        1e-6,
        True,
        cite("kays/definition of effectiveness"),
        "recomputed",
        "system",
        given(effectiveness_of, 0.80),
    )


def effectiveness_of(asked: float) -> float:
    """Heat of the plant's regenerator over the greatest possible one [-]."""
    cycle = textbook("n-Butane", kelvin(100.0), kelvin(30.0), regenerator=asked)
    butane, pressure = saturated("n-Butane"), cycle.condenser_pressure
    above = cycle.feed.temperature - butane.saturation(pressure).temperature
    coldest = butane.superheated(pressure, above).enthalpy
    heat = cycle.stages[-1].exhaust_enthalpy - cycle.into_condenser
    return float((heat / (cycle.stages[-1].exhaust_enthalpy - coldest))[0])


def figure_at_75(bench: Bench, fluid: str, name: str) -> float:
    """One figure of the plain design on a store at 75 degC, whose highest temperature at rest is 80 degC."""
    return bench.figure(name, fluid=fluid, top_temperature_degC=75.0)


def _pressures_of_a_design() -> Iterator[Check]:
    """Pressures a user reads in the results, against Perry's vapour pressures less the standard atmosphere."""
    pressures = {
        (row["fluid"], row["temperature_degC"]): float(row["pressure_bar_a"])
        for row in rows("vapour_pressure")
        if row["source"].startswith("perry")
    }
    air = SEA_LEVEL_PA / PA_PER_BAR
    for fluid in ("n-Butane", "IsoButane", "n-Pentane"):
        found = [
            ("standstill", "standstill with the store at 75 + 5 degC", "bar_g", pressures[fluid, "80"] - air,
             "standstill_pressure_bar_g"),
            ("room", "at rest at 20 degC", "bar_g", pressures[fluid, "20"] - air,
             "pressure_at_20degC_bar_g"),
            ("boiler", "boiler at 50 degC", "bar_a", pressures[fluid, "50"],
             "boiler_pressure_bar_a"),
        ]  # fmt: skip
        for name, words, unit, value, figure_name in found:
            yield Check(
                f"design-{name}-{fluid}",
                "pressures of a design",
                f"{fluid}: {words}",
                unit,
                value,
                0.005 * (value + (air if unit == "bar_g" else 0.0)),
                False,
                f"{cite('perry/Table 2-8')}{', less 101325 Pa' if unit == 'bar_g' else ''}",
                "published",
                "system",
                on_bench(figure_at_75, fluid, figure_name),
            )
