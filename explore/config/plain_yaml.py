"""YAML as plain data, whoever wrote it: no tags, no aliases, no interpolation, bounded in depth and size.

The events of the text are counted before anything is built, so that a small file cannot grow into a large one.
"""

from __future__ import annotations

from typing import Any

from explore.errors import InputError

MOST_BYTES = 4_000_000  # a configuration with hundreds of own cards has some 100 kB
MOST_EVENTS = 200_000
DEEPEST = 24  # the deepest key of the schema stands at 6
DEEP = f"is nested deeper than {DEEPEST} levels; plain lines of `key: value` are expected"


def parse(text: str, place: object, *, interpolation: bool = False) -> Any:
    """Return the content of a YAML text as dicts, lists and scalars.

    ``place`` names the file in complaints. A value that asks for interpolation (``${...}``) is refused unless
    ``interpolation``. Raises :class:`InputError` for what is not plain data and ``yaml.YAMLError`` for bad YAML.
    """
    import yaml
    from omegaconf._utils import get_yaml_loader

    if len(text) > MOST_BYTES:
        raise InputError(f"{place} is larger than {MOST_BYTES // 1_000_000} MB; a configuration is smaller")
    depth = 0
    for count, event in enumerate(yaml.parse(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))):
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise InputError(f"{place}{_line(event)} uses an anchor or alias; write the value out")
        if getattr(event, "tag", None):
            raise InputError(
                f"{place}{_line(event)} uses a tag ({event.tag[:40]}); plain values are expected"
            )
        if not interpolation and "${" in getattr(event, "value", ""):
            raise InputError(f"{place}{_line(event)} asks for interpolation (${{...}}); write the value out")
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > DEEPEST:
            raise InputError(f"{place} {DEEP}")
        if count > MOST_EVENTS:
            raise InputError(f"{place} holds more than {MOST_EVENTS} values; a configuration holds fewer")
    return yaml.load(text, Loader=get_yaml_loader())  # safe: a SafeLoader that reads 1e5 as a number


def _line(event: Any) -> str:
    return f" line {event.start_mark.line + 1}"
