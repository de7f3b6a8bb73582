"""One clear sentence for whatever Hydra, OmegaConf, YAML or the schema find wrong with a configuration."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from explore.errors import InputError, as_many_as_fit, quoted, shortened

if TYPE_CHECKING:
    from pydantic import ValidationError
    from pydantic.fields import FieldInfo


def closest(given: str, known: Iterable[str]) -> str:
    """Return ``; did you mean X?`` for the known name nearest to ``given``, or nothing."""
    known = list(dict.fromkeys(known))
    tail = given.rpartition(".")[2]
    inside = [name for name in known if name.startswith(given) and name != given]
    same_tail = [name for name in known if name.rpartition(".")[2] == tail and name != given]
    near = same_tail or inside or difflib.get_close_matches(given, known, n=1, cutoff=0.6)
    if not near:
        tails = {name.rpartition(".")[2]: name for name in known}
        near = [tails[name] for name in difflib.get_close_matches(tail, tails, n=1, cutoff=0.75)]
    return f"; did you mean {min(near, key=len)}?" if near else ""


def explained(error: Exception, keys: Callable[[], list[str]] = list) -> InputError:
    """Turn any error of composing or checking into an :class:`InputError`; ``keys`` lists known keys."""
    from hydra.errors import HydraException, MissingConfigException, OverrideParseException
    from omegaconf.errors import OmegaConfBaseException
    from pydantic import ValidationError
    from yaml import YAMLError

    if isinstance(error, InputError):
        return error
    if isinstance(error, ValidationError):
        return InputError(schema_problem(error))
    if isinstance(error, YAMLError):
        return InputError(yaml_problem(error))
    if isinstance(error, MissingConfigException):
        return InputError(_no_such_choice(error))
    if isinstance(error, OverrideParseException):
        return InputError(_unreadable_override(error.override))
    if re.match(r"Config group override must be", str(error)):
        return InputError(
            "a group takes the name of one of its files, as in engine=careful; null or a number is none"
        )
    if isinstance(error, HydraException | OmegaConfBaseException | ValueError | OSError | TypeError):
        return InputError(_bad_key(error, keys))
    raise error


def _no_such_choice(error: Any) -> str:
    missing = str(error.missing_cfg_file or "")
    group, _, choice = missing.rpartition("/") if missing.startswith("hydra/") else missing.partition("/")
    if error.options:
        options = [name for name in error.options if not name.startswith("own_")]
        return f"{group}={shortened(choice)}: no such choice{closest(choice, options)}; there are {', '.join(options)}"
    return _one_line(str(error))


def _unreadable_override(override: str) -> str:
    if "=" not in override.strip("=~"):
        return f"{quoted(override)} is no setting: write key=value, for instance scenario=orchard (see explore --help)"
    key, _, value = override.partition("=")
    what = "letters beyond a to z" if re.search(r"[^\x00-\x7f]", value) else ""
    what = "brackets or blanks" if re.search(r"[(){}\s]", value) else what
    hint = (
        f"; text with {what} needs quotes of its own: {key}='\"A(B)\"' or {key}='[\"A(B)\"]'" if what else ""
    )
    return f"cannot read {quoted(override)} as {shortened(key)}=value{hint}"


def _bad_key(error: BaseException, keys: Callable[[], list[str]]) -> str:
    from omegaconf.errors import ConfigAttributeError, ConfigKeyError, InterpolationResolutionError

    cause = error.__cause__ if error.__cause__ is not None else error
    named = re.match(r"Could not override '([^']+)'", str(error))
    if str(error).startswith("Error merging override"):
        return f"{str(error).split()[-1]}: {_one_line(str(cause))}"
    if str(error).startswith("Ambiguous value for argument"):
        return f"{shortened(str(error).split(chr(39))[1])}: several values at once are a sweep; put -m before them"
    if isinstance(cause, InterpolationResolutionError):
        return f"{cause.full_key}: {_one_line(str(cause))}"
    if named or isinstance(cause, ConfigAttributeError | ConfigKeyError):
        key = getattr(cause, "full_key", None) or (named.group(1) if named else "")
        return f"unknown key {shortened(key)}{closest(key, keys())}"
    if str(error).startswith("Exceeds the limit"):  # Python's words for a whole number that it does not read
        return "a value is a whole number of thousands of digits; no key takes one"
    if isinstance(error, OSError) and error.filename:  # a name too long for a file, of a group or of a key
        return f"{shortened(Path(error.filename).stem)}: {error.strerror}"
    return _one_line(str(error) or str(cause))


def _one_line(text: str) -> str:
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    return lines[0].rstrip(".") if lines else "the configuration cannot be composed"


def yaml_problem(error: Any, path: Path | None = None) -> str:
    """Say in one sentence where a YAML file is broken."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    where = str(path) if path else str(getattr(mark, "name", "a config file"))
    line = f", line {mark.line + 1}" if mark else ""
    problem = getattr(error, "problem", None) or _one_line(str(error))
    return f"{where}{line}: not valid YAML: {_one_line(problem)}"


def schema_problem(error: ValidationError) -> str:
    """Say the first problem the schema found, with key, value and what would be right.

    An unknown key comes first: it explains the key that is then missing.
    """
    from explore.config.schema import Case

    return problem_of(error, Case)


def problem_of(error: ValidationError, root: type[Any]) -> str:
    """Say the same of what the schema of another file, ``root``, found; keys that are missing are all named."""
    problems = sorted(error.errors(), key=lambda problem: problem["type"] != "extra_forbidden")
    missing = [one for one in problems if one["type"] == "missing" and not isinstance(one["loc"][-1], int)]
    if len(missing) > 1 and problems[0]["type"] != "extra_forbidden":
        told, sentence = len(missing), _all_missing(missing, root)
    else:
        told, sentence = 1, _schema_sentence(problems[0], root)
    rest = len(problems) - told
    return sentence + (f" (and {rest} more)" if rest else "")


def _all_missing(problems: Sequence[Any], root: type[Any]) -> str:
    """Name all keys of a file that are missing, and how one with every key is got."""
    from explore.config.schema import Case
    from explore.config.tasks import STARTED

    names = [".".join(_shown(one["loc"])) for one in problems]
    group = names[0].partition(".")[0].removesuffix("s") if root is Case else "machine"
    hint = (
        f"; explore task=new what={group} file=NAME.yaml writes a file with every key"
        if group in STARTED
        else ""
    )
    place = names[0].rpartition(".")[0] + "."
    if all(name.startswith(place) for name in names):
        within = as_many_as_fit(name.removeprefix(place) for name in names)
        return f"{place[:-1]}: {within} are missing{hint}".removeprefix(": ")
    return f"{as_many_as_fit(names)} are missing{hint}"


def _schema_sentence(problem: Any, root: type[Any]) -> str:
    key = ".".join(_shown(problem["loc"]))
    kind = problem["type"]
    if kind == "extra_forbidden":
        elsewhere = [name for name in _keys(root) if name.rpartition(".")[2] == key.rpartition(".")[2]]
        known = (
            elsewhere if len(elsewhere) == 1 else _siblings(problem["loc"], root)
        )  # a key of another group
        return f"unknown key {shortened(key)}{closest(key, known)}"
    if kind == "missing" and isinstance(problem["loc"][-1], int):
        least = problem["loc"][-1] + 1
        return f"{key.rpartition('.')[0]}={quoted(problem['input'])}: it must be a list of {least} values or more"
    if kind == "missing":
        return f"{key} is missing: {_meaning(problem['loc'], root) or 'a value is needed'}"
    if kind == "value_error":
        parent, _, name = key.rpartition(".")
        reason = str(problem["ctx"]["error"])
        if reason.startswith(name):
            return f"{parent}.{reason}".lstrip(".")
        return f"{key}: {reason}".lstrip(": ")
    meaning = _meaning(problem["loc"], root)
    return f"{key}={quoted(problem['input'])}: {_rule(problem['msg'])}" + (f" ({meaning})" if meaning else "")


def _shown(loc: tuple[Any, ...]) -> list[str]:
    """Return the parts of a key as one writes it, without the schema's own marks of a choice among types."""
    from explore.config.tasks import TASKS

    parts = [str(part) for part in loc if not str(part).startswith("constrained-")]
    return parts[:1] + parts[2:] if parts[:1] == ["task"] and parts[1:2] and parts[1] in TASKS else parts


def _rule(message: str) -> str:
    """Put the schema's message into the words of a config file."""
    rule = message.partition(", unable to parse")[0]
    words = {
        "Input should": "it must",
        "Tuple should": "the list must",
        "valid tuple": "list",
        " after validation": "",
        "valid dictionary": "group of keys",
        "valid number": "number",
        "valid string": "text",
        "valid integer": "whole number",
        "valid boolean": "true or false",
        "String should": "it must",
        "Dictionary should": "the group must",
        " or instance of ": " ",
    }
    for before, after in words.items():
        rule = rule.replace(before, after)
    return (
        re.sub(r"(group of keys) \w+$", r"\1", rule).replace("be a text", "be text").replace("a true", "true")
    )


def _siblings(loc: tuple[Any, ...], root: type[Any]) -> list[str]:
    fields = _fields(loc[:-1], root)
    prefix = "".join(f"{part}." for part in _shown(loc[:-1]))
    return [prefix + name for name in fields]


def _keys(root: type[Any], prefix: str = "") -> list[str]:
    """Return every key of a schema, groups within groups joined by dots; lists, dicts and choices are not opened."""
    from explore.config.schema import Checked

    found: list[str] = []
    for name, field in root.model_fields.items():
        kind = field.annotation
        inside = isinstance(kind, type) and issubclass(kind, Checked)
        found += _keys(kind, f"{prefix}{name}.") if inside else [prefix + name]
    return found


def _meaning(loc: tuple[Any, ...], root: type[Any]) -> str:
    field = _fields(loc[:-1], root).get(str(loc[-1])) if loc else None
    if field is None:
        return ""
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    unit = f" [{extra['unit']}]" if extra.get("unit") not in (None, "-") else ""
    return f"{field.description or ''}{unit}".strip()


def _fields(loc: tuple[Any, ...], root: type[Any]) -> dict[str, FieldInfo]:
    """Return the fields of the group at ``loc`` of a schema; steps into lists and dicts keep their item type."""
    from explore.config.schema import Checked
    from explore.config.tasks import TASKS, Task

    model: type[Checked] | None = root
    for part in loc:
        if model is not None and issubclass(model, Task) and part in TASKS:
            model = TASKS[part]
        elif model is not None and str(part) in model.model_fields:
            model = _group_of(model.model_fields[str(part)].annotation)
    return dict(model.model_fields) if model is not None else {}


def _group_of(annotation: Any) -> Any:
    from explore.config.schema import Checked

    if isinstance(annotation, type) and issubclass(annotation, Checked):
        return annotation
    inner = [_group_of(argument) for argument in get_args(annotation)]
    return next((group for group in inner if group is not None), None)
