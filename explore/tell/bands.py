"""The band of every assumption: range, shape, group and source, for the page and for task=verify detail=assumptions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from explore.config.doubtful import GROUPS, Doubtful, doubtful, holder
from explore.config.fields import ASSUMED, JUDGEMENT
from explore.tell.terminal import paragraph

if TYPE_CHECKING:
    from explore.config.schema import Case

FACTOR = "multiplies this value of every card of its kind"
CLEAN_GLASS = "share of the light that passes dirty glass, on top of the collector's own"
HEAD = (
    "Assumptions in doubt: a tenth lies below the band, a tenth above, each side of the likely value for itself; what "
    "shares a group moves together. Narrow one that you have measured: task=doubt run=... 'doubt.bands.KEY=[low,high]'"
)
ENDS = ("low", "likely", "high")


@dataclass(frozen=True)
class Band:
    """An assumption in doubt, as written: its key and meaning, ends and likely value, shape and source."""

    group: str
    name: str
    about: str
    low: str
    likely: str
    high: str
    shape: str
    source: str


def bands(case: Case, drawn: Iterable[Mapping[str, Any]] = ()) -> list[Band]:
    """List all that is in doubt in a case, group by group; ``drawn`` says which ends a study had, by name."""
    narrowed = {str(one["name"]): one for one in drawn}
    items = doubtful(case)
    order = list(dict.fromkeys(one.group for one in items))
    listed = sorted(items, key=lambda one: order.index(one.group))
    return [_band(case, one, narrowed.get(one.name)) for one in listed]


def told(case: Case) -> str:
    """Write all bands for the terminal, group by group."""
    found = bands(case)
    lines = [paragraph(HEAD)]
    for group in dict.fromkeys(one.group for one in found):
        lines.append(f"  {group}")
        for one in _of(found, group):
            lines.append(
                f"    {one.name}: {one.low} to {one.high}, likely {one.likely}, {one.shape}; {one.source}"
            )
            lines.append(paragraph(one.about, indent="      "))
    return "\n".join(lines)


def _of(found: Sequence[Band], group: str) -> list[Band]:
    return [one for one in found if one.group == group]


def _band(case: Case, one: Doubtful, drawn: Mapping[str, Any] | None) -> Band:
    about, source = _described(case, one)
    low, likely, high = (float(drawn[key]) if drawn else float(getattr(one, key)) for key in ENDS)
    return Band(one.group, one.name, about, f"{low:.4g}", f"{likely:.4g}", f"{high:.4g}", _shape(one), source)


def _described(case: Case, one: Doubtful) -> tuple[str, str]:
    """Return meaning and source; of a range that nobody published the source is the word judgement."""
    group, key = one.place
    if group not in GROUPS:
        return CLEAN_GLASS if one.name == "clean_glass_factor" else f"{key}: {FACTOR}", JUDGEMENT
    field = type(holder(case, group)).model_fields[key]
    extra = field.json_schema_extra if isinstance(field.json_schema_extra, dict) else {}
    unit, source = str(extra.get("unit", "")), str(extra.get("source", JUDGEMENT))
    about = (field.description or key.replace("_", " ")) + (f" [{unit}]" if unit not in ("", "-") else "")
    judged = source in (ASSUMED, JUDGEMENT)
    return about, JUDGEMENT if judged else f"{source}; range by {JUDGEMENT}"


def _shape(one: Doubtful) -> str:
    if one.edge is None:
        return "normal"
    return "lognormal" if one.edge == 0.0 else f"lognormal from {one.edge:g} on"
