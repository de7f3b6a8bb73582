"""Store losses, exchanger areas and cylinder volumes of one design; SI units."""

from __future__ import annotations

import math
from typing import Any

from tests.scalar.cycle import Cycle, Inputs
from tests.scalar.laws import CONSTANT, Laws
from tests.scalar.properties import Water

LEAST_DIFFERENCE = 0.1


def store_loss(engine: Any, volume: float, insulation: float, laws: Laws = CONSTANT) -> float:
    """Heat loss [W/K] of a standing cylinder twice as high as wide: ``volume`` [m3], ``insulation`` [m].

    Joints and damp raise what passes shell and ends, not what the fittings lose.
    """
    r1 = 0.5 * (2.0 * volume / math.pi) ** (1.0 / 3.0)
    height, r2 = 4.0 * r1, r1 + insulation
    k, film = engine.insulation_conductivity, engine.outside_film
    shell = math.log(r2 / r1) / (2.0 * math.pi * k * height) + 1.0 / (film * 2.0 * math.pi * r2 * height)
    end = math.pi * r1 * r1 / (insulation / k + 1.0 / film)
    if not laws.scaled:
        return engine.insulation_joints_factor * (1.0 / shell + 2.0 * end) + engine.fittings_W_per_K
    return laws.insulation_factor * (1.0 / shell + 2.0 * end) + laws.fittings


def mean_difference(one_end: float, other_end: float) -> float:
    """Logarithmic mean of two temperature differences [K], each at least 0.1 K."""
    a, b = max(one_end, LEAST_DIFFERENCE), max(other_end, LEAST_DIFFERENCE)
    if abs(a / b - 1.0) < 1e-6:
        return 0.5 * (a + b)
    return (a - b) / math.log(a / b)


def boiler_area(
    engine: Any, water: Water, inputs: Inputs, cycle: Cycle, T_store: float, laws: Laws = CONSTANT
) -> float:
    """Surface [m2 per kg/s of total fluid flow] of all boilers and economisers.

    ``T_store`` [K]: the isothermal water around the coil on a mixed store; unused on a stratified one.
    """
    U = (engine.boiler_U_liquid, engine.boiler_U_two_phase, engine.boiler_U_vapour)
    if not inputs.stratified:
        coil = (engine.coil_U_liquid, engine.coil_U_two_phase, engine.coil_U_vapour)
        U = laws.coil_U if laws.scaled else coil
    pinch = inputs.pinch_boiler
    area, above, T_hot = 0.0, 0.0, inputs.T_top
    for i, boiler in enumerate(cycle.boilers):
        share, T = cycle.shares[i], boiler.sat.T
        T_cold = T + pinch
        superheat = share * (boiler.exit.h - boiler.sat.vapour.h)
        boiling = share * (boiler.sat.vapour.h - boiler.sat.liquid.h)
        if not inputs.stratified:
            T_hot = T_between = T_cold = T_store
        elif superheat > 0:
            h_hot, h_cold = water.h(T_hot), water.h(T_cold)
            T_between = water.temperature(h_hot - superheat / (superheat + boiling) * (h_hot - h_cold))
        else:
            T_between = T_hot
        if superheat > 0:
            area += superheat / (U[2] * mean_difference(T_hot - boiler.exit.T, T_between - T))
        area += boiling / (U[1] * mean_difference(T_between - T, T_cold - T))
        if i:
            upper = cycle.boilers[i - 1].sat
            lifted = cycle.lifted[i - 1]
            duty = above * (upper.liquid.h - lifted.h)
            area += duty / (U[0] * mean_difference(T_hot - upper.T, T_cold - lifted.T))
        above += share
        T_hot = T_cold
    last = cycle.boilers[-1].sat
    T_end = cycle.T_out if inputs.stratified else T_store
    liquid = last.liquid.h - cycle.h_feed
    return area + liquid / (U[0] * mean_difference(T_hot - last.T, T_end - cycle.T_feed))


def condenser_area(engine: Any, water: Water, inputs: Inputs, cycle: Cycle) -> float:
    """Surface [m2 per kg/s of total fluid flow]: subcooling, condensing, desuperheating."""
    sat, flow = cycle.condenser, cycle.cooling
    h_wet = min(cycle.h_to_condenser, sat.vapour.h)
    duties = (sat.liquid.h - cycle.liquid.h, h_wet - sat.liquid.h, cycle.h_to_condenser - h_wet)
    U = (engine.condenser_U_liquid, engine.condenser_U_two_phase, engine.condenser_U_vapour)
    T_ends = ((sat.T, cycle.liquid.T), (sat.T, sat.T), (cycle.T_exhaust, sat.T))
    area, T_w = 0.0, inputs.T_cw
    for duty, u, (T_in, T_out) in zip(duties, U, T_ends, strict=True):
        if duty <= 0:
            continue
        T_next = water.temperature(water.h(T_w) + duty / flow)
        area += duty / (u * mean_difference(T_in - T_next, T_out - T_w))
        T_w = T_next
    return area
