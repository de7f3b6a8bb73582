"""From config files and overrides to one checked :class:`~explore.config.schema.Case`.

The files are composed by Hydra. Two nodes are made at run time and named in the defaults list of
``config.yaml``: ``schema_defaults`` (every default of the schema, so that each key exists and can be
overridden) and ``catalogue`` (all fluid and collector cards, keyed by file name). Whatever goes wrong
on the way becomes an :class:`~explore.errors.InputError` of one sentence (:mod:`explore.config.explain`).
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from explore.config.doubtful import refuse_bad_doubts
from explore.config.doubts import Doubt
from explore.config.explain import closest, explained, yaml_problem
from explore.config.fields import idle
from explore.config.fitted import settings
from explore.config.owned import Owned
from explore.config.paths import against, anchored
from explore.config.plain_yaml import parse, read
from explore.config.schema import (
    Case,
    Costs,
    Demand,
    Engine,
    Exchangers,
    Limits,
    Report,
    Search,
    Site,
    is_own_sampler,
)
from explore.config.tasks import TASK_KEYS, every_key
from explore.config.urls import without_passwords
from explore.config.use import Use
from explore.config.yardsticks import Yardsticks
from explore.errors import InputError, few

OPEN_GROUPS = ("scenario.limits.bounds.", "doubt.bands.", "doubt.correlations.")
OWN_FILES = ("scenario", "engine", "costs", "exchangers")
"""Groups that take a file's path where others take a name."""
ROOM = "scenario.room_volume_m3"
"""The one value of a scenario without a default that stands in for it: it may be typed where a file lacks it."""
CHANGED_WHOLE = (*OWN_FILES, "search", "report")
"""Groups that a case takes whole in place of its own."""
PAST_RUN = "past_run"
FITTED = "fitted"
"""The overlay of what a bench has told (:mod:`explore.config.fitted`)."""
CARDS = {"fluids": "fluid", "collectors": "collector"}
VERSION = 1
"""Of a run's config.yaml; from 1 on its weather is shipped with pvlib or a file in the run's own folder."""
NEEDS_QUOTES = re.compile(r"[\s()\[\]{}='\"\\,]")


def config_folder() -> Path:
    """Return the folder of the shipped configs: in an installed wheel, or beside the package in a clone."""
    package = Path(__file__).resolve().parents[1]
    for folder in (package / "_configs", package.parent / "configs"):
        if (folder / "config.yaml").is_file():
            return folder
    raise InputError("the configs folder is missing: install the package again, or run from a whole clone")


def read_yaml(path: Path) -> dict[str, Any]:
    """Read a YAML file that holds a mapping; anything else is refused with its line."""
    return _mapping(path, interpolation=True)


def read_plain_yaml(path: Path) -> dict[str, Any]:
    """Read a YAML file that holds a mapping of plain data; it is never composed, so it may not interpolate."""
    return _mapping(path, interpolation=False)


def _mapping(path: Path, *, interpolation: bool) -> dict[str, Any]:
    content = _parsed(path, interpolation=interpolation)
    if not isinstance(content, dict) or not content:
        raise InputError(f"{path}: lines of `key: value` are expected")
    return plain(content)


def _parsed(path: Path, *, interpolation: bool) -> Any:
    from yaml import YAMLError

    try:
        return parse(read(path), path, interpolation=interpolation)
    except YAMLError as error:
        raise InputError(yaml_problem(error, path)) from error
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not a YAML text"
        raise InputError(f"cannot read {path}: {reason}") from error


def cards(folders: Iterable[Path], group: str) -> dict[str, dict[str, Any]]:
    """Read every card of ``group`` (``fluid`` or ``collector``) in ``folders``, keyed by file stem."""
    files = [path for folder in folders for path in sorted((folder / group).glob("*.yaml"))]
    return {path.stem: read_yaml(path) for path in files}


def schema_defaults() -> dict[str, Any]:
    """Every default of the schema as a nested dict; values without a default are left out."""
    groups = {
        "engine": Engine(),
        "exchangers": Exchangers(),
        "costs": Costs(),
        "report": Report(),
        "doubt": Doubt(),
        "yardsticks": Yardsticks(),
    }
    defaults = {name: group.model_dump(mode="json") for name, group in groups.items()}
    defaults["task"] = every_key()
    scenario = {"site": Site(), "demand": Demand(), "use": Use(), "owned": Owned(), "limits": Limits()}
    defaults["scenario"] = {name: group.model_dump(mode="json") for name, group in scenario.items()}
    defaults["scenario"] |= {
        "description": "",
        "fluids": None,
        "stock_bores_mm": None,
        "stock_walls_mm": None,
    }
    defaults["search"] = Search(name="").model_dump(mode="json", exclude={"name"})
    return defaults


def register_run(content: Mapping[str, Any]) -> str:
    """Make a past run's configuration, read as data, a main config of Hydra; returns its name."""
    from hydra.core.config_store import ConfigStore

    ConfigStore.instance().store(name=PAST_RUN, node=dict(content))
    return PAST_RUN


def register(folders: Sequence[Path]) -> None:
    """Make the run-time nodes ``schema_defaults`` and ``catalogue`` known to Hydra."""
    from hydra.core.config_store import ConfigStore

    _bound_what_hydra_reads()
    store = ConfigStore.instance()
    catalogue = {key: cards(folders, group) for key, group in CARDS.items()}
    for name, content in {"schema_defaults": schema_defaults(), "catalogue": catalogue}.items():
        mark, known = hashlib.sha256(repr(content).encode()).hexdigest(), store.repo.get(f"{name}.yaml")
        if getattr(known, "provider", None) != mark:  # to make a node takes longer than to read all cards
            store.store(name=name, node=content, provider=mark)


def _bound_what_hydra_reads() -> None:
    """Have Hydra open files within the bounds of :mod:`explore.config.plain_yaml`, whoever's folder they are in."""
    from hydra._internal.core_plugins.file_config_source import FileConfigSource
    from hydra._internal.sources_registry import SourcesRegistry
    from hydra.core.plugins import Plugins
    from hydra.plugins.config_source import ConfigResult
    from omegaconf import OmegaConf

    class BoundedSource(FileConfigSource):
        """Files of a folder, each looked through before anything is built of it."""

        def load_config(self, config_path: str) -> ConfigResult:
            """Load a file that is plain data, or raise :class:`InputError`."""
            path = Path(self.path, self._normalize_file_name(config_path))
            if not path.exists():
                return super().load_config(config_path)
            content = OmegaConf.create(_parsed(path, interpolation=True) or {})
            header = self._get_header_dict(read(path))
            return ConfigResult(self.provider, f"{self.scheme()}://{self.path}", content, header)

    Plugins.instance()  # registers Hydra's own sources, once
    SourcesRegistry.instance().types[FileConfigSource.scheme()] = BoundedSource


def spelled_out(overrides: Iterable[str]) -> list[str]:
    """Expand the short forms a person types into plain Hydra overrides.

    ``design=FILE`` means ``task.design=FILE``; a value that is an existing path is quoted where Hydra's
    grammar asks for it; ``scenario=FILE.yaml`` (costs, engine, exchangers too) makes the file a choice; a new bound
    (``scenario.limits.bounds.boiler_area_m2=[null,2]``) and a room that a file lacks need no leading ``+``;
    ``fitted=FILE.yaml`` stands for the values that a bench has told.
    """
    return [spelled for override in overrides for spelled in _spell_all(override)]


def _spell_all(override: str) -> list[str]:
    key, equals, value = override.partition("=")
    if equals and key == FITTED:
        path = Path(value)
        if path.suffix.lower() not in (".yaml", ".yml"):
            raise InputError(
                f"fitted={value[:80]}: the fitted.yaml that task=fit wrote is expected, one file"
            )
        return settings(path, read_plain_yaml(path))
    return [_spell(override)]


def _spell(override: str) -> str:
    key, equals, value = override.partition("=")
    if equals and not key.strip("+~ "):
        raise InputError("a setting has no name before its '=': write key=value (see explore --help)")
    if not equals or not key.strip("+~"):
        return override
    if key in TASK_KEYS:
        key = f"task.{key}"
    if key.startswith(OPEN_GROUPS) or key == ROOM:
        key = f"++{key}"
    if key in OWN_FILES:
        value = ",".join(_choice(key, one) for one in value.split(","))
    elif NEEDS_QUOTES.search(value) and _is_path(value):
        value = "'" + value.replace("\\", "\\\\").replace("'", "\\'") + "'"
    return f"{key}={value}"


def _is_path(text: str) -> bool:
    try:
        return Path(text).exists()
    except OSError:  # a long list is no file name
        return False


def _choice(group: str, choice: str) -> str:
    """Make a file of one's own a choice of its group; a name stays as it is."""
    if not choice.endswith((".yaml", ".yml")):
        return choice
    from hydra.core.config_store import ConfigStore

    content = read_yaml(Path(choice))
    if "scenario" in content:
        raise InputError(
            f"{group}={choice}: this is a whole configuration; run it with `explore -cp FOLDER -cn config`"
        )
    if group == "scenario":
        content = against(content, group, Path(choice).resolve().parent)
    name = "own_" + re.sub(r"\W", "_", str(Path(choice).resolve()))
    ConfigStore.instance().store(group=group, name=name, node=content)
    return name


@contextmanager
def _hydra(folder: Path) -> Iterator[None]:
    """Hydra's compose session on ``folder``, leaving a session of the caller as it was."""
    from hydra import initialize_config_dir
    from hydra.core.global_hydra import GlobalHydra

    session = GlobalHydra.instance()
    outer, session.hydra = session.hydra, None
    try:
        with initialize_config_dir(str(folder.resolve()), version_base="1.3"):
            yield
    finally:
        GlobalHydra.instance().hydra = outer


def composed(
    overrides: Iterable[str] = (), *, folder: Path | None = None, config_name: str = "config"
) -> dict[str, Any]:
    """Compose ``folder/config_name.yaml`` with ``overrides`` into a plain nested dict, not yet checked."""
    from hydra import compose
    from omegaconf import OmegaConf

    overrides, own = list(overrides), [folder] if folder else []
    register([config_folder(), *own])
    with _hydra(folder or config_folder()):
        config = compose(config_name, spelled_out(overrides))
        return anchored(plain(OmegaConf.to_container(config, resolve=True)), own, config_name, overrides)


def plain(container: Any) -> dict[str, Any]:
    """Return the composed container as a dict with text keys."""
    return {str(key): value for key, value in container.items()}


def compose_case(
    overrides: Iterable[str] = (), *, folder: Path | None = None, config_name: str = "config"
) -> CheckedCase:
    """Compose and check a configuration.

    ``overrides`` are what one types after ``explore``; ``folder`` holds another ``config_name.yaml``
    (a run's folder). Raises :class:`InputError` with one sentence on any bad key, value or file.
    """
    overrides = list(overrides)
    try:
        return checked(composed(overrides, folder=folder, config_name=config_name))
    except InputError:
        raise
    except Exception as error:
        raise explained(error, lambda: known_keys(folder, config_name)) from error


def known_keys(folder: Path | None = None, config_name: str = "config") -> list[str]:
    """List every dotted key of the configuration without overrides, for suggestions."""
    try:
        return sorted(_dotted(composed(folder=folder, config_name=config_name)))
    except Exception:  # the files themselves are at fault: suggest from the schema
        return sorted(_dotted(schema_defaults()))


def _dotted(tree: Mapping[str, Any], prefix: str = "") -> Iterator[str]:
    for key, value in tree.items():
        yield prefix + key
        if isinstance(value, Mapping):
            yield from _dotted(value, f"{prefix}{key}.")


class CheckedCase(Case):
    """A whole case, composed and checked, of which others can be made."""

    def with_(self, *changes: str | Mapping[str, Any], **groups: str | Path) -> CheckedCase:
        """Return a case with some values changed; this one stays as it is.

        ``changes`` are typed as on the command line (``"costs.instruments_EUR=250"``) or map dotted names to values
        (``{"scenario.demand.hours": [6, 7]}``); ``groups`` take a whole group by the name of a shipped one or from a
        file (``engine="lapped"``, ``costs="prices.yaml"``). Raises :class:`InputError` with one sentence.
        """
        data = self.model_dump(mode="json")
        for group, choice in groups.items():
            if group not in CHANGED_WHOLE:
                near = closest(group, CHANGED_WHOLE)
                raise InputError(f"with_: {group!r} is no group{near}; known are {', '.join(CHANGED_WHOLE)}")
            data[group] = getattr(compose_case([f"{group}={choice}"]), group).model_dump(mode="json")
        for change in changes:
            for key, value in _pairs(change):
                _put(data, key, value)
        return checked(data)


def _pairs(change: str | Mapping[str, Any]) -> list[tuple[str, Any]]:
    """Part a change into dotted names and values."""
    if isinstance(change, Mapping):
        return list(change.items())
    key, equals, value = str(change).partition("=")
    if not equals or not key.strip():
        raise InputError(f"with_: {change!r} is no setting; write key=value, or a dict of them")
    from yaml import YAMLError

    try:
        return [(key.strip(), parse(value, Path(key)))]
    except YAMLError as error:
        raise InputError(f"with_: cannot read {str(change)[:80]!r} as key=value") from error


def _put(data: dict[str, Any], key: str, value: Any) -> None:
    """Set a dotted name of a nested dict; names that the schema does not know it refuses later."""
    *groups, last = str(key).split(".")
    place = data
    for group in groups:
        inner = place.setdefault(group, {})
        if not isinstance(inner, dict):
            raise InputError(f"unknown key {key}: {group} is a value and holds no keys")
        place = inner
    known = place.get(last)
    if isinstance(known, dict) and not isinstance(value, Mapping) and key in CHANGED_WHOLE:
        raise InputError(f"{key}={value!r}: a whole group is changed by keyword, with_({key}={value!r})")
    place[last] = value


def checked(config: Mapping[str, Any]) -> CheckedCase:
    """Check a composed configuration and return it frozen; raises :class:`InputError`."""
    from pydantic import ValidationError

    if "version" in config:
        refuse_newer(config["version"])
        config = {key: value for key, value in config.items() if key != "version"}
    try:
        case = CheckedCase.model_validate(_named_fluids(config))
    except ValidationError as error:
        raise explained(error) from error
    _refuse_idle_values(case.engine)
    _refuse_unserved_fluids(case)
    _refuse_unknown_components(case)
    _refuse_unknown_materials(case)
    _ask_for_room(case)
    if case.doubt != Doubt():
        refuse_bad_doubts(case)
    return case


def refuse_newer(version: Any) -> None:
    """Raise :class:`InputError` for a version of a run's configuration that this program does not know."""
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise InputError(
            f"version: {str(version)[:40]!r} is none; a whole number from 1 to {VERSION} is expected"
        )
    if version > VERSION:
        raise InputError(
            f"version {str(version)[:40]} of a run's configuration is newer than version {VERSION}, "
            "which this program reads; take the program that wrote it"
        )


def _refuse_idle_values(engine: Engine) -> None:
    """Raise :class:`InputError` for a value of the engine that was changed and counts only under other laws."""
    for name, wanted in idle(engine).items():
        now = " ".join(f"engine.{setting}={getattr(engine, setting)}" for setting in wanted)
        other = " ".join(f"engine.{setting}={value}" for setting, value in wanted.items())
        own = type(engine).model_fields[name].default
        raise InputError(
            f"engine.{name}={getattr(engine, name)} does not count with {now}; write {other} as well, "
            f"or leave it at {own}"
        )


def _refuse_unknown_materials(case: Case) -> None:
    """Raise :class:`InputError` for a material of which neither walls nor what attacks it are known."""
    from explore.judgement.hazards import CONSTITUENTS
    from explore.judgement.vessels import MATERIALS

    parts = [part for alloy in CONSTITUENTS.values() for part in alloy]
    attacked = [material for card in case.fluids.values() for material in card.attacks]
    known = sorted({material.casefold() for material in (*MATERIALS, *CONSTITUENTS, *parts, *attacked)})
    for material in case.scenario.materials:
        if material.casefold() not in known:
            near = closest(material.casefold(), known)
            raise InputError(
                f"scenario.materials: {material!r} is not known{near}; known are {few(known, material)}"
            )


def _ask_for_room(case: Case) -> None:
    """Raise :class:`InputError` if a fluid that may be used burns and nobody has said what room it stands in.

    ``space.fluid`` narrows only what is searched: designs of one's own on the scenario's other fluids are judged too.
    """
    scenario, asked = case.scenario, case.asked.get("fluid")
    if "room_volume_m3" in scenario.model_fields_set:
        return
    wanted = asked if isinstance(asked, list | tuple) else [asked]
    named = [card.name for stem, card in case.fluids.items() if stem in wanted or card.name in wanted]
    classes = scenario.limits.safety_classes
    for name in scenario.fluids or (*case.pure_fluids(), *named):
        card = case.card(name)
        if card.flammable and (classes is None or card.safety_class in classes):
            raise InputError(
                f"scenario.room_volume_m3 is missing in scenario {scenario.name}: {name} burns, and the room limits how "
                "much of it the plant may hold; give the volume of the room in m3, or null for a plant outdoors"
            )


def _refuse_unserved_fluids(case: Case) -> None:
    """Raise :class:`InputError` for a pure fluid that CoolProp lacks, or that cannot boil and condense here.

    Shipped cards are held by a test and need no asking, which spares loading CoolProp.
    """
    for stem, card in case.fluids.items():
        if card.is_mixture or _is_shipped(stem, card.name):
            continue
        from explore.fluids.blend import equation_names, is_known, no_boiling_range

        if not is_known(card.name):
            near = closest(
                card.name, [name for name in (*case.pure_fluids(), *equation_names()) if name != card.name]
            )
            raise InputError(f"fluids.{stem}.name: CoolProp has no fluid {card.name!r}{near}")
        if reason := no_boiling_range(card.name):
            raise InputError(f"fluids.{stem}.name: {card.name} cannot be a working fluid here: {reason}")


def _is_shipped(stem: str, name: str) -> bool:
    """Tell whether a card of the configs folder gives this fluid."""
    try:
        text = (config_folder() / "fluid" / f"{stem}.yaml").read_text(encoding="utf-8")
    except OSError:
        return False
    return re.search(rf"^name: *['\"]?{re.escape(name)}['\"]? *(#.*)?$", text, re.MULTILINE) is not None


def _refuse_unknown_components(case: Case) -> None:
    """Raise :class:`InputError` for a component of a mixture, or of a bottle's range, that CoolProp lacks.

    Names of pure fluids of the catalogue need no asking, which spares loading CoolProp.
    """
    from explore.fluids.blend import equation_names, is_known

    pure = case.pure_fluids()
    for stem, card in case.fluids.items():
        for field in ("components", "composition_range"):
            for name in getattr(card, field) or ():
                if name not in pure and not is_known(name):
                    near = closest(name, [*pure, *equation_names()])
                    raise InputError(f"fluids.{stem}.{field}: CoolProp has no fluid {name!r}{near}")


def _named_fluids(config: Mapping[str, Any]) -> Mapping[str, Any]:
    """Accept a card's file name (R1234zeE) in scenario.fluids, where its fluid (R1234ze(E)) is meant."""
    catalogue, scenario = config.get("fluids"), config.get("scenario")
    if not isinstance(catalogue, Mapping) or not isinstance(scenario, Mapping):
        return config  # the schema says what is wrong
    asked = scenario.get("fluids")
    if not isinstance(asked, list | tuple):
        return config
    cards = {stem: card for stem, card in catalogue.items() if isinstance(card, Mapping)}
    names = {stem: card.get("name", stem) for stem, card in cards.items()}
    pure = [name for stem, name in names.items() if not cards[stem].get("components")]
    return {**config, "scenario": {**scenario, "fluids": [_named(fluid, names, pure) for fluid in asked]}}


def _named(given: Any, names: Mapping[str, str], pure: Sequence[str]) -> Any:
    if not isinstance(given, str) or given in names.values():
        return given
    if given in names:
        return names[given]
    near = closest(given, pure) or closest(given, [*names.values(), *names])
    raise InputError(
        f"scenario.fluids: {given!r} has no card in configs/fluid{near}; known are {few(names, given)}"
    )


def refuse_unnamed_sampler(config: Mapping[str, Any], typed: Iterable[str], where: str) -> None:
    """Raise :class:`InputError` if a folder's configuration names a class as sampler that was not typed as well.

    A class is code to import, and a folder may be a stranger's.
    """
    search = config.get("search")
    name = str(search.get("sampler", "")) if isinstance(search, Mapping) else ""
    if is_own_sampler(name) and not any(word.lstrip("+").startswith("search.sampler=") for word in typed):
        raise InputError(
            f"{where}: its configuration names the sampler {name[:80]}, a class, and a folder's word is not taken for "
            "what to import; name it again with search.sampler=..."
        )


def complete(case: Case) -> dict[str, Any]:
    """Return the case as plain data that composes to the same case again, its task a plain search.

    A password in the database's URL is left out: the driver then asks the environment for it.
    """
    data = {"version": VERSION, **case.model_dump(mode="json"), "task": every_key()}
    if data["search"]["storage"] is not None:
        data["search"]["storage"] = without_passwords(data["search"]["storage"])
    return data


def load_scenario(name_or_path: str | Path, overrides: Sequence[str] = ()) -> CheckedCase:
    """Load a whole checked case.

    ``name_or_path`` is the name of a shipped scenario (``"orchard"``), the path of a scenario's YAML file,
    or the ``config.yaml`` of a run (or its folder). ``overrides`` are typed as on the command line
    (``"engine.friction_load_share=0.08"``). Raises :class:`InputError` with one sentence.
    """
    path = Path(name_or_path)
    if path.is_dir() and (path / "config.yaml").is_file():
        path = path / "config.yaml"
    if path.suffix not in (".yaml", ".yml"):
        return compose_case([f"scenario={name_or_path}", *overrides])
    content = read_yaml(path)
    if "scenario" not in content:
        return compose_case([f"scenario={path}", *overrides])
    refuse_unnamed_sampler(content, overrides, str(path))
    if "defaults" in content:
        return compose_case(overrides, folder=path.resolve().parent, config_name=path.stem)
    parse(path.read_text(encoding="utf-8"), path)  # a run's own: data, nothing in it is resolved
    data = checked(content).model_dump(mode="json")
    if "version" in content:
        for group in ("scenario", "doubt"):
            data[group] = against(data[group], group, path.resolve().parent)
    data["task"] = every_key() | data["task"]  # each can then be overridden
    return compose_case(overrides, config_name=register_run(data))
