"""The page of a fit: measured against modelled, the coefficients, what is not identified; nothing fetched, no script."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.bench.fit import accuracy_words, channels
from explore.tell import templates
from explore.tell.fit import picture, words

if TYPE_CHECKING:
    from explore.bench.fit import Fit
    from explore.bench.log import Log


def page(fit: Fit, log: Log, machine: str, verdict: str, stands: Sequence[str] = ()) -> str:
    """Return the page; all that is put in is escaped. ``verdict`` is empty where no run was judged again.

    ``stands`` says which plant it is of, and what lines of its log do not tell.
    """
    made_by = templates.environment(Path(__file__).parent / "templates")
    template = made_by.get_template("fit.html")
    return str(
        template.render(
            log=log.path,
            machine=machine,
            fit=fit,
            verdict=verdict,
            stands=stands,
            caution=words.hot(log),
            words=words,
            side=picture.SIDE,
            far=words.FAR,
            fields=[
                (kind, words.title(column), picture.field(_of(fit, kind, column)))
                for kind, column in channels(fit)
            ],
            accuracies=[
                (test.kind, words.title(name), f"{value:.3g}", why)
                for test in log.tests
                for name, value, why in accuracy_words(test)
            ],
            names=[one.item.name for one in fit.identified()],
        )
    )


def _of(fit: Fit, kind: str, column: str) -> list[Any]:
    return [one for one in fit.readings if (one.kind, one.column) == (kind, column)]
