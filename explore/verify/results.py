"""Runs the checks and gives their verdict."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from explore.verify.bench import Bench
from explore.verify.check import Check
from explore.verify.measured import in_words
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
