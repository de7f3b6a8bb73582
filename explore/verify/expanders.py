"""Checks of the piston expander: mean pressures of indicator diagrams, compound engines, cylinder sizes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from explore.plant.cylinder import Make, of_volume
from explore.plant.engine import LOSSLESS, Losses, receiver_pressures
from explore.verify.bench import Bench
from explore.verify.check import Check, given
from explore.verify.perfect_gas import diagram, mean_pressure
from explore.verify.sources import cite

TOPIC = "piston expander"
INCH = 0.0254
MOLESWORTH = {4: 0.50, 5: 0.45, 6: 0.41, 7: 0.38, 8: 0.35, 10: 0.32, 12: 0.29}
"""Small over large cylinder of a compound engine by total expansion."""


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _mean_pressures()
    yield from _clearance()
    yield from _brake()
    yield from _powers()
    yield from _compound()
    yield from _cylinder_ratios()
    yield from _triple_expansion()
    yield from _diagram_factor()


def mean_pressure_bar(supply: float, back: float, ratio: float, losses: Losses = LOSSLESS) -> float:
    """Mean pressure [bar] of a hyperbolic diagram between two pressures [bar], by the plant's stage."""
    return mean_pressure(diagram(supply * 1e5, back * 1e5, ratio, losses)) / 1e5


def _mean_pressures() -> Iterator[Check]:
    for name, supply, back, ratio, value, source in (
        ("joel", 11.0, 0.32, 12.0, 2.8745, "joel/Ex. 11.8"),
        ("singh-3", 7.5, 0.1, 2.5, 5.649, "singh/Ex. 12.03"),
        ("singh-5", 10.0, 0.75, 4.0, 5.2157, "singh/Ex. 12.05"),
    ):
        yield Check(
            f"mean-pressure-{name}",
            TOPIC,
            f"hyperbolic diagram {supply:g}/{back:g} bar, expansion {ratio:g}: mean pressure",
            "bar",
            value,
            1e-4,
            True,
            cite(source),
            "published",
            "component",
            given(mean_pressure_bar, supply, back, ratio),
        )


def _clearance() -> Iterator[Check]:
    """Clearance c and cut-off a, both of the stroke, compression to the supply pressure, all curves hyperbolic.

    p_m = p1 [a + (a + c) ln((1 + c)/(a + c)) - c ln(p1/p_b)] - p_b (1 + c - c p1/p_b).
    """
    supply, back, clearance, cut_off = 7.5, 1.0, 0.06, 0.25
    ratio = (1.0 + clearance) / (cut_off + clearance)
    yield Check(
        "mean-pressure-clearance",
        TOPIC,
        "7.5/1 bar, cut-off 1/4, clearance 6 %, full compression: mean pressure",
        "bar",
        3.216769,
        1e-5,
        True,
        cite("hand/area of the hyperbolic diagram with clearance and compression"),
        "recomputed",
        "component",
        given(mean_pressure_bar, supply, back, ratio, Losses(0.0, 0.0, clearance, 0.0, 0.0, 0.0)),
    )


def brake_pressure_bar(supply: float, back: float, ratio: float, friction: float) -> float:
    """Shaft work over the volume swept [bar] with a friction mean pressure [bar], by the plant's stage."""
    stage = diagram(supply * 1e5, back * 1e5, ratio, Losses(0.0, 0.0, 0.0, 0.0, 0.0, friction * 1e5))
    return float(stage.shaft_work[0] / stage.ideal_volume[0]) / 1e5


def _brake() -> Iterator[Check]:
    yield Check(
        "mean-pressure-brake",
        TOPIC,
        "hyperbolic diagram 7.5/0.1 bar, expansion 2.5, 0.15 bar of friction: brake mean pressure",
        "bar",
        5.499,
        1e-4,
        True,
        f"{cite('singh/Ex. 12.03')}, less the friction mean pressure",
        "recomputed",
        "component",
        given(brake_pressure_bar, 7.5, 0.1, 2.5, 0.15),
    )


def indicated_power(
    supply: float, back: float, ratio: float, factor: float, bore: float, stroke: float, rev_per_s: float
) -> float:
    """Power [kW] of a double-acting cylinder [m] by the plant's stage, the diagram factor as its leakage."""
    losses = Losses(0.0, 0.0, 0.0, 1.0 - factor, 0.0, 0.0) if factor < 1.0 else LOSSLESS
    stage = diagram(supply * 1e5, back * 1e5, ratio, losses)
    swept = np.pi / 4.0 * bore**2 * stroke
    return float(stage.shaft_work[0] / stage.ideal_volume[0]) * swept * 2.0 * rev_per_s / 1e3


def _powers() -> Iterator[Check]:
    for name, arguments, value, source, words in (
        ("joel", (11.0, 0.32, 12.0, 0.8144, 0.6, 0.4, 2.7), 142.97, "joel/Ex. 11.8",
         "compound engine 300/600 x 400 mm referred to its large cylinder, diagram factor 0.8144"),
        ("singh-3", (7.5, 0.1, 2.5, 0.6, 0.3, 0.6, 3.0), 86.25, "singh/Ex. 12.03",
         "engine 300 x 600 mm, 180 rev/min, diagram factor 0.6"),
        ("singh-5", (10.0, 0.75, 4.0, 1.0, 0.3, 0.4, 4.0), 117.98,
         "singh/Ex. 12.05, with the factor 1/4 of the piston area that its answer leaves out",
         "engine 300 x 400 mm, 240 rev/min, without loss"),
    ):  # fmt: skip
        yield Check(
            f"power-{name}",
            TOPIC,
            f"{words}: power",
            "kW",
            value,
            2e-4,
            True,
            cite(source),
            "published" if name != "singh-5" else "recomputed",
            "component",
            given(indicated_power, *arguments),
        )


def compound_mean_pressure(supply: float, middle: float, back: float, ratio: float) -> float:
    """Mean pressure [Pa] of two stages of the plant in series, referred to the large cylinder."""
    first = diagram(supply, middle, supply / middle)
    left = ratio * middle / supply
    second = diagram(middle, back, left, enthalpy=float(first.exhaust_enthalpy[0]))
    work = first.indicated_work[0] + second.indicated_work[0]
    return float(work / second.ideal_volume[0])


def _compound() -> Iterator[Check]:
    yield Check(
        "compound-joel",
        TOPIC,
        "compound engine 1100/32 kPa, cut-off 1/3 in the small cylinder, total 12: mean pressure",
        "kPa",
        287.45,
        1e-4,
        True,
        cite("joel/Ex. 11.8"),
        "published",
        "component",
        lambda bench: compound_mean_pressure(1100e3, 1100e3 / 3.0, 32e3, 12.0) / 1e3,
    )


def cylinder_ratio(expansion: float) -> float:
    """Small over large cylinder of two stages at the plant's receiver pressure, complete expansion [-]."""
    ends = receiver_pressures([np.array([expansion * 1e5])], np.array([1e5]), 2)
    supply, middle, back = (float(p[0]) for p in ends)
    first = diagram(supply, middle, supply / middle)
    second = diagram(middle, back, middle / back, enthalpy=float(first.exhaust_enthalpy[0]))
    return float(first.ideal_volume[0] / second.ideal_volume[0])


def _cylinder_ratios() -> Iterator[Check]:
    for expansion, value in MOLESWORTH.items():
        yield Check(
            f"cylinder-ratio-{expansion}",
            TOPIC,
            f"compound engine, total expansion {expansion}: small over large cylinder",
            "-",
            value,
            0.005,
            False,
            cite("molesworth/p. 454"),
            "published",
            "component",
            given(cylinder_ratio, float(expansion)),
        )
    yield Check(
        "cylinder-ratio-9",
        TOPIC,
        "compound engine, total expansion 9: large over small cylinder",
        "-",
        3.0,
        1e-4,
        True,
        cite("technical/p. 29"),
        "published",
        "component",
        lambda bench: 1.0 / cylinder_ratio(9.0),
    )


def stroke_inch(bore_inch: float, times_small: float) -> float:
    """Stroke [in] the plant gives a stock bore whose cylinder holds so many of 20 1/2 x 36 in."""
    small = np.pi / 4.0 * 20.5**2 * 36.0 * INCH**3
    return (
        float(of_volume(Make(stock_bores=(bore_inch * INCH,)), np.array([times_small * small]))[1][0]) / INCH
    )


def _triple_expansion() -> Iterator[Check]:
    for bore, times in ((33.0, 2.59), (58.0, 8.00)):
        yield Check(
            f"triple-expansion-{bore:g}",
            TOPIC,
            f"SS Rosario: {bore:g} in cylinder of {times:g} times the volume of the 20 1/2 in one: stroke",
            "in",
            36.0,
            0.005,
            True,
            cite("gutenberg/p. 7"),
            "published",
            "component",
            given(stroke_inch, bore, times),
        )


def diagram_factor(bench: Bench) -> float:
    """Shaft mean pressure of the shipped engine over the mean pressure of its hyperbolic diagram [-].

    n-Butane, 55 to 22 degC, every loss at its default, friction too; the diagram is drawn for the built-in ratio
    between boiler and condenser pressure, without clearance.
    """
    rated: dict[str, Any] = {"evaporating_temperature_degC": 55.0, "condensing_temperature_degC": 22.0}
    names = ("boiler_pressure_bar_a", "condenser_pressure_bar_a", "volume_ratio_1", "shaft_work_kJ_per_kg")
    boiler, condenser, ratio, work = (bench.figure(name, **rated) for name in names)
    flow, swept = bench.figure("fluid_flow_kg_per_s", **rated), bench.figure("swept_volume_1_L", **rated)
    rev_per_s = bench.case.scenario.demand.speed_rev_per_min / 60.0
    ours = work * 1e3 * flow / (swept * 1e-3 * rev_per_s)
    drawn = mean_pressure(diagram(boiler * 1e5, condenser * 1e5, ratio))
    return ours / drawn


def _diagram_factor() -> Iterator[Check]:
    yield Check(
        "diagram-factor",
        TOPIC,
        "shipped engine on n-butane, 55/22 degC: mean pressure at the shaft over the hyperbolic one; middle of what was "
        "printed of indicated ones, 0.60 to 0.95",
        "-",
        0.775,
        0.175,
        False,
        cite(
            "lineham/App. I, p. 772, 0.85 to 0.95 for good engines after Unwin; worked examples 0.60 to 0.85"
        ),
        "recomputed",
        "system",
        diagram_factor,
    )
