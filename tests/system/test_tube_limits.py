"""Limits on what tubes lose, and the slope of what a store lacks, by hand."""

from types import SimpleNamespace

import numpy as np
import pytest

from explore.cycle.curves import work_per_kg
from explore.cycle.exchangers import _with_drops


@pytest.mark.parametrize(("boiler", "condenser"), [(15e3, 4e3), (4e3, 15e3)])
def test_water_may_lose_as_little_at_the_condenser_as_at_the_boilers(boiler, condenser):
    """The excess is that of whichever loses more; both drops are held at the limit."""

    def lost(water):
        return SimpleNamespace(
            fluid_drop=np.array([1e3]), water_drop=np.array([water]), number=np.array([1.0])
        )

    tubing = SimpleNamespace(largest_drop=0.1, largest_water_drop=10e3)
    cycle = SimpleNamespace(
        levels=[SimpleNamespace(pressure=np.array([1e6]))], condenser_pressure=np.array([2e5]), drops=None
    )
    found = _with_drops(tubing, cycle, [lost(boiler)], lost(condenser))
    assert found.water_excess == pytest.approx(5e3)
    assert found.drops.hot_water == pytest.approx(min(boiler, 10e3))
    assert found.drops.cooling_water == pytest.approx(min(condenser, 10e3))


def test_a_store_that_lacks_heat_has_a_slope_to_climb():
    """Half of what it falls below the floor, by 100 J/kg for each kelvin; nothing where it ends on the floor."""
    none = SimpleNamespace(stretches=lambda: [])
    floor = np.full(3, 350.0)
    work = work_per_kg(None, none, floor, np.array([340.0, 348.0, 350.0]))
    assert work == pytest.approx([-500.0, -100.0, 0.0])
