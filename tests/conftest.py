"""Fixtures shared by all tests."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator


@pytest.fixture(scope="session")
def orchard():
    """The default case."""
    return load_scenario("orchard")


@pytest.fixture(scope="session")
def evaluator(orchard):
    """The model of the default case on tables."""
    return Evaluator(orchard)


@pytest.fixture(scope="session")
def designs(orchard):
    """Random designs with every fluid as columns: a function of number and seed."""
    steel = orchard.scenario.model_copy(update={"materials": ("steel",)})  # which no fluid attacks
    space = Space.from_case(orchard.model_copy(update={"scenario": steel}))

    def sample(n: int, seed: int = 0) -> dict[str, np.ndarray]:
        return space.sample(n, np.random.default_rng(seed))

    return sample
