"""One chart of results for a notebook."""

from __future__ import annotations

from typing import TYPE_CHECKING

from explore.figures.format import COLUMNS, label, record, unit

if TYPE_CHECKING:
    import pandas as pd
    import plotly.graph_objects as go


def chart(results: pd.DataFrame, x: str, y: str, colour: str | None, *, lines: bool) -> go.Figure:
    """Draw column ``y`` over ``x``, one trace for each value of ``colour``, as ``lines`` or as marks.

    Shares are drawn in per cent. Designs that break a limit have open marks.
    """
    import plotly.graph_objects as go

    drawn = go.Figure()
    groups = [("", results)] if colour is None else list(results.groupby(colour, sort=True))
    for value, part in groups:
        part = part.sort_values(x) if lines else part
        sound = part["feasible"].astype(bool) if "feasible" in part else [True] * len(part)
        drawn.add_scatter(
            x=_drawn(part[x], x),
            y=_drawn(part[y], y),
            name=f"{value:g}" if isinstance(value, int | float) else str(value),
            mode="lines+markers" if lines else "markers",
            marker={"symbol": ["circle" if good else "circle-open" for good in sound]},
        )
    drawn.update_layout(
        xaxis_title=_title(x),
        yaxis_title=_title(y),
        legend_title=_title(colour) if colour else "",
        template="simple_white",
    )
    if not results.empty and "feasible" in results and not results["feasible"].astype(bool).all():
        drawn.add_annotation(
            text="open marks break a limit",
            showarrow=False,
            xref="paper",
            yref="paper",
            x=1,
            y=1.06,
            xanchor="right",
        )
    return drawn


def _drawn(values: pd.Series, name: str) -> pd.Series:
    """Return a column as it is drawn: shares in per cent, names as they are."""
    return 100.0 * values if record(name).digits == "share" else values


def _title(name: str) -> str:
    words = label(name) if name in COLUMNS or "." not in name else name
    return f"{words} [{unit(name)}]" if unit(name) else words
