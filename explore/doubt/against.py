"""A search against many worlds: the model that reads each design over all of them, and what the likely values promise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import ceil
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.config.goals import by_own_values, over_worlds, sought
from explore.design.designs import checked
from explore.design.variables import INPUTS
from explore.doubt.draws import Array, points
from explore.doubt.judge import limits
from explore.doubt.worlds import Worlds
from explore.errors import InputError
from explore.figures.format import record
from explore.figures.readings import KEPT, LIMIT, SHARES, column
from explore.judgement.front import feasible_front, goal, recommended
from explore.judgement.limits import PHYSICAL
from explore.model import Evaluator
from explore.run.files import read_frame
from explore.run.reader import guard

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case, Objective

Columns = dict[str, np.ndarray]
STREAM = 7
"""Second word of the seed: a study of doubt with the same seed then has other worlds than those that were searched in."""
FARTHEST = 1e6
"""Scales of a limit that count as without end, kept or broken: as a search's own judge has it."""


class AgainstWorlds:
    """The model of a case that is searched over worlds: nominal figures in their columns, and those over worlds beside.

    Every design is evaluated by the run's own values and in ``search.worlds`` worlds, the same for all (common random
    numbers): as many times the work, and one. It is feasible if it keeps every limit by the run's own values, and in
    that share of the worlds that ``search.against`` asks for.
    """

    def __init__(self, case: Case):
        self.case = by_own_values(case)
        self._against = case.search.against
        self._nominal = Evaluator(self.case, self.case.search.properties)
        worlds = Worlds(self._nominal)
        seed = int(np.random.SeedSequence((case.doubt.seed, STREAM)).generate_state(1)[0])
        sample = worlds.draws.sample(points(case.search.worlds, worlds.draws.dimensions, seed))
        self._models = [worlds.model(sample, row) for row in range(len(sample))]

    def checked(self, designs: pd.DataFrame) -> Columns:
        """Return the inputs of designs as sound columns; raises :class:`InputError` for what is missing or unknown."""
        model = self._nominal
        inputs = designs[[name for name in INPUTS if name in designs.columns]]
        return checked(inputs, model.fluids, model.collectors, model.usual)

    def evaluate(self, columns: Columns) -> Columns:
        """Evaluate sound columns of n designs by the run's own values and over the worlds."""
        found = dict(self._nominal.evaluate(columns))
        objectives = self.case.scenario.objectives
        values, excess = [], []
        for world in self._models:
            told = world.evaluate(columns)
            values.append([np.asarray(told[one.figure], float) for one in objectives])
            excess.append(worst_excess(told))
        share = SHARES[self._against]
        for place, one in enumerate(objectives):
            over = np.stack([each[place] for each in values])
            found[column(self._against, one.figure)] = read(over, one, share)
        broken = np.stack(excess)
        found[KEPT.name] = np.mean(broken <= 0.0, axis=0)
        found[LIMIT.name] = np.sort(broken, axis=0)[needed(len(broken), share) - 1]
        found["feasible"] = np.asarray(found["feasible"], bool) & (found[LIMIT.name] <= 0.0)
        return found


def made(case: Case) -> AgainstWorlds:
    """Make the model of a search over worlds; a worker process finds it by its name."""
    return AgainstWorlds(case)


def needed(worlds: int, share: float) -> int:
    """Return in how many of the worlds a design must keep its limits."""
    return ceil(round(share * worlds, 6))


def read(values: Array, objective: Objective, share: float) -> Array:
    """Return the value (n,) that an objective reaches or betters in a share of the worlds, of ``values`` (N, n).

    It is that of a world, for between two worlds it would be reached in one too few.
    """
    ordered, count = np.sort(values, axis=0), needed(len(values), share)
    return np.asarray(ordered[-count if objective.direction == "maximise" else count - 1])


def worst_excess(told: Mapping[str, np.ndarray]) -> Array:
    """Return how far each design (n,) is beyond the limit it breaks worst, in scales of it; below zero if it keeps all.

    What nature forbids counts only where it is broken: such margins say nothing of how near a plant is to a limit.
    """
    worst = np.full(len(told["feasible"]), -FARTHEST)
    for name in limits(dict(told)):
        values = np.nan_to_num(np.asarray(told[name], float) / record(name).scale, nan=-FARTHEST)
        counts = (values > 0.0) if name in PHYSICAL else np.full(len(values), True)
        worst = np.where(counts, np.maximum(worst, values), worst)
    return np.clip(worst, -FARTHEST, FARTHEST)


def read_over_worlds(case: Case, designs: pd.DataFrame) -> pd.DataFrame:
    """Add to designs with all inputs the columns over worlds of a case that is searched so; of another, nothing."""
    if not over_worlds(case) or len(designs) == 0:
        return designs
    evaluator = made(case)
    found = evaluator.evaluate(evaluator.checked(designs))
    beside = {name: values for name, values in found.items() if name not in designs}
    return designs.assign(**beside, feasible=found["feasible"])


@dataclass(frozen=True)
class Beside:
    """The front of an earlier run, read over the worlds of this search: where it lies, and its designs."""

    run: str
    designs: pd.DataFrame


def beside(case: Case, run: Path) -> Beside:
    """Read the front of a run over the worlds of a case.

    Raises :class:`InputError` for a folder that holds no front, or designs that this case does not know.
    """
    import pandas as pd

    if not over_worlds(case):
        raise InputError(
            f"beside={run}: only a search over worlds sets a front beside its own; add search.against=cautious"
        )
    if not (run / "front.csv").is_file():
        raise InputError(
            f"beside={run}: no run there; give the folder of a search, results/<scenario>/<time>"
        )
    guard(run)
    front, evaluator = read_frame(run / "front.csv"), made(case)
    columns = evaluator.checked(front)
    return Beside(str(run), pd.DataFrame(columns | evaluator.evaluate(columns)))


def promises(
    case: Case, designs: pd.DataFrame, chosen: pd.DataFrame, aside: Beside | None = None
) -> dict[str, Any]:
    """Set what the run's own values promise beside what it is worth over worlds, for summary.json.

    ``designs`` are all that a search over worlds kept, ``chosen`` those it recommends, with what for in ``pick``. Of
    each objective: the design that would be recommended by the run's own values, of ``designs`` or of the front
    ``aside``, the one that is, and of both the figure by the run's own values (``promised``), over the worlds
    (``held``), and the share of worlds in which every limit is kept. Raises :class:`InputError` if columns are missing.
    """
    own, against = by_own_values(case).scenario.objectives, case.search.against
    if column(against, own[0].figure) not in designs:
        raise InputError(f"these designs were not searched with search.against={against}; search anew")
    tried = designs if aside is None else aside.designs
    margins = [str(name) for name in tried if str(name).startswith("violation_") and name != LIMIT.name]
    keeps = ~(tried[margins].to_numpy(float) > 0.0).any(axis=1) & tried["possible"].to_numpy(bool)
    front = feasible_front(tried.assign(feasible=keeps), own)
    rows = recommended(front, own)[: len(own)] if len(front) else []
    found = []
    for one, goes_for, row in zip(own, sought(case).scenario.objectives, rows, strict=False):
        mine = chosen[[goal(goes_for) in str(pick) for pick in chosen["pick"]]]
        if len(mine):
            found.append(
                {
                    "figure": one.figure,
                    "nominal": _held(front.iloc[row], one.figure, against),
                    "recommended": _held(mine.iloc[0], one.figure, against),
                }
            )
    counted, worlds = front if aside is None else tried[keeps], case.search.worlds
    return {
        "reading": against,
        "worlds": worlds,
        "needed": needed(worlds, SHARES[against]),
        "beside": "" if aside is None else aside.run,
        "front_designs": len(counted),
        "front_kept": int((counted[LIMIT.name] <= 0.0).sum()),
        "promises": found,
    }


def _held(design: pd.Series[Any], figure: str, against: str) -> dict[str, Any]:
    promised, held = float(design[figure]), float(design[column(against, figure)])
    return {
        "fluid": str(design["fluid"]),
        "promised": promised,
        "held": held,
        "lost_share": abs(promised - held) / abs(promised) if promised else 0.0,
        "worlds_kept_share": float(design[KEPT.name]),
    }
