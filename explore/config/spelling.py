"""From what a person types to plain overrides of Hydra's."""

from __future__ import annotations

import re
from collections.abc import Iterable
from pathlib import Path

from explore.config.files import read_plain_yaml, read_yaml
from explore.config.fitted import settings
from explore.config.paths import against
from explore.config.tasks import TASK_KEYS
from explore.errors import InputError

OPEN_GROUPS = ("scenario.limits.bounds.", "doubt.bands.", "doubt.correlations.")
OWN_FILES = ("scenario", "engine", "costs", "exchangers")
"""Groups that take a file's path where others take a name."""
ROOM = "scenario.room_volume_m3"
"""The one value of a scenario without a default that stands in for it: it may be typed where a file lacks it."""
FITTED = "fitted"
"""The overlay of what a bench has told (:mod:`explore.config.fitted`)."""
METHOD = "exchangers.method="
"""The one setting of that overlay that a group which is typed beside it says as well: Hydra lets values win over groups."""
NEEDS_QUOTES = re.compile(r"[\s()\[\]{}='\"\\,]")


def spelled_out(overrides: Iterable[str]) -> list[str]:
    """Expand the short forms a person types into plain Hydra overrides.

    ``design=FILE`` means ``task.design=FILE``; a value that is an existing path is quoted where Hydra's
    grammar asks for it; ``scenario=FILE.yaml`` (costs, engine, exchangers too) makes the file a choice; a new bound
    (``scenario.limits.bounds.boiler_area_m2=[null,2]``) and a room that a file lacks need no leading ``+``;
    ``fitted=FILE.yaml`` stands for the values that a bench has told, and comes first: what is typed counts over it.
    """
    typed = list(overrides)
    told = [one for override in typed if (file := _fitted(override)) is not None for one in _told(file)]
    if any(override.partition("=")[0] == "exchangers" for override in typed):
        told = [one for one in told if not one.startswith(METHOD)]
    return [*told, *(_spell(override) for override in typed if _fitted(override) is None)]


def _fitted(override: str) -> str | None:
    key, equals, value = override.partition("=")
    return value if equals and key == FITTED else None


def _told(value: str) -> list[str]:
    path = Path(value)
    if path.suffix.lower() not in (".yaml", ".yml"):
        raise InputError(f"fitted={value[:80]}: the fitted.yaml that task=fit wrote is expected, one file")
    return settings(path, read_plain_yaml(path))


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
