"""The compiled loops: the bits of the arrays, kept where it may write and nowhere else, never in a user's way."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from explore import machine_code
from explore.config.compose import load_scenario
from explore.cycle.curves import Curve
from explore.design.space import Space
from explore.fluids import kernels as look_ups
from explore.fluids.table_fluid import Stack
from explore.model import Evaluator
from explore.plant import engine, losses
from explore.plant import kernels as steps
from explore.plant.laws import COEFFICIENTS
from explore.plant.roots import falling_root
from explore.year import kernels, season
from explore.year.season import SeasonResult
from tests import season_designs
from tests.season_designs import mixed_year, stratified_year

FIGURES = [field.name for field in fields(SeasonResult)]
MODES = {
    "stratified": (stratified_year, season_designs.stratified_designs),
    "mixed": (mixed_year, season_designs.mixed_designs),
    "small": (mixed_year, season_designs.small_mixed_designs),
}
YEARS = {
    "evenings": season_designs.days(season_designs.greensboro(), 100, 10),
    "midday": season_designs.days(season_designs.greensboro(hours=(7, 11, 12, 13, 14, 20)), 150, 10),
    "outdoors": season_designs.days(
        season_designs.greensboro(room_temperature_K=None, hours=range(24), months=range(1, 13)), 75, 6
    ),
}


@pytest.fixture(scope="module", autouse=True)
def compiler():
    """The tests below compare arrays with arrays where the loops are not compiled."""
    for loops in (look_ups, steps, kernels):
        assert machine_code.loaded(loops) is not None


BATCH = 37
"""Designs drawn with one seed; no multiple of a block, and neither are four of them."""


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("mode", MODES)
def test_same_bits_as_arrays(mode, year):
    """Every figure of random designs, with banks and strong engines among them, is the same number either way.

    Four batches, three of them new in each session, go through the hours together, as the plain year takes as long for one.
    """
    march, designs = MODES[mode]
    seeds = [0, *np.random.SeedSequence().generate_state(3)]
    parts = [
        _batch(mode, designs(BATCH, seed=seed), seed, banked)
        for seed, banked in zip(seeds, BANKED, strict=True)
    ]
    d = {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}
    diaries = season.Diary(YEARS[year], 4 * BATCH), season.Diary(YEARS[year], 4 * BATCH)
    fast = march(YEARS[year], **d, diary=diaries[0])
    plain = march(YEARS[year], **d, diary=diaries[1], plain=True)
    for name in FIGURES:
        assert_array_equal(
            getattr(fast, name), getattr(plain, name), err_msg=f"{name} with the seeds {seeds}"
        )
    for name in ("served", "heat", "level"):
        assert_array_equal(
            getattr(diaries[0], name), getattr(diaries[1], name), err_msg=f"{name} with the seeds {seeds}"
        )
    assert_array_equal(diaries[0].heat[-1] / 3.6e6, fast.collector_yield_kWh)
    assert all(np.any(part > 0.0) for part in np.split(fast.served_share, 4))


BANKED = (0.0, 1.0, 0.3, 0.7)
"""Of each batch how many of the mixed stores put surplus power into a bank."""


def _batch(mode, d, seed, banked):
    """Give mixed designs banks and strong engines, each batch in its share."""
    if mode != "stratified":
        rng = np.random.default_rng(seed)
        into = rng.random(BATCH) < banked
        d["power_fraction_grid"] = d["power_fraction_grid"] * rng.uniform(0.5, 3.0, (BATCH, 1))
        d["power_may_rise"] = np.where(into, rng.uniform(1.0, 3.0, BATCH), 1.0)
        d["bank_efficiency"] = np.where(into, rng.uniform(0.5, 1.0, BATCH), np.inf)
        d["headroom_K"] = rng.uniform(0.0, 10.0, BATCH)
    return d


@pytest.mark.parametrize("mode", MODES)
def test_same_bits_alone_and_in_any_place(mode):
    """A design gives the same bits alone as in a batch, wherever in a block it stands."""
    march, designs = MODES[mode]
    d = designs(50, seed=9)
    whole = march(YEARS["midday"], **d)
    order = np.random.default_rng(0).permutation(50)
    for index in (order, order[:17], *np.split(order[:6], 6)):
        part = march(YEARS["midday"], **season_designs.rows(d, index))
        for name in FIGURES:
            assert_array_equal(getattr(part, name), getattr(whole, name)[index], err_msg=name)


@pytest.mark.parametrize(
    ("scenario", "words"),
    [
        ("orchard", ["scenario.demand.speed_may_fall=true", "scenario.demand.bank=day"]),
        ("orchard", ["engine=constant"]),
        ("school_workshop", []),
        ("island_workshop", []),
    ],
)
def test_same_bits_in_every_scenario(scenario, words, monkeypatch):
    """All outputs of random designs of the scenarios, all governors and stores, are the same compiled or not.

    Of their year three weeks, idle and in demand: as arrays each hour takes as long as any other.
    """
    case = load_scenario(scenario, words)
    columns = Space.from_case(case).sample(48, np.random.default_rng(3))
    whole = Evaluator(case)
    evaluator = whole.under(case, year=season_designs.days(whole.year, 83, 21))
    assert 0 < np.count_nonzero(evaluator.year.demand) < evaluator.year.demand.size
    fast = evaluator.evaluate(columns)
    monkeypatch.setattr(machine_code, "plain", lambda: True)
    assert machine_code.loaded(kernels) is None
    plain = evaluator.evaluate(columns)
    for name, values in plain.items():
        assert_array_equal(fast[name], values, err_msg=name)
    assert np.any(fast["served_share"] > 0.0)


@pytest.fixture
def both(monkeypatch):
    """Do something in machine code and as arrays; return both results, each a list of arrays."""

    def run(call):
        fast = call()
        with monkeypatch.context() as patched:
            patched.setattr(machine_code, "plain", lambda: True)
            plain = call()
        return [np.asarray(x) for x in fast], [np.asarray(x) for x in plain]

    return run


ODD = np.array([0.0, -1.0, np.nan, np.inf, -np.inf, 1e300])


@pytest.fixture(scope="module")
def stack():
    """Tables of three fluids."""
    return Stack.of(("n-Butane", "Ethanol", "R1233zd(E)"))


@pytest.mark.parametrize("name", ["from_entropy", "from_enthalpy", "superheated", "saturation", "liquid"])
def test_look_ups_are_the_same_bits(name, stack, both):
    """States wet and dry, far beyond the tables, and what is no number, of fluids in any order."""
    rng = np.random.default_rng(1)
    n = 4000
    index = rng.integers(0, 3, n)
    pressure = np.exp(rng.uniform(np.log(1e3), np.log(4e6), n))
    value = {
        "from_entropy": rng.uniform(-500.0, 5000.0, n),
        "from_enthalpy": rng.uniform(-2e5, 2.5e6, n),
        "superheated": rng.uniform(0.0, 60.0, n),
        "liquid": rng.uniform(200.0, 600.0, n),
    }.get(name)
    if value is not None:
        value[: len(ODD)] = ODD
    pressure[len(ODD) : 2 * len(ODD)] = np.abs(ODD)

    with np.errstate(divide="ignore"):
        dew = stack.bind(index).saturation(pressure)
    if name in ("from_entropy", "from_enthalpy"):  # at the dew point to the bit
        value[20:40] = (dew.s_vapour if name == "from_entropy" else dew.h_vapour)[20:40]

    def look_up():
        fluid = stack.bind(index)
        with np.errstate(all="ignore"):
            return getattr(fluid, name)(pressure, *(() if value is None else (value,)))

    fast, plain = both(look_up)
    for one, other in zip(fast, plain, strict=True):
        assert_array_equal(one, other)
    assert np.isfinite(fast[0]).sum() > 3000


@pytest.mark.parametrize("slope", [-1.0, -0.2])
def test_roots_are_the_same_bits(slope, both):
    """Roots within the bracket, at its ends, and of a function that is no number in places."""
    rng = np.random.default_rng(2)
    low, high = rng.uniform(-3.0, 0.0, 500), rng.uniform(0.0, 3.0, 500)
    place, guess = rng.uniform(-4.0, 4.0, 500), rng.uniform(-5.0, 5.0, 500)

    def function(x):
        with np.errstate(all="ignore"):
            return np.where(np.abs(x - 1.0) < 0.05, np.nan, np.tanh(place - x) - 0.1 * (x - place) ** 3)

    for count in (1, 2, 5, 9):
        (fast,), (plain,) = both(lambda count=count: [falling_root(function, low, high, guess, slope, count)])
        assert_array_equal(fast, plain)
    inside = (place > low) & (place < high) & (np.abs(place - 1.0) > 0.5)
    assert np.median(np.abs(fast - place)[inside]) < 1e-6


MANY = 3000
LAWS = {
    "careful": losses.Laws.careful(),
    "mild": losses.Laws.careful().milder_leak(),
    "root": losses.Laws(walls="root"),
    "ideal": losses.Laws.ideal(),
    "many": losses.Laws(
        gap=np.linspace(1e-6, 3e-5, MANY),
        wall=np.linspace(0.0, 1.0, MANY),
        clearance=np.linspace(0.2, 0.0, MANY),
    ),
}


@pytest.mark.parametrize("name", LAWS)
def test_laws_of_loss_are_the_same_bits(name, both):
    """Leaks and all losses of a stage, over small and large, slow and fast, wet and dry, also with a fit's many."""
    laws, rng, n = LAWS[name], np.random.default_rng(3), MANY
    assert laws.serves(n), "or arrays are compared with arrays"
    assert laws.serves(n - 1) == (name != "many")
    bore, speed, frequency = rng.uniform(0.01, 0.4, n), rng.uniform(0.01, 5.0, n), rng.uniform(0.3, 50.0, n)
    ratio, p1, drop = rng.uniform(0.8, 40.0, n), np.exp(rng.uniform(9.0, 15.0, n)), rng.uniform(0.0, 1.3, n)
    v1, mu = rng.uniform(0.005, 2.0, n), rng.uniform(5e-6, 2e-5, n)
    fast, plain = both(lambda: [losses.leaked(laws, bore, speed, ratio, p1, drop * p1, v1, mu)])
    assert_array_equal(fast[0], plain[0])
    wall = losses.Wall(
        rng.uniform(290.0, 370.0, n),
        rng.uniform(1e5, 3e5, n),
        rng.uniform(4e5, 8e5, n),
        np.full(n, 1.6e-3),
        v1,
    )
    swept = losses.Swept(bore, bore, frequency, losses.cut_off(laws.clearance, ratio))
    seen = losses.Seen(
        p1, v1, rng.uniform(3e5, 9e5, n), rng.uniform(300.0, 370.0, n), drop * p1, v1 / (drop + 0.01),
        rng.uniform(270.0, 380.0, n), rng.uniform(-1e4, 5e4, n), v1 * ratio,
    )  # fmt: skip
    films = losses.Films(np.full(n, 0.1), mu)

    def all_of_them():
        found = losses.losses(laws, swept, speed, ratio, seen, wall, films)
        return [getattr(found, field.name) for field in fields(found)]

    fast, plain = both(all_of_them)
    for one, other in zip(fast, plain, strict=True):
        assert_array_equal(one, other)
    assert name == "ideal" or all(np.ptp(one) > 0.0 for place, one in enumerate(fast) if place != 2)


def test_loops_know_every_coefficient():
    """Of the laws of losses all but the two words are numbers of the table that loops read."""
    numbers = [field.name for field in fields(losses.Laws) if field.name not in ("leak", "walls")]
    assert sorted(COEFFICIENTS) == sorted(numbers)
    assert [name.upper() for name in COEFFICIENTS] == sorted(
        (name for name in vars(steps) if name.lower() in COEFFICIENTS), key=vars(steps).get
    )


@pytest.mark.parametrize("widths", [(8,), (4, 6, 4)])
def test_curves_are_the_same_bits(widths, both):
    """Within and beyond stretches of which some have no width, at their edges, straight and like a root."""
    rng, n = np.random.default_rng(5), 300
    edges = list(np.sort(rng.uniform(290.0, 360.0, (len(widths) + 1, n)), axis=0))
    edges[-1] = np.where(rng.random(n) < 0.2, edges[-2], edges[-1])
    series = [rng.uniform(-1.0, 1.0, (n, width)) for width in widths]
    curve = Curve(edges, series, rng.random(n) < 0.5)
    T = np.concatenate(
        [rng.uniform(280.0, 370.0, (n, 40)), np.array(edges).T, np.full((n, 1), np.nan)], axis=1
    )
    for places in (T, T[:, :1], np.repeat(T, 2, axis=1)[:, ::2]):
        fast, plain = both(lambda places=places: [curve.at(places)])
        assert_array_equal(fast[0], plain[0])
    assert np.isfinite(fast[0][:, :-1]).all()


def test_stages_are_the_same_bits(stack, both):
    """Every figure of stages whose losses are arrays."""
    rng, n = np.random.default_rng(4), 900
    index = np.sort(rng.integers(0, 3, n))

    def stages():
        fluid = stack.bind(index)
        T = np.full(n, 340.0)
        p1 = fluid.saturation_pressure(T)
        own = losses.StageLosses(*(rng.uniform(0.0, 0.3, n) for _ in range(5)), rng.uniform(0.0, 3e4, n))
        stage = engine.expand(
            fluid, p1, fluid.superheated(p1, 3.0 + 0.0 * p1).enthalpy, p1 / rng.uniform(1.2, 9.0, n),
            rng.uniform(1.0, 2.0, n), own,
        )  # fmt: skip
        return [getattr(stage, name) for name in stage._fields if name not in ("inlet", "losses")]

    def seeded():
        nonlocal rng
        rng = np.random.default_rng(4)
        return stages()

    for one, other in zip(*both(seeded), strict=True):
        assert_array_equal(one, other)


def double(given, out):
    """Stand for a loop, quickly compiled."""
    out[0] = 2.0 * given[0]


@pytest.fixture
def quick(monkeypatch, tmp_path):
    """A cache of its own and one loop that is compiled in no time; returns the file names beside the code."""
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(kernels, "SIGNATURES", {"double": "void(float64[::1], float64[::1])"})
    monkeypatch.setattr(kernels, "double", double, raising=False)
    return lambda: sorted(path.name for path in Path(__file__).parent.rglob("*.nb?"))


def works(loops):
    """Tell whether a loop that was handed out does what it should."""
    out = np.zeros(1)
    loops.double(np.full(1, 3.0), out)
    return out[0] == 6.0


def test_translations_are_kept_in_the_cache(quick, tmp_path):
    """They lie in the program's cache folder and not beside the code; numba's own setting is left as it was."""
    import numba

    before = quick(), numba.config.CACHE_DIR
    assert works(machine_code.translated(kernels))
    assert list((tmp_path / "cache" / "kernels").rglob("*.nbi"))
    assert (quick(), numba.config.CACHE_DIR) == before


def test_nothing_is_kept_where_nothing_can_be(quick, tmp_path, monkeypatch):
    """Where the cache folder cannot be made every process compiles for itself, and no file appears anywhere."""
    (tmp_path / "cache").write_text("in the way")
    monkeypatch.setenv("EXPLORE_CACHE", str(tmp_path / "cache" / "within"))
    before = quick()
    assert works(machine_code.translated(kernels))
    assert quick() == before
    assert [path.name for path in tmp_path.iterdir()] == ["cache"]


def test_a_torn_translation_is_made_anew(quick, tmp_path):
    """Files that are cut short or hold something else are replaced."""
    machine_code.translated(kernels)
    for content in (b"", b"something else"):
        for file in (tmp_path / "cache").rglob("*.nb?"):
            file.write_bytes(content)
        assert works(machine_code.translated(kernels))
        assert all(file.stat().st_size > 100 for file in (tmp_path / "cache").rglob("*.nbi"))


def test_what_stands_translated_is_not_read_again(quick, monkeypatch):
    """A process that starts others need not load what only they use; once a translation is torn it is made anew."""
    assert not machine_code.stands(kernels)
    machine_code.translated(kernels)
    assert machine_code.stands(kernels)
    assert machine_code.at_hand(kernels)
    monkeypatch.setattr(machine_code, "loaded", lambda loops: pytest.fail("loaded once more"))
    machine_code.prepared(kernels)
    machine_code._clear(machine_code._folder(kernels))
    with pytest.raises(pytest.fail.Exception, match="once more"):
        machine_code.prepared(kernels)


@pytest.mark.parametrize("stands", [True, False])
def test_a_year_of_one_mixed_store_takes_what_stands_translated(stands, monkeypatch):
    """As arrays it takes a second, to fetch the translation half a second, to make it ten; a stratified one is quick."""
    asked, day = [], season_designs.days(season_designs.greensboro(), 0, 1)
    monkeypatch.setattr(season, "at_hand", lambda loops: stands)
    monkeypatch.setattr(season, "loaded", lambda loops, designs: asked.append(designs))
    mixed_year(day, **season_designs.mixed_designs(1))
    stratified_year(day, **season_designs.stratified_designs(1))
    assert asked == [machine_code.WORTH if stands else 1, 1]


def test_arrays_that_lie_otherwise_are_handed_over():
    """A loop takes one stretch of memory that may be written to; the result is the same, and none is changed."""
    loops, rng = machine_code.loaded(steps), np.random.default_rng(1)
    columns = rng.uniform(0.1, 1.0, (7, 64))
    numbers = (losses.Laws.careful().table, False, 0.1, 0.57, 0.63, 0.02)
    wanted, found = np.empty(64), np.empty(64)
    loops.leaked(*numbers, *columns, wanted)
    apart = np.repeat(columns, 2, axis=1)[:, ::2]
    still = apart[0].copy()
    still.flags.writeable = False
    machine_code.called(loops.leaked, *numbers, still, *apart[1:], found)
    assert_array_equal(found, wanted)
    assert_array_equal(apart, columns)
    with pytest.raises(TypeError):
        machine_code.called(loops.leaked, *numbers, *columns)


def test_a_compiler_that_fails_is_done_without(quick, monkeypatch):
    """Neither a numba that cannot be imported nor one that breaks reaches the user."""
    monkeypatch.setattr(machine_code, "_machine_code", lambda *_: 1 / 0)
    assert machine_code.translated(kernels) is None
    monkeypatch.setitem(sys.modules, "numba", None)
    assert machine_code.translated(kernels) is None


def test_the_environment_keeps_a_process_to_arrays(monkeypatch):
    """One variable says so, and only by its word for yes."""
    asked = machine_code.plain.__wrapped__
    for word, kept in (("1", True), ("0", False), ("", False)):
        monkeypatch.setenv(machine_code.PLAIN, word)
        assert asked() is kept
    monkeypatch.delenv(machine_code.PLAIN)
    assert asked() is False


def test_the_compiler_is_fetched_when_it_pays():
    """A command that asks for help or for one design's year does not import numba."""
    script = (
        "import sys; from tests import season_designs as s;"
        "import explore.cli;"
        "year = s.days(s.greensboro(), 0, 1);"
        "s.stratified_year(year, **s.stratified_designs(1)); print('numba' in sys.modules);"
        "s.stratified_year(year, **s.stratified_designs(64)); print('numba' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True"]
