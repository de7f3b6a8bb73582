"""Invented logs of a plant's exchangers: made by the model with films drawn from their bands, and noise as stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from CoolProp.CoolProp import PropsSI

from explore import evaluate, new_design
from explore.bench.columns import BOILER, COLUMNS, CONDENSER, LEAK_DOWN, MOTORING, RUNNING
from explore.bench.fit import candidates, topic
from explore.bench.log import Log, Trial, accuracies
from explore.bench.plant import as_built
from explore.bench.problem import COVERED
from explore.bench.trials import Bench
from explore.doubt.draws import value
from explore.model.details import records
from tests.bench.synthetic_log import MEASURED, PLAN

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


ONE_GAUGE = {
    "boiler_pressure_bar_a": "inlet_pressure_bar_a",
    "condenser_pressure_bar_a": "outlet_pressure_bar_a",
    "inlet_temperature_degC": "inlet_temperature_degC",
}
"""Of a line that tells of the engine too: what is read once and serves both."""


def running(built, figures):
    """Return the conditions of the engine, of twelve other states, by kind."""
    pressure = figures["boiler_pressure_bar_a"] * np.repeat([0.8, 1.0, 1.05], 4)
    boiling = np.array([PropsSI("T", "P", 1e5 * one, "Q", 1, "n-Butane") for one in pressure]) - 273.15
    superheat = np.array([4.0, 5.0, 6.0] if built.coil else [4.0, 8.0, 14.0])
    return PLAN | {
        RUNNING: {
            "speed_rev_per_min": figures["speed_rev_per_min"] * np.tile([0.5, 0.75, 1.0, 1.25], 3),
            "inlet_pressure_bar_a": pressure,
            "outlet_pressure_bar_a": np.full(12, figures["condenser_pressure_bar_a"]),
            "inlet_temperature_degC": boiling + np.repeat(superheat, 4),
        }
    }


def by_power(case, seed):
    """Return a log whose running lines have brake and water but no flow, the true constants by name, and the bench."""
    draw = np.random.default_rng(seed)
    figures, built = plant(case, COIL if seed % 2 else STRATIFIED)
    bench = Bench(built.machine, case, built)
    items = [one for one in candidates(case, False, bench.films) if topic(one) not in ("pump", "store")]
    spread = draw.standard_normal(len(items))
    truth = {one.name: float(value(one, np.array([z]))[0]) for one, z in zip(items, spread, strict=True)}
    engine = case.engine.model_copy(update=truth)
    given = running(built, figures)
    asked = Trial(RUNNING, tuple(range(12)), given[RUNNING] | {"flow_kg_per_h": np.zeros(12)})
    flow = bench.predict(engine, asked)["flow_kg_per_h"]
    given |= {
        kind: columns
        | {"flow_kg_per_h": flow}
        | ({"boiler_pressure_bar_a": given[RUNNING]["inlet_pressure_bar_a"]} if kind == BOILER else {})
        | ({"inlet_temperature_degC": given[RUNNING]["inlet_temperature_degC"]} if kind == BOILER else {})
        for kind, columns in conditions(built, figures).items()
    }
    tests = []
    for kind in (RUNNING, MOTORING, LEAK_DOWN, BOILER, CONDENSER):
        exchanger = kind in (BOILER, CONDENSER)
        measured = (
            [name for name, one in COLUMNS.items() if kind in one.measured] if exchanger else MEASURED[kind]
        )
        measured = [name for name in measured if name not in ("flow_kg_per_h", "indicated_mean_pressure_bar")]
        n = len(next(iter(given[kind].values())))
        exact = Trial(kind, tuple(range(2, 2 + n)), given[kind] | {name: np.zeros(n) for name in measured})
        read = given[kind] | dict(bench.predict(engine, exact))
        accuracy = accuracies(replace(exact, columns=read), {})
        noisy = {
            name: values + accuracy[name] / COVERED * draw.standard_normal(n) for name, values in read.items()
        }
        if kind == RUNNING:
            running_read = noisy
        if exchanger:
            noisy |= {name: running_read[other] for name, other in ONE_GAUGE.items() if name in noisy}
            noisy["flow_kg_per_h"] = np.full(n, np.nan)
            accuracy["flow_kg_per_h"] = 0.0
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), truth, bench


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
