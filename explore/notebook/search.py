"""A search from a notebook: what it found, with its front, its picks, its page and its study."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.compose import load_scenario
from explore.config.goals import over_worlds, sought
from explore.config.schema import Case
from explore.errors import InputError
from explore.notebook.result import Result
from explore.search import ProgressCallback, SearchOutcome
from explore.search import optimise as searched

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Found(SearchOutcome):
    """What a search of ``case`` found: everything of :class:`SearchOutcome`, ``front`` and ``designs`` as results.

    ``run_folder`` is where its campaign is kept, if anywhere.
    """

    case: Case | None = None
    run_folder: Path | None = None

    @property
    def picks(self) -> Result:
        """The recommended designs, best for each objective and the compromise, chosen as the page chooses them.

        ``pick`` says what each is, ``why`` how it was chosen, ``line`` its row of the front, from 1.
        """
        from explore.model import Evaluator
        from explore.tasks.results import recommended

        chosen, _ = recommended(Evaluator(self._case), self.front)
        return Result(chosen.drop(columns="displaced"))

    def page(self) -> Path:
        """Write all results and the page, as the command does, and return the page's path.

        They go into ``run_folder``, or into a new folder ``results/<scenario>/<time>``.
        """
        from explore.run import folder as runs
        from explore.tasks.results import own_designs
        from explore.tasks.search import keep

        own = own_designs(self._case)
        if self.run_folder is not None:
            return keep(Path(self.run_folder), self._case, self, own, COMMAND)[0] / "report.html"
        with runs.claimed(self._case) as folder:
            return keep(folder, self._case, self, own, COMMAND)[0] / "report.html"

    def study(self) -> Any:
        """Return the designs as an Optuna study in memory, its best trials the front, for Optuna's plots."""
        from explore.search.showcase import designs_study

        frame: pd.DataFrame = self.designs
        return designs_study(sought(self._case), frame)

    @property
    def _case(self) -> Case:
        if self.case is None:
            raise InputError("this outcome does not know its case; take what explore.optimise returns")
        return self.case

    def _repr_html_(self) -> str:
        """Show the effort and the recommended designs."""
        effort = f"{self.designs_evaluated:,} designs, {len(self.front):,} on the front; hypervolume {self.hypervolume:.4f}"
        return f"<p>{effort}. .picks, .front, .page() and .study() have more.</p>{self.picks._repr_html_()}"


COMMAND = "explore.optimise(...) in Python"


def optimise(
    scenario: Case | str | Path,
    *,
    run_folder: Path | None = None,
    progress: ProgressCallback | None = None,
    **more: Any,
) -> Found:
    """Search the design space of a scenario for its front; see :func:`explore.search.optimise`, which takes ``more``.

    ``scenario`` is a whole case (:func:`explore.load_scenario`) or what that function takes; its ``search`` says how
    long. ``run_folder`` keeps the campaign, so that it can be gone on with. ``progress`` is called after every leg.
    Returns :class:`Found`. Raises :class:`InputError` if nothing can be searched or nothing feasible was found.
    """
    case = scenario if isinstance(scenario, Case) else load_scenario(scenario)
    if over_worlds(case):
        from explore.doubt.against import made

        more = {"evaluator": made} | more
    outcome = searched(sought(case), run_folder=run_folder, progress=progress, **more)
    given = vars(outcome) | {"front": Result(outcome.front), "designs": Result(outcome.designs)}
    return Found(**given, case=case, run_folder=run_folder)
