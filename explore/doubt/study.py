"""A study of a run: its designs under many worlds, what matters, and both as data for doubt.json and doubt.csv."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.config.doubtful import doubtful
from explore.design.designs import checked
from explore.design.space import Space
from explore.design.variables import INPUTS
from explore.doubt import answers, sobol, weathers
from explore.doubt.choose import LINE, ROLE, ceilings
from explore.doubt.draws import Array, Draws, Sample, points
from explore.doubt.judge import BANDED, Done, Shelf, batches, carry_out, figures_of, limits, told
from explore.search.crew import Engage, Kit, engaged

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case, Objective
    from explore.doubt.answers import Worldly
    from explore.model import Evaluator

FORMAT = 1
"""Number of this layout of doubt.json."""
QUESTION = "the choice"
"""What is asked: each design is sized anew in each world, so that cost and sizes move; nothing is built yet."""
KINDS = ("fluid", "store_mode", "stages")
MOST_STEADY = 5
"""Steadiest designs told: as many as a reader compares."""
MOST_BROKEN = 3
"""Limits told of those that a design breaks: the rest is rare."""
RANKED = ("first", "total", "total_confidence")
WINNER = "best_fluid"
"""What stands in the place of a figure for 'is the likely winner still the best fluid'."""


@dataclass(frozen=True)
class Study:
    """Designs (n) with their figures in N worlds, and as the run itself has them."""

    case: Case
    designs: pd.DataFrame
    draws: Draws
    sample: Sample
    worlds: Worldly
    nominal: Worldly
    limits: tuple[str, ...]


@dataclass(frozen=True)
class Bench:
    """What carries a study out: the model, who gives a crew, the run's folder (None keeps nothing), who is told."""

    evaluator: Evaluator
    engage: Engage
    run: Path | None
    progress: Callable[[Done], None]

    def ask(self, cloud: Array, designs: pd.DataFrame, what: str) -> Array:
        """Evaluate designs (n) in the worlds of points (N, d): (N, n, figures and flags)."""
        case, columns = self.evaluator.case, columns_of(self.evaluator, designs)
        figures = figures_of(case)
        shelf = Shelf.of(self.run, case, columns, figures, what) if self.run else None
        return carry_out(batches(cloud, columns, figures), self.engage, shelf, self.progress)


@contextmanager
def bench(evaluator: Evaluator, workers: int, run: Path | None = None) -> Iterator[Bench]:
    """Give a bench that tells nobody; all parts of a study that it carries out share up to ``workers`` processes."""
    kit = Kit(evaluator.case, Space.from_case(evaluator.case), type(evaluator))
    with engaged(workers, kit, lambda: evaluator) as engage:
        yield Bench(evaluator, engage, run, lambda done: None)


def columns_of(evaluator: Evaluator, designs: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return the inputs of designs as columns that the model takes."""
    inputs = designs[[name for name in INPUTS if name in designs.columns]]
    return checked(inputs, evaluator.fluids, evaluator.collectors, evaluator.usual)


def study(bench: Bench, designs: pd.DataFrame, count: int) -> Study:
    """Try designs in ``count`` worlds."""
    case = bench.evaluator.case
    draws, figures = Draws.of(case), figures_of(case)
    cloud = points(count, draws.dimensions, case.doubt.seed)
    found = bench.evaluator.evaluate(columns_of(bench.evaluator, designs))
    nominal = answers.Worldly.of(told(found, figures)[None], figures)
    worlds = answers.Worldly.of(bench.ask(cloud, designs, "draws"), figures)
    return Study(case, designs, draws, draws.sample(cloud), worlds, nominal, tuple(limits(found)))


def sensitivity(bench: Bench, designs: pd.DataFrame, base: int) -> dict[str, list[dict[str, Any]]]:
    """Return the Sobol' indices of each objective by topic, averaged over the recommended ones of ``designs``.

    Under :data:`WINNER` those of whether the fluid that the likely values favour is the best of these designs.
    """
    case = bench.evaluator.case
    draws, figures, objectives = Draws.of(case), figures_of(case), case.scenario.objectives
    cloud = sobol.plan(draws.topics, base, case.doubt.seed)
    worlds = answers.Worldly.of(bench.ask(cloud, designs, f"sobol{base}"), figures)
    picked = np.flatnonzero((designs[ROLE] != "").to_numpy())
    found = {}
    for objective in objectives:
        values = worlds.figures[objective.figure]
        each = []
        for row in picked:
            sound = worlds.possible[:, row]
            middle = float(np.median(values[sound, row])) if sound.any() else 0.0
            each.append(sobol.indices(draws.topics, np.where(sound, values[:, row], middle), case.doubt.seed))
        found[objective.figure] = _averaged(each)
    nominal = answers.Worldly.of(
        told(bench.evaluator.evaluate(columns_of(bench.evaluator, designs)), figures)[None], figures
    )
    first, fluids = objectives[0], designs["fluid"].tolist()
    (likely,) = answers.winners(_cost(nominal, first), nominal.feasible, fluids)
    won = np.array(answers.winners(_cost(worlds, first), worlds.feasible, fluids)) == likely
    found[WINNER] = [asdict(one) for one in sobol.indices(draws.topics, won.astype(float), case.doubt.seed)]
    return found


def _averaged(each: Sequence[Sequence[sobol.Index]]) -> list[dict[str, Any]]:
    topics = sorted(one.topic for one in each[0]) if each else []
    by_topic = [{one.topic: asdict(one) for one in listed} for listed in each]
    rows = [
        {"topic": topic}
        | {
            key: float(np.mean([one[topic][key] for one in by_topic]))
            for key in by_topic[0][topic]
            if key != "topic"
        }
        for topic in topics
    ]
    return sorted(rows, key=lambda row: -row["total"])


def _cost(worlds: Worldly, objective: Objective) -> Array:
    """Return an objective so that less is better, in its own unit, (N, n)."""
    sign = -1.0 if objective.direction == "maximise" else 1.0
    return sign * worlds.figures[objective.figure]


def report(done: Study, matters: Mapping[str, list[dict[str, Any]]] | None = None) -> dict[str, Any]:
    """Collect the answers of a study for doubt.json; with ``matters``, the indices of :func:`sensitivity`."""
    case, designs, worlds = done.case, done.designs, done.worlds
    objectives = case.scenario.objectives
    near = answers.behind(worlds.values(objectives), worlds.feasible) <= answers.STEADY
    steadiest = np.argsort(-near.mean(axis=0), kind="stable")[:MOST_STEADY]
    picked = np.flatnonzero((designs[ROLE] != "").to_numpy())
    found: dict[str, Any] = {
        "format": FORMAT,
        "question": QUESTION,
        "worlds": len(done.sample),
        "designs_tried": len(designs),
        "seed": case.doubt.seed,
        "designs": [_design(done, int(row), near) for row in picked],
        "ceilings": [_under(done, ceiling) for ceiling in ceilings(case)],
        "steady": [_design(done, int(row), near) for row in steadiest],
        "groups": list(done.draws.groups),
        "weather": weathers.about(case),
        "assumptions": [
            {"name": one.name, "low": one.low, "likely": one.likely, "high": one.high, "group": one.group}
            for one in doubtful(case)
        ],
        "matters": dict(matters or {}),
        "measure_first": _measure_first(done, matters) if matters else [],
    }
    return found


def _design(done: Study, row: int, near: np.ndarray) -> dict[str, Any]:
    case, worlds = done.case, done.worlds
    about = done.designs.iloc[row]
    keeps = worlds.feasible[:, row]
    bands, regrets = {}, {}
    for name in dict.fromkeys([*(one.figure for one in case.scenario.objectives), *BANDED]):
        values = np.where(worlds.possible[:, row], worlds.figures[name][:, row], np.nan)
        bands[name] = answers.band(values) | {"nominal": float(done.nominal.figures[name][0, row])}
    for one in case.scenario.objectives:
        figure = worlds.figures[one.figure]
        best = answers.best_figure(figure, worlds.feasible, most=one.direction == "maximise")
        regrets[one.figure] = answers.regret(figure[:, row], best, keeps)
    broken = worlds.broken[:, row][~keeps]
    counts = sorted(
        ((int(np.sum(broken == place)), name) for place, name in enumerate(done.limits)), reverse=True
    )
    return {
        "row": int(about[LINE]),
        "role": str(about[ROLE]),
        "fluid": str(about["fluid"]),
        "store_mode": str(about["store_mode"]),
        "stages": int(about["stages"]),
        "keeps": answers.chance(keeps),
        "broken": [
            {"limit": name, "share": count / len(keeps)} for count, name in counts[:MOST_BROKEN] if count
        ],
        "near_front": answers.chance(near[:, row]),
        "bands": bands,
        "regret": regrets,
    }


def _under(done: Study, ceiling: float) -> dict[str, Any]:
    """Say under a pressure ceiling how likely each fluid, store and number of expansions is best in the first objective."""
    first = done.case.scenario.objectives[0]
    found: dict[str, Any] = {"ceiling_bar_g": ceiling, "figure": first.figure}
    for kind in KINDS:
        kinds = [str(one) for one in done.designs[kind]]
        (likely,) = answers.winners(_cost(done.nominal, first), _allowed(done.nominal, ceiling), kinds)
        won = answers.winners(_cost(done.worlds, first), _allowed(done.worlds, ceiling), kinds)
        found[kind] = {"nominal": likely, "best": answers.shares(won)}
        if kind == "fluid":
            found["corners"] = _corners(done, np.array(won), likely)
    return found


def _allowed(worlds: Worldly, ceiling: float) -> np.ndarray:
    return worlds.feasible & (worlds.figures["peak_pressure_bar_g"] <= ceiling)


def _corners(done: Study, won: np.ndarray, likely: str) -> list[dict[str, Any]]:
    """Name the fluids that win in an optimistic corner only, and by which groups."""
    found = []
    for fluid in sorted(set(won.tolist()) - {answers.TIED, answers.NONE}):
        groups = answers.corner(won == fluid, done.sample.factors, done.draws.groups)
        if groups:
            found.append(
                {"fluid": fluid, "nominal": fluid == likely, "groups": groups, **answers.chance(won == fluid)}
            )
    return found


def _measure_first(done: Study, matters: Mapping[str, list[dict[str, Any]]]) -> list[dict[str, Any]]:
    """Rank the topics by their share of the variance, averaged over all figures that anything moves."""
    moved = [listed for listed in matters.values() if any(one["total"] > 0.0 for one in listed)]
    weight: dict[str, list[list[float]]] = {}
    for listed in moved:
        for one in listed:
            weight.setdefault(one["topic"], []).append([one[key] for key in RANKED])
    means = {topic: np.mean(pairs, axis=0).tolist() for topic, pairs in weight.items()}
    ranked = sorted(means, key=lambda topic: (-means[topic][1], topic))
    return [
        {"topic": topic} | dict(zip(RANKED, means[topic], strict=True)) | {"worth": _worth(done, topic)}
        for topic in ranked
    ]


def _worth(done: Study, topic: str) -> dict[str, dict[str, float]]:
    """Return by how much each objective would gain on average if a group of a topic were known before choosing.

    A design that breaks a limit counts as the objective's reference value. Of several groups the most telling counts.
    """
    worth = {}
    members = [done.draws.groups.index(group) for group in topic.split(" and ") if group in done.draws.groups]
    for objective in done.case.scenario.objectives:
        sign = -1.0 if objective.direction == "maximise" else 1.0
        utility = -np.where(done.worlds.feasible, _cost(done.worlds, objective), sign * objective.reference)
        found = [answers.value_of_knowing(utility, done.sample.factors[:, place]) for place in members]
        gain, error = max(found, default=(0.0, 0.0))
        worth[objective.figure] = {"gain": gain, "standard_error": error}
    return worth


def table(done: Study) -> pd.DataFrame:
    """Return a row a design tried, for doubt.csv: what it is, how likely it keeps every limit, and its bands."""
    import pandas as pd

    objectives = done.case.scenario.objectives
    near = answers.behind(done.worlds.values(objectives), done.worlds.feasible) <= answers.STEADY
    rows = []
    for row in range(len(done.designs)):
        one = _design(done, row, near)
        flat = {key: one[key] for key in ("row", "role", "fluid", "store_mode", "stages")}
        flat |= {f"{key}_{part}": one[key][part] for key in ("keeps", "near_front") for part in one[key]}
        for name, found in one["bands"].items():
            flat |= {f"{name}_{part}": number for part, number in found.items()}
        rows.append(flat)
    return pd.DataFrame(rows)
