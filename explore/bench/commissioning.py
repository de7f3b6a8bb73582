"""The figures of a design for its leak test, filling, first start, stop, rest and winter, in units of the edges."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.bench import filling, gauge, sizes
from explore.fluids.interface import LOWEST_SATURATION_K
from explore.judgement.bill import WATER_DENSITY
from explore.judgement.cautions import HIGH_GWP
from explore.judgement.vessels import RELIEF_MARGIN
from explore.model import years
from explore.plant.losses import CARDLESS_VISCOSITY

if TYPE_CHECKING:
    from explore.config.schema import Engine, FluidCard
    from explore.fluids.substance import Substance
    from explore.model import Evaluator

HOT_K = 323.15
"""50 degC, at which ADR 4.3.3.2.2 asks how full a vessel is."""
FILLING_K = 293.15
"""20 degC, a workshop in which the charge is weighed in."""
ROOM_DEGC = (5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0)
"""Temperatures at which the leak test's gauge is told: those of a workshop over the year."""
TEST_HOURS = 24.0
"""Length of the leak test: over a night and back to the temperature of the start; common practice, no source."""
READ_BAR = 0.02
"""What is read of a needle again: a fifth of a division of 0.1 bar; common practice, no source."""
READ_K = 1.0
"""How well the temperature of the gas is known from a thermometer on the pipe; common practice, no source."""
TIGHT_SHARE = 0.1
"""Leak that is asked for: a tenth of the charge a year, a judgement; a code that applies may ask for less."""
PULLED_PA = (5000.0, 500.0, 50.0)
"""Pressures that pumps reach: an old compressor of a refrigerator, a worn and a good two-stage vacuum pump; common
practice, no source."""
PULLS = (1, 2, 3)
"""Times that a plant is pulled down with dry nitrogen let in between; common practice, no source: three."""
SWEEPS = 5.0
"""Volumes of its own steam that water may sweep a plant with: less than a hundredth of the air stays."""
PUSHING = 1.05
"""Vapour pressure over the air's from which a fluid drives air out: a twentieth moves gas through a small valve; a
judgement."""
UNFROZEN_K = 278.15
"""5 degC: liquid let into a plant at this pressure or more freezes no water in it."""
FREEZING_K = 273.15
"""Of water, by definition of the scale."""
FROST_K = 263.15
"""-10 degC, a night that is told where the weather file has none that freezes."""
WATER_HEAT = 4190.0
"""Of water, J/(kg K): 4.18 to 4.21 from 0 to 97 degC, IAPWS."""
ICE_SWELLS = 0.09
"""Ice takes 9 % more room than its water: 999.8 over 916.7 kg/m3 at 0 degC, from memory."""


@dataclass(frozen=True)
class Handling:
    """How a fluid may be handled: whether it may be let out, and why not; whether it burns, whether it is a mixture."""

    may_be_let_out: bool
    reasons: tuple[str, ...]
    burns: bool
    mixture: bool


def handling(card: FluidCard) -> Handling:
    """Say whether a fluid may be let out to drive the air before it: it neither burns nor harms nor warms the climate.

    One named in a phase-down or restriction may not be let out on purpose either (Regulation (EU) 2024/573, Article 4,
    from memory), nor one whose warming potential the card leaves open.
    """
    found = [
        (card.flammable, "it burns"),
        (card.poisons, "it is toxic"),
        (card.phase_down, "it is a fluorinated gas that the law keeps from the air"),
        (card.gwp100 is None or card.gwp100 >= HIGH_GWP, "it warms the climate, or nobody knows how much"),
    ]
    reasons = tuple(words for holds, words in found if holds)
    return Handling(not reasons, reasons, card.flammable, card.is_mixture)


def volumes_L(engine: Engine, figures: Mapping[str, Any]) -> dict[str, float]:
    """Inner volumes [L] that the working fluid fills, part by part; with the receivers those of the charge."""
    regenerator = float(figures["regenerator_area_m2"])
    found = {
        "boiler": engine.boiler_hold_up_L_per_m2 * float(figures["boiler_area_m2"]),
        "condenser": engine.condenser_hold_up_L_per_m2 * float(figures["condenser_area_m2"]),
        "regenerator": 0.0 if math.isnan(regenerator) else engine.boiler_hold_up_L_per_m2 * regenerator,
        "pipes and feed pump": engine.pipe_volume_L,
    }
    for stage, volume in receivers_L(engine, figures).items():
        found[f"receiver before cylinder {stage}"] = volume
        found[f"cylinders of stage {stage}"] = float(figures[f"swept_volume_{stage}_L"])
    return {name: volume for name, volume in found.items() if volume > 0.0}


def receivers_L(engine: Engine, figures: Mapping[str, Any]) -> dict[int, float]:
    """Volume [L] of the receiver before each stage: so many swept volumes of its cylinders."""
    swept = {stage: float(figures[f"swept_volume_{stage}_L"]) for stage in (1, 2, 3)}
    return {stage: engine.receiver_volume_strokes * one for stage, one in swept.items() if one > 0.0}


def commissioning(
    evaluator: Evaluator, machine: Engine, figures: Mapping[str, Any], details: Mapping[str, Any]
) -> dict[str, Any]:
    """Gather what each step needs: ``leak``, ``evacuate``, ``fill``, ``start``, ``rest``, ``winter``, and the volumes.

    ``figures`` and ``details`` of one possible design, as :func:`explore.bench.sheet.build_sheet` takes them; ``machine``
    has the inner volume per area of the exchangers whose areas the figures have.
    """
    case = evaluator.case
    card = case.card(str(figures["fluid"]))
    held = volumes_L(machine, figures)
    charge = gauge.charge_of(card.substance, card.ends)
    told: dict[str, Any] = {"volumes_L": held, "volume_L": sum(held.values()), "handling": handling(card)}
    told["leak"] = _leak(evaluator, figures, told["volume_L"], card)
    told["evacuate"] = _evacuate(evaluator, figures, held, told["leak"])
    told["fill"] = _fill(evaluator, figures, told["volume_L"], charge)
    told["start"] = _start(evaluator, figures, details)
    told["rest"] = _rest(evaluator, figures, charge)
    told["winter"] = _winter(evaluator, figures, charge)
    return told


def _leak(
    evaluator: Evaluator, figures: Mapping[str, Any], volume_L: float, card: FluidCard
) -> dict[str, Any]:
    """The leak test with nitrogen: pressure, what temperature does to it, what a fall means of a hole above the liquid."""
    air, volume = float(evaluator.air_pressure), volume_L / units.L_PER_M3
    gauge_bar = float(figures["design_pressure_bar_g"]) / RELIEF_MARGIN
    tested = units.pascal_from_gauge(gauge_bar, air)
    hot = units.pascal_from_gauge(float(figures["peak_pressure_bar_g"]), air)
    molar = _molar_mass(evaluator, figures)
    viscosities = (
        filling.NITROGEN_VISCOSITY,
        card.vapour_viscosity_Pa_s or CARDLESS_VISCOSITY,
    )  # the card's own assumption
    top = units.kelvin(float(figures["top_temperature_degC"]))
    seconds = TEST_HOURS * units.SECONDS_PER_HOUR

    def fluid_kg_per_year(fall: float) -> float:
        leak = filling.leak_rate(fall, volume, seconds)
        hotter = leak * filling.laminar_ratio((tested, air), (max(hot, air), air), viscosities)
        return filling.mass_rate(hotter, molar, top) * filling.SECONDS_PER_YEAR

    charge, one_bar = float(figures["charge_kg"]), fluid_kg_per_year(units.PA_PER_BAR)
    asked = TIGHT_SHARE * charge
    asked_bar = asked / one_bar if one_bar > 0.0 else math.nan
    seen = math.hypot(READ_BAR, tested / FILLING_K * READ_K / units.PA_PER_BAR)
    return {
        "test_bar_g": gauge_bar,
        "energy_kJ": filling.stored_energy(tested, air, volume) / units.J_PER_KJ,
        "nitrogen_g": 1e3 * tested * volume * filling.NITROGEN / (filling.GAS_CONSTANT * FILLING_K),
        "per_K_bar": tested / FILLING_K / units.PA_PER_BAR,
        "expected": [
            (T, units.bar_gauge(filling.warmed(tested, FILLING_K, units.kelvin(T)), air)) for T in ROOM_DEGC
        ],
        "hours": TEST_HOURS,
        "g_per_year_of_a_tenth_bar": 1e3 * 0.1 * one_bar,
        "asked_g_per_year": 1e3 * asked,
        "asked_fall_bar": asked_bar,
        "seen_fall_bar": seen,
        "seen_g_per_year": 1e3 * seen * one_bar,
        "asked_hours": TEST_HOURS * seen / asked_bar if asked_bar > 0.0 else math.nan,
    }


def _evacuate(
    evaluator: Evaluator, figures: Mapping[str, Any], held: Mapping[str, float], leak: Mapping[str, Any]
) -> dict[str, Any]:
    """What pumps leave in the plant, and what a leak that passes the test lets in while it stands in vacuum.

    Of a condenser without room for vapour nothing is told of what air does in it: infinite, a dash on the sheet.
    """
    air = float(evaluator.air_pressure)
    volume = sum(held.values()) / units.L_PER_M3
    vapour = 1.0 - evaluator.case.engine.liquid_share_condenser
    condenser = held.get("condenser", 0.0) * vapour / units.L_PER_M3
    T = units.kelvin(float(figures["condensing_temperature_degC"]))
    card = evaluator.case.card(str(figures["fluid"]))
    own = gauge.charge_of(card.substance).own
    tested = units.pascal_from_gauge(float(leak["test_bar_g"]), air)
    top = units.kelvin(float(figures["top_temperature_degC"]))
    rows = []
    for low in PULLED_PA:
        back = low * volume / condenser * T / FILLING_K if condenser > 0.0 else math.inf
        rows.append(
            {
                "pulled_mbar": low / 100.0,
                "left_g": 1e3 * low * volume * filling.NITROGEN / (filling.GAS_CONSTANT * FILLING_K),
                "air_percent": [100.0 * filling.share_left(low, air, times) for times in PULLS],
                "back_mbar": back / 100.0,
                "hotter_K": gauge.hotter_condensing(own, max(T, own.lowest_temperature), back),
            }
        )
    viscosity = filling.NITROGEN_VISCOSITY
    inward = filling.laminar_ratio((tested, air), (air, 0.0), (viscosity, viscosity))
    fall = float(leak["asked_fall_bar"])
    return {
        "rows": rows,
        "pulls": PULLS,
        "rise_mbar_per_hour": 1e3 * fall * inward / TEST_HOURS,
        "drying_mbar": gauge.charge_of("Water").own.vapour_pressure(FILLING_K) / 100.0,
        "pushes_out": own.vapour_pressure(min(top, own.highest_temperature)) > PUSHING * air,
        "swept_volumes": SWEEPS,
        "swept_percent": 100.0 * filling.swept_share(SWEEPS),
    }


def _fill(
    evaluator: Evaluator, figures: Mapping[str, Any], volume_L: float, charge: gauge.Charge
) -> dict[str, Any]:
    """Charge by mass, the fill rule, and how full of liquid the plant is over its temperature."""
    air, own = float(evaluator.air_pressure), charge.own
    mass, volume = float(figures["charge_kg"]), volume_L / units.L_PER_M3
    top = units.kelvin(float(figures["top_temperature_degC"]))
    least = sizes.least_volume(mass, 1.0 / own.bubble(HOT_K)[3], 1.0 / own.bubble(FILLING_K)[3])
    water = units.kelvin(evaluator.case.scenario.site.cooling_water_temperature_degC)
    return {
        "charge_kg": mass,
        "least_volume_L": least * units.L_PER_M3,
        "keeps_rule": least <= volume,
        "liquid": [
            (
                units.celsius(T),
                100.0 * filling.liquid_share(mass, volume, own.bubble(T)[3], own.dew(T)[3]),
            )
            for T in (FILLING_K, HOT_K, min(top, charge.hottest))
        ],
        "room_bar_g": _gauge(charge, FILLING_K, air),
        "cooled_bar_g": _gauge(charge, water, air),
        "cooling_water_degC": units.celsius(water),
        "vapour_first_bar_g": _gauge(charge, UNFROZEN_K, air),
        "boils_below_room": own.bubble(FILLING_K)[0] > air,
    }


def _start(evaluator: Evaluator, figures: Mapping[str, Any], details: Mapping[str, Any]) -> dict[str, Any]:
    """What is to be read while the engine warms and runs at its rated point."""
    case = evaluator.case
    stages = [stage for stage in (1, 2, 3) if float(figures[f"swept_volume_{stage}_L"]) > 0.0]
    swept = np.array([[float(figures[f"swept_volume_{stage}_L"]) / units.L_PER_M3 for stage in stages]])
    capacity = years.warm_up_capacity(case.engine, np.array([len(stages)]), swept)
    vapour = next(one for one in details["states"] if one["place"] == "boiler 1 outlet")
    boiling, room = float(vapour["T_degC"]), case.scenario.site.room_temperature_degC
    air = units.bar(float(evaluator.air_pressure))
    top = float(figures["top_temperature_degC"])
    heat = float(capacity[0]) * max(boiling - room, 0.0)
    loops = details["indicator"]
    return {
        "boiler_bar_g": float(figures["boiler_pressure_bar_a"]) - air,
        "condenser_bar_g": float(figures["condenser_pressure_bar_a"]) - air,
        "receivers_bar_g": [float(figures[f"receiver_pressure_{stage}_bar_a"]) - air for stage in stages],
        "vapour_degC": boiling,
        "speed_rev_per_min": float(figures["speed_rated_rev_per_min"]),
        "torque_Nm": float(figures["torque_rated_Nm"]),
        "fluid_kg_per_min": units.SECONDS_PER_MINUTE * float(figures["fluid_flow_kg_per_s"]),
        "hot_water_L_per_min": units.SECONDS_PER_MINUTE * float(figures["hot_water_flow_kg_per_s"]),
        "return_degC": float(figures["return_temperature_degC"]),
        "cooling_water_L_per_min": units.SECONDS_PER_MINUTE * float(figures["cooling_water_flow_kg_per_s"]),
        "warm_up_kJ": heat / units.J_PER_KJ,
        "warm_up_L": heat / (WATER_HEAT * max(top - room, 1.0)) * units.L_PER_M3 / WATER_DENSITY,
        **_full_store(figures, air),
        "clearance_mL": [
            1e3 * min(one["V_L"]) / round(float(figures["cylinders_per_stage"])) for one in loops
        ],
    }


def _full_store(figures: Mapping[str, Any], air: float) -> dict[str, float]:
    """Return what a full store may have an engine do that is sized for an emptier one; nothing where it is as rated."""
    if str(figures["store_mode"]) != "mixed":
        return {}
    return {
        "most_bar_g": float(figures["max_boiler_pressure_bar_a"]) - air,
        "full_Nm": float(figures["torque_full_Nm"]),
        "full_rev_per_min": float(figures["speed_full_rev_per_min"]),
    }


def _rest(evaluator: Evaluator, figures: Mapping[str, Any], charge: gauge.Charge) -> dict[str, Any]:
    """Pressures while the plant stands, over the temperature of what it stands at."""
    air, top = float(evaluator.air_pressure), units.kelvin(float(figures["top_temperature_degC"]))
    steps = [T for T in (293.15, 313.15, 333.15, 353.15) if top > T]  # 20 to 80 degC: a table of five lines
    return {
        "standing": [(units.celsius(T), _gauge(charge, T, air)) for T in (*steps, min(top, charge.hottest))],
        "rest_bar_g": float(figures["rest_pressure_bar_g"]),
        "rest_degC": units.celsius(evaluator.rest_temperature),
    }


def _winter(evaluator: Evaluator, figures: Mapping[str, Any], charge: gauge.Charge) -> dict[str, Any]:
    """How cold it gets, when the store freezes, and what the gauge shows then."""
    air, own = float(evaluator.air_pressure), charge.own
    coldest = evaluator.coldest_room
    frost = coldest if coldest < FREEZING_K else FROST_K
    capacity = float(figures["store_volume_L"]) / units.L_PER_M3 * WATER_DENSITY * WATER_HEAT
    seconds = filling.cooling_seconds(
        capacity, float(figures["store_loss_W_per_K"]), FILLING_K, FREEZING_K, frost
    )
    return {
        "indoor": evaluator.case.scenario.site.room == "indoor",
        "coldest_degC": units.celsius(coldest),
        "air_degC": units.celsius(evaluator.coldest_air),
        "freezes": coldest < FREEZING_K,
        "frost_degC": units.celsius(frost),
        "store_days": seconds / units.SECONDS_PER_HOUR / 24.0,
        "freezing_bar_g": _gauge(charge, FREEZING_K, air),
        "frost_bar_g": _gauge(charge, frost, air),
        "swells_percent": 100.0 * ICE_SWELLS,
        "fluid_freezes_degC": units.celsius(own.lowest_temperature)
        if own.lowest_temperature > LOWEST_SATURATION_K and not own.glides
        else math.nan,
    }


def _gauge(charge: gauge.Charge, T: float, air: float) -> float:
    """Gauge pressure [bar] of liquid under vapour at T [K]; NaN where there is none."""
    own: Substance = charge.own
    if not charge.coldest <= T <= charge.hottest:
        return math.nan
    return units.bar_gauge(own.bubble(T)[0], air)


def _molar_mass(evaluator: Evaluator, figures: Mapping[str, Any]) -> float:
    place = evaluator.fluids.index(str(figures["fluid"]))
    return float(evaluator.fluid(np.array([place], dtype=np.intp)).molar_mass[0])
