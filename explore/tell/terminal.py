"""What a person sees in the terminal during and after a run: plain text as wide as the window."""

from __future__ import annotations

import os
import re
import shutil
import sys
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from typing import TextIO

GAP = "  "
LINE_EVERY_S = 60.0
"""Where nothing can be drawn again, a line a minute shows that work goes on and fills no log."""
REDRAW_EVERY_S = 0.5
"""Twice a second looks alive and costs nothing."""
LEAST_WORDS = 16
"""Columns below which words are not wrapped: they would stand one below the other."""
FIRST_CELLS = 28
"""Columns to which words before numbers are wrapped before a table is parted: a label has two lines then, seldom three."""
HANG_SHARE = 0.6
"""Of a window: a second column that begins farther right has no room to be read in."""
COMMAND = re.compile(r"explore( [^ ;]+)+")
"""A line that is a command and no more: wrapped, it could not be copied."""
HEADING_CELLS = 14
"""Columns at which a table's heading is wrapped: five figures fit side by side."""
PLAIN = {"−": "-", "–": "-", "°": "deg", "€": "EUR", "×": "x", "·": "*", "→": "->", "≥": ">=", "≤": "<="}
"""Signs that mean something, and what says the same: with its minus lost, a limit that is kept would be one not known."""


def width() -> int:
    """Columns of the terminal; 80 where there is none."""
    return shutil.get_terminal_size((80, 24)).columns


def plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Put ASCII in the place of signs that a stream cannot hold: an error handler for :func:`codecs.register_error`."""
    import unicodedata

    if not isinstance(error, UnicodeEncodeError):
        raise error
    lost = error.object[error.start : error.end]
    bare = (unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode() for sign in lost)
    return "".join(PLAIN.get(sign) or near or "?" for sign, near in zip(lost, bare, strict=True)), error.end


def clock_text(seconds: float) -> str:
    """Write a time span as ``0:42``, ``12:05`` or ``3:10:00``."""
    whole = max(0, round(seconds))
    hours, rest = divmod(whole, 3600)
    minutes, second = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{second:02d}" if hours else f"{minutes}:{second:02d}"


class Progress:
    """A bar with the time left on a terminal; a line a minute where the output goes elsewhere.

    Used as a context, within which :meth:`show` takes the latest state; a thread draws it.
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
        self._bar = self._stream.isatty() and os.environ.get("TERM") != "dumb"
        self._start = self._told = clock()
        self._left: float | None = None
        self._figures: Sequence[str] = ()
        self._noted = set[str]()
        self._done = threading.Event()
        self._thread = threading.Thread(target=self._keep_drawing, daemon=True)

    def __enter__(self) -> Progress:
        self._thread.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._done.set()
        self._thread.join()
        if self._bar:
            self._write("\r\x1b[K")

    def show(self, figures: Sequence[str], left_s: float | None) -> None:
        """Take the state in: figures to name, and the seconds left (None if unknown)."""
        self._told, self._left, self._figures = self._clock(), left_s, figures

    def stage(self, words: str) -> None:
        """Name what is being done, where the time it takes is short and not known."""
        self.show([words], None)

    def note(self, words: str) -> None:
        """Write a line that stays, once."""
        if words not in self._noted:
            self._noted.add(words)
            self._write(f"\r\x1b[K{words}\n" if self._bar else f"{words}\n")

    def draw(self) -> None:
        """Draw the bar, or write the line, for this moment."""
        now = self._clock()
        elapsed, left = now - self._start, None
        if self._left is not None:
            left = max(0.0, self._left - (now - self._told))
        share = elapsed / (elapsed + left) if left is not None and elapsed > 0.0 else None
        time_text = f"{clock_text(elapsed)} so far" if left is None else f"{clock_text(left)} left"
        if self._bar:
            room, words = max(20, self._columns() - 1), [time_text, *self._figures]
            drawn = [bar(share, 10), *words]
            if share is None and len(GAP.join(drawn[:3])) > room:
                drawn = words  # what is being done says more than a bar of dots
            self._write(f"\r{_fitting(drawn, room)}\x1b[K")
        else:
            self._write(", ".join([time_text, *self._figures]) + "\n")

    def _keep_drawing(self) -> None:
        while not self._done.wait(REDRAW_EVERY_S if self._bar else LINE_EVERY_S):
            self.draw()

    def _write(self, text: str) -> None:
        with suppress(OSError, ValueError):  # a terminal that has gone must not stop the search
            self._stream.write(text)
            self._stream.flush()


def _fitting(words: Sequence[str], room: int) -> str:
    """Join as many of the words as fit; the second at least in part."""
    line = GAP.join(words[:2])
    for word in words[2:]:
        if len(line) + len(GAP) + len(word) > room:
            break
        line += GAP + word
    return line if len(line) <= room else f"{line[: room - 2].rpartition(' ')[0]}..."


def bar(share: float | None, cells: int) -> str:
    """Draw a bar of ``cells`` characters with the share in per cent."""
    if share is None:
        return "[" + "." * cells + "]"
    share = min(max(share, 0.0), 1.0)
    filled = round(share * cells)
    return "[" + "#" * filled + "." * (cells - filled) + f"] {share:4.0%}"


def table(
    rows: Sequence[Sequence[str]], *, columns: int | None = None, left: int = 1, whole: bool = False
) -> str:
    """Lay out rows of cells in aligned columns; the first row is the heading.

    The first ``left`` columns stand left, the others right. Columns that do not fit into the window
    are left out from the right or, of a ``whole`` table, follow below, each time behind the first column; two always
    stay, and words of the first are wrapped where they would not fit.
    """
    room = columns if columns is not None else width()
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    count, first = len(widths), widths[0]
    if whole and left:
        widths[0] = min(first, FIRST_CELLS)
    while count > 2 and sum(widths[:count]) + len(GAP) * (count - 1) > room:
        count -= 1
    if whole and count < len(widths):
        below = [[row[0], *row[count:]] for row in rows]
        upper = table([row[:count] for row in rows], columns=room, left=left, whole=True)
        return f"{upper}\n\n{table(below, columns=room, left=left, whole=True)}"
    most = room - sum(widths[1:count]) - len(GAP) * (count - 1)
    widths[0] = first
    if left and widths[0] > most >= LEAST_WORDS:
        rows = [line for row in rows for line in _wrapped(row, most)]
        widths[0] = most
    lines = []
    for row in rows:
        cells = [
            cell.ljust(size) if place < left else cell.rjust(size)
            for place, (cell, size) in enumerate(zip(row[:count], widths[:count], strict=True))
        ]
        lines.append(GAP.join(cells).rstrip())
    return "\n".join(lines)


def _wrapped(row: Sequence[str], room: int) -> list[list[str]]:
    """Part a row whose first cell is too long into several, the other cells behind its last line."""
    import textwrap

    lead = " " * (len(row[0]) - len(row[0].lstrip()))
    lines = textwrap.wrap(row[0].strip(), room, initial_indent=lead, subsequent_indent=f"{lead}  ")
    return [
        *([line, *[""] * (len(row) - 1)] for line in lines[:-1]),
        [*lines[-1:], *row[1:]] if lines else list(row),
    ]


def say(text: str) -> None:
    """Print a text, lines that the terminal is too narrow for wrapped; into a file they go as they are."""
    known = sys.stdout.isatty() or os.environ.get("COLUMNS", "").isdecimal()
    print(fitted(text) if known else text)


def fitted(text: str, *, columns: int | None = None) -> str:
    """Wrap the lines that are wider than the window; a second column stays one, commands to be copied stay whole."""
    room = columns if columns is not None else width()
    return "\n".join(_fitted(line, room) for line in text.split("\n"))


def _fitted(line: str, room: int) -> str:
    import textwrap

    words = line.strip()
    if len(line) <= room or COMMAND.fullmatch(words):
        return line
    lead = len(line) - len(line.lstrip())
    columns = [found.end() for found in re.finditer(r"(?<=\S) {2,}(?=\S)", line)]
    hang = columns[0] if len(columns) == 1 else lead if lead > LEAST_WORDS else lead + 2
    return textwrap.fill(
        words,
        room,
        initial_indent=" " * lead,
        subsequent_indent=" " * (hang if hang <= HANG_SHARE * room else lead + 4),
        break_long_words=False,
        break_on_hyphens=False,
    )


def paragraph(text: str, *, columns: int | None = None, indent: str = "") -> str:
    """Wrap running text to the window."""
    import textwrap

    room = min(columns if columns is not None else width(), 110)
    return textwrap.fill(text, room, initial_indent=indent, subsequent_indent=indent + "  ")


def side_by_side(
    designs: Sequence[Mapping[str, str]],
    headings: Sequence[str],
    figures: Sequence[tuple[str, str, str]],
    *,
    columns: int | None = None,
) -> str:
    """Set designs side by side: one column each, one line per figure (name, label, unit).

    ``designs`` hold text ready to print, by figure name; what none of them has gets no line. Designs
    that do not fit into the window beside the others follow in a table below.
    """
    room = columns if columns is not None else width()
    shown = [(name, f"{label} [{unit}]" if unit else label) for name, label, unit in figures]
    shown = [(name, label) for name, label in shown if any(design.get(name) for design in designs)]
    cells = [len(design.get(name, "")) for design in designs for name, _ in shown]
    wide = max([HEADING_CELLS, *cells]) + len(GAP)
    each = max(1, (room - max((len(label) for _, label in shown), default=0)) // wide)
    tables = []
    for start in range(0, len(designs), each):
        part = designs[start : start + each]
        lines = [[label, *(design.get(name, "") for design in part)] for name, label in shown]
        tables.append(table([*_heading_rows(headings[start : start + each]), *lines], columns=room))
    return "\n\n".join(tables)


def _heading_rows(headings: Sequence[str]) -> list[list[str]]:
    import textwrap

    wrapped = [textwrap.wrap(heading, HEADING_CELLS) for heading in headings]
    height = max(map(len, wrapped), default=0)
    columns = [[""] * (height - len(lines)) + lines for lines in wrapped]
    return [["", *row] for row in zip(*columns, strict=True)]
