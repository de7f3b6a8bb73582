"""Prints what may be configured: every key of a group with its default, range, meaning and source."""

from __future__ import annotations

from explore.config.explain import closest
from explore.config.schema import Case
from explore.config.tasks import KeysTask
from explore.errors import InputError, quoted
from explore.tell.terminal import say


def run(case: Case, task: KeysTask, command: str) -> None:
    """Print the keys of one group, or of all that a run composes."""
    from explore.config.reference import GROUPS
    from explore.tell.reference import bands_text, inputs_text, keys_text

    of_the_case = {"space": inputs_text, "doubt": bands_text}
    known = [*GROUPS, *of_the_case]
    if task.group is not None and task.group not in known:
        near = closest(task.group, known)
        raise InputError(f"group={quoted(task.group)}: no such group{near}; known are {', '.join(known)}")
    for group in [task.group] if task.group else known:
        text = of_the_case[group](case) if group in of_the_case else keys_text(group)
        say(f"{text}\n")
