"""How the search went, as counts: designs tried, shares per fluid, what made designs infeasible."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from math import isfinite

from explore.figures.format import NONE, three_digits, whole, write
from explore.judgement.front import under_ceiling
from explore.tell.narrator import losses
from explore.tell.page.data import Run

LAYOUT_COUNTS = ("evaluated", "feasible", "on_front")
LAYOUT_FIGURES = ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g", "least_cost_EUR")


@dataclass(frozen=True)
class SearchStory:
    """Counts of one search; pairs are sorted, greatest first."""

    tried: int
    feasible: int
    on_front: int
    per_fluid: tuple[tuple[str, int], ...]
    lost_to: tuple[tuple[str, int], ...]
    lost_alone: tuple[int, ...]
    history: tuple[tuple[float, float], ...]
    random_history: tuple[tuple[float, float], ...]


def tell(run: Run) -> SearchStory:
    """Collect the counts from summary.json; what it lacks is counted in designs.csv."""
    summary = run.summary
    feasible = sum(cell.lower() == "true" for cell in run.designs.text("feasible"))
    per_fluid = summary.get("designs_per_fluid") or Counter(run.designs.text("fluid"))
    lost = summary.get("lost_to") or {
        name: int((run.designs.numbers(name) > 0).sum())
        for name in run.designs.header
        if name.startswith("violation_")
    }
    broken = losses(lost)
    alone = summary.get("lost_to_this_alone") or {}
    return SearchStory(
        tried=int(summary.get("designs_evaluated", len(run.designs))),
        feasible=int(summary.get("designs_feasible", feasible)),
        on_front=len(run.front),
        per_fluid=_ranked(per_fluid),
        lost_to=tuple((words, count) for _, words, count in broken),
        lost_alone=tuple(int(alone.get(name, 0)) for name, _, _ in broken) if alone else (),
        history=_pairs(summary.get("hypervolume_history")),
        random_history=_pairs(summary.get("random_hypervolume_history")),
    )


def layouts(run: Run) -> list[dict[str, str]]:
    """Return a line per layout that was searched, best work per litre first, as written; none where the run has none."""
    figures = [*LAYOUT_FIGURES, *map(under_ceiling, run.case.report.pressure_ceilings_bar_g)]
    columns = {"layout": run.layouts.text("layout")}
    columns |= {name: [_count(cell) for cell in run.layouts.numbers(name)] for name in LAYOUT_COUNTS}
    columns |= {name: [write(cell, name) for cell in run.layouts.numbers(name)] for name in figures}
    return [dict(zip(columns, cells, strict=True)) for cells in zip(*columns.values(), strict=True)]


def _count(value: float) -> str:
    return whole(int(value)) if isfinite(value) else NONE


def against_random(story: SearchStory) -> str:
    """Say how the search compares with a plain random one, where the run holds both; else nothing."""
    if not story.history or not story.random_history:
        return ""
    drawn, random = story.random_history[-1]
    at_that = [moment for moment in story.history if moment[0] <= drawn][-1:]
    stations = [_station(*moment) for moment in dict.fromkeys([*at_that, story.history[-1]])]
    return (
        f"For comparison, {whole(round(drawn))} designs drawn at random reach a hypervolume of {three_digits(random)}; "
        f"this search has {' and '.join(stations)}."
    )


def refined_after(story: SearchStory, volume: object) -> str:
    """Say that the hypervolume at the end is of more than the designs tried: local refinement comes behind the history."""
    if not story.history or not isinstance(volume, int | float) or volume <= story.history[-1][1]:
        return ""
    return f"Local refinement of the front then brought it to {three_digits(volume)}."


def _station(designs: float, volume: float) -> str:
    return f"{three_digits(volume)} after {whole(round(designs))} designs"


def _ranked(counts: dict[str, int]) -> tuple[tuple[str, int], ...]:
    return tuple(sorted(((str(k), int(n)) for k, n in counts.items()), key=lambda item: (-item[1], item[0])))


def _pairs(history: object) -> tuple[tuple[float, float], ...]:
    if not isinstance(history, list):
        return ()
    return tuple((float(pair[0]), float(pair[1])) for pair in history)
