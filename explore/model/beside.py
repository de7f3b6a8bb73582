"""The same designs with exchangers made of tubes, beside those whose exchangers stand on coefficients."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.figures.catalogue import TUBE_FIGURES
from explore.figures.limits import BOUND, PREFIX
from explore.judgement.cautions import Caution
from explore.judgement.severity import Severity

if TYPE_CHECKING:
    from explore.model import Evaluator

COMPARED = (
    "work_per_litre_kJ",
    "served_share",
    "boiler_area_m2",
    "condenser_area_m2",
    "charge_kg",
    "room_volume_needed_m3",
    "relief_capacity_kg_per_s",
    "cost_EUR",
)
"""What changes when coefficients become tubes."""
HELD = (
    "boiler_area_m2",
    "condenser_area_m2",
    "charge_kg",
    "room_volume_needed_m3",
    "relief_capacity_kg_per_s",
)
"""Of these, what decides how much fluid is in the plant, and what that asks of room and relief valve."""


def with_tubes(
    evaluator: Evaluator, columns: Mapping[str, np.ndarray], plain: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Evaluate designs once more with tubes; one dict a design, empty where tubes cannot be had.

    ``plain`` has the figures that each design has on coefficients.

    ``compared``: figure -> [with coefficients, with tubes]; ``tubes``: figures of the tubes; ``broken``: violation -> its
    amount, of limits that break only with tubes. Empty for mixtures, and where the case has tubes already.
    """
    from explore.model import Evaluator as Model

    case, n = evaluator.case, len(columns["fluid"])
    found: list[dict[str, Any]] = [{} for _ in range(n)]
    rows = np.array(
        [i for i, name in enumerate(columns["fluid"]) if not case.card(str(name)).is_mixture], dtype=int
    )
    if case.exchangers.method == "tubes" or len(rows) == 0:
        return found
    exchangers = case.exchangers.model_copy(update={"method": "tubes"})
    some = {name: values[rows] for name, values in columns.items()}
    tubed = Model(case.model_copy(update={"exchangers": exchangers}), evaluator.properties).evaluate(some)
    # cylinders that are there turn a little slower or faster instead
    own = {f"{BOUND}{name}" for name in case.scenario.owned.bounds() if name.startswith("swept_volume")}
    limits = [name for name in tubed if name.startswith(PREFIX) and name not in own]
    for place, row in enumerate(rows):
        found[row] = {
            "compared": {name: [float(plain[row][name]), float(tubed[name][place])] for name in COMPARED},
            "tubes": {
                name: float(tubed[name][place]) for name in TUBE_FIGURES if np.isfinite(tubed[name][place])
            },
            "broken": {
                name: float(tubed[name][place])
                for name in limits
                if tubed[name][place] > 0.0 and not (name in plain[row] and plain[row][name] > 0.0)
            },
        }
    return found


def as_made(figures: Mapping[str, Any], found: Mapping[str, Any]) -> dict[str, Any]:
    """Return the figures of a design with what its tubes hold, ``found`` by :func:`with_tubes`; unchanged without tubes.

    Of a plant that cannot run with its tubes, which has no charge then, the figures stay as they are.
    """
    compared = found.get("compared", {})
    held = {name: compared[name][1] for name in HELD if name in compared and math.isfinite(compared[name][1])}
    return {**figures, **(held if "charge_kg" in held else {})}


def caution(found: Mapping[str, Any], labels: Mapping[str, str]) -> list[dict[str, str]]:
    """What to heed where limits break with tubes; ``labels`` of the violations. Nothing where they are kept."""
    if not found.get("broken"):
        return []
    names = ", ".join(labels[name] for name in found["broken"])
    charge = found.get("compared", {}).get("charge_kg")
    held = "" if charge is None else f" They hold {charge[1]:.2f} kg of fluid, coefficients {charge[0]:.2f}."
    text = (
        f"With exchangers made of tubes this design breaks: {names}. Its coefficients promise more than tubes of the "
        f"sizes at hand give; change the tubes (exchangers.*) or take another design.{held}"
    )
    return [Caution("with tubes", Severity.WARNING, text).plain()]
