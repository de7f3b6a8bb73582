"""A campaign of many legs that nobody searched: files and book as a search writes them, about the front of a short one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import optuna
from optuna.storages import JournalStorage

from explore.config.schema import Case
from explore.design.space import Space
from explore.search import optimise
from explore.search.campaign import FACTS, LEGS, Debt, record, study_name, unasked
from explore.search.files import Shelf
from explore.search.identity import facts, together
from explore.search.journal import Pages
from explore.search.judge import judge
from explore.search.leg import Result, Tally
from explore.search.planning import FRONT, Budget
from explore.search.population import Genes, Known
from explore.search.storage import JOURNAL
from tests.search.toy import ToyEvaluator

STRAYING = 0.05
"""Of each variable's range, so that one design in some hundred lies on the front, as late in a search."""


def write_campaign(folder: Path, case: Case, legs: int, kept: int) -> None:
    """Write ``legs`` legs of ``kept`` designs each, and the journal in which they are finished."""
    space, rng, model = Space.from_case(case), np.random.default_rng(1), ToyEvaluator(case)
    short = case.search.model_copy(update={"designs": 16 * case.search.leg_designs})
    front = optimise(case.model_copy(update={"search": short}), evaluator=ToyEvaluator).front
    parents = Genes(*space.encode(front))
    found = facts(case, ToyEvaluator)
    mark, shelf, pages = together({**found, "seed": str(case.search.seed)}), Shelf(folder / LEGS), Pages()
    study = optuna.create_study(
        storage=JournalStorage(pages),
        sampler=unasked(),
        direction="maximize",
        study_name=study_name(case, LEGS),
    )
    study.set_user_attr(FACTS, found)
    budget = Budget.of(case.search)
    for number in range(legs):
        like = parents.take(rng.integers(len(parents), size=kept))
        genes = Genes(np.clip(like.unit + rng.normal(0.0, STRAYING, like.unit.shape), 0.0, 1.0), like.choices)
        judged = judge(model.evaluate(space.decode(genes.unit, genes.choices)), case.scenario.objectives)
        evaluated = dict.fromkeys(space.fluids, 0) | {space.fluids[0]: budget.size(number)}
        tally = Tally(evaluated, dict.fromkeys(space.fluids, 0) | {space.fluids[0]: 1}, {}, {})
        result = Result(number, FRONT, Known(genes, judged.values, judged.breach), tally, 1.0, 0.9)
        record(study, Debt(result, 1e-6, float(number)), shelf, mark, space.fluids)
    (folder / JOURNAL).write_bytes(pages.content)
