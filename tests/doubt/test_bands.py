"""What is in doubt: every assumption that section 12 of the model names, its band, group and worse end."""

from __future__ import annotations

import numpy as np
import pytest

from explore.config.compose import load_scenario
from explore.config.doubtful import doubtful, groups, matrix
from explore.design.space import random_designs
from explore.doubt.draws import points
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.model import Evaluator
from explore.tell.bands import told
from explore.verify.influence import designs, shifted

NAMED = {
    "valves", "clearance", "seal", "walls", "friction", "pump", "store", "films", "collectors", "sun", "water drops",
    "water pumps", "warm-up", "price of store", "price of collectors", "price of exchangers", "price of engine",
    "price of small parts", "cooling water", "room",
}  # fmt: skip

ZONES = ("liquid", "two_phase", "vapour")
HELD = {"boiler_hold_up_L_per_m2", "condenser_hold_up_L_per_m2"}


@pytest.fixture(scope="module")
def items(orchard):
    """The default case's assumptions in doubt, by name."""
    return {one.name: one for one in doubtful(orchard)}


def test_every_group_of_the_model_is_there(orchard):
    """Groups are those of the table in section 12, and what exchangers hold, whose band is the range of tubes at hand."""
    assert set(groups(doubtful(orchard))) == NAMED | {"hold-up"}


def test_each_band_holds_its_value(items):
    """The likely value lies within its band, on one side of its edge, and within what the schema allows."""
    for one in items.values():
        assert one.least <= one.low < one.likely < one.high <= one.most, one.name
        if one.edge is not None:
            assert (one.low - one.edge) * (one.high - one.edge) > 0.0, one.name


@pytest.mark.parametrize(
    ("name", "low", "high", "worse"),
    [
        ("boiler_U_two_phase", 390.0, 840.0, -1),
        ("insulation_joints_factor", 1.05, 1.6, 1),
        ("store_EUR_per_L065", 12.6, 28.8, 1),
        ("collector_eta0_factor", 0.95, 1.03, -1),
        ("collector_a1_factor", 0.85, 1.25, 1),
        ("clean_glass_factor", 0.92, 1.0, -1),
        ("cooling_water_temperature_degC", 12.0, 16.0, 1),
        ("room_temperature_degC", 18.0, 22.0, -1),
        ("warm_up_kJ_per_K_per_stage", 4.0, 16.0, 1),
        ("water_pressure_drop_bar", 0.1, 0.4, 1),
        ("water_pump_efficiency", 0.25, 0.45, -1),
    ],
)
def test_bands_of_the_model(items, name, low, high, worse):
    """Ranges as section 12 states them, and which end is the worse."""
    one = items[name]
    assert (one.low, one.high, one.worse) == (pytest.approx(low), pytest.approx(high), worse)


def test_a_band_follows_the_value_set():
    """A better engine has a narrower gap, and doubt of it in the same proportion; no loss, no doubt."""
    lapped = {one.name: one for one in doubtful(load_scenario("orchard", ["engine=lapped"]))}["ring_gap_um"]
    assert lapped.low / lapped.likely == pytest.approx(9.5 / 13.0)
    ideal = {one.name for one in doubtful(load_scenario("orchard", ["engine=ideal"]))}
    assert "ring_gap_um" not in ideal
    assert "boiler_U_two_phase" in ideal


def test_a_measured_band_takes_the_place_of_the_judged_one():
    """Its middle counts where it does not hold the value set; what is left to the edge is what is halved."""
    typed = ["doubt.bands.ring_gap_um=[12,14]", "doubt.bands.pump_drive_efficiency=[0.91,0.96]"]
    items = {one.name: one for one in doubtful(load_scenario("orchard", typed))}
    assert (items["ring_gap_um"].low, items["ring_gap_um"].likely) == (12.0, 13.0)
    assert items["pump_drive_efficiency"].likely == pytest.approx(1.0 - (0.09 * 0.04) ** 0.5)


def test_leaks_and_walls_go_against_each_other(orchard):
    """The correlation of section 12 is there, and groups with spaces in their names can be correlated too."""
    names = groups(doubtful(orchard))
    found = matrix(orchard, names)
    assert found[names.index("seal")][names.index("walls")] == -0.5
    case = load_scenario("orchard", ["doubt.correlations.price_of_store.warm_up=0.3"])
    assert matrix(case, names)[names.index("warm-up")][names.index("price of store")] == 0.3
    with pytest.raises(InputError, match="positive definite"):
        load_scenario(
            "orchard",
            ["doubt.correlations.seal.friction=0.9", "doubt.correlations.walls.friction=0.9"],
        )


def test_what_tubes_take_the_place_of_is_in_no_doubt(orchard):
    """Coefficients, hold-up and water's drop stand for tubes not given: with tubes they move no figure, the others do."""
    case = load_scenario("orchard", ["exchangers=tubes", "scenario.fluids=[n-Pentane,Acetone]"])
    items = doubtful(case)
    replaced = {one.name for one in doubtful(orchard)} - {one.name for one in items}
    films = {f"{part}_U_{zone}" for part in ("boiler", "coil", "condenser") for zone in ZONES}
    assert replaced == films | HELD | {"water_pressure_drop_bar"}
    evaluator = Evaluator(case)
    many = {name: column.to_numpy() for name, column in random_designs(case, 400, 1).items()}
    # Each batch of tubes takes seconds: first the one fixed design of two pressures and a regenerator, where most count.
    few = {name: column[1:2] for name, column in designs(case).items()} | {"fluid": np.array(["n-Pentane"])}
    found = {id(batch): evaluator.evaluate(batch) for batch in (many, few)}

    def moved(batch, group, *names):
        values = getattr(case, group)
        for name in names:
            values = shifted(values, name, 0.1)
        before = found[id(batch)]
        after = evaluator.under(case.model_copy(update={group: values})).evaluate(batch)
        return [
            name
            for name in before
            if not np.array_equal(before[name], after[name], equal_nan=before[name].dtype != object)
        ]

    assert moved(many, "engine", *replaced) == []
    counting = [one for one in items if one.place[0] in ("engine", "exchangers") and not one.law]
    assert [one.name for one in counting if not moved(few, *one.place) and not moved(many, *one.place)] == []


def test_films_of_tubes_are_in_doubt_where_there_are_tubes(items):
    """Section 12: with tubes all films together by 0.8 to 1.25; coefficients know no such factor."""
    assert "tube_films_factor" not in items
    case = load_scenario("orchard", ["exchangers=tubes"])
    one = {one.name: one for one in doubtful(case)}["tube_films_factor"]
    assert (one.low, one.likely, one.high, one.group, one.worse) == (0.8, 1.0, 1.25, "films", -1)
    assert "    tube_films_factor: 0.8 to 1.25, likely 1, lognormal; judgement" in told(case)
    worlds = Worlds(Evaluator(case))
    sample = worlds.draws.sample(points(512, worlds.draws.dimensions, 3))
    drawn = [worlds.case(sample, row).exchangers.tube_films_factor for row in range(512)]
    assert 0.08 < np.mean(np.less(drawn, 0.8)) < 0.12
    assert 0.08 < np.mean(np.greater(drawn, 1.25)) < 0.12
    areas = [worlds.model(sample, int(row)).plant.tubing.films_factor for row in np.argsort(drawn)[[0, -1]]]
    assert areas == [min(drawn), max(drawn)]
