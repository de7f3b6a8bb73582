"""The line to a campaign's database: when it is asked again after it failed, and what may be said of it."""

from __future__ import annotations

import time
from collections.abc import Callable

FIRST_PAUSE_S = 0.5
"""A dropped connection, the commonest failure, is back at once; half a second does not load the server."""
LONGEST_PAUSE_S = 15.0
"""After hours of silence, workers still come back within a quarter of a minute of the server's return."""
GROWTH = 2.0
"""Six questions until the longest pause: a server that restarts is not met by a crowd."""


class Line:
    """Whether the database answers; after a failure it is asked again with growing pauses, for ever.

    ``errors`` are the driver's errors, beside the caller's own; ``hide`` takes passwords out of a text.
    """

    def __init__(self, errors: tuple[type[Exception], ...] = (), hide: Callable[[str], str] = str):
        self.errors = errors
        self.reason = ""
        self._hide = hide
        self._down_since: float | None = None
        self._up_since = -float("inf")
        self._pause, self._next = FIRST_PAUSE_S, 0.0

    @property
    def away_s(self) -> float:
        """Seconds since the database last failed without an answer in between; 0 if it answers."""
        return 0.0 if self._down_since is None else max(1e-9, time.monotonic() - self._down_since)

    @property
    def back_s(self) -> float:
        """Seconds since the database answered again; infinite if it never was away, 0 while it is."""
        return 0.0 if self._down_since is not None else time.monotonic() - self._up_since

    @property
    def due(self) -> bool:
        """Whether the database may be asked now."""
        return self._down_since is None or time.monotonic() >= self._next

    def failed(self, error: BaseException) -> float:
        """Note a failure and return the pause [s] until the next question."""
        now = time.monotonic()
        if self._down_since is None:
            self._down_since, self._pause = now, FIRST_PAUSE_S
        else:
            self._pause = min(LONGEST_PAUSE_S, GROWTH * self._pause)
        self._next = now + self._pause
        self.reason = self._hide(driver_words(error))
        return self._pause

    def answered(self) -> bool:
        """Note an answer; True if it is the first after a failure."""
        if self._down_since is None:
            return False
        self._down_since, self._up_since = None, time.monotonic()
        return True


def driver_words(error: BaseException) -> str:
    """Say what the driver said, on one line: libraries wrap its error in errors of their own."""
    inner: BaseException = error
    while (below := getattr(inner, "orig", None) or inner.__cause__) is not None and below is not inner:
        inner = below
    if isinstance(inner, OSError) and inner.strerror:
        return inner.strerror
    lines = [line.strip() for line in str(inner).splitlines() if line.strip()]
    return lines[0] if lines else type(inner).__name__


def hiding(url: str) -> Callable[[str], str]:
    """Return what takes the password of a database URL, as typed and as meant, out of a text."""
    from urllib.parse import quote, quote_plus

    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        password = str(make_url(url).password or "")
    except ArgumentError:
        password = ""
    forms = {password, quote(password, safe=""), quote_plus(password)} - {""}

    def hide(text: str) -> str:
        for form in sorted(forms, key=len, reverse=True):
            text = text.replace(form, "***")
        return text

    return hide


def without_password(url: str) -> str:
    """Write a database URL without the password in it."""
    from sqlalchemy.engine import make_url
    from sqlalchemy.exc import ArgumentError

    try:
        return make_url(url).render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        return url.partition("://")[0] + "://..." if "://" in url else url
