"""Passwords in database URLs: where one may stand, and how a text is kept from showing it."""

from __future__ import annotations

import re
from urllib.parse import parse_qsl, urlsplit

SECRET_WORDS = ("password", "passwd", "pwd", "secret", "token")
"""Words in the names of the options by which database drivers take a password from a URL's query."""
_USERINFO = re.compile(r"(://[^\s/:@]*):[^@\n]*@(?:\S*@)?")
_QUERY = re.compile(rf"([?&;][^=&\s]*(?:{'|'.join(SECRET_WORDS)})[^=&\s]*=)[^&\s'\"]*", re.IGNORECASE)


def secret_options(url: str) -> list[str]:
    """Names of the options in a URL's query that hold a password."""
    try:
        query = urlsplit(url).query
    except ValueError:
        query = url.partition("?")[2]
    names = [name for name, _ in parse_qsl(query.replace(";", "&"), keep_blank_values=True)]
    return [name for name in names if any(word in name.casefold() for word in SECRET_WORDS)]


def without_passwords(text: str) -> str:
    """Return ``text`` with the passwords of all URLs in it left out: user:secret@host becomes user@host."""
    return _QUERY.sub(r"\1***", _USERINFO.sub(r"\1@", text))
