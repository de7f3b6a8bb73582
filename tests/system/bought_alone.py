"""Plants as bought by other ways through: another solver, and one plant without the others."""

from __future__ import annotations

import pytest
from scipy import optimize

from explore.cycle.as_bought import Bought
from explore.cycle.as_bought_mixed import OwnedMixed
from explore.model.as_bought import FIGURES, Purchase


def same_by_another_solver(purchase, world, *, sweeps, tolerance, close_K):
    """SciPy's hybrid method of Powell finds the same temperatures [K], one plant at a time from the run's own state.

    Losses, and drops in tubes, are repeated ``sweeps`` times in each trial.
    """
    for group, own in purchase.groups:
        if isinstance(own, OwnedMixed):
            continue
        bought = Bought(group.fluid, world.water, world.plant, group.designs, own)
        state, _ = bought.rate()
        alone = bought.take([0])
        drops = 0 if own.tubes is None else len(own.tubes.drops.boilers) + 1
        m = len(own.cylinders) + 1 + drops + alone.regenerated

        def lack(x, alone=alone):
            carried = alone.carried()
            for _ in range(sweeps):
                tried = alone.tried(x[None, :], carried)[0]
                carried = tried.carried
            return tried.lack[0]

        found = optimize.root(lack, own.start[0, :m], tol=tolerance)
        assert found.success
        assert found.x[0] == pytest.approx(state.cycle.levels[0].temperature[0], abs=close_K)
        condensing = state.settings.condensing_temperature[0]
        assert found.x[len(own.cylinders)] == pytest.approx(condensing, abs=close_K)


def same_alone(model, sound, world, every):
    """What one plant in so many does in another world does not depend on what is rated beside it."""
    whole = Purchase.of(model, sound).rated(world)
    for row in range(0, len(sound["fluid"]), every):
        alone = Purchase.of(model, {k: v[[row]] for k, v in sound.items()}).rated(world)
        for name in FIGURES:
            assert alone[name][0] == pytest.approx(whole[name][row], rel=1e-9, nan_ok=True), name
