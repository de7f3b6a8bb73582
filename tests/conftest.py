"""Fixtures shared by all tests."""

from __future__ import annotations

import numpy as np
import pytest
from filelock import FileLock

from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.model import Evaluator
from tests import real_run as runs


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


@pytest.fixture(scope="session")
def real_run(tmp_path_factory, worker_id):
    """The folder of a small real run with its page; not to be changed, but copied with tests.real_run.copy.

    Workers of one session share it: the first to ask searches, the others wait.
    """
    if worker_id == "master":
        return runs.search(tmp_path_factory.mktemp("real"))
    shared = tmp_path_factory.getbasetemp().parent / "real"
    with FileLock(f"{shared}.lock"):
        return runs.found(shared) or runs.search(shared)
