"""Reads the files of a run folder; nothing here computes physics or imports a model.

What a run folder holds, and what of it the page needs (everything else is ignored):

``config.yaml``
    The complete configuration, as :class:`explore.config.schema.Case` accepts it.
``front.csv``
    One line per non-dominated feasible design, columns named with their units. The page calls a
    design by its line: design 1 is the first line after the header (``task=inspect row=1``).
``designs.csv``
    The evaluated designs, same columns; an empty cell is a figure that does not apply.
``fluids.csv`` (optional columns, see :mod:`explore.tell.page.fluids`)
    One line per fluid: ``fluid``, and ``work_per_litre_kJ_under_<ceiling>_bar_g`` for each ceiling.
``layouts.csv`` (optional)
    One line per layout, best work first: ``layout``, ``evaluated``, ``feasible``, ``on_front``, ``work_per_litre_kJ``,
    ``cost_EUR``, ``peak_pressure_bar_g``, ``least_cost_EUR``, ``work_behind_kJ``, ``cost_behind_EUR``.
``summary.json``
    A mapping. Used where present: ``created_utc``, ``command`` (the words typed), ``seed``, ``seconds``,
    ``designs_evaluated``, ``designs_feasible``, ``hypervolume``, ``hypervolume_last_tenth_gain``,
    ``hypervolume_history`` and ``random_hypervolume_history`` (lists of ``[evaluations, hypervolume]``),
    ``designs_per_fluid`` ``{fluid: count}``, ``lost_to`` and ``lost_to_this_alone`` ``{violation column: designs}``,
    ``broken_with_tubes`` ``{line of front.csv: [violation columns]}``, limits that break with exchangers made of tubes,
    ``versions`` ``{name: version}``, ``hashes`` ``{file: digest}``, ``air_pressure_bar_a``, ``cautions`` (sentences
    that hold for every design), ``layouts_compared`` (a sentence), ``refinement`` (``{"gains": [share]}``) and
    ``picks``: ``[{"row", "cautions"}]`` with ``row`` a line of front.csv (from 1), only needed where sheets.json has
    no cautions for that line.
``sheets.json`` (optional)
    What the design sheets draw. ``{"domes": {fluid: dome}, "designs": {"<line of front.csv>": sheet}}``.

    dome: ``T_degC``, ``s_liquid_kJ_per_kgK``, ``s_vapour_kJ_per_kgK``: equally long arrays, coldest first, ending at the
    critical point, where the lines meet; those of a mixture end below it and are left open.

    sheet, every key optional; arrays short (a few tens of numbers, five digits):

    - ``states``: ``[{"name", "place", "p_bar_a", "T_degC", "h_kJ_per_kg", "s_kJ_per_kgK", "quality", "at"}]`` in flow
      order from the condenser outlet; ``quality`` null unless two-phase. ``name`` is for the reader; ``place``, by
      which the drawings find a state, is one of ``condenser outlet``, ``feed pump outlet``,
      ``regenerator liquid outlet``, ``boiler N outlet``, ``stage N inlet``, ``stage N outlet``,
      ``regenerator vapour outlet`` (N from 1; boiler 1 is the hottest); for a mixture also ``boiler 1, bubble point``,
      ``boiler 1, dew point`` and the same two of ``condenser``.
    - ``boilers`` (hottest first) and ``condenser``: curves, each ``{"q_kJ_per_kg", "fluid_T_degC",
      "fluid_s_kJ_per_kgK", "water_T_degC"}``: heat counted from the cold end, per kg of total fluid flow.
    - ``indicator``: one per stage ``{"V_L": [...], "p_bar_a": [...]}``, a closed loop starting at the admission.
    - ``exergy``: ``{"supplied_kJ_per_kg", "work_kJ_per_kg", "accounts": [{"component", "destroyed_kJ_per_kg"}]}``.
    - ``sunlight``: the same from the sunlight on, for one full store: ``{"sunlight_kJ_per_L", "work_kJ_per_L",
      "rejected_kJ_per_L", "destroyed": [{"component", "destroyed_kJ_per_L"}]}`` per litre of hot water.
    - ``bill``: ``[{"line", "quantity", "unit", "cost_EUR"}]``; without it the ``cost_<line>_EUR`` columns serve.
    - ``served``: 12 rows (January first) of 24 shares 0..1, null in hours without demand.
    - ``hazards``: ``{"standstill_pressure_bar_g", "standstill_pressure_worst_bar_g" (bottled gas only),
      "fault_pressure_bar_g", "design_pressure_bar_g", "relief_setting_bar_g", "test_pressure_bar_g",
      "relief_capacity_kg_per_s", "walls": [{"part", "material", "wall_mm"}]}``.
    - ``cautions``: list of sentences for this very design.
``told.json`` (optional)
    What is told of each design that the page carries, :mod:`explore.run.told`: ``kept``, lines of designs.csv (from 1) that
    are best of what is left when others are not wanted, and for the lines of front.csv and then for those the cautions,
    walls and relief setting. One that speaks of other tables counts as none.
``checks.json`` (optional)
    The outside checks of the model, a list of ``{"check", "topic", "quantity", "ours", "published", "unit",
    "deviation", "tolerance", "within", "source", "kind", "relative", "binding"}``; ``deviation`` and ``tolerance`` are
    shares of the published value where ``relative``, else in the unit; ``binding`` (true where missing) is false for
    what machines and parts did, which is shown as predicted over measured.
``doubt.json`` (optional)
    What task=doubt found, as :class:`explore.run.reader.Doubt` has it.
``own.csv`` (optional)
    The reader's own designs, evaluated: columns as front.csv and a first column ``name``.

A caution is a sentence, or ``{"text": sentence, "level": a value of :class:`Severity`, "topic": a few words}``.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explore.config.files import MOST_TABLE
from explore.config.goals import sought
from explore.config.schema import Case
from explore.errors import InputError
from explore.figures.format import unit
from explore.run.reader import guard, read_case, read_checks, read_doubt, read_sheets, read_summary, read_told


@dataclass(frozen=True)
class Table:
    """A CSV file as text: the cells as written, so that what is shown can equal what is on disk."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] = ()

    def __len__(self) -> int:
        return len(self.rows)

    @cached_property
    def _columns(self) -> dict[str, tuple[str, ...]]:
        """Cells by column, turned once: a page asks for hundreds of columns. Of two of one name the first counts."""
        cells = zip(*self.rows, strict=True) if self.rows else ((),) * len(self.header)
        return dict(reversed(list(zip(self.header, cells, strict=True))))

    def text(self, name: str) -> list[str]:
        """Cells of column ``name`` as written; empty strings if there is no such column."""
        found = self._columns.get(name)
        return [""] * len(self.rows) if found is None else list(found)

    def numbers(self, name: str) -> NDArray[np.float64]:
        """Column ``name`` as floats (n,), NaN where empty, not a number, or no such column."""
        return np.array([number(cell) for cell in self.text(name)], dtype=float)

    def row(self, index: int) -> dict[str, str]:
        """Line ``index`` (from 0) as a mapping of column to cell."""
        return dict(zip(self.header, self.rows[index], strict=True))

    def take(self, indices: Iterable[int]) -> Table:
        """Return the lines ``indices`` (from 0), in that order."""
        return Table(self.header, tuple(self.rows[i] for i in indices))

    def to_csv(self) -> str:
        """Write the lines as CSV text with a header and newline ends."""
        out = io.StringIO()
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(self.header)
        writer.writerows(self.rows)
        return out.getvalue()


@dataclass(frozen=True)
class Run:
    """Everything the page knows of one run."""

    folder: Path
    case: Case
    front: Table
    designs: Table
    fluids: Table
    summary: Mapping[str, Any]
    sheets: Mapping[str, Any] = field(default_factory=dict)
    own: Table = field(default_factory=lambda: Table(()))
    checks: tuple[Mapping[str, Any], ...] = ()
    layouts: Table = field(default_factory=lambda: Table(()))
    doubt: Mapping[str, Any] = field(default_factory=dict)
    kept: Table = field(default_factory=lambda: Table(()))
    kept_lines: tuple[int, ...] = ()
    told: Mapping[str, Any] = field(default_factory=dict)

    def whole(self, place: int) -> dict[str, str]:
        """Return the design at ``place`` from 0: the lines of the front, then those kept beside it."""
        count = len(self.front)
        return self.front.row(place) if place < count else self.kept.row(place - count)


def number(cell: str) -> float:
    """Return the cell as a float, NaN where it is empty or no number."""
    try:
        return float(cell)
    except ValueError:
        return float("nan")


def read_run(folder: Path) -> Run:
    """Read a run folder.

    Raises :class:`InputError` when the folder or a file the page cannot do without is missing or broken.
    """
    if not folder.is_dir():
        raise InputError(f"run folder {folder} does not exist; give the folder that a search has written")
    guard(folder)
    front = read_table(folder / "front.csv", finite=True)
    if "fluid" not in front.header:
        raise InputError(
            f"{folder / 'front.csv'} has no column 'fluid'; the page needs the front that a search writes"
        )
    # What a stranger may have written comes first: nothing is told of tables before it is known to be plain data.
    case, summary, checks, doubt = (
        read_case(folder),
        read_summary(folder),
        read_checks(folder),
        read_doubt(folder),
    )
    sheets = read_sheets(folder) if (folder / "sheets.json").exists() else {}
    designs, told = read_table(folder / "designs.csv", finite=True), read_told(folder)
    lines = tuple(line for line in told.get("kept", ()) if 1 <= line <= len(designs))
    if told and len(told.get("designs", ())) != len(front) + len(lines):
        raise InputError(
            f"{folder / 'told.json'} does not speak of each design; the run may have been cut short"
        )
    return Run(
        folder=folder,
        case=sought(case),
        front=front,
        designs=designs,
        kept=same_columns(designs, front.header, [line - 1 for line in lines]),
        kept_lines=lines,
        told=told,
        fluids=read_table(folder / "fluids.csv"),
        layouts=read_table(folder / "layouts.csv") if (folder / "layouts.csv").exists() else Table(()),
        summary=summary,
        sheets=sheets,
        own=read_table(folder / "own.csv") if (folder / "own.csv").exists() else Table(()),
        checks=checks,
        doubt=doubt,
    )


def same_columns(table: Table, header: tuple[str, ...], indices: Iterable[int]) -> Table:
    """Return lines of a table under the columns of another, empty cells where it has none."""
    chosen = table.take(indices)
    columns = [chosen.text(name) for name in header]
    return Table(header, tuple(zip(*columns, strict=True)) if len(chosen) else ())


def fluid_title(run: Run, name: str) -> str:
    """Return the builder's name of a fluid, its CoolProp name when it has no card."""
    return next((card.title for card in run.case.fluids.values() if card.name == name), name)


ENDLESS = re.compile(
    r"(?:^|,)([+-]?(?:inf|infinity|\d*\.?\d*e\+?\d{3,}))\s*(?=,|$)", re.IGNORECASE | re.MULTILINE
)
"""A cell without end, or so large that no plant has it: no run is written with one."""
LONG_EXPONENT = re.compile(r"e\+?\d\d\d")


def _seems_endless(text: str) -> bool:
    """Tell whether a text holds what each endless cell does: of 9 MB that is known in a thirtieth of the time."""
    small = text.lower()
    return "inf" in small or LONG_EXPONENT.search(small) is not None


def read_table(path: Path, *, finite: bool = False) -> Table:
    """Read a CSV file with a header; a line of another length is an error.

    If all are to be ``finite``, so are an endless number and a word where a column has a unit.
    """
    text = _read_text(path)
    if finite and _seems_endless(text) and (endless := ENDLESS.search(text)):
        line = text.count("\n", 0, endless.start(1)) + 1
        raise InputError(f"{path} line {line} has {endless[1][:20]} in a cell; a finite number is expected")
    lines = list(csv.reader(io.StringIO(text, newline="")))
    if not lines:
        raise InputError(f"{path} is empty; a header line with column names is expected")
    header, rows = tuple(lines[0]), tuple(tuple(line) for line in lines[1:] if line)
    for count, row in enumerate(rows, start=2):
        if len(row) != len(header):
            raise InputError(f"{path} line {count} has {len(row)} cells; the header has {len(header)}")
    if finite:
        _refuse_words(path, header, rows)
    return Table(header, rows)


def _refuse_words(path: Path, header: tuple[str, ...], rows: tuple[tuple[str, ...], ...]) -> None:
    """Raise :class:`InputError` for a cell that is neither empty nor a number, in a column that has a unit."""
    for name, cells in zip(header, zip(*rows, strict=True), strict=False):
        if not unit(name):
            continue
        try:
            np.array([cell or "nan" for cell in cells], dtype=float)
        except ValueError:
            for count, cell in enumerate(cells, start=2):
                if cell and np.isnan(number(cell)) and cell.lower() != "nan":
                    said = f"{path} line {count} has {cell[:20]!r} as {name}; a number is expected"
                    raise InputError(said) from None


def _read_text(path: Path) -> str:
    try:
        with path.open(encoding="utf-8") as file:
            text = file.read(MOST_TABLE + 1)
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path} cannot be read ({error}); a run folder holds it as UTF-8 text") from error
    if len(text) > MOST_TABLE:
        raise InputError(f"{path} is larger than {MOST_TABLE // 1_000_000} MB; a run holds no such table")
    return text
