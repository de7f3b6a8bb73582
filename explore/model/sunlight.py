"""Where the work goes: the exergy of one full charge, from sunlight on the glass to the shaft.

The account follows one litre of hot water: the collectors heat it under a reference sun, it stands for
the holding time, the engine takes its heat. The work destroyed in each component is T_0 times the entropy
its own balance shows, T_0 the temperature of the cooling water; nothing is found as a remainder.

Exergy of sunlight: E (1 - 4/3 T_0/T_s + 1/3 (T_0/T_s)^4), T_s = 5772 K: R. Petela, Exergy of heat radiation,
J. Heat Transfer 86 (1964) 187.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from explore import units
from explore.cycle.books import Books, keep
from explore.cycle.built import MixedEngine
from explore.cycle.curves import NODES, WEIGHTS
from explore.cycle.performance import Performance
from explore.cycle.sizing import sizing_temperature
from explore.cycle.source import Coil
from explore.design.designs import Designs
from explore.fluids.interface import Array
from explore.model.runs import Group, Runs
from explore.plant.collector import useful_heat
from explore.plant.governor import drive_efficiency

if TYPE_CHECKING:
    from explore.model.evaluator import Evaluator

SUN_K = 5772.0
"""Effective temperature of the sun: IAU 2015 resolution B3."""
REFERENCE_IRRADIANCE = 800.0
"""Sun [W/m2] under which the account's collectors work: a bright hour, as collector tests take it; common
practice."""
LEAST_EFFICIENCY = 0.02
"""Collectors that the reference sun cannot bring to temperature would need endless sunlight: the account stays finite."""


@dataclass(frozen=True)
class Account:
    """Exergy of one charge, all in J per m3 of hot water, each (n,).

    sunlight = work + sum(destroyed) + rejected, where ``rejected`` leaves with the warmed cooling water and
    ``destroyed`` maps each component to T_0 S_gen.
    """

    sunlight: Array
    work: Array
    rejected: Array
    destroyed: dict[str, Array]

    def residual(self) -> Array:
        """Exergy supplied less all that is accounted for."""
        gone = np.sum(list(self.destroyed.values()), axis=0)
        return np.asarray(self.sunlight - self.work - self.rejected - gone)


def account(evaluator: Evaluator, run: Runs) -> Account:
    """Account for one charge of every design of a batch that was run.

    The collectors work at 800 W/m2 (incidence normal) and the room's air temperature.
    """
    n = len(run.designs)
    parts: list[tuple[np.ndarray, Account]] = []
    for group in run.groups:
        done = run.done.take(group.index)
        if group.engine is None:
            parts.append((group.index, _stratified(evaluator, group, done)))
        else:
            parts.append((group.index, _mixed(evaluator, group, group.engine, done)))
    names = dict.fromkeys(name for _, part in parts for name in part.destroyed)
    whole = Account(np.zeros(n), np.zeros(n), np.zeros(n), {name: np.zeros(n) for name in names})
    for index, part in parts:
        whole.sunlight[index], whole.work[index], whole.rejected[index] = (
            part.sunlight,
            part.work,
            part.rejected,
        )
        for name, values in part.destroyed.items():
            whole.destroyed[name][index] = values
    return whole


def _sun(evaluator: Evaluator, designs: Designs, heat: Array, mean: Array) -> tuple[Array, Array, Array]:
    """Sunlight [J] for ``heat`` [J] brought to the store at a mean collector temperature [K].

    Returns its energy, exergy and entropy [J/K]; ``mean`` may be (n, k) with ``heat`` alike.
    """
    kinds, pick = list(evaluator.case.collectors.values()), designs.collector
    shape = (-1,) + (1,) * (mean.ndim - 1)
    eta0, a1, a2 = (
        np.array([getattr(k, name) for k in kinds])[pick].reshape(shape) for name in ("eta0", "a1", "a2")
    )
    rise = mean - evaluator.plant.room_temperature
    useful = useful_heat(np.full_like(mean, REFERENCE_IRRADIANCE), rise, eta0=eta0, a1=a1, a2=a2)
    efficiency = np.maximum(useful / REFERENCE_IRRADIANCE, LEAST_EFFICIENCY)
    energy = heat / efficiency / (1.0 - evaluator.case.engine.pipe_loss_fraction)
    T0 = evaluator.plant.machine.cooling_water_temperature
    ratio = T0 / SUN_K
    share = 1.0 - 4.0 / 3.0 * ratio + ratio**4 / 3.0
    return energy, share * energy, (1.0 - share) * energy / T0


def _engine(books: Books, flow: Array) -> dict[str, Array]:
    """Work destroyed in the engine [J] for ``flow`` [kg] of working fluid."""
    return {name: flow * values for name, values in books.destroyed().items()}


def _stratified(evaluator: Evaluator, group: Group, done: Performance) -> Account:
    water, plant, designs, cycle = evaluator.water, evaluator.plant, group.designs, group.cycle
    T0, top = plant.machine.cooling_water_temperature, designs.top_temperature
    books = keep(group.fluid, water, plant.machine, cycle, group.source)
    fraction = done.circulation.held_fraction
    back, density = cycle.return_temperature, water.density(top)
    heat = density * (water.enthalpy(top) - water.enthalpy(back))
    entropy = density * (water.entropy(top) - water.entropy(back))
    energy, exergy, sun_entropy = _sun(evaluator, designs, heat, 0.5 * (back + top))
    lost = 1.0 - fraction
    flow = fraction * density / cycle.hot_water
    destroyed = {
        "collectors and pipes": T0 * (entropy + (energy - heat) / T0 - sun_entropy),
        "standing loss": T0 * lost * (heat / T0 - entropy),
        **_engine(books, flow),
    }
    rejected = flow * books.exergy_rejected
    return _driven(evaluator, designs, Account(exergy, flow * books.net_work, rejected, destroyed))


def _driven(evaluator: Evaluator, designs: Designs, engine: Account) -> Account:
    """The account up to the load's shaft, behind the drive, whose losses turn into heat of the air."""
    lost = 1.0 - drive_efficiency(designs.speed, evaluator.plant.load_speed)
    lost = lost * np.maximum(engine.work, 0.0)
    return replace(engine, work=engine.work - lost, destroyed=engine.destroyed | {"drive": lost})


def _mixed(evaluator: Evaluator, group: Group, engine: MixedEngine, done: Performance) -> Account:
    water, plant, designs = evaluator.water, evaluator.plant, group.designs
    T0, top = plant.machine.cooling_water_temperature, designs.top_temperature
    floor = done.discharge.floor_temperature
    held = np.maximum(done.discharge.held_temperature, floor)
    density = water.density(top)[:, None]

    def slices(low: Array, high: Array) -> tuple[Array, Array]:
        """Temperatures (n, 8) and heat [J] of the slices between two store temperatures."""
        T = low[:, None] + 0.5 * (NODES + 1.0) * (high - low)[:, None]
        return T, density * water.heat_capacity(T) * 0.5 * WEIGHTS * (high - low)[:, None]

    rise = evaluator.case.engine.collector_rise_mixed_K
    loss = slices(held, top)
    edge = held  # the governor begins to act at the sizing point, and bends the curves there
    if plant.laws is not None:
        edge = np.clip(sizing_temperature(designs), floor, held)
    pieces = [slices(floor, edge), slices(edge, held)]
    draw = (np.concatenate([T for T, _ in pieces], axis=1), np.concatenate([q for _, q in pieces], axis=1))
    warm = draw
    heated = [np.concatenate(pair, axis=1) for pair in zip(warm, loss, strict=True)]
    energy, exergy, sun_entropy = _sun(evaluator, designs, heated[1], heated[0] + rise)
    at_collector = heated[1] / (heated[0] + rise)
    n, k = draw[0].shape
    many = np.repeat(np.arange(n), k)
    T = draw[0].ravel()
    part = engine.take(many)
    cycle = part.at(T) if plant.laws is None else part.governed(T, plant.power_may_rise).cycle
    books = keep(group.fluid.take(many), water, plant.machine, cycle, Coil(T))
    flow = draw[1].ravel() / cycle.heat

    def total(values: Array) -> Array:
        return np.asarray(values.reshape(n, -1).sum(axis=1))

    destroyed = {
        "collectors and pipes": T0 * total(at_collector + (energy - heated[1]) / T0 - sun_entropy),
        "store mixing": T0 * total(heated[1] / heated[0] - at_collector),
        "standing loss": T0 * total(loss[1] / T0 - loss[1] / loss[0]),
        **{name: total(values) for name, values in _engine(books, flow).items()},
    }
    rejected = total(flow * books.exergy_rejected)
    return _driven(
        evaluator, designs, Account(total(exergy), total(flow * books.net_work), rejected, destroyed)
    )


def per_litre(done: Account, row: int) -> dict[str, object]:
    """One design's account as plain numbers in kJ per litre of hot water, components in order of the flow."""
    scale = units.L_PER_M3 * units.J_PER_KJ
    return {
        "sunlight_kJ_per_L": float(done.sunlight[row] / scale),
        "work_kJ_per_L": float(done.work[row] / scale),
        "rejected_kJ_per_L": float(done.rejected[row] / scale),
        "destroyed": [
            {"component": name, "destroyed_kJ_per_L": float(values[row] / scale)}
            for name, values in done.destroyed.items()
            if values[row] != 0.0
        ],
    }
