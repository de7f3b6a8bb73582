"""Prints what may be configured: every key of a group with its default, range, meaning and source."""

from __future__ import annotations

from explore.config.explain import closest
from explore.config.schema import Case
from explore.config.tasks import KeysTask
from explore.errors import InputError


def run(case: Case, task: KeysTask, command: str) -> None:
    """Print the keys of one group, or of all that a run composes."""
    from explore.config.reference import GROUPS
    from explore.tell.reference import inputs_text, keys_text

    if task.group is not None and task.group not in (*GROUPS, "space"):
        near = closest(task.group, [*GROUPS, "space"])
        raise InputError(
            f"group={task.group!r}: no such group{near}; known are {', '.join([*GROUPS, 'space'])}"
        )
    for group in [task.group] if task.group else [*GROUPS, "space"]:
        print(inputs_text(case) if group == "space" else keys_text(group), end="\n\n")
