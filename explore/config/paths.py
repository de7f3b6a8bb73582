"""Paths in configuration files: a relative one is read against the file that names it.

What is typed on the command line stays relative to the working directory.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from explore.config.plain_yaml import parse, read
from explore.errors import InputError

PATHS = {"scenario": ("site", "weather"), "report": ("own",), "doubt": ("weather_years",)}
"""Where paths stand: the group, and the keys within it."""
HELD = ("own/", "years/", "pvlib:")
"""How the files begin that a run holds itself, other than its own weather."""


def is_relative(path: Any) -> bool:
    """Tell whether a value is a path that depends on where it is read."""
    return (
        isinstance(path, str)
        and path != ""
        and not path.startswith(("pvlib:", "~"))
        and not Path(path).is_absolute()
    )


def against(content: Mapping[str, Any], group: str, folder: Path) -> dict[str, Any]:
    """Return the content of a group with its relative paths read against ``folder``."""
    keys = PATHS[group]
    value = _at(content, keys)
    if isinstance(value, list | tuple):
        return _with(content, keys, [_joined(folder, one) for one in value])
    return _with(content, keys, _joined(folder, value)) if is_relative(value) else dict(content)


def anchored(
    config: Mapping[str, Any], folders: Sequence[Path], config_name: str, typed: Iterable[str]
) -> dict[str, Any]:
    """Return a composed configuration with the paths that files of the user's name read against those files.

    ``folders`` are the user's own, which hold ``config_name.yaml`` or files of the groups; ``typed`` are the
    overrides, whose paths are left alone.
    """
    keys_typed = {word.partition("=")[0].lstrip("+~") for word in typed}
    found = dict(config)
    for group, keys in PATHS.items():
        value = _at(found, (group, *keys))
        if not value or ".".join((group, *keys)) in keys_typed:
            continue
        base = next((b for f in folders if (b := _naming(f, config_name, group, value)) is not None), None)
        if base is not None:
            found[group] = against(found[group], group, base)
    return found


def _naming(folder: Path, config_name: str, group: str, value: Any) -> Path | None:
    """Return the folder of the file that gives a path its value.

    Runs of before the version key have no ``defaults`` and no ``version``; their paths were those of the
    working directory.
    """
    whole = _content(folder / f"{config_name.removesuffix('.yaml')}.yaml")
    held = group == "scenario" or all(str(one).startswith(HELD) for one in value)  # within a run
    says_so = "defaults" in whole or (held and "version" in whole)
    if says_so and _at(whole, (group, *PATHS[group])) == value:
        return folder.resolve()
    for file in sorted((folder / group).glob("*.yaml")):
        if _at(_content(file), PATHS[group]) == value:
            return file.resolve().parent
    return None


def _content(file: Path) -> Mapping[str, Any]:
    """Read a file, or nothing where it is no mapping: whoever composes it complains."""
    from yaml import YAMLError

    try:
        content = parse(read(file), file, interpolation=True)
    except (OSError, UnicodeDecodeError, YAMLError, InputError):
        return {}
    return content if isinstance(content, Mapping) else {}


def _joined(folder: Path, path: Any) -> Any:
    return str(folder / path) if is_relative(path) else path


def _at(content: Any, keys: Sequence[str]) -> Any:
    for key in keys:
        if not isinstance(content, Mapping):
            return None
        content = content.get(key)
    return content


def _with(content: Mapping[str, Any], keys: Sequence[str], value: Any) -> dict[str, Any]:
    inner = value if len(keys) == 1 else _with(content[keys[0]], keys[1:], value)
    return {**content, keys[0]: inner}
