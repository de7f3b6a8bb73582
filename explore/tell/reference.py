"""What may be configured, as text: the reference on the terminal, and files to start from."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import Any

import yaml

from explore.config.doubtful import doubtful, groups
from explore.config.reference import Key, keys
from explore.config.schema import Case
from explore.design.variables import RECORDS, variables
from explore.tell.terminal import paragraph

HEADINGS = {
    "scenario": "scenario: what is asked and where; a file, scenario=FILE.yaml",
    "engine": "engine: coefficients of engine, pump, exchangers, store and pipes; a file, engine=FILE.yaml",
    "exchangers": "exchangers: how boiler and condenser are sized, and their tubes; a file, exchangers=FILE.yaml",
    "costs": "costs: prices; a file, costs=FILE.yaml",
    "search": "search: how long and how hard to search",
    "report": "report: what the page shows",
    "yardsticks": "yardsticks: other ways to the same work, beside a design in task=inspect and task=build",
    "fluid": "fluid: a card, FOLDER/fluid/NAME.yaml with -cd FOLDER; fluids.<file>.<key> changes a shipped one",
    "collector": "collector: a card, FOLDER/collector/NAME.yaml with -cd FOLDER; collectors.<file>.<key>",
    "machine": "machine: a given machine, machine=FILE.yaml of task=machine",
    "gauge": "gauge: a reading to be judged, KEY=VALUE beside task=gauge",
}
WIDTH = 96
"""Of a file: two of them side by side still fit on a screen."""


def keys_text(group: str) -> str:
    """Write every key of a group with default, range, meaning and source."""
    lines = [HEADINGS[group]]
    for key in keys(group):
        default = (
            "must be given" if key.required else f"{written(key.default)}{f' {key.unit}' if key.unit else ''}"
        )
        lines.append(f"  {key.name}: {default}  [{key.may_be}]")
        words = "; ".join(part for part in (key.about, key.source) if part)
        if words:
            lines.append(paragraph(words, indent="      "))
    return "\n".join(lines)


def inputs_text(case: Case) -> str:
    """Write the design variables with the ranges that a search of this case gives them."""
    lines = ["space: design variables; a value pins one, [least,most] or a list of choices narrows it"]
    searched = {one.name: one for one in variables(case.scenario.site.cooling_water_temperature_degC)}
    for record in RECORDS:
        bounds = searched.get(record.name)
        span = (
            f"  [{bounds.low:g} to {bounds.high:g} {bounds.unit.replace('-', '')}]".replace(" ]", "]")
            if bounds
            else ""
        )
        lines.append(f"  space.{record.name}{span}")
        lines.append(paragraph(f"{record.about or record.label}; applies: {record.applies}", indent="      "))
    return "\n".join(lines)


def bands_text(case: Case) -> str:
    """Write the bands of all assumptions that a study of doubt draws, by the groups that move together."""
    items = doubtful(case)
    lines = [
        "doubt: assumptions drawn together by task=doubt; low, likely and high: a tenth lies below low, a tenth above high"
    ]
    for group in groups(items):
        lines.append(f"  {group}")
        lines += [
            f"    doubt.bands.{one.name}: [{one.low:.4g}, {one.high:.4g}], likely {one.likely:.4g}"
            for one in items
            if one.group == group
        ]
    return "\n".join(lines)


def commented(
    group: str, values: dict[str, Any], *, decide: Sequence[str] = (), head: Iterable[str] = ()
) -> str:
    """Write the keys of a group as YAML, each with its meaning, range and source, and what to decide on top.

    ``values`` (flat, by dotted name) replace defaults.
    """
    known = keys(group)
    lines = [f"# {line}" for line in head]
    if decide:
        lines += ["# Decide first:", *(f"#   {name}" for name in decide)]
    depth: list[str] = []
    for key in known:
        *parents, name = key.name.split(".")
        for level, parent in enumerate(parents):
            if depth[: level + 1] != parents[: level + 1]:
                lines.append(f"{'  ' * level}{parent}:")
        depth = parents
        indent = "  " * len(parents)
        lines += _comment(key, indent)
        value = values.get(key.name, key.default)
        lines.append(f"{indent}{name}: {written(value)}")
    return "\n".join(lines) + "\n"


def _comment(key: Key, indent: str) -> list[str]:
    unit = f" [{key.unit}]" if key.unit else ""
    words = "; ".join(part for part in (f"{key.about}{unit}".strip(), key.may_be, key.source) if part)
    return textwrap.wrap(words, WIDTH, initial_indent=f"{indent}# ", subsequent_indent=f"{indent}#   ")


def written(value: Any) -> str:
    """Write a value as YAML on one line."""
    plain = list(value) if isinstance(value, tuple) else value
    text = yaml.safe_dump(plain, default_flow_style=True, width=10_000, sort_keys=False).strip()
    return text.removesuffix("\n...").removesuffix("...").strip()
