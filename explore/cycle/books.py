"""The books of a cycle: energy, entropy and exergy of every component, per kg of working-fluid flow.

Every component's entropy generation comes from its own balance of entropies in and out, never as a remainder;
work destroyed is T_0 times it, with T_0 the temperature of the cooling water.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from explore.cycle.source import Source
from explore.cycle.supply import Machine
from explore.fluids.interface import Array, WorkingFluid
from explore.fluids.water import Water
from explore.plant.circuit import Cycle
from explore.plant.parts import PARTS
from explore.plant.parts.part import Account, Balance


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


def keep(fluid: WorkingFluid, water: Water, machine: Machine, cycle: Cycle, source: Source) -> Books:
    """Keep the books of a cycle heated by ``source``: the accounts of all parts, in the order of the fluid's way."""
    T0 = machine.cooling_water_temperature
    heat_in, entropy_in = source.given_up(water, cycle)
    cold_in = np.full_like(cycle.heat, T0)
    flow, out = cycle.condenser.water_flow, cycle.condenser.outlet_temperature
    heat_out = flow * (water.enthalpy(out) - water.enthalpy(cold_in))
    entropy_out = flow * (water.entropy(out) - water.entropy(cold_in))
    balance = Balance(fluid, cycle, heat_in, entropy_in, heat_out, entropy_out, T0)
    accounts = [account for part in PARTS for account in part.accounts(balance)]
    accounts.sort(key=lambda account: account.section)
    return Books(
        accounts=accounts,
        dead_state=T0,
        exergy_supplied=heat_in - T0 * entropy_in,
        exergy_rejected=heat_out - T0 * entropy_out,
        net_work=cycle.net_work,
        heat_in=heat_in,
        heat_out=heat_out,
        heat_to_air=np.sum([a.heat_to_air for a in accounts if a.heat_to_air is not None], axis=0),
        work_in=cycle.pump_work + cycle.circulation_work,
    )
