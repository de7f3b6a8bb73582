"""The plant as bought: recommended designs, sized once with the likely values, run in many worlds with what was bought.

The other question beside that of the choice (:mod:`explore.doubt.study`), in the same worlds: nothing is sized anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.doubt import answers
from explore.doubt.choose import LINE, ROLE
from explore.doubt.draws import Array, Draws, points
from explore.doubt.judge import ROOTS, Columns, Shelf, carry_out, worlds_of
from explore.doubt.study import Bench, columns_of
from explore.model.as_bought import FIGURES, GIVEN, Purchase

if TYPE_CHECKING:
    import pandas as pd

    from explore.model import Evaluator

QUESTION = "the plant as bought"
"""What is asked: volumes, areas, cylinders, valves and collectors stay as sized with the likely values."""
ENOUGH = 0.99
"""Share of what is asked that counts as given: a hundredth less no load notices, and designs stand on the very edge."""

MOST_WORLDS = 500
"""A probability is then known within 2.2 %; as many worlds more would take longer than they tell."""
WORLDS_A_CHUNK = 10
"""Rating four plants takes some tenths of a second a world: a stop costs a few seconds, buying them anew little."""


@dataclass(frozen=True)
class Batch:
    """Designs of ``columns`` (n,), bought in the likely world, in the worlds of ``points`` (k, d): (k, n, figures)."""

    points: Array
    columns: Columns

    @property
    def shape(self) -> tuple[int, ...]:
        """Worlds, designs, figures."""
        return len(self.points), len(self.columns["fluid"]), len(FIGURES)

    def carried_out(self, evaluator: Evaluator) -> Array:
        """Run the plants in each world."""
        worlds, purchase = worlds_of(evaluator), Purchase.of(evaluator, self.columns)
        sample = worlds.draws.sample(self.points)
        rated = (purchase.rated(worlds.model(sample, row)) for row in range(len(sample)))
        return np.stack([np.stack([found[name] for name in FIGURES], axis=1) for found in rated])


def as_bought(bench: Bench, designs: pd.DataFrame, count: int) -> dict[str, Any]:
    """Run the recommended ones of ``designs`` as bought in ``count`` worlds; returns the answers for doubt.json.

    The worlds are the first ones of :func:`explore.doubt.study.study`, at most :data:`MOST_WORLDS`. Raises what the model
    raises.
    """
    count = min(count, MOST_WORLDS)
    evaluator, case = bench.evaluator, bench.evaluator.case
    picked = designs[designs[ROLE] != ""].reset_index(drop=True)
    found: dict[str, Any] = {
        "question": QUESTION,
        "worlds": count,
        "served_share_min": case.scenario.limits.served_share_min,
        "designs": [],
    }
    if len(picked) == 0:
        return found
    columns = columns_of(evaluator, picked)
    draws = Draws.of(case)
    cloud = points(count, draws.dimensions, case.doubt.seed)
    errands = [Batch(cloud[i : i + WORLDS_A_CHUNK], columns) for i in range(0, count, WORLDS_A_CHUNK)]
    shelf = None
    if bench.run:
        roots = (*ROOTS, "explore.model.as_bought")
        shelf = Shelf.of(bench.run, case, columns, FIGURES, "bought", roots)
    worlds = carry_out(errands, bench.engage, shelf, bench.progress)
    nominal, asked = evaluator.evaluate(columns), evaluator.plant.frame(evaluator.designs(columns)).power
    for place in range(len(picked)):
        about = picked.iloc[place]
        one: dict[str, Any] = {
            "row": int(about[LINE]),
            "role": str(about[ROLE]),
            "fluid": str(about["fluid"]),
        }
        likely = {name: float(nominal[name][place]) for name in FIGURES}
        found["designs"].append(
            one | _told(worlds[:, place, :], likely, float(asked[place]), found["served_share_min"])
        )
    return found


def _told(values: Array, nominal: dict[str, float], asked: float, share: float) -> dict[str, Any]:
    """Tell a plant's figures (N, figures) in many worlds.

    Those in which no state was found have no figures; they count as worlds in which it does not give what is asked, and
    in the bands of what it gives as lower than all others. Of pressures they say nothing.
    """
    known = np.isfinite(values).all(axis=1)
    failed = 1.0 - float(np.mean(known))
    bands = {
        name: answers.band(values[known, place], failed if name in GIVEN else 0.0)
        | {"nominal": nominal[name]}
        for place, name in enumerate(FIGURES)
    }
    told: dict[str, Any] = {
        "not_rated": "",
        "power_asked_W": asked,
        "settled": float(np.mean(known)),
        "bands": bands,
    }
    if not known.any():
        return told | {"not_rated": "in no world was a state found that its areas and cylinders agree on"}
    power, served = (values[:, FIGURES.index(name)] for name in ("power_size_W", "served_share"))
    gives, serves = power >= ENOUGH * asked, served >= ENOUGH * share
    return told | {
        "gives_power": answers.chance(gives),
        "serves": answers.chance(serves),
        "both": answers.chance(gives & serves),
    }
