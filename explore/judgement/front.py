"""The front: which designs nothing else beats, how good the whole is, and which to show first.

All figures are read from a frame with the public columns. The normalised axes of a scenario
put each objective's stated ideal at 0 and its stated reference at 1, so that hypervolumes of
different runs of one scenario can be compared: the hypervolume is the share of the unit box
between ideal and reference that the front dominates. It is the hypervolume of the moocore library.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design.variables import INPUTS, LAYOUTS, Layout
from explore.figures.format import lower, record

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Objective

COMPROMISE = "compromise"
NEIGHBOURHOOD = 0.25
"""Share of each objective's range that counts as near when a knee is sought: a quarter sees past the gaps of a front
of some hundred designs; no source."""
NEAR_BEST = 0.01
"""A hundredth of an objective's scale, less than the model itself can be sure of, is given up for a cost lower by the
factor e, so that the cheaper of two near equals is the better."""
RULE = (
    "Recommended are only designs that break no limit with exchangers made of tubes, and of these only such as are no "
    "worse than the reference value of any objective, as long as there are any. "
    "Each objective is measured on the scenario's own scale, from its ideal to its reference, whatever limits are set: "
    "a limit that a recommended design keeps does not unseat it. "
    "The pick of an objective is the best in it, and of near equals the cheaper: a hundredth of its scale is given up "
    "where that divides the cost by 2.7; the compromise is the one nearest to the ideal of all objectives "
    "(root of the summed squares; better than an ideal counts as the ideal)."
)
NEGLIGIBLE = 1e-9
"""Of an objective's range: below it two designs are the same, and nothing is divided by it."""
STAGES_OF_WORDS = {layout.words: layout.stages for layout in LAYOUTS}


def normalise(frame: pd.DataFrame | Mapping[str, Any], objectives: Sequence[Objective]) -> np.ndarray:
    """Put the objectives on their normalised axes, (n, m): ideal 0, reference 1, less is better."""
    columns = [(np.asarray(frame[o.figure], float) - o.ideal) / (o.reference - o.ideal) for o in objectives]
    return np.stack(columns, axis=1) if columns else np.empty((0, 0))


def nondominated(values: np.ndarray) -> np.ndarray:
    """Tell which rows of ``values`` (n, m; less is better) no other row dominates; duplicates once."""
    import moocore

    if len(values) == 0:
        return np.zeros(0, bool)
    return np.asarray(moocore.is_nondominated(np.ascontiguousarray(values)), bool)


def hypervolume(values: np.ndarray) -> float:
    """Share of the unit box that the rows of ``values`` (n, m; normalised) dominate.

    What lies better than an ideal counts as the ideal; what is worse than a reference counts nothing.
    """
    import moocore

    inside = np.clip(values[(values < 1.0).all(axis=1)], 0.0, 1.0)
    if len(inside) == 0:
        return 0.0
    return float(moocore.hypervolume(inside, ref=np.ones(values.shape[1])))


def front_rows(frame: pd.DataFrame, objectives: Sequence[Objective]) -> np.ndarray:
    """Places in ``frame`` of the feasible, non-dominated designs, best in the first objective first."""
    feasible = np.flatnonzero(frame["feasible"].to_numpy().astype(bool))
    values = normalise(frame, objectives)[feasible]
    kept = feasible[nondominated(values)]
    first = objectives[0]
    figure = frame[first.figure].to_numpy(float)[kept]
    return kept[np.argsort(figure if first.direction == "minimise" else -figure, kind="stable")]


def feasible_front(frame: pd.DataFrame, objectives: Sequence[Objective]) -> pd.DataFrame:
    """Keep the feasible, non-dominated designs of ``frame``, best in the first objective first."""
    return frame.iloc[front_rows(frame, objectives)].reset_index(drop=True)


def own_fronts(
    designs: pd.DataFrame,
    front: pd.DataFrame,
    objectives: Sequence[Objective],
    ceilings_bar_g: Sequence[float],
    most: int,
) -> list[int]:
    """Choose, besides ``front``, the designs that are best of what is left when others are not wanted.

    These are the feasible rows of ``designs`` that no other of the same fluid and kind of store dominates, and that a
    design of ``front`` does: at most ``most`` places from 0, those first without which a fluid would be told wrongly (its
    best in each objective, and its most work and least cost under each ceiling), then by the hypervolume that each adds
    to its own front, fluid by fluid in turn.
    """
    taken, ahead = set(_choices(front)), normalise(front, objectives)
    feasible = np.flatnonzero(designs["feasible"].to_numpy(bool))
    kinds = designs[["fluid", "store_mode"]].iloc[feasible].reset_index(drop=True)
    ranked: list[tuple[int, int]] = []
    for _, kind in kinds.groupby(["fluid", "store_mode"], observed=True, sort=True):
        places = feasible[kind.index.to_numpy(int)]
        rows = designs.iloc[places]
        values, choices = normalise(rows, objectives), _choices(rows)
        unbeaten = nondominated(values)
        best = np.flatnonzero(unbeaten)
        needed = _needed(rows, values, [*best, *np.flatnonzero(~unbeaten)], ceilings_bar_g)
        by_gain = best[np.argsort(-_gains(values[best]), kind="stable")].tolist()
        others = [
            row
            for row in dict.fromkeys([*needed, *by_gain])
            if choices[row] not in taken and bool((ahead <= values[row]).all(axis=1).any())
        ]
        ranked += [(turn * (row not in needed), int(places[row])) for turn, row in enumerate(others, start=1)]
    return [place for _, place in sorted(ranked)[:most]]


def _choices(designs: pd.DataFrame) -> list[tuple[str, ...]]:
    """Tell designs apart by what was chosen of each."""
    names = [name for name in INPUTS if name in designs]
    return list(map(tuple, designs[names].astype(str).to_numpy()))


def _needed(
    rows: pd.DataFrame, values: np.ndarray, order: Sequence[int], ceilings_bar_g: Sequence[float]
) -> list[int]:
    """Find the best rows in each objective, and those with most work and least cost under each ceiling.

    Of equals the first in ``order``, which names all rows.
    """
    listed = np.asarray(order, dtype=int)
    found = listed[values[listed].argmin(axis=0)].tolist()
    pressure, work, cost = (
        rows[name].to_numpy(float)[listed]
        for name in ("peak_pressure_bar_g", "work_per_litre_kJ", "cost_EUR")
    )
    for ceiling in (np.inf, *ceilings_bar_g):
        under = pressure <= ceiling
        if under.any():
            found.append(int(listed[np.where(under, -work, np.inf).argmin()]))
            found.append(int(listed[np.where(under, cost, np.inf).argmin()]))
    return found


def _gains(values: np.ndarray) -> np.ndarray:
    """Share of the unit box that each row of a front (n, m; normalised) alone dominates, (n,); 0 beyond a reference."""
    import moocore

    gains = np.zeros(len(values))
    inside = (values < 1.0).all(axis=1)
    if inside.any():
        box = np.clip(values[inside], 0.0, 1.0)
        gains[inside] = moocore.hv_contributions(box, ref=np.ones(values.shape[1]))
    return gains


def scaled(values: np.ndarray) -> np.ndarray:
    """Stretch the columns of a front to its own range, 0 best found and 1 worst found."""
    low, high = values.min(axis=0), values.max(axis=0)
    return (values - low) / np.where(high > low, high - low, 1.0)


def recommended(
    figures: pd.DataFrame | Mapping[str, Any],
    objectives: Sequence[Objective],
    barred: Collection[int] = (),
    weights: Sequence[float] | None = None,
) -> list[int]:
    """Choose the rows to recommend by :data:`RULE`: one for each objective, then the compromise.

    ``figures`` holds the columns of at least one feasible, non-dominated design: the objectives and ``cost_EUR``.
    ``barred`` rows, which break a limit with tubes, are chosen only where there are no others. ``weights``, one an
    objective and none below nought, multiply the squares by which the compromise is chosen; without any, or where all
    are nought, all count alike. What is chosen of some
    rows is chosen of any part of them that holds it, because no scale depends on the rows.
    """
    values = normalise(figures, objectives)
    able = np.array([row for row in range(len(values)) if row not in barred], dtype=int)
    rows = able if len(able) else np.arange(len(values))
    inside = rows[(values[rows] <= 1.0).all(axis=1)]
    rows = inside if len(inside) else rows
    own = values[rows]
    dear = NEAR_BEST * np.log(np.maximum(np.asarray(figures["cost_EUR"], float)[rows], NEGLIGIBLE))
    chosen = [int(np.argmin(own[:, axis] + dear)) for axis in range(len(objectives))]
    chosen.append(int(np.argmin(_squares(own, weights))))
    return [int(rows[row]) for row in chosen]


def _squares(values: np.ndarray, weights: Sequence[float] | None) -> np.ndarray:
    """Sum the squares of the distances to the ideals, (n,), one objective after the other, as the page's script does."""
    worse = np.maximum(values, 0.0)
    counts = (
        weights
        if weights is not None and any(weight > 0.0 for weight in weights)
        else [1.0] * values.shape[1]
    )
    return np.asarray(
        sum(count * (worse[:, axis] * worse[:, axis]) for axis, count in enumerate(counts)), float
    )


def displaced(
    figures: pd.DataFrame | Mapping[str, Any], objectives: Sequence[Objective], barred: Collection[int]
) -> list[int | None]:
    """Return, for each of :func:`recommended`, the row that would be in its place were it not ``barred``, else None."""
    first, now = recommended(figures, objectives), recommended(figures, objectives, barred)
    return [row if row != kept and row in barred else None for row, kept in zip(first, now, strict=True)]


@dataclass(frozen=True)
class Role:
    """What a recommended design is recommended for: a key, its name in a sentence, and how it was chosen."""

    key: str
    name: str
    why: str

    @property
    def title(self) -> str:
        """The name as a heading."""
        return "The compromise" if self.key == COMPROMISE else self.name[:1].upper() + self.name[1:]


def roles(objectives: Sequence[Objective]) -> list[Role]:
    """Return the roles of :func:`recommended`, in its order; that of an objective has its figure as key."""
    return [
        *(Role(o.figure, goal(o), "best in it, and of near equals the cheaper") for o in objectives),
        Role(
            COMPROMISE,
            COMPROMISE,
            "nearest to the ideal of all objectives, each on the scenario's scale",
        ),
    ]


def goal(objective: Objective) -> str:
    """Say what an objective asks for: most work per litre, least cost."""
    return (
        f"{'most' if objective.direction == 'maximise' else 'least'} {lower(record(objective.figure).title)}"
    )


def picks(
    front: pd.DataFrame, objectives: Sequence[Objective], *, knees: int = 3, barred: Collection[int] = ()
) -> pd.DataFrame:
    """Choose the designs to show first; the column ``pick`` says what each one is, ``why`` how it was chosen.

    Those of :func:`recommended`, to which rows may be ``barred``, and the knees. A design chosen twice carries both names.
    """
    if len(front) == 0:
        return front.assign(pick=[], why=[])
    own = scaled(normalise(front, objectives))
    chosen: dict[int, list[tuple[str, str]]] = {}
    for row, role in zip(recommended(front, objectives, barred), roles(objectives), strict=True):
        chosen.setdefault(row, []).append((role.name, role.why))
    for number, row in enumerate(knee_points(own, knees), start=1):
        chosen.setdefault(row, []).append(
            (f"knee {number}", "its neighbours gain least for what they give up")
        )
    rows = front.iloc[list(chosen)].copy()
    rows.insert(0, "pick", [", ".join(name for name, _ in names) for names in chosen.values()])
    rows.insert(1, "why", ["; ".join(dict.fromkeys(why for _, why in names)) for names in chosen.values()])
    return rows.reset_index(drop=True)


def knee_points(own: np.ndarray, count: int) -> list[int]:
    """Find up to ``count`` knees of a front scaled to its own range, sharpest first.

    The trade-off of a point against another is what it would lose, summed over the objectives, per
    what it would gain by moving there. A point's sharpness is its least trade-off among the points
    within :data:`NEIGHBOURHOOD` of it; a knee is the sharpest point of its neighbourhood and sharper than 1.
    """
    if count == 0:
        return []
    sharpness = np.full(len(own), -np.inf)
    near = []
    for i, point in enumerate(own):
        step = own - point
        close = (np.abs(step).max(axis=1) <= NEIGHBOURHOOD) & (np.abs(step).max(axis=1) > NEGLIGIBLE)
        near.append(np.flatnonzero(close))
        loss = np.maximum(step[close], 0.0).sum(axis=1)
        gain = np.maximum(-step[close], 0.0).sum(axis=1)
        if close.any():
            sharpness[i] = np.min(loss / np.maximum(gain, NEGLIGIBLE))
    peaks = [
        i
        for i in range(len(own))
        if sharpness[i] > 1.0 and sharpness[i] >= sharpness[near[i]].max(initial=0.0)
    ]
    return sorted(peaks, key=lambda i: (-sharpness[i], i))[:count]


def fluids_table(
    frame: pd.DataFrame,
    ceilings_bar_g: Sequence[float],
    *,
    counts: dict[str, tuple[int, int]] | None = None,
) -> pd.DataFrame:
    """Rank the fluids: for each, the best feasible work per litre under each pressure ceiling.

    ``counts`` gives (evaluated, feasible) designs per fluid over the whole run; without it the
    frame's own rows are counted. Columns: ``fluid``, ``evaluated``, ``feasible``, for each ceiling
    ``work_per_litre_kJ_under_<ceiling>_bar_g`` and the cost of that design, then cost, pressure and
    work of the fluid's best and cheapest designs. Empty where a fluid has no such design.
    """
    return _kinds_table(frame, "fluid", ceilings_bar_g, counts)


def layouts_table(
    frame: pd.DataFrame,
    front: pd.DataFrame,
    ceilings_bar_g: Sequence[float],
    *,
    counts: dict[str, tuple[int, int]] | None = None,
) -> pd.DataFrame:
    """Rank the layouts (store, expansions, pressure levels, governor) as :func:`fluids_table` ranks the fluids.

    Columns: ``layout`` in words, those of the fluids' table, ``on_front``, the designs of the front, ``stages``, and
    ``work_behind_kJ`` and ``cost_behind_EUR``: by how much the layout's best design does less work per litre, and costs
    more, than the best of all layouts.
    """
    table = _kinds_table(frame.assign(layout=_layouts(frame)), "layout", ceilings_bar_g, counts)
    lines = _layouts(front).value_counts()
    table.insert(3, "on_front", [int(lines.get(name, 0)) for name in table["layout"]])
    table["stages"] = [STAGES_OF_WORDS[name] for name in table["layout"]]
    table["work_behind_kJ"] = table["work_per_litre_kJ"].max() - table["work_per_litre_kJ"]
    table["cost_behind_EUR"] = table["cost_EUR"] - table["cost_EUR"].iloc[0]
    return table


def _kinds_table(
    frame: pd.DataFrame,
    kind: str,
    ceilings_bar_g: Sequence[float],
    counts: dict[str, tuple[int, int]] | None,
) -> pd.DataFrame:
    """Rank what the column ``kind`` tells apart by its best feasible work per litre."""
    import pandas as pd

    feasible = frame[frame["feasible"].astype(bool)]
    own = {str(f): (len(rows), int(rows["feasible"].sum())) for f, rows in frame.groupby(kind, observed=True)}
    rows = [
        {kind: name, "evaluated": evaluated, "feasible": good}
        | _best_row(feasible[feasible[kind] == name], ceilings_bar_g)
        for name, (evaluated, good) in (counts or own).items()
    ]
    table = pd.DataFrame(rows)
    return table.sort_values(
        "work_per_litre_kJ", ascending=False, na_position="last", kind="stable"
    ).reset_index(drop=True)


def under_ceiling(ceiling_bar_g: float) -> str:
    """Name the column that holds the most work per litre under a pressure ceiling [bar gauge]."""
    return f"work_per_litre_kJ_under_{ceiling_bar_g:g}_bar_g"


def _layouts(frame: pd.DataFrame) -> pd.Series:
    """What each design's layout is called."""
    import pandas as pd

    columns = (frame[name] for name in ("store_mode", "stages", "pressure_levels", "governing"))
    words = [
        Layout(str(mode), int(stages), int(levels), governor).words
        for mode, stages, levels, governor in zip(*columns, strict=True)
    ]
    return pd.Series(words, index=frame.index, dtype=object)


def _best_row(designs: pd.DataFrame, ceilings_bar_g: Sequence[float]) -> dict[str, Any]:
    best = _best(designs, "work_per_litre_kJ", most=True)
    cheapest = _best(designs, "cost_EUR", most=False)
    row = {
        "work_per_litre_kJ": best["work_per_litre_kJ"],
        "cost_EUR": best["cost_EUR"],
        "peak_pressure_bar_g": best["peak_pressure_bar_g"],
        "least_cost_EUR": cheapest["cost_EUR"],
    }
    for ceiling in ceilings_bar_g:
        under = _best(designs[designs["peak_pressure_bar_g"] <= ceiling], "work_per_litre_kJ", most=True)
        row[under_ceiling(ceiling)] = under["work_per_litre_kJ"]
        row[f"cost_EUR_under_{ceiling:g}_bar_g"] = under["cost_EUR"]
    return row


def _best(designs: pd.DataFrame, figure: str, *, most: bool) -> dict[str, float]:
    """Figures of the design best in ``figure``; NaN if there is none."""
    wanted = ("work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g")
    if len(designs) == 0:
        return dict.fromkeys(wanted, float("nan"))
    ordered = designs.sort_values(figure, ascending=not most, kind="stable").iloc[0]
    return {name: float(ordered[name]) for name in wanted}
