"""What the terminal shows after a search: the recommended designs, the fluids, and where the page is."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.tasks import SearchTask
from explore.design.pins import by_reason
from explore.figures.format import NONE, label, listed, says_nothing, shown, unit
from explore.judgement.front import COMPROMISE, RULE, under_ceiling
from explore.tell import more, narrator
from explore.tell.next_steps import next_commands, next_text
from explore.tell.terminal import paragraph, side_by_side, table

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case
    from explore.search import SearchOutcome

FLUIDS = (
    "Fluids: most work per litre, with its cost and peak pressure [bar gauge]; the cheapest design [EUR]; "
    "most work [kJ/L] under a pressure ceiling [bar gauge]"
)
LAYOUTS = (
    "Layouts: designs tried, feasible and on the front; most work per litre, "
    "with its cost and peak pressure [bar gauge]; the cheapest design [EUR]"
)
HYPERVOLUME = "Hypervolume: share of the box between ideal and reference of all objectives that the front covers, 0 to 1."
BEST = {
    "kJ/L": "work_per_litre_kJ",
    "EUR": "cost_EUR",
    "bar": "peak_pressure_bar_g",
    "cheapest": "least_cost_EUR",
}
"""The best designs of a fluid or a layout: heading and column."""
OWN_LABELS = {
    "safety_class": "Safety class",
    "cautions": "Cautions: STOP / warnings / notes",
    "line": "Row of front.csv",
}


def closing(
    case: Case,
    outcome: SearchOutcome,
    chosen: pd.DataFrame,
    fluids: pd.DataFrame,
    layouts: pd.DataFrame,
    page: Path,
    sure: Sequence[str] = (),
    taught: str = "",
) -> str:
    """Return the closing text of a search.

    ``sure`` says how sure its advice is, where that was asked, ``taught`` in short what its front teaches.

    ``chosen`` are the recommended designs, ``fluids`` and ``layouts`` the rankings.

    ``chosen`` may have columns beside those of a front: ``line``, the row in front.csv, ``cautions``, their counts,
    ``displaced``, what was not recommended in their place, and ``more``, what more of its parts would add.
    """
    parts = [
        f"{paragraph(_how_it_went(case, outcome))}\n{paragraph(HYPERVOLUME)}",
        f"Recommended designs\n{designs_text(chosen, case)}",
        *(paragraph(words) for words in chosen.get("displaced", ()) if words),
        *_leeway(chosen),
        *_more(chosen),
        paragraph(f"{RULE} {_where_cautions_are(chosen)}"),
        *([paragraph(taught)] if taught else []),
        *map(paragraph, sure),
        paragraph(f"How sure: {narrator.losses_held(case.engine)}."),
        f"{paragraph(FLUIDS)}\n{fluids_text(fluids, case)}",
        f"{paragraph(LAYOUTS)}\n{layouts_text(layouts)}\n{paragraph(narrator.layouts_compared(layouts))}",
        *_without(fluids, outcome),
        f"Page: {page}",
        next_text(next_commands(case, outcome, chosen, Path(page).parent)),
    ]
    return "\n" + "\n\n".join(parts)


def _leeway(chosen: pd.DataFrame) -> list[str]:
    """Say of each recommended design which of its inputs may move by themselves."""
    if "leeway" not in chosen:
        return []
    return [
        paragraph(f"{pick[:1].upper()}{pick[1:]}. {words}")
        for pick, words in zip(chosen["pick"], chosen["leeway"], strict=True)
        if words
    ]


def _more(chosen: pd.DataFrame) -> list[str]:
    """Say what more of its parts would add to the compromise, where parts are owned."""
    if "more" not in chosen:
        return []
    middle = [row for row in chosen.to_dict("records") if COMPROMISE in str(row["pick"])][:1]
    told = (more.text(row["more"], f"{row['pick']}, design {row['line']}") for row in middle)
    return [words for words in told if words]


def _how_it_went(case: Case, outcome: SearchOutcome) -> str:
    """Tell effort, convergence and how it ended."""
    counts = f"{outcome.designs_evaluated:,} designs in {outcome.seconds:.0f} s"
    found = f"{outcome.designs_feasible:,} feasible, {len(outcome.front):,} on the front"
    volume = f"hypervolume {outcome.hypervolume:.4f}"
    return " ".join(
        [
            f"{counts}, {found}; {volume}{_converged(outcome)}.",
            *_against_random(outcome),
            *_ending(case, outcome),
        ]
    )


def _converged(outcome: SearchOutcome) -> str:
    """Say what the end of the search still brought, and what local refinement of the front found."""
    if outcome.legs == 0:
        return ""
    said = f", of which the last tenth of the designs brought {outcome.last_tenth_gain:.2%}"
    if outcome.polished:
        said += f", local optimisation added {outcome.polished:,} better designs"
    refined = narrator.refined(outcome.refinement.gains, outcome.picks_gain)
    if narrator.unsettled(outcome.refinement.gains):
        said += f". {refined[:1].upper()}{refined[1:]}; give it more time, with resume= and a larger search.seconds"
    elif refined:
        said += f"; {refined}"
    return said


def _against_random(outcome: SearchOutcome) -> list[str]:
    """Compare with the plain random search, at its end or as near before it as the history allows."""
    if not outcome.random_history:
        return []
    random = outcome.random_history[-1]
    ours = [moment for moment in outcome.history if moment.designs <= random.designs]
    here = f", this search {ours[-1].hypervolume:.4f} after {ours[-1].designs:,}" if ours else ""
    return [f"{random.designs:,} random designs reach {random.hypervolume:.4f}{here}."]


def _ending(case: Case, outcome: SearchOutcome) -> list[str]:
    """Say what was out of the ordinary at the end: storage lost, repriced, stopped early, nothing left to search."""
    said = []
    if outcome.trouble:
        said.append(f"Trouble: {outcome.trouble}.")
    if outcome.stop_reason == "repriced":
        said.append("Nothing was searched anew: better designs may exist under the changed values.")
    elif outcome.stop_reason == "interrupted":
        said.append("Stopped by the user.")
    elif isinstance(case.task, SearchTask) and case.task.resume is not None and outcome.legs_here == 0:
        said.append(
            f"The budget of this run, {_budget(case)}, was spent before: nothing was searched; "
            f"give search.seconds or search.designs more to go on."
        )
    return said


def _budget(case: Case) -> str:
    seconds, designs = case.search.seconds, case.search.designs
    parts = [f"{seconds:g} s"] if seconds is not None else []
    return " or ".join([*parts, *([f"{designs:,} designs"] if designs is not None else [])])


def designs_text(chosen: pd.DataFrame, case: Case) -> str:
    """Set the recommended designs side by side, one line per figure."""
    classes = [case.card(str(fluid)).safety_class for fluid in chosen["fluid"]]
    chosen = chosen.assign(safety_class=classes)
    if "line" in chosen:
        chosen = chosen.assign(line=[f"no. {line}" for line in chosen["line"]])
    objectives = [objective.figure for objective in case.scenario.objectives]
    names = dict.fromkeys(
        [*objectives, "fluid", "safety_class", "cautions", *listed("terminal", map(str, chosen)), "line"]
    )
    figures = [
        (name, OWN_LABELS.get(name, label(name)), unit(name)) for name in names if name in chosen.columns
    ]
    designs = [
        {name: _cell(row.get(name), name, str(row.get("store_mode"))) for name in names}
        for row in chosen.to_dict("records")
    ]
    return side_by_side(designs, [str(pick) for pick in chosen["pick"]], figures)


def _where_cautions_are(chosen: pd.DataFrame) -> str:
    """Say how to read the cautions, and which pistons are too fast."""
    from explore.judgement.hazards import PISTON_SPEED_LIMIT_M_PER_S

    speeds = chosen.filter(like="piston_speed_").max(axis=1)
    fast = [
        str(pick)
        for pick, speed in zip(chosen["pick"], speeds, strict=True)
        if speed > PISTON_SPEED_LIMIT_M_PER_S
    ]
    words = "Read the cautions of each design on the page or with task=inspect before building anything."
    above = (
        f" Mean piston speed above {PISTON_SPEED_LIMIT_M_PER_S:g} m/s, more than a small machine lasts with: "
    )
    return f"{words}{above}{'; '.join(fast)}." if fast else words


def _cell(value: Any, name: str, store_mode: str) -> str:
    cell = "" if value is None else str(value)
    text = shown(cell, name, with_unit=False)
    return "" if text == NONE or says_nothing(cell, name, store_mode) else text


def fluids_text(fluids: pd.DataFrame, case: Case) -> str:
    """Rank the fluids that have a feasible design."""
    ceilings = case.report.pressure_ceilings_bar_g
    names = [*BEST.values(), *map(under_ceiling, ceilings)]
    rows = [["", "class", *BEST, *(f"<{ceiling:g}" for ceiling in ceilings)]]
    for row in fluids[fluids["feasible"] > 0].to_dict("records"):
        rows.append([str(row["fluid"]), case.card(str(row["fluid"])).safety_class, *_cells(row, names)])
    return table(rows)


def layouts_text(layouts: pd.DataFrame) -> str:
    """Rank the layouts, those without a feasible design last; the page and layouts.csv have the ceilings too."""
    rows = [["", "tried", "feasible", "front", *BEST]]
    for row in layouts.to_dict("records"):
        counts = [f"{int(row[name]):,}" for name in ("evaluated", "feasible", "on_front")]
        rows.append([str(row["layout"]), *counts, *_cells(row, BEST.values())])
    return table(rows, whole=True)


def _cells(row: Mapping[Hashable, Any], names: Iterable[str]) -> list[str]:
    """Figures of a line, as written."""
    return [shown(str(row[name]), name, with_unit=False) for name in names]


def _without(fluids: pd.DataFrame, outcome: SearchOutcome) -> list[str]:
    """Name the fluids without a feasible design, and the constraints that cost most designs."""
    empty = [str(fluid) for fluid in fluids.loc[fluids["feasible"] == 0, "fluid"]]
    lines = []
    if empty:
        lines.append(paragraph(f"No feasible design found with {', '.join(empty)}."))
    if outcome.left_out:
        lines.append(paragraph(f"Left out: {by_reason(outcome.left_out)}."))
    most = narrator.losses(outcome.lost_to)[:3]
    if most:
        counts = ", ".join(f"{words} ({count:,})" for _, words, count in most)
        lines.append(paragraph(f"Constraints that most designs broke: {counts}."))
    return lines
