"""Files to start from, and the reference of all keys."""

from __future__ import annotations

import json

import jsonschema
import pytest
import yaml

from explore.config.compose import compose_case, load_scenario
from explore.config.doubtful import doubtful
from explore.config.files import config_folder
from explore.config.json_schema import schema_text
from explore.config.reference import GROUPS, keys
from explore.config.schema import Costs, Demand, Engine, Limits, Site
from explore.config.tasks import KeysTask, NewTask
from explore.errors import InputError, as_many_as_fit
from explore.run.design_file import read_designs
from explore.tasks import keys as keys_task
from explore.tasks import new
from explore.tell.reference import keys_text, written


@pytest.fixture(scope="module")
def case():
    """The default case."""
    return load_scenario("orchard")


def made(case, tmp_path, what, name="mine.yaml"):
    """Write a file to start from and return it."""
    file = tmp_path / name
    new.run(case, NewTask(what=what, file=str(file)), "explore")
    return file


def test_a_scenario_composes_as_it_stands(case, tmp_path, capsys):
    """Its values are the schema's, its objectives the case's; what must be decided stands first."""
    file = made(case, tmp_path, "scenario")
    assert f"explore scenario={file}" in capsys.readouterr().out
    own = load_scenario(file).scenario
    assert (own.name, own.site, own.demand, own.limits) == ("mine", Site(), Demand(), Limits())
    assert own.objectives == case.scenario.objectives
    text = file.read_text(encoding="utf-8")
    assert text.index("Decide first") < text.index("name: mine")
    assert "from -450 to 6000, or null" in text


@pytest.mark.parametrize(("what", "model"), [("engine", Engine), ("costs", Costs)])
def test_groups_may_come_from_a_file(case, tmp_path, what, model):
    """What is written is the schema's defaults; one changed value in the file reaches the case."""
    file = made(case, tmp_path, what)
    assert getattr(compose_case([f"{what}={file}"]), what) == model()
    name = {"engine": "clearance_fraction", "costs": "instruments_EUR"}[what]
    content = yaml.safe_load(file.read_text(encoding="utf-8")) | {name: 0.123}
    file.write_text(yaml.safe_dump(content), encoding="utf-8")
    assert getattr(getattr(compose_case([f"{what}={file}"]), what), name) == 0.123


def test_a_few_keys_are_enough(tmp_path):
    """A file of prices may hold one line; all others keep their defaults. A wrong key is named."""
    file = tmp_path / "some.yaml"
    file.write_text("instruments_EUR: 77\n", encoding="utf-8")
    assert compose_case([f"costs={file}"]).costs == Costs(instruments_EUR=77.0)
    file.write_text("instrument_EUR: 77\n", encoding="utf-8")
    with pytest.raises(InputError, match="instrument_EUR"):
        compose_case([f"costs={file}"])


def test_a_design_can_be_evaluated(case, tmp_path):
    """The middle of the space is read back whole."""
    from explore.run.design_file import evaluated

    out = evaluated(str(made(case, tmp_path, "design")), case)
    assert len(out) == 1
    assert out["cost_EUR"].notna().all() or not out["possible"].all()


def test_cards_and_machines_start_from_shipped_ones(case, tmp_path):
    """Each is the shipped file behind a word on what to change; a card is used from a folder of one's own."""
    for what, (name, words) in new.COPIED.items():
        (tmp_path / what).mkdir()
        file = made(case, tmp_path / what, what, "own.yaml")
        text = file.read_text(encoding="utf-8")
        assert words in text
        assert text.startswith(f"# yaml-language-server: $schema={what}.schema.json\n")
        assert text.endswith((config_folder() / what / f"{name}.yaml").read_text(encoding="utf-8"))
        assert yaml.safe_load(text)


def test_a_log_is_a_table(case, tmp_path, capsys):
    """It is a CSV file with invented readings, without a schema, and the command that reads it is told."""
    from explore.bench.log import read_log

    file = made(case, tmp_path, "log", "mine.csv")
    assert f"explore task=fit log={file} machine=butane_engine" in capsys.readouterr().out
    assert "ALL READINGS HERE ARE INVENTED" in file.read_text(encoding="utf-8")
    assert read_log(file, {}, 1.013).count == 46
    assert [path.name for path in tmp_path.iterdir()] == ["mine.csv"]


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"what": "log", "file": "x.yaml"}, "ends in .csv"),
        ({}, "it must be one of"),
        ({"what": "cost", "file": "x.yaml"}, "costs"),
        ({"what": "costs"}, "needs file="),
        ({"what": "costs", "file": "x.txt"}, "ends in .yaml"),
        ({"what": "costs", "file": "there.yaml"}, "there already"),
        ({"what": "costs", "file": "no/x.yaml"}, "make it first"),
    ],
)
def test_what_cannot_be_written_is_refused(case, tmp_path, monkeypatch, given, words):
    """One sentence each, and nothing is written over."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "there.yaml").write_text("mine", encoding="utf-8")
    with pytest.raises(InputError, match=words):
        new.run(case, NewTask(**given), "explore")
    assert [path.name for path in tmp_path.iterdir()] == ["there.yaml"]
    assert (tmp_path / "there.yaml").read_text(encoding="utf-8") == "mine"


def test_the_reference_names_every_key(case, capsys):
    """All fields of all groups, with ranges as the schema has them, and the design variables."""
    keys_task.run(case, KeysTask(), "explore")
    out = capsys.readouterr().out
    for group in GROUPS:
        for key in keys(group):
            assert f"  {key.name}: " in out
    assert "space.store_volume_L  [50 to 3000 L]" in out
    assert "pressure_ceiling_bar_g: 16.0  [over 0 to 200]" in out


def test_the_bands_of_all_assumptions_are_told(case, capsys):
    """Every assumption that a study of doubt draws, factors of cards too, under its group with its own key."""
    keys_task.run(case, KeysTask(group="doubt"), "explore")
    out = capsys.readouterr().out
    for one in doubtful(case):
        assert f"doubt.bands.{one.name}: [{one.low:.4g}, {one.high:.4g}]" in out
    assert "clean_glass_factor: [0.92, 1]" in out


def test_one_group_alone(case, capsys):
    """Only that group is told; one that is not there is named with what is meant."""
    keys_task.run(case, KeysTask(group="costs"), "explore")
    assert capsys.readouterr().out.strip() == keys_text("costs")
    with pytest.raises(InputError, match="costs"):
        keys_task.run(case, KeysTask(group="cost"), "explore")


@pytest.mark.parametrize("what", ["scenario", "engine", "costs", "design", *new.COPIED])
def test_editors_get_a_schema(case, tmp_path, what):
    """It is sound JSON Schema (2020-12), the file beside it keeps to it, and a wrong key or value does not."""
    file = made(case, tmp_path, what)
    schema = json.loads((tmp_path / f"{what}.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    judge = jsonschema.Draft202012Validator(schema)
    content = yaml.safe_load(file.read_text(encoding="utf-8"))
    assert list(judge.iter_errors(content)) == []
    assert "expected" in next(judge.iter_errors(content | {"a_key": 1})).message
    number = next(name for name, value in content.items() if isinstance(value, int | float))
    assert list(judge.iter_errors(content | {number: "much"}))
    made(case, tmp_path, what, "other.yaml")  # a second file shares it


def test_a_schema_tells_units_and_sources():
    """What an editor shows of a key: meaning, unit, and where the default is from."""
    told = json.loads(schema_text("costs"))["properties"]["store_EUR_per_L065"]["description"]
    assert told == "bare store: this times litres to the power 0.65 [EUR/L^0.65]; assumption of this project"


def test_a_strangers_schema_is_left(case, tmp_path):
    """A file of that name that is not ours stays, and nothing is written."""
    (tmp_path / "costs.schema.json").write_text("{}", encoding="utf-8")
    with pytest.raises(InputError, match="is not ours"):
        made(case, tmp_path, "costs")
    assert [path.name for path in tmp_path.iterdir()] == ["costs.schema.json"]


@pytest.mark.parametrize(
    ("group", "text", "says"),
    [
        (
            "scenario",
            "title: x",
            "^scenario: name and objectives are missing; explore task=new what=scenario ",
        ),
        (
            "scenario",
            "{title: x, objectives: [{ideal: 1, reference: 0}, 3]}",
            "^scenario: name, objectives.0.figure and objectives.0.direction are",
        ),
        ("scenario", "{titel: x}", "^unknown key scenario.titel; did you mean scenario.title"),
    ],
)
def test_all_missing_keys_are_told_at_once(tmp_path, group, text, says):
    """One sentence names them all, and how a file with every key is got; a wrong key explains more and comes first."""
    file = tmp_path / "some.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=says) as refused:
        compose_case([f"{group}={file}"])
    assert len(str(refused.value)) < 300


def test_all_missing_inputs_of_a_design_are_told_at_once(case, tmp_path):
    """As many as fit into a sentence by name, and how many more; one alone is told as before."""
    file = tmp_path / "d.yaml"
    file.write_text("{fluid: n-Butane, store_mode: stratified}", encoding="utf-8")
    with pytest.raises(InputError, match=r"top_temperature_degC, .* more are missing; explore") as refused:
        read_designs(file)
    assert len(str(refused.value)) < 300 + len(str(file))


def test_names_that_fit_are_listed():
    """All of a few, with 'and'; of many those that fit and a count; one as it is."""
    assert as_many_as_fit(["a", "b", "c"]) == "a, b and c"
    assert as_many_as_fit(["a"]) == "a"
    assert as_many_as_fit(["x" * 60] * 9) == f"{', '.join(['x' * 60] * 3)} and 6 more"


def test_values_are_written_as_yaml():
    """What is written is read back as it was."""
    for value in (None, True, 0.5, "pvlib:723170TYA.CSV", (18, 19), {}, "", "yes", [{"a": 1}]):
        read = yaml.safe_load(f"x: {written(value)}")["x"]
        assert read == (list(value) if isinstance(value, tuple) else value)
