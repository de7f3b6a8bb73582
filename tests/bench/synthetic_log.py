"""Invented bench logs: made by the model with constants drawn from their bands, and noise of the stated accuracy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from explore.bench.columns import COOL_DOWN, LEAK_DOWN, MOTORING, PUMP, RUNNING
from explore.bench.fit import candidates
from explore.bench.log import Log, Trial, accuracies
from explore.bench.misread import COVERED
from explore.bench.trials import Bench
from explore.config.machine import GivenMachine
from explore.doubt.draws import value

MACHINE = GivenMachine.model_validate(
    {
        "fluid": "n-Butane",
        "cylinders": [{"bore_mm": 63, "stroke_mm": 60, "cut_off": 0.35}],
        "speed_rev_per_min": 300,
        "inlet_pressure_bar_a": 8,
        "inlet_temperature_degC": 85,
        "outlet_pressure_bar_a": 3,
    }
)
PLAN = {
    RUNNING: {
        "speed_rev_per_min": np.tile([150.0, 300.0, 450.0, 600.0], 3),
        "inlet_pressure_bar_a": np.repeat([5.5, 7.0, 8.5], 4),
        "outlet_pressure_bar_a": np.full(12, 3.0),
        "inlet_temperature_degC": np.repeat([58.0, 67.0, 76.0], 4),
    },
    MOTORING: {"speed_rev_per_min": np.array([100.0, 250.0, 500.0, 800.0])},
    LEAK_DOWN: {
        "inlet_pressure_bar_a": np.array([7.0, 7.0, 5.0]),
        "outlet_pressure_bar_a": np.full(3, 1.013),
        "inlet_temperature_degC": np.full(3, 40.0),
        "held_volume_L": np.full(3, 2.0),
        "duration_s": np.array([5.0, 10.0, 10.0]),
    },
    COOL_DOWN: {
        "store_temperature_degC": np.array([88.0, 75.0]),
        "room_temperature_degC": np.array([15.0, 17.0]),
        "duration_h": np.array([14.0, 12.0]),
        "store_volume_L": np.full(2, 500.0),
        "insulation_mm": np.full(2, 100.0),
    },
    PUMP: {
        "pump_pressure_rise_bar": np.array([2.0, 5.0, 8.0]),
        "pump_displacement_L_per_h": np.full(3, 60.0),
    },
}
"""Conditions of a day at an invented bench; vapour comes 6 K above its dew point."""
MEASURED = {
    RUNNING: (
        "flow_kg_per_h", "indicated_mean_pressure_bar", "card_admission_pressure_bar_a",
        "card_exhaust_pressure_bar_a", "shaft_power_W",
    ),
    MOTORING: ("torque_Nm",),
    LEAK_DOWN: ("end_pressure_bar_a",),
    COOL_DOWN: ("end_temperature_degC",),
    PUMP: ("pump_flow_L_per_h", "pump_power_W"),
}  # fmt: skip


def synthetic(case, seed, kinds=tuple(PLAN), without=()):
    """Return a log, the true constants by name, and the bench; ``without`` leaves measured columns out.

    True constants are drawn from their bands. Every second machine has its clearance measured, with oil, and wet vapour.
    """
    draw = np.random.default_rng(seed)
    measured = 0.07 if seed % 2 else None
    plan = dict(PLAN)
    if measured is not None:
        wet = {name: x for name, x in PLAN[RUNNING].items() if name != "inlet_temperature_degC"}
        plan[RUNNING] = wet | {"inlet_quality": np.full(12, 0.97)}
    bench = Bench(MACHINE.model_copy(update={"clearance_fraction": measured}), case)
    items = candidates(case, machine_has_clearance=measured is not None)
    spread = draw.standard_normal(len(items))
    truth = {one.name: float(value(one, np.array([z]))[0]) for one, z in zip(items, spread, strict=True)}
    engine = case.engine.model_copy(update=truth)
    tests = []
    for kind in kinds:
        given = {name: np.array(values) for name, values in plan[kind].items()}
        names = [name for name in MEASURED[kind] if name not in without]
        empty = {name: np.zeros(len(next(iter(given.values())))) for name in names}
        exact = Trial(kind, tuple(range(2, 2 + len(next(iter(given.values()))))), given | empty)
        read = given | dict(bench.predict(engine, exact))
        accuracy = accuracies(replace(exact, columns=read), {})
        if "inlet_quality" in accuracy:
            accuracy["inlet_quality"] = 0.005
        noisy = {
            name: values + accuracy[name] / COVERED * draw.standard_normal(len(values))
            for name, values in read.items()
        }
        tests.append(replace(exact, columns=noisy, accuracy=accuracy))
    return Log("invented.csv", tuple(tests)), truth, bench


class Count:
    """Over many logs: how often each constant was identified, and how often the true one lay in its interval."""

    def __init__(self):
        self.told, self.inside, self.widths, self.misfits = {}, {}, {}, []

    def add(self, found, truth):
        """Count one fit."""
        self.misfits.append(found.misfit)
        for one in found.coefficients:
            name = one.item.name
            self.widths.setdefault(name, []).append(one.width)
            if one.identified:
                self.told[name] = self.told.get(name, 0) + 1
                held = one.fitted[1] <= truth[name] <= one.fitted[2]
                self.inside[name] = self.inside.get(name, 0) + held

    @property
    def share(self):
        """Share of all identified constants that lie in their intervals."""
        return sum(self.inside.values()) / sum(self.told.values())
