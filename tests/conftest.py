"""Fixtures shared by all tests."""

from __future__ import annotations

import gc
import os
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from filelock import FileLock

from explore.cache import cache_folder
from explore.config.compose import load_scenario
from explore.design.space import Space
from explore.fluids import kernels as fluids
from explore.fluids.table_fluid import stacked
from explore.machine_code import loaded
from explore.model import Evaluator
from explore.plant import kernels as plant
from explore.year import kernels as year
from tests import real_run as runs
from tests.tiers import MOST_S, SLOW, is_quick, ranks

HERE = Path(__file__).parent
SPENT: pytest.StashKey[Counter[str]] = pytest.StashKey()


def pytest_configure(config):
    """Make room for what each file takes in a session of quick tests, and have workers take files in our order.

    That of pytest-xdist would be: those with most tests first, however short these are.
    """
    config.stash[SPENT] = Counter()
    config.option.loadscopereorder = False


def pytest_ignore_collect(collection_path, config):
    """Leave out files without quick tests where only these are asked for: to read them takes half a minute."""
    return True if config.option.markexpr == "quick" and _name(collection_path) in SLOW else None


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items):
    """Mark the quick tests and put files into their order, by the rules of tests/tiers.py."""
    slow, run = {}, set()
    for item in items:
        file, fixtures = _name(item.path), getattr(item, "fixturenames", ())
        quick = is_quick(file, getattr(item, "originalname", item.name), fixtures)
        if quick:
            item.add_marker(pytest.mark.quick)
        slow[file] = slow.get(file, False) or not quick
        run |= {file} if "real_run" in fixtures else set()
    rank = ranks(slow, run)
    items.sort(key=lambda item: rank[_name(item.path)])


class Watch:
    """Adds up what each file takes."""

    def __init__(self, spent):
        self.spent = spent

    def pytest_runtest_logreport(self, report):
        """Add what one test took, with its fixtures."""
        self.spent[report.nodeid.partition("::")[0]] += report.duration


def pytest_sessionstart(session):
    """Watch what each file takes, where quick tests are asked for."""
    if session.config.option.markexpr == "quick":
        session.config.pluginmanager.register(Watch(session.config.stash[SPENT]))


def pytest_terminal_summary(terminalreporter, config):
    """Name the files that took longer than a file of quick tests may."""
    for file, seconds in config.stash[SPENT].most_common():
        if seconds > MOST_S:
            terminalreporter.write_line(
                f"{file} took {seconds:.0f} s: on a quiet machine, make it quicker or name it in tests/tiers.py"
            )


def _name(path):
    """Name a file as tests/tiers.py does."""
    return path.relative_to(HERE).with_suffix("").as_posix() if path.is_relative_to(HERE) else path.name


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_auto_num_workers():
    """Start one worker more than there are processors: of every three seconds a test waits one for its own commands."""
    return (os.cpu_count() or 1) + 1


def _translate():
    for loops in (fluids, plant, year):
        loaded(loops)


def _tabulate():
    stacked(load_scenario("orchard").pure_fluids(), cache_folder())


@pytest.fixture(scope="session", autouse=True)
def made_ready(tmp_path_factory, worker_id):
    """Fetch the compiled loops, which a session does sooner or later: few designs then take a third of the time.

    Workers of one session share this: one makes the loops while another makes the tables, the rest read what stands.
    """
    if worker_id == "master":
        _translate()
    else:
        folder, makes = tmp_path_factory.getbasetemp().parent, [_translate, _tabulate]
        for make in makes if worker_id == "gw0" else reversed(makes):
            with FileLock(folder / f"made{make.__name__}.lock"):
                make()
    gc.collect()
    gc.freeze()  # what has been imported stays: the collector of garbage need not look through it again and again
    yield
    gc.unfreeze()


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


@pytest.fixture(scope="session")
def run_folder(real_run, tmp_path_factory, worker_id):
    """That run under a title that holds markup, with its page; not to be changed either, and shared as it is."""
    if worker_id == "master":
        return runs.titled(real_run, tmp_path_factory.mktemp("titled") / "run")
    shared = tmp_path_factory.getbasetemp().parent / "titled"
    with FileLock(f"{shared}.lock"):
        return shared if (shared / "report.html").exists() else runs.titled(real_run, shared)
