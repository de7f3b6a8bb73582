"""From config files and overrides to one checked :class:`~explore.config.schema.Case`.

The files are composed by Hydra. Two nodes are made at run time and named in the defaults list of
``config.yaml``: ``schema_defaults`` (every default of the schema, so that each key exists and can be
overridden) and ``catalogue`` (all fluid and collector cards, keyed by file name). Whatever goes wrong
on the way becomes an :class:`~explore.errors.InputError` of one sentence (:mod:`explore.config.explain`,
:mod:`explore.config.refusals`).
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from explore.config.doubts import Doubt
from explore.config.explain import closest, explained
from explore.config.files import cards, config_folder, plain, read_yaml
from explore.config.owned import Owned
from explore.config.paths import against, anchored
from explore.config.plain_yaml import parse
from explore.config.refusals import VERSION, named_fluids, refuse_newer, refuse_unfit, refuse_unnamed_sampler
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
)
from explore.config.spelling import OWN_FILES, spelled_out
from explore.config.tasks import every_key
from explore.config.urls import without_passwords
from explore.config.use import Use
from explore.config.yardsticks import Yardsticks
from explore.errors import InputError, quoted, shortened

CHANGED_WHOLE = (*OWN_FILES, "search", "report")
"""Groups that a case takes whole in place of its own."""
PAST_RUN = "past_run"
CARDS = {"fluids": "fluid", "collectors": "collector"}


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
    """Make the run-time nodes ``schema_defaults`` and ``catalogue`` known to Hydra, and have it read within bounds."""
    from explore.config.sources import keep, take_ours

    take_ours()
    keep("schema_defaults", schema_defaults())
    keep("catalogue", {key: cards(folders, group) for key, group in CARDS.items()})


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
                raise InputError(
                    f"with_: {quoted(group)} is no group{near}; known are {', '.join(CHANGED_WHOLE)}"
                )
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
        raise InputError(f"with_: {quoted(change)} is no setting; write key=value, or a dict of them")
    from yaml import YAMLError

    try:
        return [(key.strip(), parse(value, Path(key)))]
    except YAMLError as error:
        raise InputError(f"with_: cannot read {quoted(change)} as key=value") from error


def _put(data: dict[str, Any], key: str, value: Any) -> None:
    """Set a dotted name of a nested dict; names that the schema does not know it refuses later."""
    *groups, last = str(key).split(".")
    place = data
    for group in groups:
        inner = place.setdefault(group, {})
        if not isinstance(inner, dict):
            raise InputError(f"unknown key {shortened(key)}: {shortened(group)} is a value and holds no keys")
        place = inner
    known = place.get(last)
    if isinstance(known, dict) and not isinstance(value, Mapping) and key in CHANGED_WHOLE:
        raise InputError(
            f"{key}={quoted(value)}: a whole group is changed by keyword, with_({key}={quoted(value)})"
        )
    place[last] = value


def checked(config: Mapping[str, Any]) -> CheckedCase:
    """Check a composed configuration and return it frozen; raises :class:`InputError`."""
    from pydantic import ValidationError

    if "version" in config:
        refuse_newer(config["version"])
        config = {key: value for key, value in config.items() if key != "version"}
    try:
        case = CheckedCase.model_validate(named_fluids(config))
    except ValidationError as error:
        raise explained(error) from error
    refuse_unfit(case)
    return case


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
    overrides = _typed(name_or_path, overrides)
    path = Path(name_or_path)
    if os.path.isdir(path) and (path / "config.yaml").is_file():
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


def _typed(name_or_path: Any, overrides: Any) -> list[str]:
    """Return what is typed after a scenario's name; raises :class:`InputError` for what is neither name nor words."""
    if not isinstance(name_or_path, str | os.PathLike) or not str(name_or_path):
        raise InputError(
            f"a scenario is named by a text or a path, as 'orchard' or 'mine.yaml', not by {quoted(name_or_path)}"
        )
    listed = isinstance(overrides, Iterable) and not isinstance(overrides, str | bytes | Mapping)
    words = list(overrides) if listed else []
    if not listed or not all(isinstance(word, str) for word in words):
        raise InputError(
            f"load_scenario: what is changed is a list of texts, as ['engine.ring_gap_um=8'], not {quoted(overrides)}"
        )
    return words
