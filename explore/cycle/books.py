"""The books of a cycle: energy, entropy and exergy of every component, per kg of working-fluid flow.

Every component's entropy generation comes from its own balance of entropies in and out, never as a remainder;
work destroyed is T_0 times it, with T_0 the temperature of the cooling water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explore.cycle.cycle import Cycle, Machine
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant.engine import AnyLosses, Stage


@dataclass(frozen=True)
class Account:
    """One component: energy in less energy out [J/kg], entropy generated and passed on [J/(kg K)], each (n,)."""

    component: str
    energy_residual: Array
    entropy_generated: Array
    entropy_passed: Array


@dataclass(frozen=True)
class Books:
    """All accounts of a cycle; exergies and works in J per kg of working-fluid flow, each (n,).

    ``exergy_supplied`` is given up by the hot water, ``exergy_rejected`` leaves with the warmed cooling water, ``net_work``
    at the shaft; supplied = net work + rejected + T_0 sum of entropy generated.
    """

    accounts: list[Account]
    dead_state: float
    exergy_supplied: Array
    exergy_rejected: Array
    net_work: Array
    heat_in: Array
    heat_out: Array
    heat_to_air: Array
    work_in: Array

    def destroyed(self) -> dict[str, Array]:
        """Work destroyed in each component [J/kg]."""
        return {a.component: self.dead_state * a.entropy_generated for a in self.accounts}

    def energy_residual(self) -> Array:
        """Energy that enters the whole less what leaves it [J/kg]."""
        return self.heat_in + self.work_in - self.heat_out - self.heat_to_air - (self.net_work + self.work_in)

    def exergy_residual(self) -> Array:
        """Exergy supplied less work, rejection and destruction [J/kg]."""
        destroyed = np.sum(list(self.destroyed().values()), axis=0)
        return np.asarray(self.exergy_supplied - self.net_work - self.exergy_rejected - destroyed)


def keep(
    fluid: WorkingFluid,
    water: Water,
    machine: Machine,
    cycle: Cycle,
    top_temperature: Array,
    store_temperature: Array | None = None,
) -> Books:
    """Keep the books of a cycle.

    ``top_temperature`` [K] is where the hot water enters; for a coil in a fully mixed store give
    ``store_temperature`` [K], the isothermal source.
    """
    T0 = machine.cooling_water_temperature
    source = _source(water, cycle, top_temperature, store_temperature)
    cold_in = np.full_like(cycle.heat, T0)
    flow, out = cycle.condenser.water_flow, cycle.condenser.outlet_temperature
    heat_out = flow * (water.enthalpy(out) - water.enthalpy(cold_in))
    cooling_entropy = flow * (water.entropy(out) - water.entropy(cold_in))
    friction = np.sum(
        [_friction(f, s, s.losses) for f, s in zip(cycle.stage_flows, cycle.stages, strict=True)],
        axis=0,
    )
    accounts = [
        *_pumps(fluid, cycle),
        *_regenerator(fluid, cycle),
        _boilers(fluid, cycle, source),
        *_drops(fluid, cycle),
        *_throttle(fluid, cycle),
        *_receivers(fluid, cycle),
    ]
    for number, (share, stage) in enumerate(zip(cycle.stage_flows, cycle.stages, strict=True), start=1):
        accounts.extend(_stage(fluid, stage, share, number, stage.losses))
    accounts.append(_condenser(fluid, cycle, heat_out, cooling_entropy))
    zero = np.zeros_like(friction)
    accounts.append(Account("piston friction", zero, friction / T0, friction / T0))
    accounts.append(
        Account("water circulation", zero, cycle.circulation_work / T0, cycle.circulation_work / T0)
    )
    return Books(
        accounts=accounts,
        dead_state=T0,
        exergy_supplied=source[0] - T0 * source[1],
        exergy_rejected=heat_out - T0 * cooling_entropy,
        net_work=cycle.net_work,
        heat_in=source[0],
        heat_out=heat_out,
        heat_to_air=friction + cycle.circulation_work,
        work_in=cycle.pump_work + cycle.circulation_work,
    )


def _source(water: Water, cycle: Cycle, top: Array, store: Array | None) -> tuple[Array, Array]:
    """Heat [J/kg] and entropy [J/(kg K)] given up by the hot water."""
    if store is not None:
        return cycle.heat, cycle.heat / store
    back = cycle.return_temperature
    return (
        cycle.hot_water * (water.enthalpy(top) - water.enthalpy(back)),
        cycle.hot_water * (water.entropy(top) - water.entropy(back)),
    )


def _friction(share: Array, stage: Stage, losses: AnyLosses) -> Array:
    return share * stage.kept * losses.friction_mean_pressure * stage.ideal_volume


def _lifts(fluid: WorkingFluid, cycle: Cycle) -> tuple[Array, Array]:
    """Energy [J/kg] and entropy [J/(kg K)] that the pumps between levels add, per kg of total flow."""
    energy, entropy = np.zeros_like(cycle.heat), np.zeros_like(cycle.heat)
    passed = np.zeros_like(cycle.heat)
    for i, level in enumerate(cycle.levels):
        if i:
            lifted = fluid.liquid_from_enthalpy(
                cycle.levels[i - 1].pressure, level.bubble_enthalpy + level.lift_work
            )
            energy = energy + passed * (lifted.enthalpy - level.bubble_enthalpy)
            entropy = entropy + passed * (lifted.entropy - level.bubble_entropy)
        passed = passed + cycle.shares[i]
    return energy, entropy


def _pumps(fluid: WorkingFluid, cycle: Cycle) -> list[Account]:
    feed, condensate = cycle.feed, cycle.condensate
    accounts = [
        Account(
            "feed pump",
            cycle.feed_work - (feed.enthalpy - condensate.enthalpy),
            feed.entropy - condensate.entropy,
            np.abs(feed.entropy),
        )
    ]
    if len(cycle.levels) > 1:
        energy, entropy = _lifts(fluid, cycle)
        accounts.append(
            Account("pumps between levels", cycle.lift_work - energy, entropy, np.abs(feed.entropy))
        )
    return accounts


def _regenerator(fluid: WorkingFluid, cycle: Cycle) -> list[Account]:
    if cycle.regenerator is None:
        return []
    exhaust = cycle.stages[-1].exhaust_enthalpy
    warm = fluid.from_enthalpy(cycle.condenser_pressure, exhaust).entropy
    cool = fluid.from_enthalpy(cycle.condenser_pressure, cycle.regenerator.exhaust_enthalpy).entropy
    heated = fluid.liquid_from_enthalpy(cycle.levels[-1].pressure, cycle.warmed).entropy
    gained = heated - cycle.feed.entropy
    energy = (exhaust - cycle.regenerator.exhaust_enthalpy) - (cycle.warmed - cycle.feed.enthalpy)
    return [Account("regenerator", energy, gained - (warm - cool), gained)]


def _boilers(fluid: WorkingFluid, cycle: Cycle, source: tuple[Array, Array]) -> Account:
    feed = fluid.liquid_from_enthalpy(cycle.levels[-1].pressure, cycle.warmed)
    lift_energy, lift_entropy = _lifts(fluid, cycle)
    energy = np.sum([m * v.exit_enthalpy for m, v in zip(cycle.shares, cycle.levels, strict=True)], axis=0)
    entropy = np.sum([m * v.exit_entropy for m, v in zip(cycle.shares, cycle.levels, strict=True)], axis=0)
    gained = entropy - feed.entropy - lift_entropy
    return Account("boilers", source[0] - (energy - cycle.warmed - lift_energy), gained - source[1], gained)


def _drops(fluid: WorkingFluid, cycle: Cycle) -> list[Account]:
    """Throttling of vapour by the pressure lost in boilers and condenser."""
    if cycle.drops is None:
        return []
    made = np.zeros_like(cycle.heat)
    for share, level, lost in zip(cycle.shares, cycle.levels, cycle.drops.boilers, strict=True):
        arrived = fluid.from_enthalpy(level.pressure - lost, level.exit_enthalpy).entropy
        made = made + share * (arrived - level.exit_entropy)
    last = cycle.stages[-1]
    before = fluid.from_enthalpy(last.exhaust_pressure, last.exhaust_enthalpy).entropy
    behind = fluid.from_enthalpy(cycle.condenser_pressure, last.exhaust_enthalpy).entropy
    return [Account("exchanger pressure drops", np.zeros_like(made), made + behind - before, np.abs(behind))]


def _throttle(fluid: WorkingFluid, cycle: Cycle) -> list[Account]:
    """The governor's throttle before the first stage, where it lowers the pressure."""
    first, inlet = cycle.levels[0], cycle.stages[0].inlet.pressure
    before = first.pressure if cycle.drops is None else first.pressure - cycle.drops.boilers[0]
    if np.array_equal(before, inlet):
        return []
    arrived = fluid.from_enthalpy(before, first.exit_enthalpy).entropy
    behind = fluid.from_enthalpy(inlet, first.exit_enthalpy).entropy
    made = cycle.shares[0] * (behind - arrived)
    return [Account("throttle", np.zeros_like(made), made, np.abs(behind))]


def _receivers(fluid: WorkingFluid, cycle: Cycle) -> list[Account]:
    if len(cycle.levels) == 1:
        return []
    energy, entropy, passed = (np.zeros_like(cycle.heat) for _ in range(3))
    for j in range(1, len(cycle.levels)):
        stage, level, fresh = cycle.stages[j - 1], cycle.levels[j], cycle.shares[j]
        before, after = cycle.stage_flows[j - 1], cycle.stage_flows[j]
        pressure = cycle.stages[j].inlet.pressure
        exhaust = fluid.from_enthalpy(pressure, stage.exhaust_enthalpy)
        vapour = fluid.from_enthalpy(pressure, level.exit_enthalpy)
        mixture = fluid.from_enthalpy(pressure, cycle.receiver_enthalpies[j])
        energy = energy + before * exhaust.enthalpy + fresh * vapour.enthalpy - after * mixture.enthalpy
        entropy = entropy + after * mixture.entropy - before * exhaust.entropy - fresh * vapour.entropy
        passed = passed + np.abs(after * mixture.entropy)
    return [Account("receivers", energy, entropy, passed)]


def _stage(fluid: WorkingFluid, stage: Stage, share: Array, number: int, losses: AnyLosses) -> list[Account]:
    """Split a stage into admission, release, exhaust, leakage and walls by the states between them."""
    h1, work, tight = stage.inlet.enthalpy, stage.indicated_work, 1.0 - losses.leakage_fraction
    out, back = stage.exhaust_pressure, stage.back_pressure
    s = [
        fluid.from_enthalpy(stage.inlet.pressure, h1).entropy,
        stage.inlet.entropy,
        fluid.from_enthalpy(back, h1 - work).entropy,
        fluid.from_enthalpy(out, h1 - work).entropy,
        fluid.from_enthalpy(out, h1 - tight * work).entropy,
        fluid.from_enthalpy(out, stage.exhaust_enthalpy).entropy,
    ]
    names = ("admission valve", "release", "exhaust valve", "leakage", "cylinder wall")
    energy = share * (h1 - stage.kept * work - stage.exhaust_enthalpy)
    zero = np.zeros_like(energy)
    return [
        Account(
            f"stage {number} {name}",
            energy if name == "release" else zero,
            share * (b - a),
            np.abs(share * a),
        )
        for name, a, b in zip(names, s[:-1], s[1:], strict=True)
    ]


def _condenser(fluid: WorkingFluid, cycle: Cycle, heat_out: Array, cooling_entropy: Array) -> Account:
    entering = cycle.into_condenser
    given = fluid.from_enthalpy(cycle.condenser_pressure, entering).entropy - cycle.condensate.entropy
    return Account(
        "condenser",
        entering - cycle.condensate.enthalpy - heat_out,
        cooling_entropy - given,
        given,
    )
