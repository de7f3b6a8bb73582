"""Results of designs: a frame of all figures that shows the chief ones with labels and units, and draws them."""

from __future__ import annotations

from typing import Any, ClassVar

import pandas as pd

from explore.config.explain import closest
from explore.design.variables import INPUTS
from explore.errors import InputError, quoted
from explore.figures.format import COLUMNS, label, listed, shown, unit
from explore.tell import narrator

FEW = 6
"""Designs that stand side by side in a notebook's width; more stand one below the other."""
MOST = 20
"""Rows that a notebook shows of a table before it becomes a wall."""
BROKEN = "Limits broken"


class Result(pd.DataFrame):
    """Designs with all their figures: a DataFrame, one row a design, that tells of itself with labels and units.

    ``varied`` are the columns that a sweep varied. Its ``plot`` draws by the names of figures, in place of pandas' own.
    """

    _metadata: ClassVar[list[str]] = ["varied"]
    varied: tuple[str, ...] = ()

    @property
    def _constructor(self) -> type[Result]:
        return Result

    def table(self, *names: str) -> pd.DataFrame:
        """Return figures as text, written as the page writes them, one row a design, each column with label and unit.

        Without ``names``: what was varied, but no input that is the same in a whole sweep, the figures of the
        terminal's table, and which limits are broken.
        Raises :class:`InputError` for a name that is no column.
        """
        wanted = list(names) or self._chief()
        for name in wanted:
            self._refuse_no_column("table", name)
        cells = {
            _heading(name): [shown(str(x), name, with_unit=False) for x in self[name]] for name in wanted
        }
        if not names and "feasible" in self.columns:
            cells[BROKEN] = [narrator.broken_words(broken) or "none" for broken in self.broken()]
        return pd.DataFrame(cells, index=self.index)

    def broken(self) -> list[list[str]]:
        """Return for each design the names of the limits that it breaks, ``violation_*``."""
        margins = self[[name for name in self.columns if str(name).startswith("violation_")]]
        return [[str(name) for name, margin in row.items() if margin > 0.0] for _, row in margins.iterrows()]

    # pandas' own plot is an accessor, which no method can stand in for in the types
    def plot(self, x: str | None = None, y: str | None = None, colour: str | None = None) -> Any:  # type: ignore[override]
        """Draw ``y`` over ``x``, with a line or a colour for each value of ``colour``; returns a plotly figure.

        Without names: work per litre over the first of what was varied, by the second; or over cost, by fluid.
        Raises :class:`InputError` for a name that is no column.
        """
        from explore.tell.chart import chart

        first, second = (*self.varied, None, None)[:2]
        across = x or first or "cost_EUR"
        by = colour or (second if first else "fluid")
        for name in (across, y, by):
            if name is not None:
                self._refuse_no_column("plot", name)
        return chart(self, across, y or "work_per_litre_kJ", by, lines=across in self.varied)

    def _refuse_no_column(self, call: str, name: Any) -> None:
        if not isinstance(name, str):
            raise InputError(f"{call}: a column is named by a text, as 'cost_EUR', not by {quoted(name)}")
        if name not in self.columns:
            raise InputError(f"{call}: no column {quoted(name)}{closest(name, map(str, self.columns))}")

    def _chief(self) -> list[str]:
        names = [*self.varied, *(["pick"] if "pick" in self.columns else [])]
        names += listed("terminal", map(str, self.columns))
        same = [
            name for name in INPUTS if self.varied and name in self and self[name].nunique(dropna=False) <= 1
        ]
        kept = [name for name in dict.fromkeys(names) if name not in same or name in self.varied]
        return [name for name in kept if self[name].notna().any() or name in self.varied]

    def _repr_html_(self) -> str:
        """Show the chief figures: a few designs side by side, many one below the other."""
        table = self.head(MOST).table()
        if len(self) <= FEW:
            table = table.T
        rest = f"; the first {MOST} of {len(self)} designs" if len(self) > MOST else ""
        note = f"{len(self.columns)} columns in all, .table(NAME, ...) shows others{rest}"
        return f"{table.to_html(escape=True)}<p>{note}</p>"


def _heading(name: str) -> str:
    words = label(name) if name in COLUMNS or "." not in name else name
    return f"{words} [{unit(name)}]" if unit(name) else words
