"""From a draw to a world: the case with other values of what is in doubt, and its model on the same tables."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import machine_code, units
from explore.config.doubtful import LAWS
from explore.doubt import weathers
from explore.doubt.draws import Array, Draws, Sample
from explore.fluids import kernels as fluids_kernels
from explore.model import Evaluator, years
from explore.plant import kernels as plant_kernels
from explore.year import kernels as year_kernels

if TYPE_CHECKING:
    from explore.config.schema import Case, Checked
    from explore.year.series import Year
    from explore.year.weather import Weather

OTHER = {"wall_law": ("linear", "root"), "leak_law": ("early", "mild")}
"""The two laws of which a world has one, the second as often as ``doubt`` says."""
COMPILED = (fluids_kernels, plant_kernels, year_kernels)


@dataclass(frozen=True)
class _Sky:
    """One year on the collectors, over black ground, and what white ground would add: effective and plane irradiance."""

    weather: Weather
    black: Year
    ground: tuple[Array, Array]


class Worlds:
    """The worlds of a case; property tables are those of its ``evaluator``.

    Each year of weather is laid out once, when a world first has it.
    """

    def __init__(self, evaluator: Evaluator):
        for loops in COMPILED:
            machine_code.loaded(loops)  # a world has few designs, but there are many worlds
        self.draws = Draws.of(evaluator.case)
        self._evaluator = evaluator
        self._skies: dict[int, _Sky] = {}

    def _sky(self, place: int) -> _Sky:
        if place not in self._skies:
            weather = weathers.weather(self._evaluator.case, self._evaluator.weather, place)
            black, white = (self._under_albedo(weather, albedo) for albedo in (0.0, 1.0))
            ground = (
                white.effective_irradiance - black.effective_irradiance,
                white.plane_irradiance - black.plane_irradiance,
            )
            self._skies[place] = _Sky(weather, black, ground)
        return self._skies[place]

    def _under_albedo(self, weather: Weather, albedo: float) -> Year:
        case = self._evaluator.case
        site = case.scenario.site.model_copy(update={"albedo": albedo})
        scenario = case.scenario.model_copy(update={"site": site})
        return years.year(case.model_copy(update={"scenario": scenario}), weather)

    def model(self, sample: Sample, row: int) -> Evaluator:
        """Return the model of one draw."""
        case, sky = self.case(sample, row), self._sky(int(sample.weather[row]))
        return self._evaluator.under(case, _year(case, sky), sky.weather)

    def case(self, sample: Sample, row: int) -> Case:
        """Return the checked case of one draw."""
        base = self._evaluator.case
        drawn: dict[str, dict[str, float]] = {}
        for one, number in zip(self.draws.items, sample.values[row].tolist(), strict=True):
            group, key = one.place
            place = drawn.setdefault(group, {})
            place[key] = place.get(key, 1.0) * number if group in ("collectors", "fluids") else number
        laws: dict[str, Any] = {}
        if base.engine.losses == "scaling":
            laws = {law: OTHER[law][int(other)] for law, other in zip(LAWS, sample.laws[row], strict=True)}
        site = _with(base.scenario.site, drawn.get("site", {}))
        # sized anew, a design needs other parts than those at hand: it buys what it lacks
        owned = base.scenario.owned
        owned = owned.model_copy(update={"may_buy_more": True}) if owned.anything else owned
        return base.model_copy(
            update={
                "engine": _with(base.engine, drawn.get("engine", {}) | laws),
                "costs": _with(base.costs, drawn.get("costs", {})),
                "exchangers": _with(base.exchangers, drawn.get("exchangers", {})),
                "scenario": base.scenario.model_copy(update={"site": site, "owned": owned}),
                "collectors": _multiplied(base.collectors, drawn.get("collectors", {})),
                "fluids": _multiplied(base.fluids, drawn.get("fluids", {})),
            }
        )


def _year(case: Case, sky: _Sky) -> Year:
    """Lay the weather out: light from the ground grows with the albedo, a room has its own temperature."""
    site, black = case.scenario.site, sky.black
    room = black.room_temperature_K
    if site.room == "indoor":
        room = np.full_like(room, units.kelvin(site.room_temperature_degC))
    effective, plane = sky.ground
    return replace(
        black,
        effective_irradiance=black.effective_irradiance + site.albedo * effective,
        plane_irradiance=black.plane_irradiance + site.albedo * plane,
        room_temperature_K=room,
    )


def _with(values: Any, drawn: Mapping[str, Any]) -> Any:
    """Return a group of the configuration, checked, with other values."""
    return type(values).model_validate(values.model_dump() | dict(drawn)) if drawn else values


def _multiplied(cards: Mapping[str, Checked], factors: Mapping[str, float]) -> dict[str, Any]:
    """Return cards with values multiplied; a share stays a share."""
    found = {}
    for name, card in cards.items():
        changed = {key: getattr(card, key) * factor for key, factor in factors.items()}
        if "eta0" in changed:
            changed["eta0"] = min(changed["eta0"], 1.0)
        found[name] = card.model_copy(update=changed)
    return found
