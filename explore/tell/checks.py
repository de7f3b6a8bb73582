"""The checks of the model, and what each of its constants moves, laid out for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from explore.tell.terminal import paragraph, table
from explore.verify import verdict
from explore.verify.influence import DESIGNS, MAIN, STEP
from explore.verify.measured import statistics

if TYPE_CHECKING:
    import pandas as pd

OUTSIDE = "<-- outside"
PUBLISHED_NAMES = ("ours", "published", "deviation", "tolerance")
MEASURED_NAMES = ("predicted", "measured", "pred/meas", "accuracy")


def checks_text(frame: pd.DataFrame) -> str:
    """Show the results of :func:`explore.verify.run`: a block for each topic, then the works quoted."""
    sources = {source: place for place, source in enumerate(dict.fromkeys(frame["source"]), start=1)}
    quoted = [paragraph(f"[{place}] {source}", indent="  ") for source, place in sources.items()]
    blocks = [_topic(str(topic), block, sources) for topic, block in frame.groupby("topic", sort=False)]
    parts = [*blocks, by_machine(frame), "\n".join(["Sources", *quoted]), verdict(frame)]
    return "\n\n".join(part for part in parts if part)


def _topic(topic: str, block: pd.DataFrame, sources: Mapping[str, int]) -> str:
    names = PUBLISHED_NAMES if block["binding"].any() else MEASURED_NAMES
    marks = [] if block["within"].all() else [""]
    rows = [[topic.capitalize(), *names, *marks, "kind, source"]]
    rows += [_cells(row, sources[row["source"]], marked=bool(marks)) for row in block.to_dict("records")]
    return table(rows, whole=True)


def _cells(row: Mapping[Any, Any], source: int, *, marked: bool) -> list[str]:
    if row["binding"]:
        apart = _measure(row["deviation"], row["relative"], sign="+")
    else:
        apart = f"{row['ours'] / row['published']:.2f}"
    return [
        f"  {row['quantity']} [{row['unit']}]",
        f"{row['ours']:.6g}",
        f"{row['published']:.6g}",
        apart,
        _measure(row["tolerance"], row["relative"]),
        *(["" if row["within"] else OUTSIDE] if marked else []),
        f"{row['kind']} [{source}]",
    ]


def _measure(value: float, relative: bool, sign: str = "") -> str:
    """Write a deviation or a tolerance: per cent where relative, else the bare number in the unit."""
    return f"{100.0 * value:{sign}.3g} %" if relative else f"{value:{sign}.3g}"


def by_machine(frame: pd.DataFrame) -> str:
    """Show :func:`explore.verify.measured.statistics`, a line a machine or part; nothing without rows that count."""
    rows = [
        [
            f"  {row['machine']!s:5} {row['topic']}",
            str(row["rows"]),
            *(f"{row[name]:.2f}" for name in ("mean", "low", "high")),
            f"{100 * row['error']:.1f} %",
        ]
        for row in statistics(frame).to_dict("records")
    ]
    heading = ["Predicted over measured", "rows", "mean", "low", "high", "mean error"]
    return table([heading, *rows], whole=True) if rows else ""


def influence_text(frame: pd.DataFrame, step: float = STEP) -> str:
    """Show the results of :func:`explore.verify.influence`, changes in per cent."""
    rows = [["constant", "value", *MAIN.values(), "moved", "moves most"]]
    for row in frame.to_dict("records"):
        most = f"{row['most_moved']} {row['most_percent']:+.2f}" if row["most_moved"] else "nothing"
        value = f"{row['value']:g} {row['unit']}".removesuffix(" -")
        cells = [value, *(f"{row[name]:+.3f}" for name in MAIN)]
        rows.append([row["constant"], *cells, str(len(row["moved"].split())), most])
    about = [
        f"Change of results [%] when a constant grows by {100.0 * step:g} %: the largest over {len(DESIGNS)} designs, "
        "half of them on stratified and half on fully mixed stores",
        "moved: how many reported figures change at all; moves most: the one that changes most, and by how many per cent",
    ]
    return "\n".join([*map(paragraph, about), "", table(rows, whole=True)])
