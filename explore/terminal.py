"""What a person sees in the terminal during and after a run: plain text as wide as the window."""

from __future__ import annotations

import shutil
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from typing import TextIO

GAP = "  "
LINE_EVERY_S = 60.0
REDRAW_EVERY_S = 0.2


def width() -> int:
    """Columns of the terminal; 80 where there is none."""
    return shutil.get_terminal_size((80, 24)).columns


def clock_text(seconds: float) -> str:
    """Write a time span as ``0:42``, ``12:05`` or ``3:10:00``."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{second:02d}" if hours else f"{minutes}:{second:02d}"


class Progress:
    """A bar with the time left on a terminal; a line a minute where the output goes elsewhere.

    Call :meth:`show` as often as convenient with the share done (0..1, or None if unknown) and the
    figures to name; it decides when to draw.
    """

    def __init__(
        self,
        stream: TextIO | None = None,
        *,
        clock: Callable[[], float] = time.monotonic,
        columns: Callable[[], int] = width,
    ) -> None:
        self._stream = stream if stream is not None else sys.stderr
        self._clock = clock
        self._columns = columns
        self._bar = self._stream.isatty()
        self._start = clock()
        self._next = self._start + (0.0 if self._bar else LINE_EVERY_S)
        self._drawn = False

    def show(self, share: float | None, figures: Sequence[str], *, left_s: float | None = None) -> None:
        """Draw the state if it is time to; ``left_s`` overrules the time left estimated from ``share``."""
        now = self._clock()
        if now < self._next:
            return
        self._next = now + (REDRAW_EVERY_S if self._bar else LINE_EVERY_S)
        elapsed = now - self._start
        if left_s is None and share:
            left_s = elapsed * (1.0 - share) / share
        left = f"{clock_text(left_s)} left" if left_s is not None else f"{clock_text(elapsed)} so far"
        if self._bar:
            self._draw(share, [left, *figures])
        else:
            done = [f"{share:.0%} done"] if share is not None else []
            print(", ".join([*done, left, *figures]), file=self._stream, flush=True)

    def note(self, text: str) -> None:
        """Say in one line what goes on, for instance while tables are built."""
        self.close()
        print(text, file=self._stream, flush=True)

    def close(self) -> None:
        """Remove the bar, so that the next output starts on a clean line."""
        if self._drawn:
            self._stream.write("\r\x1b[K")
            self._stream.flush()
            self._drawn = False

    def _draw(self, share: float | None, words: Sequence[str]) -> None:
        room = max(20, self._columns() - 1)
        line = bar(share, 20) + GAP + GAP.join(words)
        self._stream.write("\r" + line[:room] + "\x1b[K")
        self._stream.flush()
        self._drawn = True


def bar(share: float | None, cells: int) -> str:
    """Draw a bar of ``cells`` characters with the share in per cent."""
    if share is None:
        return "[" + "." * cells + "]"
    filled = round(min(max(share, 0.0), 1.0) * cells)
    return "[" + "#" * filled + "." * (cells - filled) + f"] {share:4.0%}"


def table(rows: Sequence[Sequence[str]], *, columns: int | None = None, left: int = 1) -> str:
    """Lay out rows of cells in aligned columns; the first row is the heading.

    The first ``left`` columns stand left, the others right. Columns that do not fit into the window
    are left out from the right; the first two always stay.
    """
    room = columns if columns is not None else width()
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    count = len(widths)
    while count > 2 and sum(widths[:count]) + len(GAP) * (count - 1) > room:
        count -= 1
    lines = []
    for row in rows:
        cells = [
            cell.ljust(size) if place < left else cell.rjust(size)
            for place, (cell, size) in enumerate(zip(row[:count], widths[:count], strict=True))
        ]
        lines.append(GAP.join(cells).rstrip())
    return "\n".join(lines)


def paragraph(text: str, *, columns: int | None = None, indent: str = "") -> str:
    """Wrap running text to the window."""
    import textwrap

    room = min(columns if columns is not None else width(), 110)
    return textwrap.fill(text, room, initial_indent=indent, subsequent_indent=indent + "  ")


def choices_table(
    designs: Sequence[Mapping[str, str]], headings: Sequence[str], figures: Sequence[tuple[str, str, str]]
) -> str:
    """Set designs side by side: one column each, one line per figure (name, label, unit).

    ``designs`` hold text ready to print, by figure name; what a design lacks is left empty.
    """
    rows = [["", *headings]]
    for name, label, unit in figures:
        cells = [design.get(name, "") for design in designs]
        if any(cells):
            rows.append([f"{label} [{unit}]" if unit else label, *cells])
    return table(rows)
