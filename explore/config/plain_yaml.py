"""YAML as plain data, whoever wrote it: no tags, no aliases, no interpolation, bounded in depth and size.

The events of the text are counted before anything is built, so that a small file cannot grow into a large one.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from explore.errors import InputError

MOST_BYTES = 500_000  # the whole configuration of a run has 40 kB
MOST_EVENTS = 10_000  # that of a run has 1,849; with many more, merging and checking them would take seconds
LONGEST = 10_000  # characters of a single value; a description of some pages has fewer
DEEPEST = 24  # the deepest key of the schema stands at 6
REFERENCE = re.compile(r"\$\{[\w.\[\]-]+\}")
"""To another key, by its name. All else that stands so calls a function, which could read the user's environment."""
CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f]")
"""All but tab and line ends: a terminal obeys them."""
SIXTIES = re.compile(r"[-+]?\d+(:[0-5]?\d)+(\.\d*)?")
"""What YAML 1.1 takes for hours and minutes: 8:20 would be 500."""
DEEP = f"is nested deeper than {DEEPEST} levels; plain lines of `key: value` are expected"


def read(path: Path) -> str:
    """Read a YAML file as UTF-8 text, no further than :func:`parse` takes it; raises OSError, UnicodeDecodeError."""
    with path.open(encoding="utf-8") as file:
        return file.read(MOST_BYTES + 1)


def parse(text: str, place: object, *, interpolation: bool = False) -> Any:
    """Return the content of a YAML text as dicts, lists and scalars.

    ``place`` names the file in complaints. A value that asks for interpolation (``${...}``) is refused unless
    ``interpolation``. Raises :class:`InputError` for what is not plain data and ``yaml.YAMLError`` for bad YAML.
    """
    import yaml

    if len(text) > MOST_BYTES:
        raise InputError(f"{place} is larger than {MOST_BYTES // 1000} kB; a configuration is smaller")
    depth = 0
    for count, event in enumerate(yaml.parse(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))):
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise InputError(f"{place}{_line(event)} uses an anchor or alias; write the value out")
        if getattr(event, "tag", None):
            raise InputError(
                f"{place}{_line(event)} uses a tag ({event.tag[:40]}); plain values are expected"
            )
        if isinstance(event, yaml.ScalarEvent):
            _refuse_odd(event, f"{place}{_line(event)}", interpolation)
        depth += isinstance(event, yaml.CollectionStartEvent) - isinstance(event, yaml.CollectionEndEvent)
        if depth > DEEPEST:
            raise InputError(f"{place} {DEEP}")
        if count > MOST_EVENTS:
            raise InputError(f"{place} holds more than {MOST_EVENTS} values; a configuration holds fewer")
    try:
        return yaml.load(text, Loader=_loader())  # safe: a SafeLoader that reads 1e5 as a number
    except ValueError as error:  # a number of thousands of digits, a 31st of February
        raise InputError(f"{place} holds a value that cannot be read: {str(error)[:80]}") from error


def _refuse_odd(event: Any, place: str, interpolation: bool) -> None:
    """Refuse a value that asks for something, commands a terminal, or is another number than it seems."""
    value = event.value
    if len(value) > LONGEST:
        raise InputError(f"{place} holds a value of more than {LONGEST} characters")
    if "${" in (REFERENCE.sub(" ", value) if interpolation else value):
        raise InputError(f"{place} asks for interpolation (${{...}}); write the value out")
    if CONTROL.search(value):
        raise InputError(f"{place} holds a control character; letters, signs and line ends are expected")
    if event.implicit[0] and SIXTIES.fullmatch(value):
        raise InputError(
            f"{place}: {value[:40]} would be read as a number to the base of sixty; write it plainly"
        )


def _loader() -> Any:
    """Return Hydra's own kind of loader, with the fast parser where it is installed."""
    import yaml
    from omegaconf._utils import get_yaml_loader

    plain = get_yaml_loader()
    if not yaml.__with_libyaml__:
        return plain

    def start(loader: Any, stream: str) -> None:
        yaml.cyaml.CParser.__init__(loader, stream)
        yaml.constructor.SafeConstructor.__init__(loader)
        yaml.resolver.Resolver.__init__(loader)

    return type("Loader", (yaml.cyaml.CParser, plain), {"__init__": start})


def _line(event: Any) -> str:
    return f" line {event.start_mark.line + 1}"
