"""Composing and checking configurations: every shipped file works, every mistake gets one clear sentence."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hydra import initialize_config_dir
from hydra.core.config_store import ConfigStore
from hydra.core.global_hydra import GlobalHydra

from explore.config import compose, reference
from explore.config.compose import compose_case, load_scenario
from explore.config.files import config_folder
from explore.errors import InputError
from explore.run.files import write_yaml

CONFIGS = config_folder()
GROUPS = ("scenario", "search", "report", "engine", "costs", "task")
CHOICES = [(group, path.stem) for group in GROUPS for path in sorted((CONFIGS / group).glob("*.yaml"))]


def refusal(*overrides: str) -> str:
    """Return the sentence with which the overrides are refused."""
    with pytest.raises(InputError) as refused:
        compose_case(overrides)
    sentence = str(refused.value)
    assert "\n" not in sentence
    return sentence


@pytest.mark.parametrize(("group", "choice"), CHOICES)
def test_every_shipped_choice_composes(group, choice):
    """Each file of each config group makes a case that passes the schema."""
    case = compose_case([f"{group}={choice}"])
    assert case.scenario.objectives


def test_all_cards_are_in_every_case():
    """The catalogue holds every card of the folders, keyed by file name."""
    case = compose_case()
    assert set(case.fluids) == {path.stem for path in (CONFIGS / "fluid").glob("*.yaml")}
    assert set(case.collectors) == {path.stem for path in (CONFIGS / "collector").glob("*.yaml")}


def test_config_lists_every_design_variable():
    """Each design variable can be pinned by name, because config.yaml lists them all as free."""
    from explore.design.variables import INPUTS

    assert tuple(compose_case().space) == INPUTS
    assert set(compose_case().space.values()) == {None}


def test_schema_defaults_are_all_overridable():
    """A value that no file mentions still has its key."""
    case = compose_case(["search.population=64", "scenario.site.albedo=0.3", "report.designs_shown=50"])
    assert (case.search.population, case.scenario.site.albedo, case.report.designs_shown) == (64, 0.3, 50)


def test_cards_are_overridden_by_file_name():
    """A card's value is changed under fluids.<file>, the file's name also where it holds a hyphen."""
    case = compose_case(["fluids.n-Butane.price_EUR_per_kg=3.5"])
    assert case.fluids["n-Butane"].price_EUR_per_kg == 3.5


def test_fluids_may_be_named_by_file():
    """R1234zeE means R1234ze(E), so that nobody has to quote brackets."""
    assert compose_case(["scenario.fluids=[R1234zeE,n-Butane]"]).scenario.fluids == ("R1234ze(E)", "n-Butane")


def test_new_bounds_need_no_plus():
    """A bound on any figure is added as simply as a value is changed."""
    case = compose_case(["scenario.limits.bounds.boiler_area_m2=[null,2]"])
    assert case.scenario.limits.bounds["boiler_area_m2"] == (None, 2.0)


def test_short_task_keys():
    """design, row and run are short for task.design, task.row and task.run."""
    task = compose_case(["task=inspect", "design=x.yaml", "row=3"]).task
    assert (task.name, task.design, task.row) == ("inspect", "x.yaml", 3)


def test_paths_with_blanks_and_brackets_need_no_inner_quotes(tmp_path):
    """An existing file is taken as it is typed, whatever its name."""
    path = tmp_path / "my design (2), it's.yaml"
    path.write_text("fluid: Water\n")
    assert compose_case(["task=inspect", f"design={path}"]).task.design == str(path)


@pytest.mark.parametrize(
    ("override", "parts"),
    [
        ("scenario=orchrd", ["scenario=orchrd", "did you mean orchard?"]),
        ("engine.pump_eficiency=0.5", ["unknown key engine.pump_eficiency", "engine.pump_efficiency?"]),
        ("pump_efficiency=0.5", ["unknown key pump_efficiency", "did you mean engine.pump_efficiency?"]),
        ("fluid=n-Butane", ["fluid: task=search does not use it", "task=gauge does", "space.fluid"]),
        ("+engine.colour=red", ["unknown key engine.colour"]),
        ("space.tank_L=5", ["unknown key space.tank_L"]),
        ("engine.pump_efficiency=1.5", ["engine.pump_efficiency=1.5", "less than or equal to 1"]),
        ("engine.pump_efficiency=high", ["engine.pump_efficiency='high'", "must be a number"]),
        ("engine.boiler_U_vapour=-1", ["engine.boiler_U_vapour=-1", "greater than 0", "[W/(m2 K)]"]),
        ("scenario.demand.shaft_power_W=nan", ["shaft_power_W=nan", "finite number"]),
        ("scenario.demand.hours=[25]", ["scenario.demand.hours", "0 to 23"]),
        ("scenario.site.room=attic", ["scenario.site.room='attic'", "'indoor' or 'outdoor'"]),
        ("scenario.fluids=[Butan]", ["scenario.fluids", "'Butan'", "did you mean n-Butane?"]),
        ("scenario.fluids=[R1234ze(E)]", ["cannot read", "quotes"]),
        ("scenario.limits.bounds.cost_EUR=[1]", ["scenario.limits.bounds.cost_EUR=[1]", "list of 2"]),
        ("scenario.objectives=[]", ["scenario.objectives", "at least 2"]),
        ("fluids.n-Butane.price_EUR_per_kg=-3", ["fluids.n-Butane.price_EUR_per_kg=-3"]),
        ("search.designs=0", ["search.designs=0", "greater than or equal to 1"]),
        ("search.seed=1.5", ["search.seed=1.5", "whole number"]),
        ("space=3", ["space=3", "group of keys"]),
        ("task=verfy", ["task=verfy", "search"]),
        ("orchard", ["'orchard'", "key=value"]),
        ("=3", ["key=value"]),
        ("scenario=[a", ["cannot read 'scenario=[a'"]),
        ("scenario=orchard,other", ["scenario", "-m"]),
        ("scenario=nowhere.yaml", ["nowhere.yaml", "No such file"]),
        ("scenario.title=${nothing}", ["scenario.title", "nothing"]),
    ],
)
def test_mistakes_are_named_in_one_sentence(override, parts):
    """The refusal quotes key and value and says what would be right."""
    sentence = refusal(override)
    assert all(part in sentence for part in parts), sentence


def test_closest_key_is_found_by_its_last_part():
    """A key typed without its group is recognised wherever it lives."""
    assert refusal("store_volume_L=500").endswith("did you mean space.store_volume_L?")


def own_scenario(tmp_path: Path, **changes: object) -> Path:
    """Write the shipped orchard under another name, changed."""
    content = yaml.safe_load((CONFIGS / "scenario" / "orchard.yaml").read_text(encoding="utf-8"))
    path = tmp_path / "mine.yaml"
    path.write_text(yaml.safe_dump(content | {"name": "mine"} | changes))
    return path


def test_load_scenario_by_name():
    """A shipped scenario is loaded by its name, with overrides as on the command line."""
    case = load_scenario("orchard", ["engine.friction_load_share=0.08"])
    assert (case.scenario.name, case.engine.friction_load_share) == ("orchard", 0.08)


def test_load_scenario_from_a_file(tmp_path):
    """A scenario of one's own is loaded by its path, and also accepted on the command line."""
    path = own_scenario(tmp_path, room_volume_m3=12)
    assert load_scenario(path).scenario.room_volume_m3 == 12
    assert compose_case([f"scenario={path}"]).scenario.name == "mine"


def without_room(tmp_path, **changes):
    """The orchard without a word on its room."""
    path = own_scenario(tmp_path, **changes)
    content = yaml.safe_load(path.read_text())
    del content["room_volume_m3"]
    path.write_text(yaml.safe_dump(content))
    return path


def test_room_is_asked_for_where_a_fluid_burns(tmp_path):
    """No default stands in for the room of a fluid that burns, whoever asks for it; null says outdoors."""
    path = without_room(tmp_path)
    with pytest.raises(InputError, match=r"scenario.room_volume_m3 is missing .* burns") as refused:
        load_scenario(path)
    assert "\n" not in str(refused.value)
    with pytest.raises(InputError, match="n-Butane burns"):
        load_scenario(without_room(tmp_path, fluids=["R134a", "n-Butane"]))
    with pytest.raises(InputError, match="room_volume_m3"):
        load_scenario(path, ["space.fluid=Butane-propane-70-30"])
    assert load_scenario(path, ["scenario.room_volume_m3=30"]).scenario.room_volume_m3 == 30
    assert load_scenario(own_scenario(tmp_path, room_volume_m3=None)).scenario.room_volume_m3 is None


def test_room_is_not_asked_for_where_nothing_burns(tmp_path):
    """Fluids or classes that leave nothing that burns need no word on the room."""
    assert load_scenario(without_room(tmp_path, fluids=["R134a"])).scenario.name == "mine"
    limits = {"safety_classes": ["A1", "B1"], "pressure_ceiling_bar_g": 16}
    assert load_scenario(without_room(tmp_path, limits=limits)).scenario.name == "mine"


def test_own_scenario_may_start_from_a_shipped_one(tmp_path):
    """A scenario file with a defaults list says only what differs."""
    path = tmp_path / "hotter.yaml"
    path.write_text("defaults: [orchard, _self_]\nname: hotter\nsite: {room_temperature_degC: 30}\n")
    case = load_scenario(path)
    assert case.scenario.site.room_temperature_degC == 30
    assert case.scenario.demand == load_scenario("orchard").scenario.demand


def test_a_complete_configuration_composes_to_the_same_case(tmp_path):
    """The config.yaml a run leaves gives the run's case again, and can be changed further."""
    case = load_scenario("orchard", ["space.store_volume_L=500", "search.seed=7"])
    write_yaml(tmp_path / "config.yaml", compose.complete(case))
    assert load_scenario(tmp_path / "config.yaml") == case
    assert load_scenario(tmp_path) == case
    assert load_scenario(tmp_path, ["space.stages=2"]).space["stages"] == 2


def test_unknown_scenario_file_key_is_refused(tmp_path):
    """A typing error in a scenario file is found like one on the command line."""
    with pytest.raises(
        InputError, match=r"unknown key scenario\.room_volume_L; did you mean scenario\.room_v"
    ):
        load_scenario(own_scenario(tmp_path, room_volume_L=5))


def test_broken_yaml_is_refused_with_its_line(tmp_path):
    """A scenario file that is not YAML is named with file and line."""
    path = tmp_path / "broken.yaml"
    path.write_text("name: x\ntitle: [1, 2\nsite: {}\n")
    with pytest.raises(InputError, match=r"broken\.yaml, line 3: not valid YAML"):
        load_scenario(path)


@pytest.mark.parametrize("content", ["", "- a\n- b\n", "{}\n"])
def test_a_file_without_keys_is_refused(tmp_path, content):
    """An empty file or a list is no scenario."""
    path = tmp_path / "odd.yaml"
    path.write_text(content)
    with pytest.raises(InputError, match=r"odd\.yaml"):
        load_scenario(path)


def test_cards_of_another_folder_join_the_catalogue(tmp_path):
    """A builder adds a fluid by one card in a folder of their own."""
    card = (CONFIGS / "fluid" / "n-Butane.yaml").read_text(encoding="utf-8")
    (tmp_path / "fluid").mkdir()
    (tmp_path / "fluid" / "mine.yaml").write_text(card)
    assert set(compose.cards([CONFIGS, tmp_path], "fluid")) - set(compose.cards([CONFIGS], "fluid")) == {
        "mine"
    }
    for folders, there in (([CONFIGS], False), ([CONFIGS, tmp_path], True), ([CONFIGS], False)):
        compose.register(folders)
        known = ConfigStore.instance().repo["catalogue.yaml"].node
        assert ("mine" in known["fluids"]) == there
        compose.register(folders)
        assert ConfigStore.instance().repo["catalogue.yaml"].node is known, "made once"


def test_composing_leaves_a_running_hydra_session_alone():
    """load_scenario works inside another Hydra program and leaves its session as it was."""
    with initialize_config_dir(str(CONFIGS), version_base="1.3"):
        before = GlobalHydra.instance().hydra
        load_scenario("orchard")
        assert before is not None
        assert GlobalHydra.instance().hydra is before


def test_what_one_command_changes_the_next_does_not_see():
    """Nodes made once are handed out anew: a value of a card, of the schema and a card left out come back."""
    changed = compose.composed(
        ["fluids.n-Butane.price_EUR_per_kg=99", "costs.instruments_EUR=9999", "~fluids.Water"]
    )
    assert (changed["fluids"]["n-Butane"]["price_EUR_per_kg"], "Water" in changed["fluids"]) == (99, False)
    after = compose.composed()
    assert after["fluids"]["n-Butane"]["price_EUR_per_kg"] != 99
    assert after["costs"]["instruments_EUR"] != 9999
    assert "Water" in after["fluids"]


@pytest.mark.parametrize("group", reference.GROUPS)
def test_every_key_says_what_it_means(group):
    """`explore task=keys` leaves no key to be guessed from its name."""
    assert [key.name for key in reference.keys(group) if not key.about] == []
