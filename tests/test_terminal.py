"""What the terminal shows: times, bars, tables and progress."""

from __future__ import annotations

import codecs
import io
import re

import pytest

from explore.tell import terminal
from explore.tell.terminal import Progress, bar, clock_text, fitted, paragraph, side_by_side, table


class Screen(io.StringIO):
    """A stream that says whether it is a terminal."""

    def __init__(self, tty: bool):
        super().__init__()
        self._tty = tty

    def isatty(self) -> bool:
        """Say what was asked for."""
        return self._tty


class Clock:
    """A clock that is set by hand."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        """Return the time that was set."""
        return self.now


def progress(tty: bool, columns: int = 80) -> tuple[Progress, Screen, Clock]:
    """Make a progress display on a stream and a clock of our own; its thread is not started."""
    screen, clock = Screen(tty), Clock()
    return Progress(screen, clock=clock, columns=lambda: columns), screen, clock


def test_times_are_written_as_people_say_them():
    """Seconds become minutes and hours; less than nothing is nothing."""
    assert [clock_text(t) for t in (0.4, 61, 3600 * 3 + 605, -5)] == ["0:00", "1:01", "3:10:05", "0:00"]


def test_bar_is_full_at_the_end_and_dots_when_unknown():
    """The bar has one cell for each tenth, and stays within its ends."""
    assert bar(0.5, 10) == "[#####.....]  50%"
    assert bar(1.2, 4) == "[####] 100%"
    assert bar(None, 4) == "[....]"


def test_bar_counts_the_time_left_down_between_two_states():
    """Half of a minute's work: the time left falls as the clock goes on, with no new state."""
    shown, screen, clock = progress(tty=True)
    clock.now += 30
    shown.show(["7 designs"], 30.0)
    shown.draw()
    clock.now += 15
    shown.draw()
    first, second = screen.getvalue().split("\r")[1:]
    assert first.startswith("[#####.....]  50%  0:30 left  7 designs")
    assert "0:15 left" in second
    assert "75%" in second


def test_bar_fits_the_window():
    """Figures that have no room are left out whole."""
    shown, screen, clock = progress(tty=True, columns=40)
    shown.show(["12,000 designs", "1,500/s", "hypervolume 0.25"], None)
    shown.draw()
    assert screen.getvalue() == "\r0:00 so far  12,000 designs  1,500/s\x1b[K"
    clock.now += 20
    shown.show(["12,000 designs", "1,500/s", "hypervolume 0.25"], 60.0)
    shown.draw()
    assert screen.getvalue().endswith("\r[##........]  25%  1:00 left\x1b[K")


@pytest.mark.parametrize(
    ("columns", "seen"),
    [
        (80, "[..........]  0:00 so far  improving the front and the best designs locally"),
        (64, "0:00 so far  improving the front and the best designs locally"),
        (60, "0:00 so far  improving the front and the best designs..."),
        (30, "0:00 so far  improving the..."),
    ],
)
def test_a_narrow_bar_still_says_what_is_done(columns, seen):
    """Before the words of a stage are cut, the bar of dots goes."""
    shown, screen, _ = progress(tty=True, columns=columns)
    shown.stage("improving the front and the best designs locally")
    shown.draw()
    assert screen.getvalue() == f"\r{seen}\x1b[K"
    assert len(seen) < columns


def test_lines_without_a_terminal_carry_no_control_characters():
    """In a log file each state is one plain line."""
    shown, screen, clock = progress(tty=False)
    clock.now += 60
    shown.show(["7 designs"], 20.0)
    shown.draw()
    assert screen.getvalue() == "0:20 left, 7 designs\n"


def test_a_terminal_that_cannot_go_back_gets_lines(monkeypatch):
    """An editor's or a serial terminal that calls itself dumb would show the bar's control characters."""
    monkeypatch.setenv("TERM", "dumb")
    shown, screen, _ = progress(tty=True)
    shown.show(["7 designs"], 20.0)
    shown.draw()
    shown.note("first page")
    assert screen.getvalue() == "0:20 left, 7 designs\nfirst page\n"


def test_nothing_is_coloured():
    """All that is sent beside text is to go back and to clear the line, so NO_COLOR has nothing to switch off."""
    shown, screen, _ = progress(tty=True)
    shown.show(["7 designs"], 20.0)
    shown.draw()
    shown.note("first page")
    assert set(re.findall(r"\x1b\[[0-9;?]*[A-Za-z]", screen.getvalue())) == {"\x1b[K"}


@pytest.mark.parametrize(
    ("encoding", "seen"),
    [
        ("ascii", "-72.3 K, 97 degC, 322 000 m2, 0.3-0.5, Lopez, ?"),
        ("cp1252", "-72.3 K, 97 °C, 322 000 m², 0.3–0.5, López, ?"),
        ("utf-8", "−72.3 K, 97 °C, 322\u202f000 m², 0.3–0.5, López, 水"),
    ],
)
def test_signs_that_a_stream_lacks_keep_their_meaning(encoding, seen):
    """A minus stays a minus; what has no likeness in ASCII is a question mark, as before."""
    codecs.register_error("plain", terminal.plain_signs)
    text = "−72.3 K, 97 °C, 322\u202f000 m², 0.3–0.5, López, 水"
    assert text.encode(encoding, "plain").decode(encoding) == seen


def test_a_short_run_writes_no_lines_without_a_terminal():
    """The first line comes after a minute, not at once."""
    screen = Screen(tty=False)
    with Progress(screen) as shown:
        shown.show(["7 designs"], 20.0)
    assert screen.getvalue() == ""


def test_bar_is_removed_at_the_end(monkeypatch):
    """What is printed next starts on a clean line."""
    monkeypatch.setattr(terminal, "REDRAW_EVERY_S", 0.01)
    screen = Screen(tty=True)
    with Progress(screen) as shown:
        shown.show(["7 designs"], 20.0)
    assert screen.getvalue().endswith("\r\x1b[K")


def test_a_closed_stream_does_not_stop_the_search():
    """A terminal window that was closed takes the bar with it, nothing else."""
    shown, screen, _ = progress(tty=True)
    screen.close()
    shown.draw()


def test_table_aligns_and_drops_what_does_not_fit():
    """Names stand left, numbers right; columns go from the right, the first two stay."""
    rows = [["", "kJ/L", "EUR"], ["n-Butane", "9.5", "10 000"]]
    assert table(rows, columns=80) == "          kJ/L     EUR\nn-Butane   9.5  10 000"
    assert table(rows, columns=18) == "          kJ/L\nn-Butane   9.5"
    assert table(rows, columns=3) == "          kJ/L\nn-Butane   9.5"


def test_designs_that_do_not_fit_follow_below():
    """Two designs of three fit into 48 columns; every cell is printed once."""
    designs = [{"a": f"{i}1.0", "b": f"{i}2.0"} for i in (1, 2, 3)]
    figures = [("a", "Pressure", "bar"), ("b", "Cost", ""), ("c", "Absent", "")]
    text = side_by_side(designs, ["most work", "least cost", "the compromise of all"], figures, columns=48)
    upper, lower = text.split("\n\n")
    assert "most work" in upper
    assert "31.0" not in upper
    assert "31.0" in lower
    assert "Absent" not in text
    assert max(map(len, text.splitlines())) <= 48


def test_text_is_wrapped():
    """Running text keeps to the window."""
    assert max(map(len, paragraph("word " * 60, columns=50).splitlines())) <= 50


def test_columns_that_have_no_room_follow_below():
    """Of a whole table every cell is printed once, each time behind its label."""
    rows = [["", "kJ/L", "EUR", "bar"], ["n-Butane", "9.5", "10 000", "7.25"]]
    assert table(rows, columns=18, whole=True) == (
        "          kJ/L\nn-Butane   9.5\n\n             EUR\nn-Butane  10 000\n\n           bar\nn-Butane  7.25"
    )
    assert table(rows, columns=80, whole=True) == table(rows, columns=80)


def test_long_labels_are_wrapped_before_their_numbers():
    """Numbers stand behind the last line of their label; nothing is cut off."""
    rows = [["Pressures", "bar"], ["  Engine and condenser at rest", "0.800"]]
    text = table(rows, columns=28)
    assert [line.split() for line in text.splitlines()] == [
        ["Pressures", "bar"],
        ["Engine", "and"],
        ["condenser", "at", "rest", "0.800"],
    ]
    assert max(map(len, text.splitlines())) <= 28


def test_lines_are_fitted_and_commands_stay_whole():
    """A second column stays one, a deep margin stays, a path or a command is not broken."""
    text = (
        "  task=keys      every key with its default, range and source\n"
        + " " * 20
        + "words that go on and on and on"
    )
    assert fitted(text, columns=40) == (
        "  task=keys      every key with its\n"
        "                 default, range and\n"
        "                 source\n"
        "                    words that go on and\n"
        "                    on and on"
    )
    command = f"    explore task=inspect design={'x' * 50}.csv row=1"
    assert fitted(command, columns=40) == command
    assert fitted("short", columns=40) == "short"


def test_output_into_a_file_is_not_wrapped(monkeypatch, capsys):
    """Programs read lines as they are; a window's width counts where there is one."""
    monkeypatch.delenv("COLUMNS", raising=False)
    terminal.say("word " * 40)
    assert len(capsys.readouterr().out.splitlines()) == 1
    monkeypatch.setenv("COLUMNS", "60")
    terminal.say("word " * 40)
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 60
