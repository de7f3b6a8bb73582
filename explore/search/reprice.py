"""An archive under changed prices, assumptions or limits: evaluated again, not searched again."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.config.schema import Case
from explore.design.space import INPUTS
from explore.errors import InputError
from explore.judgement.front import feasible_front, hypervolume, normalise
from explore.search.outcome import Moment, SearchOutcome
from explore.search.refine import Refinement

if TYPE_CHECKING:
    import pandas as pd


def reprice(case: Case, archive: pd.DataFrame, earlier: Mapping[str, Any] | None = None) -> SearchOutcome:
    """Judge the designs of a run's archive under another case of the same fluids and collectors.

    ``archive`` has the public input columns (a run's designs.csv), ``earlier`` is the run's summary, for
    its seed and whether the archive is all that it evaluated. The front is that of the archive: designs
    that only became good by the change may be missing, so a new search can find better; none of the designs
    kept is lost. Counts are over the archive.

    Raises :class:`InputError` if a design cannot be evaluated in this case, or none of them is feasible.
    """
    from explore.model import evaluate

    started = time.perf_counter()
    designs = evaluate(archive[[name for name in INPUTS if name in archive.columns]], case)
    seconds = time.perf_counter() - started
    front = feasible_front(designs, case.scenario.objectives)
    if len(front) == 0:
        raise InputError(
            f"none of the {len(designs):,} designs of this run is feasible under the changed case; search again"
        )
    volume = hypervolume(normalise(front, case.scenario.objectives))
    fluid, good = designs["fluid"], designs["feasible"].to_numpy(bool)
    lost, alone = _losses(designs, good)
    return SearchOutcome(
        front=front,
        designs=designs,
        all_kept=bool((earlier or {}).get("all_designs_written", True)),
        hypervolume=volume,
        history=[Moment(len(designs), seconds, volume)],
        random_history=[],
        last_tenth_gain=0.0,
        refinement=Refinement((), ()),
        evaluated=_counted(fluid),
        feasible=_counted(fluid[good]),
        lost_to=lost,
        lost_alone=alone,
        left_out={},
        resolution=0.0,
        stop_reason="repriced",
        trouble="",
        legs=0,
        legs_here=0,
        workers=1,
        seed=int((earlier or {}).get("seed", case.search.seed)),
        seconds=seconds,
        designs_per_second=len(designs) / seconds,
        bookkeeping_us_per_design=0.0,
        model_us_per_design=1e6 * seconds / len(designs),
        timings_s={"archive": seconds},
    )


def _losses(designs: pd.DataFrame, good: np.ndarray) -> tuple[dict[str, int], dict[str, int]]:
    """Designs that broke each constraint, and those that broke no other."""
    names = [str(name) for name in designs if str(name).startswith("violation_")]
    broken = (designs[names].to_numpy() > 0.0) & ~good[:, None]
    single = broken & (broken.sum(axis=1) == 1)[:, None]
    return (
        dict(zip(names, broken.sum(axis=0).tolist(), strict=True)),
        dict(zip(names, single.sum(axis=0).tolist(), strict=True)),
    )


def _counted(fluids: pd.Series) -> dict[str, int]:
    return {str(name): int(count) for name, count in fluids.value_counts().items()}
