"""The mixed, conditional design space: variables, bounds, kinds, and which apply when.

A design is handled in two forms. As *genes* it is a row of numbers in [0, 1], one per
continuous variable, beside a row of whole numbers, one per choice; every row of genes is a
valid design of the space, because bounds that depend on other variables are applied while
decoding. As *columns* it is what the model reads and a person understands: one named array
per variable, in edge units, empty (NaN) where a variable does not apply.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design import pins
from explore.design.variables import INPUTS, LEAST_BOILING_LIFT_K, STOP_LIFT_K, Layout, Variable, variables
from explore.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.schema import Case

Columns = dict[str, np.ndarray]

LEVEL_SPACING_K = 5.0
"""Pressure levels closer than this are one (model, section 1: T_evap_low ends 5 K below T_evap)."""
STOP_APPROACH_MARGIN_K = 5.0
"""An empty store still boils the fluid this far above condensing (model, sections 1 and 5)."""
PINCH_MARGIN_K = 0.5
"""Reserve between boiling, pinch and full store, as the limit has it (model, section 5)."""
CRITICAL_SHARE = 0.95
"""Share of the critical temperature [K] at which saturation ends for the model (section 5)."""


CONSTANT = {"cylinders_per_stage": 1, "sizing_share": 0.25}
"""What an engine with constant losses has, whatever it might choose: no loss follows from it."""
CHOICES = ("fluid", "layout", "regenerator", "collector")


@dataclass(frozen=True)
class Space:
    """A design space after pins and narrowings: what genes mean in this case.

    ``bounds`` holds one (low, high) pair per continuous variable; a pinned variable has both equal.
    ``left_out`` gives, for each fluid that may not be used, the reason.
    ``critical_temperature_degC`` is optional; where given, no boiling temperature is proposed
    above 0.95 of it (in kelvin).
    """

    variables: tuple[Variable, ...]
    bounds: Mapping[str, tuple[float, float]]
    fluids: tuple[str, ...]
    layouts: tuple[Layout, ...]
    regenerators: tuple[bool, ...]
    collectors: tuple[str, ...]
    left_out: Mapping[str, str] = field(default_factory=dict)
    critical_temperature_degC: Mapping[str, float] | None = None

    @classmethod
    def from_case(cls, case: Case, *, critical_temperature_degC: Mapping[str, float] | None = None) -> Space:
        """Build the space of a case: default bounds, narrowed and pinned by ``case.asked``.

        Raises :class:`InputError` for an unknown variable, a value of the wrong type or out of
        range, a reversed range, and for pins that leave nothing to choose from.
        """
        asked = dict(case.asked)
        listed = variables(case.scenario.site.cooling_water_temperature_degC)
        pins.refuse_unknown(asked, listed)
        fluids, left_out = pins.fluids(case, asked.get("fluid"))
        effectiveness = asked.get("regenerator_effectiveness")
        regenerators, effectiveness_bounds = pins.regenerators(effectiveness)
        if case.engine.losses == "constant":
            asked = {**CONSTANT, "speed_rev_per_min": case.scenario.demand.speed_rev_per_min} | {
                name: value for name, value in asked.items() if value is not None
            }
        bounds = {v.name: pins.bounds(v, asked.get(v.name)) for v in listed if v.applies != "regenerator"}
        bounds["regenerator_effectiveness"] = effectiveness_bounds
        collectors = tuple(card.name for card in case.collectors.values())
        return cls(
            variables=listed,
            bounds=bounds,
            fluids=fluids,
            layouts=pins.layouts(
                asked,
                one_level=all(case.card(name).is_mixture for name in fluids),
                governors=pins.governors(case),
            ),
            regenerators=regenerators,
            collectors=pins.names("collector", asked.get("collector"), {name: name for name in collectors}),
            left_out=left_out,
            critical_temperature_degC=critical_temperature_degC,
        )

    @property
    def dimensions(self) -> int:
        """Number of continuous genes."""
        return len(self.variables)

    @property
    def choice_counts(self) -> tuple[int, int, int, int]:
        """Number of options of each choice, in the order of :data:`CHOICES`."""
        return len(self.fluids), len(self.layouts), len(self.regenerators), len(self.collectors)

    @property
    def free(self) -> np.ndarray:
        """Which continuous genes are not pinned, bool (d,)."""
        return np.array([self.bounds[v.name][0] < self.bounds[v.name][1] for v in self.variables])

    def applies(self, choices: np.ndarray) -> np.ndarray:
        """Tell which continuous variables matter to each design, bool (n, d)."""
        stratified, levels = self._layout_flags(choices)
        when = {
            "always": np.ones(len(choices), bool),
            "stratified": stratified,
            "mixed": ~stratified,
            "levels": levels > 1,
            "regenerator": np.array(self.regenerators)[choices[:, 2]],
        }
        return np.stack([when[v.applies] for v in self.variables], axis=1)

    def decode(self, unit: np.ndarray, choices: np.ndarray) -> Columns:
        """Turn genes into columns the model reads.

        ``unit`` is (n, d) in [0, 1], ``choices`` (n, 4) indices in the order of :data:`CHOICES`.
        """
        values: Columns = {}
        for j, variable in enumerate(self.variables):
            low, high = self._limits(variable.name, values, choices)
            own_low, own_high = self.bounds[variable.name]
            values[variable.name] = np.clip(_between(unit[:, j], low, high, variable.log), own_low, own_high)
        return self._columns(values, choices)

    def decoded(self, name: str, unit: np.ndarray) -> np.ndarray:
        """Values (n,) of one variable whose bounds do not depend on others, from its genes, as :meth:`decode` has them."""
        low, high = (np.full(len(unit), bound) for bound in self.bounds[name])
        log = next(variable.log for variable in self.variables if variable.name == name)
        return np.asarray(np.clip(_between(unit, low, high, log), low, high))

    def encode(self, columns: Mapping[str, Any]) -> tuple[np.ndarray, np.ndarray]:
        """Turn columns back into genes; values outside the space are moved to its edge.

        Raises :class:`InputError` if a fluid, collector or layout is not part of the space.
        """
        choices = self._encode_choices(columns)
        applies = self.applies(choices)
        unit = np.empty((len(choices), self.dimensions))
        values: Columns = {}
        for j, variable in enumerate(self.variables):
            low, high = self._limits(variable.name, values, choices)
            given = np.asarray(columns[variable.name], float)
            unit[:, j] = np.where(applies[:, j], _position(given, low, high, variable.log), 0.5)
            values[variable.name] = np.where(
                applies[:, j], given, _between(np.full(len(choices), 0.5), low, high, variable.log)
            )
        return unit, choices

    def sample(self, n: int, rng: np.random.Generator, *, quasi: bool = False) -> Columns:
        """Draw ``n`` designs as columns, uniformly in the genes, or quasi-randomly (Sobol)."""
        return self.decode(*self.sample_genes(n, rng, quasi=quasi))

    def sample_genes(
        self, n: int, rng: np.random.Generator, *, quasi: bool = False
    ) -> tuple[np.ndarray, np.ndarray]:
        """Draw ``n`` designs as genes: unit (n, d) and choices (n, 4)."""
        counts = self.choice_counts
        width = self.dimensions + len(counts)
        points = _sobol(n, width, rng) if quasi else rng.random((n, width))
        choices = np.minimum((points[:, self.dimensions :] * counts).astype(int), np.array(counts) - 1)
        return points[:, : self.dimensions], choices

    def designs(self, columns: Columns) -> pd.DataFrame:
        """Put columns into a frame with the public input columns in their public order."""
        import pandas as pd

        return pd.DataFrame({name: columns[name] for name in INPUTS})

    def _limits(self, name: str, values: Columns, choices: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Give the bounds of one variable, those that depend on ``values`` applied."""
        low, high = (np.full(len(choices), bound) for bound in self.bounds[name])
        if name == "evaporating_temperature_degC":
            low = np.maximum(low, values["condensing_temperature_degC"] + LEAST_BOILING_LIFT_K)
            high = np.minimum(
                high, values["top_temperature_degC"] - values["pinch_boiler_K"] - PINCH_MARGIN_K
            )
            high = np.minimum(high, self._hottest(choices))
        elif name == "lowest_evaporating_temperature_degC":
            low = np.maximum(low, values["condensing_temperature_degC"] + LEAST_BOILING_LIFT_K)
            high = np.minimum(high, values["evaporating_temperature_degC"] - LEVEL_SPACING_K)
        elif name == "stop_temperature_degC":
            lift = np.maximum(STOP_LIFT_K, values["boil_approach_K"] + STOP_APPROACH_MARGIN_K)
            low = np.maximum(low, values["condensing_temperature_degC"] + lift)
            high = np.minimum(high, values["top_temperature_degC"])
        # Where nothing lies between the bounds both become the upper one: the model judges the design.
        return np.minimum(low, high), high

    def _hottest(self, choices: np.ndarray) -> np.ndarray:
        """Highest boiling temperature worth proposing for each design's fluid [degC], (n,)."""
        known = self.critical_temperature_degC or {}
        limit = [
            CRITICAL_SHARE * (known[name] + 273.15) - 273.15 if name in known else np.inf
            for name in self.fluids
        ]
        return np.array(limit)[choices[:, 0]]

    def _layout_flags(self, choices: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        stratified = np.array([layout.store_mode == "stratified" for layout in self.layouts])
        levels = np.array([layout.pressure_levels for layout in self.layouts])
        return stratified[choices[:, 1]], levels[choices[:, 1]]

    def _columns(self, values: Columns, choices: np.ndarray) -> Columns:
        applies = self.applies(choices)
        for j, variable in enumerate(self.variables):
            missing = 0.0 if variable.applies == "regenerator" else np.nan
            values[variable.name] = np.where(applies[:, j], values[variable.name], missing)
            if variable.whole:
                values[variable.name] = np.rint(values[variable.name])
        layout = choices[:, 1]
        values["fluid"] = np.array(self.fluids)[choices[:, 0]]
        values["store_mode"] = np.array([x.store_mode for x in self.layouts])[layout]
        values["stages"] = np.array([x.stages for x in self.layouts])[layout]
        values["pressure_levels"] = np.array([x.pressure_levels for x in self.layouts])[layout]
        values["governing"] = np.array([x.governing for x in self.layouts])[layout]
        values["collector"] = np.array(self.collectors)[choices[:, 3]]
        return {name: values[name] for name in INPUTS}

    def _encode_choices(self, columns: Mapping[str, Any]) -> np.ndarray:
        modes, stages, levels, governing = (
            columns[name] for name in ("store_mode", "stages", "pressure_levels", "governing")
        )
        layouts = [
            Layout(str(mode), int(stage), int(level), *((str(governor),) if mode == "mixed" else ()))
            for mode, stage, level, governor in zip(modes, stages, levels, governing, strict=True)
        ]
        with_regenerator = [
            bool(value > 0) for value in np.asarray(columns["regenerator_effectiveness"], float)
        ]
        return np.stack(
            [
                _indices("fluid", [str(x) for x in columns["fluid"]], self.fluids),
                _indices("layout", layouts, self.layouts),
                _indices("regenerator", with_regenerator, self.regenerators),
                _indices("collector", [str(x) for x in columns["collector"]], self.collectors),
            ],
            axis=1,
        )


def random_designs(case: Case, n: int, seed: int, *, quasi: bool = True) -> pd.DataFrame:
    """Draw ``n`` designs of a case's space, quasi-random by default, as a frame of input columns."""
    space = Space.from_case(case)
    return space.designs(space.sample(n, np.random.default_rng(seed), quasi=quasi))


def _between(unit: np.ndarray, low: np.ndarray, high: np.ndarray, log: bool) -> np.ndarray:
    if log:
        return low * (high / low) ** unit
    return low + unit * (high - low)


def _position(value: np.ndarray, low: np.ndarray, high: np.ndarray, log: bool) -> np.ndarray:
    if log:
        value, low, high = np.log(value), np.log(low), np.log(high)
    width = high - low
    return np.where(width > 0, np.clip((value - low) / np.where(width > 0, width, 1.0), 0.0, 1.0), 0.5)


def _sobol(n: int, width: int, rng: np.random.Generator) -> np.ndarray:
    from scipy.stats import qmc

    engine = qmc.Sobol(width, scramble=True, rng=rng)
    return engine.random_base2(max(0, int(n - 1).bit_length()))[:n]


def _indices(what: str, values: Sequence[Any], options: Sequence[Any]) -> np.ndarray:
    place = {option: i for i, option in enumerate(options)}
    for value in values:
        if value not in place:
            raise InputError(f"{what} {value!r} is not part of this design space")
    return np.array([place[value] for value in values], int)
