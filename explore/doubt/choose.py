"""Which designs of a run are tried in other worlds: the recommended ones, the best of each kind, and what lies between."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design.variables import INPUTS
from explore.doubt.judge import figures_of
from explore.errors import InputError
from explore.judgement.front import nondominated, normalise, scaled

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case

LINE, ROLE = "line", "role"
"""Columns beside the inputs: line of front.csv (0 for other designs of the archive) and what it is recommended for."""
TO_SPARE = (0.07, 0.14)
"""Of the demand: in the likely world a plant that serves eight tenths serves a seventh of the demand less. The best of each
fluid alone lie at the edge, the nearer the better the search was: of an orchard's 16 none kept every limit in 44 of 100
worlds, and R1336mzz(E) led by 12. Of 31 with these R1233zd(E) leads by 34 and in 12 none does; of 300, 31 and 7."""


def chosen(
    case: Case,
    front: pd.DataFrame,
    archive: pd.DataFrame,
    picks: Sequence[Mapping[str, Any]],
    count: int | None,
) -> pd.DataFrame:
    """Choose about ``count`` designs of a run; with None as few as a short study needs.

    These are the recommended ones and, of each fluid and each layout, the best in the first objective under each
    pressure ceiling; as few are of each fluid its best and, of those that serve so much more, the best
    (:data:`TO_SPARE`). Half of the others are spread over the front, half over what each fluid offers in objectives and
    served share: a design at the edge of a limit falls over it in half of the worlds. Returns inputs and figures with
    the columns :data:`LINE` and :data:`ROLE`. Raises :class:`InputError` if none is feasible.
    """
    import pandas as pd

    inputs = [name for name in INPUTS if name in front.columns]
    asked = list(dict.fromkeys([*inputs, *figures_of(case), "feasible"]))
    numbered = front[asked].assign(**{LINE: range(1, len(front) + 1)})
    whole = pd.concat([numbered, archive[asked].assign(**{LINE: 0})], ignore_index=True)
    whole = whole[whole["feasible"].astype(bool)].drop_duplicates(inputs).reset_index(drop=True)
    if len(whole) == 0:
        raise InputError(
            "none of the designs of this run is feasible; there is no choice to try in other worlds"
        )
    roles = {int(pick["row"]): str(pick["role"]) for pick in picks}
    whole[ROLE] = [roles.get(int(line), "") for line in whole[LINE]]
    rows = [int(row) for row in np.flatnonzero(whole[ROLE] != "")]
    rows = list(dict.fromkeys([*rows, *_best_of_kinds(case, whole, every=count is not None)]))
    if count is not None:
        rows = _spread(case, whole, rows, count)
    return whole.iloc[rows].reset_index(drop=True)


def ceilings(case: Case) -> list[float]:
    """Return the pressure ceilings [bar gauge] to be told apart: those of the page below the scenario's, and its own."""
    own = case.scenario.limits.pressure_ceiling_bar_g
    return [*sorted(one for one in set(case.report.pressure_ceilings_bar_g) if one < own), own]


def _best_of_kinds(case: Case, whole: pd.DataFrame, *, every: bool) -> list[int]:
    first = normalise(whole, case.scenario.objectives)[:, 0]
    served = whole["served_share"].to_numpy(float)
    rows: list[int] = []
    for ceiling in ceilings(case) if every else ceilings(case)[-1:]:
        under = (whole["peak_pressure_bar_g"] <= ceiling).to_numpy()
        layouts = [
            f"{mode} {stages}" for mode, stages in zip(whole["store_mode"], whole["stages"], strict=True)
        ]
        for kinds in (whole["fluid"].to_numpy(), *([np.array(layouts)] if every else [])):
            for kind in dict.fromkeys(kinds[under]):
                rivals = np.flatnonzero(under & (kinds == kind))
                best = rivals[np.argmin(first[rivals])]
                for more in (0.0,) if every else (0.0, *TO_SPARE):
                    able = rivals[served[rivals] >= served[best] + more]
                    rows += [int(row) for row in able[np.argsort(first[able], kind="stable")[:1]]]
    return rows


def _spread(case: Case, whole: pd.DataFrame, rows: list[int], count: int) -> list[int]:
    """Add designs of the front, then fluid by fluid in turn, each the farthest from those that are there already."""
    offers = np.column_stack(
        [normalise(whole, case.scenario.objectives), -whole["served_share"].to_numpy(float)]
    )
    waiting: dict[str, list[int]] = {}
    fluids = whole["fluid"].to_numpy()
    front = np.flatnonzero(whole[LINE] > 0)
    rows = [
        *rows,
        *_farthest(offers, front, [row for row in rows if row in front], max(count - len(rows), 0) // 2),
    ]
    for fluid in dict.fromkeys(fluids):
        places = np.flatnonzero(fluids == fluid)
        here = [row for row in rows if fluids[row] == fluid]
        waiting[str(fluid)] = _farthest(offers, places[nondominated(offers[places])], here, count)
    while len(rows) < count and any(waiting.values()):
        for fluid in sorted(waiting):
            if waiting[fluid] and len(rows) < count:
                rows.append(waiting[fluid].pop(0))
    return rows


def _farthest(offers: np.ndarray, kept: np.ndarray, here: Sequence[int], count: int) -> list[int]:
    """Order rows so that each is the farthest from all before it, and from those ``here``."""
    if len(kept) == 0:
        return []
    rows = np.concatenate([np.asarray(here, int), kept])
    places = scaled(offers[rows])
    away = np.full(len(rows), np.inf)
    for one in range(len(here)):
        away = np.minimum(away, np.linalg.norm(places - places[one], axis=1))
    order: list[int] = []
    for _ in range(min(count, len(kept))):
        far = len(here) + int(np.argmax(away[len(here) :]))
        if away[far] <= 0.0:
            break
        order.append(int(rows[far]))
        away = np.minimum(away, np.linalg.norm(places - places[far], axis=1))
    return order
