"""Holds the model against published numbers."""

from __future__ import annotations

from explore.config.schema import Case
from explore.config.tasks import VerifyTask
from explore.tell.terminal import say


def run(case: Case, task: VerifyTask, command: str) -> None:
    """Hold the model against published numbers, or show what each constant moves or the band it is drawn from.

    Status 1 if a check fails.
    """
    from explore.tell import bands
    from explore.tell.checks import checks_text, influence_text
    from explore.verify import influence
    from explore.verify import run as checks

    if task.detail == "influence":
        say(influence_text(influence(case)))
        return
    if task.detail == "assumptions":
        say(bands.told(case))
        return
    results = checks(None if task.detail is None else [task.detail])
    say(checks_text(results))
    if not results.loc[results["binding"], "within"].all():
        raise SystemExit(1)
