"""What bench tests have told of an engine: an overlay that any command takes, ``fitted=FILE.yaml``.

The file is data: plain YAML with coefficients of the engine and of exchangers made of tubes, and the bands that are left
of them, nothing else. It becomes settings of single values, so that what is typed beside it counts over it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from explore.config.engine import Engine
from explore.config.explain import closest
from explore.errors import InputError, is_number, quoted

GROUPS = ("engine", "exchangers", "doubt")
TUBES = ("method", "tube_films_factor")
"""What a bench tells of exchangers: one factor on films of tubes, and that they are made of them."""
WORD = re.compile(r"[a-z_]{1,20}")
"""A setting of the engine that is chosen by a word, as the schema spells them."""


def settings(path: Path, content: Mapping[str, Any]) -> list[str]:
    """Return the content of the file of ``fitted=FILE.yaml`` as settings that Hydra composes.

    Raises :class:`InputError` with one sentence for a file that holds anything else than coefficients and bands.
    """
    for group in content:
        if group not in GROUPS:
            raise InputError(
                f"{path}: {group[:60]} is not known{closest(group, GROUPS)}; it holds engine, exchangers and doubt.bands"
            )
    engine, doubt = _mapping(path, content, "engine"), _mapping(path, content, "doubt")
    tubes = _mapping(path, content, "exchangers")
    for name in doubt:
        if name != "bands":
            raise InputError(f"{path}: doubt.{name[:60]} is not known, it holds doubt.bands")
    bands = _mapping(path, doubt, "bands")
    return [
        *(f"engine.{_known(path, name)}={_value(path, 'engine', name, one)}" for name, one in engine.items()),
        *(
            f"exchangers.{_of_tubes(path, name)}={_value(path, 'exchangers', name, one)}"
            for name, one in tubes.items()
        ),
        *(f"++doubt.bands.{_doubtful(path, name)}={_band(path, name, one)}" for name, one in bands.items()),
    ]


def _mapping(path: Path, content: Mapping[str, Any], key: str) -> dict[str, Any]:
    found = content.get(key, {})
    if not isinstance(found, Mapping):
        raise InputError(f"{path}: {key}: lines of `key: value` are expected")
    return {str(name): value for name, value in found.items()}


def _known(path: Path, name: str) -> str:
    if name not in Engine.model_fields:
        raise InputError(f"{path}: the engine has no {name[:60]}{closest(name, Engine.model_fields)}")
    return name


def _of_tubes(path: Path, name: str) -> str:
    if name not in TUBES:
        raise InputError(
            f"{path}: exchangers.{name[:60]} is nothing that a bench tells{closest(name, TUBES)}; it holds "
            f"{' and '.join(TUBES)}"
        )
    return name


def _doubtful(path: Path, name: str) -> str:
    return name if name in TUBES[1:] else _known(path, name)


def _value(path: Path, group: str, name: str, value: Any) -> str:
    if isinstance(value, str) and WORD.fullmatch(value):
        return value
    return _number(path, f"{group}.{name}", value)


def _number(path: Path, name: str, value: Any) -> str:
    if not is_number(value):
        raise InputError(f"{path}: {name} is {quoted(str(value))}; a number is expected")
    return repr(float(value))


def _band(path: Path, name: str, value: Any) -> str:
    if not isinstance(value, list) or len(value) != 2:
        raise InputError(f"{path}: doubt.bands.{name} must be two numbers, [low, high]")
    return f"[{','.join(_number(path, f'doubt.bands.{name}', one) for one in value)}]"
