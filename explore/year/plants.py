"""What the hourly year asks of the plants: records of columns, each (n,) or scalar, the grids (n, K)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike


@dataclass(frozen=True)
class Field:
    """The collectors of each design."""

    kind: ArrayLike
    """row of ``year.effective_irradiance`` [-]"""
    area_m2: ArrayLike
    eta0: ArrayLike
    """zero-loss efficiency [-]"""
    a1: ArrayLike
    """loss coefficient [W/(m2 K)]"""
    a2: ArrayLike
    """its temperature dependence [W/(m2 K2)]"""
    pipe_loss: ArrayLike
    """share of the collector heat lost in pipes [-]"""

    def columns(self) -> dict[str, Any]:
        """The same by the names that stores know, with what an irradiance is multiplied by."""
        gain = np.multiply(self.area_m2, np.subtract(1.0, self.pipe_loss))
        return {
            "kind": self.kind, "gain": gain, "area": self.area_m2, "eta0": self.eta0, "a1": self.a1, "a2": self.a2,
        }  # fmt: skip


@dataclass(frozen=True)
class Service:
    """What is asked of each engine, and what it takes to get it going."""

    power_W: ArrayLike
    """shaft power asked for"""
    warm_up_J_per_K: ArrayLike
    """heat capacity warmed in the first demand hour of a calendar day"""
    evaporating_temperature_K: ArrayLike
    """to which it is warmed from the room's"""

    def columns(self) -> dict[str, Any]:
        """The same by the names that stores know."""
        return {
            "power": self.power_W,
            "warm_up": self.warm_up_J_per_K,
            "evaporating": self.evaporating_temperature_K,
        }


@dataclass(frozen=True)
class StratifiedPlants:
    """Designs on stratified stores, each a hot layer at T_top above a cold one."""

    field: Field
    service: Service
    store_mass_kg: ArrayLike
    """water in the store"""
    top_temperature_K: ArrayLike
    """T_top"""
    return_temperature_K: ArrayLike
    """T_out of the boiler"""
    heat_per_kg_J: ArrayLike
    """h_w(T_top) - h_w(T_out); over T_top - T_out it is the heat capacity by which cold water becomes hot and layers mix,
    so that the heat books close"""
    loss_heat_capacity_J_per_kgK: ArrayLike
    """of the cold layer's cooling, mean from room to T_top"""
    UA_W_per_K: ArrayLike
    """heat loss of the store"""
    work_per_kg_water_J: ArrayLike
    """net shaft work per kg of hot water"""
    cooling_water_m3_per_J: ArrayLike
    """cooling water per shaft work [m3/J]"""

    def columns(self) -> dict[str, Any]:
        """The same by the names that the store knows."""
        return {
            **self.field.columns(),
            **self.service.columns(),
            "mass": self.store_mass_kg,
            "top": self.top_temperature_K,
            "back": self.return_temperature_K,
            "heat": self.heat_per_kg_J,
            "loss_capacity": self.loss_heat_capacity_J_per_kgK,
            "UA": self.UA_W_per_K,
            "work": self.work_per_kg_water_J,
            "cooling": self.cooling_water_m3_per_J,
        }


@dataclass(frozen=True)
class MixedPlants:
    """Designs on fully mixed stores; grids lie over K >= 2 equally spaced store temperatures from the floor to T_top."""

    field: Field
    service: Service
    rise_K: ArrayLike
    """mean collector temperature above the store"""
    capacity_J_per_K: ArrayLike
    """of the full store"""
    top_temperature_K: ArrayLike
    """T_top, above which heat is dumped"""
    floor_temperature_K: ArrayLike
    """below which nothing is drawn: T_stop, or the zero of net work if that lies above"""
    start_temperature_K: ArrayLike
    """at the start of the year"""
    UA_W_per_K: ArrayLike
    """heat loss of the store"""
    efficiency_grid: ArrayLike
    """net work per heat drawn [-]"""
    power_fraction_grid: ArrayLike
    """shaft power over that asked for [-]; values above ``power_may_rise`` count as that"""
    cooling_water_grid: ArrayLike
    """cooling water per heat drawn [m3/J]"""
    headroom_K: ArrayLike = 0.0
    """by which the store may pass T_top before the draw of the same step has taken from it"""
    power_may_rise: ArrayLike = 1.0
    """most power that is taken, over that asked for [-]; more than 1 only into a bank"""
    bank_efficiency: ArrayLike = np.inf
    """of the bank that takes the day's work as one sum [-]; infinite where there is none"""

    def columns(self) -> dict[str, Any]:
        """The same by the names that the store knows, grids and bank left out."""
        return {
            **self.field.columns(),
            **self.service.columns(),
            "rise": self.rise_K,
            "capacity": self.capacity_J_per_K,
            "top": self.top_temperature_K,
            "floor": self.floor_temperature_K,
            "start": self.start_temperature_K,
            "UA": self.UA_W_per_K,
            "headroom": self.headroom_K,
            "most": self.power_may_rise,
        }

    def grids(self) -> dict[str, np.ndarray]:
        """The grids by the names that the store knows, (n, K) each."""
        named = {
            "efficiency": self.efficiency_grid, "fraction": self.power_fraction_grid, "cooling": self.cooling_water_grid,
        }  # fmt: skip
        return {name: np.asarray(grid, dtype=np.float64) for name, grid in named.items()}
