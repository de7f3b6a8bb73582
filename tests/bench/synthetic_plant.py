"""Invented logs of a plant's exchangers: made by the model with films drawn from their bands, and noise as stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from CoolProp.CoolProp import PropsSI

from explore import evaluate, new_design
from explore.bench.columns import BOILER, COLUMNS, CONDENSER
from explore.bench.fit import candidates, topic
from explore.bench.log import Log, Trial, accuracies
from explore.bench.plant import as_built
from explore.bench.problem import COVERED
from explore.bench.trials import Bench
from explore.doubt.draws import value
from explore.model.details import records

STRATIFIED = {
    "fluid": "n-Butane", "top_temperature_degC": 90, "evaporating_temperature_degC": 68, "superheat_K": 8,
    "condensing_temperature_degC": 32, "pinch_boiler_K": 8, "pinch_condenser_K": 8, "store_volume_L": 800,
    "release_pressure_ratio": 1.3,
}  # fmt: skip
COIL = {
    "fluid": "n-Butane", "store_mode": "mixed", "governing": "cut_off", "top_temperature_degC": 90, "boil_approach_K": 10,
    "stop_temperature_degC": 55, "superheat_K": 6, "condensing_temperature_degC": 32, "pinch_condenser_K": 8,
    "store_volume_L": 800, "release_pressure_ratio": 1.3, "sizing_share": 0.4,
}  # fmt: skip
"""Invented plants, with differences to the water that a bench can read."""


def plant(case, design):
    """Return the figures of an invented plant, and the plant as built."""
    figures = records(evaluate(new_design(**design), case))[0]
    assert figures["possible"]
    return figures, as_built(figures, case)


def conditions(built, figures):
    """Return the conditions of twelve steady states by kind: half to one and a quarter of the flow, dry and less so."""
    flow = figures["fluid_flow_kg_per_s"] * 3600.0 * np.tile([0.5, 0.75, 1.0, 1.25], 3)
    pressure = figures["boiler_pressure_bar_a"] * np.repeat([0.9, 1.0, 1.05], 4)
    boiling = np.array([PropsSI("T", "P", 1e5 * one, "Q", 1, "n-Butane") for one in pressure]) - 273.15
    superheat = np.array([1.0, 2.5, 4.0] if built.coil else [2.0, 8.0, 14.0])
    given = {
        BOILER: {
            "boiler_pressure_bar_a": pressure,
            "inlet_temperature_degC": boiling + np.repeat(superheat, 4),
            "feed_temperature_degC": 30.0 + np.tile([0.0, 8.0], 6),
            "flow_kg_per_h": flow,
        },
        CONDENSER: {
            "condenser_pressure_bar_a": np.full(12, figures["condenser_pressure_bar_a"]),
            "flow_kg_per_h": flow,
            "exhaust_temperature_degC": np.repeat([36.0, 44.0, 52.0], 4),
            "condensate_temperature_degC": 31.0 - np.tile([0.0, 3.0, 6.0], 4),
            "cooling_water_flow_L_per_h": figures["cooling_water_flow_kg_per_s"]
            * 3600.0
            * np.repeat([0.8, 1.0, 1.3], 4),
        },
    }
    if not built.coil:
        given[BOILER]["hot_water_flow_L_per_h"] = (
            figures["hot_water_flow_kg_per_s"] * 3600.0 * np.tile([0.7, 1.0, 1.4], 4)
        )
    return given


def synthetic_plant(case, seed, kinds=(BOILER, CONDENSER)):
    """Return a log, the true films by name, and the bench; every second plant has a coil in its store."""
    draw = np.random.default_rng(seed)
    figures, built = plant(case, COIL if seed % 2 else STRATIFIED)
    bench = Bench(built.machine, case, built)
    items = [one for one in candidates(case, False, bench.films) if topic(one).startswith("films")]
    spread = draw.standard_normal(len(items))
    truth = {one.name: float(value(one, np.array([z]))[0]) for one, z in zip(items, spread, strict=True)}
    engine = case.engine.model_copy(update=truth)
    tests = []
    for kind in kinds:
        given = conditions(built, figures)[kind]
        (water,) = (name for name, one in COLUMNS.items() if kind in one.measured)
        exact = Trial(kind, tuple(range(2, 14)), given | {water: np.zeros(12)})
        read = given | dict(bench.predict(engine, exact))
        accuracy = accuracies(replace(exact, columns=read), {})
        noisy = {
            name: values + accuracy[name] / COVERED * draw.standard_normal(12)
            for name, values in read.items()
        }
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), truth, bench
