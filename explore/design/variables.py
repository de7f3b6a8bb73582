"""The design inputs, one record each: unit, bounds, scale, label, and when each applies.

This is the only list of them; columns, genes and the checks of a user's designs are read from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from explore.figures.record import CHOICE, SCALES, Place, Record
from explore.plant.governor import GOVERNORS, Governing

LEAST_BOILING_LIFT_K = 8.0
"""The coldest boiler stands this far above condensing (model, section 1): closer, its vapour gives no work worth a
boiler."""
STOP_LIFT_K = 15.0
"""A fully mixed store counts as empty this far above condensing at least (model, section 1)."""
LEAST_CONDENSING_LIFT_K = 3.0
"""Condensing above the cooling water, at least (model, section 1): nearer no condenser is built."""


@dataclass(frozen=True)
class Variable:
    """One continuous design variable: unit, static bounds, scale, and when it applies."""

    name: str
    unit: str
    low: float
    high: float
    about: str
    applies: str = "always"
    log: bool = False
    usual: float | None = None
    whole: bool = False


@dataclass(frozen=True, order=True)
class Layout:
    """How the machine is built: store mode, stages, pressure levels and governor that fit together.

    On a stratified store the engine always runs at its rated point: its governor says nothing.
    """

    store_mode: str
    stages: int
    pressure_levels: int
    governing: Governing = "throttle"

    @property
    def words(self) -> str:
        """What a table calls a plant built like this."""
        expansions = f"{self.stages} expansion{'s' * (self.stages > 1)}"
        levels = f"{self.pressure_levels} level{'s' * (self.pressure_levels > 1)}"
        kind = levels if self.store_mode == "stratified" else self.governing.replace("_", "-")
        return f"{self.store_mode}, {expansions}, {kind}"


STORE_MODES = ("stratified", "mixed")
"""Hot water above cold, drawn from the top; or one temperature throughout, with the boiler as a coil in it."""
LAYOUTS = tuple(
    [Layout("stratified", stages, levels) for stages in (1, 2, 3) for levels in range(1, stages + 1)]
    + [Layout("mixed", stages, 1, governor) for governor in GOVERNORS for stages in (1, 2, 3)]
)
"""All that fit together: on a stratified store up to as many levels as stages, on a mixed one every governor."""


@dataclass(frozen=True)
class Input(Record):
    """One design input.

    ``kind`` tells words and whole numbers from real ones; ``holds`` is what the model can hold, in the column's
    unit. A continuous variable of the search has a place among the genes (``gene``; it comes after those its
    bounds depend on), bounds ``search`` in the column's unit, and ``above_cold``: which of the two count from
    the temperature of the cooling water. ``log`` spreads it evenly by ratio;
    what is ``usual`` holds unless a user widens it.
    """

    kind: Literal["words", "whole", "number"] = "number"
    holds: tuple[float, float] = (0.0, 0.0)
    gene: int = 0
    search: tuple[float, float] = (0.0, 0.0)
    above_cold: tuple[bool, bool] = (False, False)
    log: bool = False
    about: str = ""
    usual: float | None = None

    @property
    def every(self) -> bool:
        """Whether it is a number that every design has, and so can be an objective."""
        return self.kind != "words" and self.applies in ("always", "regenerator")

    def at(self, cooling_water_degC: float) -> Variable:
        """Return the variable of the search where cooling water has this temperature."""
        low, high = (
            cooling_water_degC + bound if counted else bound
            for bound, counted in zip(self.search, self.above_cold, strict=True)
        )
        unit = {"°C": "degC", "m²": "m2", "": "-", "%": "-"}.get(self.unit, self.unit)
        return Variable(
            self.name, unit, low, high, self.about, self.applies, self.log, self.usual, self.kind == "whole"
        )


_ALL: tuple[Place, ...] = ("card", "terminal", "compare")
RECORDS = (
    Input("fluid", "", "Working fluid", CHOICE, "words", kind="words",
          places=("terminal", "compare", "table")),
    Input("store_mode", "", "Store", CHOICE, "words", kind="words", places=(*_ALL, "table")),
    Input("top_temperature_degC", "°C", "Store temperature, full", CHOICE, holds=(0.0, 110.0),
          gene=1, search=(60, 97), about="store temperature when full",
          places=(*_ALL, "table", "hover", "parallel")),
    Input("evaporating_temperature_degC", "°C", "Evaporating temperature", CHOICE, applies="stratified",
          holds=(0.0, 110.0), gene=4, search=(30, 94.5), about="evaporating, hottest boiler",
          places=("terminal", "hover")),
    Input("lowest_evaporating_temperature_degC", "°C", "Evaporating temperature, lowest level", CHOICE,
          applies="levels", holds=(0.0, 110.0), gene=5,
          search=(LEAST_CONDENSING_LIFT_K + LEAST_BOILING_LIFT_K, 89.5), above_cold=(True, False),
          about="evaporating, coldest boiler"),
    Input("boil_approach_K", "K", "Store above boiling fluid", CHOICE, applies="mixed", scale=SCALES["K"],
          holds=(0.0, 60.0), gene=6, search=(3, 15), about="store above boiling temperature"),
    Input("stop_temperature_degC", "°C", "Store temperature, engine stops", CHOICE, applies="mixed",
          holds=(0.0, 110.0), gene=7, search=(LEAST_CONDENSING_LIFT_K + STOP_LIFT_K, 97),
          above_cold=(True, False), about="store temperature that counts as empty", places=("terminal",)),
    Input("superheat_K", "K", "Superheat", CHOICE, scale=SCALES["K"], holds=(0.0, 40.0),
          gene=8, search=(0, 25), about="superheat at boiler exit"),
    Input("condensing_temperature_degC", "°C", "Condensing temperature", CHOICE, holds=(0.0, 90.0),
          gene=2, search=(LEAST_CONDENSING_LIFT_K, 25), above_cold=(True, True), about="condensing temperature",
          places=("terminal", "table", "hover", "parallel")),
    Input("subcooling_K", "K", "Subcooling", CHOICE, scale=SCALES["K"], holds=(0.0, 40.0),
          gene=9, search=(0, 5), about="subcooling at condenser exit"),
    Input("pinch_boiler_K", "K", "Boiler pinch", CHOICE, applies="stratified", scale=SCALES["K"],
          holds=(0.0, 60.0), gene=3, search=(2, 12), about="smallest difference to the water, boiler"),
    Input("pinch_condenser_K", "K", "Condenser pinch", CHOICE, scale=SCALES["K"], holds=(0.0, 60.0),
          gene=10, search=(2, 12), about="smallest difference to the cooling water"),
    Input("stages", "", "Expander stages", CHOICE, "whole", kind="whole", holds=(1, 3),
          places=(*_ALL, "table", "hover", "parallel")),
    Input("pressure_levels", "", "Pressure levels", CHOICE, "whole", kind="whole", holds=(1, 3),
          places=(*_ALL, "table", "hover", "parallel")),
    Input("release_pressure_ratio", "", "Release pressure over exhaust pressure", CHOICE, scale=0.5,
          holds=(1.0, 20.0), gene=11, search=(1, 4), about="pressure at release over exhaust pressure"),
    Input("regenerator_effectiveness", "%", "Regenerator effectiveness", CHOICE, "share",
          applies="regenerator", holds=(0.0, 1.0), gene=12, search=(0.4, 0.8), about="exhaust vapour warms the feed"),
    Input("store_volume_L", "L", "Store volume", CHOICE, holds=(1.0, 1e6), gene=13, search=(50, 3000), log=True,
          about="water in the store", places=(*_ALL, "table", "hover", "parallel", "size")),
    Input("insulation_mm", "mm", "Insulation", CHOICE, holds=(1.0, 5000.0), gene=14, search=(30, 400), log=True,
          about="insulation of the store"),
    Input("collector", "", "Collector", CHOICE, "words", kind="words", places=_ALL),
    Input("collector_area_m2", "m²", "Collector area", CHOICE, holds=(0.01, 1e5), gene=15, search=(0.5, 40),
          log=True, about="collector area", places=(*_ALL, "table", "hover", "parallel", "size")),
    Input("speed_rev_per_min", "rev/min", "Engine speed", CHOICE, holds=(1.0, 10_000.0), gene=16, search=(30, 1500),
          log=True, about="speed of the running engine", places=(*_ALL, "hover")),
    Input("cylinders_per_stage", "", "Cylinders side by side in each stage", CHOICE, "whole", kind="whole",
          holds=(1, 6), gene=17, search=(1, 6), usual=1, about="equal cylinders side by side in each stage"),
    Input("governing", "", "Governor", CHOICE, "words", kind="words", applies="mixed", places=("terminal", "hover")),
    Input("sizing_share", "%", "Where between empty and full the engine just gives its power", CHOICE, "share",
          applies="mixed", holds=(0.0, 1.0), gene=18, search=(0.1, 0.9),
          about="where between empty and full the cylinders just give the power"),
)  # fmt: skip
INPUTS = tuple(one.name for one in RECORDS)
OBJECTIVES = tuple(one.name for one in RECORDS if one.every)
"""Inputs that may be objectives: without a regenerator its effectiveness is 0, others are empty where they do not apply."""


def variables(cooling_water_degC: float) -> tuple[Variable, ...]:
    """List the continuous variables with their default bounds, in the order of the genes."""
    genes = sorted((one for one in RECORDS if one.gene), key=lambda one: one.gene)
    return tuple(one.at(cooling_water_degC) for one in genes)
