"""The one exception a user may cause, and the sentence it carries."""

from __future__ import annotations


class InputError(Exception):
    """Bad input: the message is one sentence saying what, where and what would be right.

    The command line prints it and exits with status 2; nothing has been written.
    """
