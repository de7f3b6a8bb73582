"""Invented logs of a plant's exchangers: made by the model with films drawn from their bands, and noise as stated."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from CoolProp.CoolProp import PropsSI

from explore import evaluate, new_design
from explore.bench.columns import BETWEEN, BOILER, CONDENSER, FRESH, LEAK_DOWN, MOTORING, RUNNING
from explore.bench.fit import candidates, topic
from explore.bench.log import Log, Trial, accuracies
from explore.bench.misread import COVERED
from explore.bench.plant import TUBE_FILMS, as_built
from explore.bench.trials import Bench, Way
from explore.config.compose import load_scenario
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
TWO = STRATIFIED | {
    "stages": 2, "pressure_levels": 2, "evaporating_temperature_degC": 74, "lowest_evaporating_temperature_degC": 54,
    "pinch_boiler_K": 6, "superheat_K": 4,
}  # fmt: skip
THREE = TWO | {"stages": 3, "pressure_levels": 3, "lowest_evaporating_temperature_degC": 46}
BOTTLED = {"fluid": "Butane-propane-70-30", "stop_temperature_degC": 60}
"""Invented plants, with differences to the water that a bench can read."""


def plant(case, design):
    """Return the figures of an invented plant, and the plant as built."""
    figures = records(evaluate(new_design(**design), case))[0]
    assert figures["possible"]
    return figures, as_built(figures, case)


def _dew(built, pressure):
    if built.machine.fluid != "n-Butane":
        fluid = Bench(built.machine, load_scenario("orchard"), built).fluid.take(np.zeros(len(pressure), int))
        return fluid.saturation(1e5 * pressure).dew_temperature - 273.15
    return np.array([PropsSI("T", "P", 1e5 * one, "Q", 1, "n-Butane") for one in pressure]) - 273.15


GAUGES = ("boiler_pressure_bar_a", "condenser_pressure_bar_a")


def _in_series(built, figures):
    """Conditions of boilers in series: what each has of its gauge, little superheat, water that comes fast and slowly."""
    share = np.tile([0.55, 0.75, 0.95, 1.1], 3)
    flow = figures["fluid_flow_kg_per_s"] * 3600.0 * share
    given = {"condenser_pressure_bar_a": np.full(12, figures["condenser_pressure_bar_a"])}
    for i in range(built.levels):
        pressure = figures[f"receiver_pressure_{i + 1}_bar_a"] * np.roll(
            np.repeat([0.96, 1.0, 1.03], 4), 4 * i
        )
        columns = FRESH[i - 1] if i else ("boiler_pressure_bar_a", "inlet_temperature_degC")
        given |= {
            columns[0]: pressure,
            columns[1]: _dew(built, pressure) + np.roll(np.repeat([3.0, 4.5, 6.0], 4), 3 * i),
        }
    return {
        RUNNING: {
            "speed_rev_per_min": figures["speed_rev_per_min"] * share,
            "inlet_pressure_bar_a": given["boiler_pressure_bar_a"],
            "outlet_pressure_bar_a": given["condenser_pressure_bar_a"],
        }
        | {name: values for name, values in given.items() if name not in GAUGES},
        BOILER: given
        | {
            "feed_temperature_degC": 29.0 + np.tile([0.0, 10.0], 6),
            "flow_kg_per_h": flow,
            "hot_water_flow_L_per_h": figures["hot_water_flow_kg_per_s"]
            * 3600.0
            * share
            * np.tile([1.0, 1.2, 1.4], 4),
        },
        CONDENSER: {
            "condenser_pressure_bar_a": given["condenser_pressure_bar_a"],
            "flow_kg_per_h": flow,
            "exhaust_temperature_degC": np.repeat([36.0, 44.0, 52.0], 4),
            "cooling_water_flow_L_per_h": figures["cooling_water_flow_kg_per_s"]
            * 3600.0
            * np.repeat([0.8, 1.0, 1.3], 4),
        },
    }


def conditions(built, figures):
    """Return the conditions of twelve steady states by kind: half to one and a quarter of the flow, dry and less so."""
    flow = figures["fluid_flow_kg_per_s"] * 3600.0 * np.tile([0.5, 0.75, 1.0, 1.25], 3)
    if built.levels > 1:
        own = _in_series(built, figures)
        return {kind: own[kind] for kind in (BOILER, CONDENSER)}
    pressure = figures["boiler_pressure_bar_a"] * np.repeat([0.9, 1.0, 1.05], 4)
    boiling = _dew(built, pressure)
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
    boiling = _dew(built, pressure)
    superheat = np.array([4.0, 5.0, 6.0] if built.coil else [4.0, 8.0, 14.0])
    if built.levels > 1:
        return PLAN | {RUNNING: _in_series(built, figures)[RUNNING]}
    return PLAN | {
        RUNNING: {
            "speed_rev_per_min": figures["speed_rev_per_min"] * np.tile([0.5, 0.75, 1.0, 1.25], 3),
            "inlet_pressure_bar_a": pressure,
            "outlet_pressure_bar_a": np.full(12, figures["condenser_pressure_bar_a"]),
            "inlet_temperature_degC": boiling + np.repeat(superheat, 4),
        }
    }


def compound(case, seed):
    """As :func:`by_power`, of a compound engine whose two boilers, in every second log three, feed its stages."""
    return by_power(case, seed, THREE if seed % 2 else TWO)


def by_power(case, seed, design=None):
    """Return a log whose running lines have brake and water but no flow, the true constants by name, and the bench."""
    draw = np.random.default_rng(seed)
    figures, built = plant(case, design or (COIL if seed % 2 else STRATIFIED))
    bench = Bench(built.machine, case, built)
    items = [one for one in candidates(case, False, bench.films) if topic(one) not in ("pump", "store")]
    spread = draw.standard_normal(len(items))
    truth = {one.name: float(value(one, np.array([z]))[0]) for one, z in zip(items, spread, strict=True)}
    engine = case.engine.model_copy(update={name: x for name, x in truth.items() if name != TUBE_FILMS})
    way = Way(tube_films=truth.get(TUBE_FILMS))
    given = running(built, figures)
    asked = Trial(RUNNING, tuple(range(12)), given[RUNNING] | {"flow_kg_per_h": np.zeros(12)})
    flow = bench.predict(engine, asked)["flow_kg_per_h"]
    read_once = {"boiler_pressure_bar_a": given[RUNNING]["inlet_pressure_bar_a"]} | {
        name: given[RUNNING][name]
        for name in ("inlet_temperature_degC", *(name for pair in FRESH for name in pair))
        if name in given[RUNNING]
    }
    one_gauge = dict(ONE_GAUGE)
    if built.tubes is not None:  # which lose some of it, so that there are two
        read_once["boiler_pressure_bar_a"] = 1.02 * given[RUNNING]["inlet_pressure_bar_a"]
        read_once["inlet_pressure_bar_a"] = given[RUNNING]["inlet_pressure_bar_a"]
        one_gauge = {name: name for name in ("inlet_pressure_bar_a", "inlet_temperature_degC")}
    given |= {
        kind: columns | {"flow_kg_per_h": flow} | (read_once if kind == BOILER else {})
        for kind, columns in conditions(built, figures).items()
    }
    tests = []
    for kind in (RUNNING, MOTORING, LEAK_DOWN, BOILER, CONDENSER):
        exchanger = kind in (BOILER, CONDENSER)
        measured = waters(kind, built) if exchanger else MEASURED[kind]
        measured = [name for name in measured if name not in ("flow_kg_per_h", "indicated_mean_pressure_bar")]
        n = len(next(iter(given[kind].values())))
        exact = Trial(kind, tuple(range(2, 2 + n)), given[kind] | {name: np.zeros(n) for name in measured})
        read = given[kind] | dict(bench.predict(engine, exact, way if exchanger else Way()))
        accuracy = accuracies(replace(exact, columns=read), {})
        noisy = {
            name: values + accuracy[name] / COVERED * draw.standard_normal(n) for name, values in read.items()
        }
        if kind == RUNNING:
            running_read = noisy
        if exchanger:
            noisy |= {name: running_read[other] for name, other in one_gauge.items() if name in noisy}
            noisy |= {name: running_read[name] for pair in FRESH for name in pair if name in noisy}
            noisy["flow_kg_per_h"] = np.full(n, np.nan)
            accuracy["flow_kg_per_h"] = 0.0
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), truth, bench


def tubes_by_power(case, seed):
    """As :func:`by_power`, of exchangers made of tubes, whose pressures are read beside the engine's."""
    return by_power(by_tubes(case), seed)


def by_tubes(case):
    """Return the case with exchangers made of tubes."""
    return case.model_copy(update={"exchangers": case.exchangers.model_copy(update={"method": "tubes"})})


WATER = "cooling_water_temperature_degC"


def gliding(case, seed):
    """As :func:`synthetic_plant`, of a mixture: a boiler in counterflow, and in every second log a coil."""
    return synthetic_plant(case, seed, design=(COIL if seed % 2 else STRATIFIED) | BOTTLED)


def weighed(case, seed):
    """As :func:`synthetic_plant`, of a condenser with wet exhaust: the outlet of its water is read, how wet it is not."""
    draw = np.random.default_rng(seed)
    figures, built = plant(case, STRATIFIED)
    bench = Bench(built.machine, case, built)
    items = [one for one in candidates(case, False, bench.films) if one.name.startswith("condenser")]
    truth = {one.name: float(value(one, draw.standard_normal(1))[0]) for one in items}
    given, quality = conditions(built, figures)[CONDENSER], np.repeat([0.86, 0.92, 0.97], 4)
    dew = _dew(built, given["condenser_pressure_bar_a"])
    given |= {"exhaust_temperature_degC": dew, WATER: np.zeros(12)}
    exact = Trial(CONDENSER, tuple(range(2, 14)), given | {"exhaust_quality": quality})
    read = given | dict(bench.predict(case.engine.model_copy(update=truth), exact))
    p = 1e5 * given["condenser_pressure_bar_a"]
    liquid, vapour = (np.array([PropsSI("H", "P", one, "Q", q, "n-Butane") for one in p]) for q in (0, 1))
    cold = np.array(
        [PropsSI("H", "P", one, "T", 273.15 + min(t, d - 0.01), "n-Butane") for one, t, d in
         zip(p, given["condensate_temperature_degC"], dew, strict=True)]
    )  # fmt: skip
    entry = 273.15 + read[WATER]
    stream = (
        given["cooling_water_flow_L_per_h"]
        * np.array([PropsSI("D", "P", 101325, "T", one, "Water") for one in entry])
        / 1e3
    )
    heat = given["flow_kg_per_h"] * (liquid + quality * (vapour - liquid) - cold)
    enthalpy = np.array([PropsSI("H", "P", 101325, "T", one, "Water") for one in entry]) + heat / stream
    outlet = np.array([PropsSI("T", "P", 101325, "H", one, "Water") for one in enthalpy]) - 273.15
    read |= {"cooling_water_outlet_temperature_degC": outlet}
    accuracy = accuracies(replace(exact, columns=read), {})
    noisy = {name: x + accuracy[name] / COVERED * draw.standard_normal(12) for name, x in read.items()}
    return Log("invented.csv", (replace(exact, columns=noisy, accuracy=accuracy),)), truth, bench


def in_series(case, seed):
    """As :func:`synthetic_plant`, of boilers in series: two, and in every second log three."""
    return synthetic_plant(case, seed, design=THREE if seed % 2 else TWO)


def boilers_in_series(case, seed):
    """As :func:`in_series`, without the condenser."""
    return synthetic_plant(case, seed, (BOILER,), THREE if seed % 2 else TWO)


def waters(kind, built):
    """Return what is read of the water of an exchanger."""
    if kind == CONDENSER:
        return ["cooling_water_temperature_degC"]
    return ["hot_water_temperature_degC", *BETWEEN[: built.levels - 1]]


def synthetic_plant(case, seed, kinds=(BOILER, CONDENSER), design=None):
    """Return a log, the true films by name, and the bench; every second plant has a coil in its store."""
    draw = np.random.default_rng(seed)
    figures, built = plant(case, design or (COIL if seed % 2 else STRATIFIED))
    bench = Bench(built.machine, case, built)
    items = [one for one in candidates(case, False, bench.films) if topic(one).startswith("films")]
    spread = draw.standard_normal(len(items))
    truth = {one.name: float(value(one, np.array([z]))[0]) for one, z in zip(items, spread, strict=True)}
    engine = case.engine.model_copy(update=truth)
    tests = []
    for kind in kinds:
        given = conditions(built, figures)[kind]
        exact = Trial(kind, tuple(range(2, 14)), given | dict.fromkeys(waters(kind, built), np.zeros(12)))
        read = given | dict(bench.predict(engine, exact))
        accuracy = accuracies(replace(exact, columns=read), {})
        noisy = {
            name: values + accuracy[name] / COVERED * draw.standard_normal(12)
            for name, values in read.items()
        }
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), truth, bench


def of_tubes(case, seed):
    """As :func:`synthetic_plant`, of exchangers made of tubes; every third log of boilers in series, the condenser's alone.

    Lines are those of the whole plant: both exchangers have read flow and condenser pressure once.
    """
    draw = np.random.default_rng(seed)
    tubes = by_tubes(case)
    figures, built = plant(tubes, (STRATIFIED, COIL, TWO)[seed % 3])
    bench = Bench(built.machine, tubes, built)
    (item,) = (one for one in candidates(tubes, False, bench.films) if one.name == TUBE_FILMS)
    truth = float(value(item, draw.standard_normal(1))[0])
    given, once, tests = conditions(built, figures), {}, []
    given[BOILER]["inlet_pressure_bar_a"] = 0.97 * given[BOILER]["boiler_pressure_bar_a"]
    for kind, columns in given.items() if built.levels == 1 else [(CONDENSER, given[CONDENSER])]:
        exact = Trial(kind, tuple(range(2, 14)), columns | dict.fromkeys(waters(kind, built), np.zeros(12)))
        read = columns | dict(bench.predict(case.engine, exact, Way(tube_films=truth)))
        accuracy = accuracies(replace(exact, columns=read), {})
        noisy = {
            name: once.get(name, values + accuracy[name] / COVERED * draw.standard_normal(12))
            for name, values in read.items()
        }
        once |= {name: noisy[name] for name in ("flow_kg_per_h", "condenser_pressure_bar_a") if name in noisy}
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), {TUBE_FILMS: truth}, bench
