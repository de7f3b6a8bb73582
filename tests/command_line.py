"""The command line as a user types it, in this process."""

from __future__ import annotations

import sys

from explore import cli


def typed(*words: object) -> int:
    """Run ``explore`` with words; returns its status."""
    before, sys.argv = sys.argv, ["explore", *map(str, words)]
    try:
        return cli.main()
    finally:
        sys.argv = before
