"""The tasks there are, each as an object: its name, its keys, its words for ``--help``, and what it does."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from explore.config import tasks
from explore.config.urls import without_passwords

if TYPE_CHECKING:
    from explore.config.schema import Case


@dataclass(frozen=True)
class Task:
    """A task: the model of its keys, and the file ``explore/tasks/<name>.py`` whose ``run`` carries it out."""

    name: str
    model: type[tasks.Task]

    @property
    def keys(self) -> tuple[str, ...]:
        """The keys of the group ``task`` that it uses."""
        return tasks.keys(self.name)

    @property
    def call(self) -> str:
        """How it is typed."""
        return self.model.call

    @property
    def about(self) -> tuple[str, ...]:
        """What it does, as lines of the help text."""
        return self.model.about

    def run(self, case: Case, command: str) -> Path | None:
        """Carry the task out; its file, and what that imports, are loaded only now."""
        done: Path | None = import_module(f"explore.tasks.{self.name}").run(case, case.task, command)
        return done


REGISTRY = {name: Task(name, model) for name, model in tasks.TASKS.items()}


def run(case: Case, command: str = "explore") -> Path | None:
    """Carry out the task of a checked case; ``command`` is what was typed, for the record.

    Returns the folder of the run that a search or a repricing has left.
    """
    return REGISTRY[case.task.name].run(case, without_passwords(command))
