"""Run the checks and show them as a table."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from explore.verify.bench import Bench
from explore.verify.check import Check
from explore.verify.measured import by_machine, in_words
from explore.verify.registry import chosen

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "check",
    "topic",
    "quantity",
    "ours",
    "published",
    "unit",
    "deviation",
    "tolerance",
    "within",
    "source",
    "kind",
    "relative",
    "way",
    "binding",
)
QUANTITY_CELLS, VALUE_CELLS, UNIT_CELLS, SHARE_CELLS, SOURCE_CELLS = 58, 11, 10, 10, 100
OUTSIDE = "  <-- outside"
MEASURED_NAMES = ("predicted", "measured", "unit", "pred/meas", "accuracy")


def run(topics: Iterable[str] | None = None) -> pd.DataFrame:
    """Run every check, or those of some topics.

    Returns one row a check: ``check`` (its id), ``topic``, ``quantity``, ``ours``, ``published``, ``unit``,
    ``deviation`` and ``tolerance`` (shares of the published value where ``relative``, else in the unit), ``within``,
    ``source``, ``kind``, ``way`` (through a property, a component or the whole system) and ``binding`` (False for
    what machines and parts did: shown as it falls). Raises :class:`explore.errors.InputError` for an unknown topic.
    """
    import pandas as pd

    bench = Bench()
    return pd.DataFrame([_row(check, check.ours(bench)) for check in chosen(topics)], columns=list(COLUMNS))


def _row(check: Check, ours: float) -> dict[str, Any]:
    found: dict[str, Any] = {
        "check": check.id,
        "ours": float(ours),
        "deviation": check.deviation(ours),
        "within": check.within(ours),
    }
    same = ("topic", "quantity", "published", "unit", "tolerance", "source", "kind", "relative", "way")
    found |= {name: getattr(check, name) for name in (*same, "binding")}
    return found


def table(frame: pd.DataFrame) -> str:
    """Lay the results of :func:`run` out for a terminal: a block for each topic, then the works quoted."""
    sources = {source: place for place, source in enumerate(dict.fromkeys(frame["source"]), start=1)}
    lines: list[str] = []
    for topic, block in frame.groupby("topic", sort=False):
        heading = _heading(str(topic), binding=bool(block["binding"].any()))
        lines += ["", heading, *(_line(row, sources) for row in block.to_dict("records"))]
    machines = by_machine(frame)
    lines += ["", *machines] if machines else []
    lines += [
        "",
        "Sources",
        *(_source(place, source) for source, place in sources.items()),
        "",
        verdict(frame),
    ]
    return "\n".join(lines[1:])


def verdict(frame: pd.DataFrame) -> str:
    """Say how many published checks there are and how many lie outside, then how far measured machines lie."""
    measured, frame = in_words(frame), frame.loc[frame["binding"].astype(bool)]
    if frame.empty:
        return measured
    outside = frame.loc[~frame["within"].astype(bool), "check"].tolist()
    kinds = ", ".join(f"{count} {kind}" for kind, count in frame["kind"].value_counts().items())
    bad = f"OUTSIDE: {', '.join(outside)}" if outside else "all within tolerance"
    through = int((frame["way"] != "property").sum())
    return (
        f"{len(frame)} checks in {frame['topic'].nunique()} topics ({kinds}), "
        f"{through} of them through plant or system: {bad}.{measured and chr(10)}{measured}"
    )


def _heading(topic: str, *, binding: bool) -> str:
    names = ("ours", "published", "unit", "deviation", "tolerance")
    ours, published, unit, deviation, tolerance = names if binding else MEASURED_NAMES
    return (
        f"{topic.capitalize():{QUANTITY_CELLS}} {ours:>{VALUE_CELLS}} {published:>{VALUE_CELLS}} "
        f"{unit:{UNIT_CELLS}} {deviation:>{SHARE_CELLS}} {tolerance:>{SHARE_CELLS}}  kind, source"
    )


def _line(row: dict[Any, Any], sources: dict[str, int]) -> str:
    words = textwrap.wrap(row["quantity"], QUANTITY_CELLS - 2)
    head = [f"  {part}" for part in words]
    marks = "" if row["within"] else OUTSIDE
    apart = _measure(row["deviation"], row["relative"], sign="+")
    if not row["binding"]:
        apart = f"{row['ours'] / row['published']:.2f}"
    cells = (
        f"{head[-1]:{QUANTITY_CELLS}} {row['ours']:>{VALUE_CELLS}.6g} {row['published']:>{VALUE_CELLS}.6g} "
        f"{row['unit']:{UNIT_CELLS}} {apart:>{SHARE_CELLS}} "
        f"{_measure(row['tolerance'], row['relative']):>{SHARE_CELLS}}  {row['kind']} [{sources[row['source']]}]{marks}"
    )
    return "\n".join([*head[:-1], cells])


def _measure(value: float, relative: bool, sign: str = "") -> str:
    """Write a deviation or a tolerance: per cent where relative, else the bare number in the unit."""
    return f"{100.0 * value:{sign}.3g} %" if relative else f"{value:{sign}.3g}"


def _source(place: int, source: str) -> str:
    label = f"  [{place}] "
    return textwrap.fill(source, SOURCE_CELLS, initial_indent=label, subsequent_indent=" " * len(label))
