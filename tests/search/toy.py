"""A cheap problem with the model's interface, for tests of the search."""

from __future__ import annotations

import os
import time
from typing import Any

import numpy as np

from explore.config.schema import Case, Collector, FluidCard, Objective, Scenario, Search

Columns = dict[str, np.ndarray]
FLUIDS = {"n-Butane": 2.0, "n-Pentane": 0.5, "Ammonia": 8.0, "Water": 0.1}


def card(name: str, safety_class: str = "A3") -> FluidCard:
    """A card with the fields the search reads."""
    return FluidCard(
        name=name,
        title=name,
        safety_class=safety_class,
        flammable=True,
        toxic=False,
        safety_source="-",
        regulation="-",
        regulation_date="2026-01-01",
        price_EUR_per_kg=1.0,
    )


def collector(name: str) -> Collector:
    """A collector with the fields the search reads."""
    return Collector(
        name=name,
        title=name,
        eta0=0.7,
        a1=3.0,
        a2=0.01,
        area_basis="gross",
        iam_b0=0.1,
        price_EUR_per_m2=100.0,
        source="-",
    )


def toy_case(space: dict[str, Any] | None = None, **search: Any) -> Case:
    """A whole case around four fluids and two collectors; keywords go to its search."""
    settings = {"name": "toy", "designs": 4000, "workers": 1, "leg_designs": 500, "population": 40} | search
    return Case(
        scenario=Scenario(
            name="toy",
            title="Toy",
            objectives=(
                Objective(figure="work_per_litre_kJ", direction="maximise", ideal=20.0, reference=0.0),
                Objective(figure="cost_EUR", direction="minimise", ideal=0.0, reference=8000.0),
                Objective(figure="peak_pressure_bar_g", direction="minimise", ideal=0.0, reference=16.0),
            ),
        ),
        fluids={name: card(name, "B2L" if name == "Ammonia" else "A3") for name in FLUIDS},
        collectors={name: collector(name) for name in ("flat", "tube")},
        space=space or {},
        search=Search(**settings),
    )


class ToyEvaluator:
    """Smooth figures with a known trend: hotter gives work and pressure, insulation and area cost."""

    def __init__(self, case: Case):
        self._ceiling = case.scenario.limits.pressure_ceiling_bar_g

    def evaluate(self, columns: Columns) -> Columns:
        """Evaluate a batch."""
        hot, cold = columns["top_temperature_degC"], columns["condensing_temperature_degC"]
        pressure = np.array([FLUIDS[str(f)] for f in columns["fluid"]]) * np.exp((hot - 60.0) / 30.0)
        mixed = columns["store_mode"] == "mixed"
        pinch = np.where(mixed, columns["boil_approach_K"], columns["pinch_boiler_K"])
        work = 0.2 * (hot - cold - pinch) * (1.0 + 0.1 * mixed) * columns["pressure_levels"] ** 0.3
        held = 1.0 - 3.0 / columns["insulation_mm"]
        cost = (
            28.0 * columns["store_volume_L"] ** 0.65
            + 5.0 * columns["insulation_mm"]
            + 100.0 * columns["collector_area_m2"]
            + 400.0 * columns["stages"]
            + 3000.0 / pinch
        )
        served = columns["collector_area_m2"] / 10.0
        violations = {
            "violation_pressure_ceiling_bar": pressure - self._ceiling,
            "violation_served_share": 0.8 - served,
        }
        feasible = np.all([v <= 0.0 for v in violations.values()], axis=0)
        return {
            "feasible": feasible,
            "work_per_litre_kJ": work * held,
            "cost_EUR": cost,
            "peak_pressure_bar_g": pressure,
            **violations,
        }


class HopelessEvaluator(ToyEvaluator):
    """The same, but nothing serves enough."""

    def evaluate(self, columns: Columns) -> Columns:
        """Evaluate a batch; no design is feasible."""
        outcome = super().evaluate(columns)
        outcome["violation_served_share"] = np.full(len(outcome["cost_EUR"]), 0.3)
        outcome["feasible"] = np.zeros(len(outcome["cost_EUR"]), bool)
        return outcome


class SlowEvaluator(ToyEvaluator):
    """The same, 20 ms slower a batch or as long as TOY_NAP_S says, so that it can be killed in the middle."""

    def evaluate(self, columns: Columns) -> Columns:
        """Evaluate a batch."""
        time.sleep(float(os.environ.get("TOY_NAP_S", "0.02")))
        return super().evaluate(columns)
