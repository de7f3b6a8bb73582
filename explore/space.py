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
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from explore.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

    from explore.schema import Case

Columns = dict[str, np.ndarray]

LEAST_BOILING_LIFT_K = 8.0
LEVEL_SPACING_K = 5.0
STOP_LIFT_K = 15.0
STOP_APPROACH_MARGIN_K = 5.0
PINCH_MARGIN_K = 0.5
CRITICAL_SHARE = 0.95


@dataclass(frozen=True)
class Variable:
    """One continuous design variable: unit, static bounds, scale, and when it applies."""

    name: str
    unit: str
    low: float
    high: float
    about: str
    applies: Literal["always", "stratified", "mixed", "levels", "regenerator"] = "always"
    log: bool = False


@dataclass(frozen=True, order=True)
class Layout:
    """How the machine is built: store mode, stages and pressure levels that fit together."""

    store_mode: str
    stages: int
    pressure_levels: int


STORE_MODES = ("stratified", "mixed")
LAYOUTS = tuple(
    [Layout("stratified", stages, levels) for stages in (1, 2, 3) for levels in range(1, stages + 1)]
    + [Layout("mixed", stages, 1) for stages in (1, 2, 3)]
)
CHOICES = ("fluid", "layout", "regenerator", "collector")
INPUTS = (
    "fluid",
    "store_mode",
    "top_temperature_degC",
    "evaporating_temperature_degC",
    "lowest_evaporating_temperature_degC",
    "boil_approach_K",
    "stop_temperature_degC",
    "superheat_K",
    "condensing_temperature_degC",
    "subcooling_K",
    "pinch_boiler_K",
    "pinch_condenser_K",
    "stages",
    "pressure_levels",
    "release_pressure_ratio",
    "regenerator_effectiveness",
    "store_volume_L",
    "insulation_mm",
    "collector",
    "collector_area_m2",
)


def variables(cooling_water_degC: float) -> tuple[Variable, ...]:
    """List the continuous variables with their default bounds, in the order of the genes.

    The order matters for decoding: a variable comes after those its bounds depend on.
    """
    cold = cooling_water_degC
    return (
        Variable("top_temperature_degC", "degC", 60, 97, "store temperature when full"),
        Variable("condensing_temperature_degC", "degC", cold + 3, cold + 25, "condensing temperature"),
        Variable("pinch_boiler_K", "K", 2, 12, "smallest difference to the water, boiler", "stratified"),
        Variable(
            "evaporating_temperature_degC", "degC", 30, 94.5, "evaporating, hottest boiler", "stratified"
        ),
        Variable(
            "lowest_evaporating_temperature_degC",
            "degC",
            cold + 3 + LEAST_BOILING_LIFT_K,
            89.5,
            "evaporating, coldest boiler",
            "levels",
        ),
        Variable("boil_approach_K", "K", 3, 15, "store above boiling temperature", "mixed"),
        Variable(
            "stop_temperature_degC",
            "degC",
            cold + 3 + STOP_LIFT_K,
            97,
            "store temperature that counts as empty",
            "mixed",
        ),
        Variable("superheat_K", "K", 0, 15, "superheat at boiler exit"),
        Variable("subcooling_K", "K", 0, 5, "subcooling at condenser exit"),
        Variable("pinch_condenser_K", "K", 2, 12, "smallest difference to the cooling water"),
        Variable("release_pressure_ratio", "-", 1, 2.5, "pressure at release over exhaust pressure"),
        Variable("regenerator_effectiveness", "-", 0.4, 0.8, "exhaust vapour warms the feed", "regenerator"),
        Variable("store_volume_L", "L", 50, 3000, "water in the store", log=True),
        Variable("insulation_mm", "mm", 30, 400, "insulation of the store", log=True),
        Variable("collector_area_m2", "m2", 0.5, 40, "collector area", log=True),
    )


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
        """Build the space of a case: default bounds, narrowed and pinned by ``case.space``.

        Raises :class:`InputError` for an unknown variable, a value of the wrong type or out of
        range, a reversed range, and for pins that leave nothing to choose from.
        """
        asked = dict(case.space)
        listed = variables(case.scenario.site.cooling_water_temperature_degC)
        _refuse_unknown(asked, listed)
        fluids, left_out = _fluids(case, asked.get("fluid"))
        effectiveness = asked.get("regenerator_effectiveness")
        regenerators, effectiveness_bounds = _regenerators(effectiveness)
        bounds = {v.name: _bounds(v, asked.get(v.name)) for v in listed if v.applies != "regenerator"}
        bounds["regenerator_effectiveness"] = effectiveness_bounds
        collectors = tuple(card.name for card in case.collectors.values())
        return cls(
            variables=listed,
            bounds=bounds,
            fluids=fluids,
            layouts=_layouts(asked),
            regenerators=regenerators,
            collectors=_names("collector", asked.get("collector"), {name: name for name in collectors}),
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
        layout = choices[:, 1]
        values["fluid"] = np.array(self.fluids)[choices[:, 0]]
        values["store_mode"] = np.array([x.store_mode for x in self.layouts])[layout]
        values["stages"] = np.array([x.stages for x in self.layouts])[layout]
        values["pressure_levels"] = np.array([x.pressure_levels for x in self.layouts])[layout]
        values["collector"] = np.array(self.collectors)[choices[:, 3]]
        return {name: values[name] for name in INPUTS}

    def _encode_choices(self, columns: Mapping[str, Any]) -> np.ndarray:
        modes, stages, levels = (columns[name] for name in ("store_mode", "stages", "pressure_levels"))
        layouts = [
            Layout(str(mode), int(stage), int(level))
            for mode, stage, level in zip(modes, stages, levels, strict=True)
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


def _refuse_unknown(asked: Mapping[str, Any], listed: Sequence[Variable]) -> None:
    known = {v.name for v in listed} | set(INPUTS)
    for name in asked:
        if name not in known:
            raise InputError(f"space.{name}: no such design variable; known are {', '.join(INPUTS)}")


def _bounds(variable: Variable, asked: Any) -> tuple[float, float]:
    """Apply a pin (number) or a narrowing ([low, high]) to a continuous variable."""
    if asked is None:
        return float(variable.low), float(variable.high)
    allowed = f"a number or [low, high] within {variable.low:g} to {variable.high:g} {variable.unit}"
    low, high = _pair(variable.name, asked, allowed)
    if not variable.low <= low <= high <= variable.high:
        raise InputError(
            f"space.{variable.name}={_shown(asked)} is outside what the model covers; allowed is {allowed}"
        )
    return low, high


def _pair(name: str, asked: Any, allowed: str) -> tuple[float, float]:
    """Read a number or a [low, high] pair; a reversed pair is an error."""
    ends = [asked, asked] if _is_number(asked) else asked
    pair = isinstance(ends, Sequence) and not isinstance(ends, str) and len(ends) == 2
    if not pair or not all(_is_number(end) for end in ends):
        raise InputError(
            f"space.{name}={_shown(asked)} is neither a number nor a range; allowed is {allowed}"
        )
    if ends[0] > ends[1]:
        raise InputError(f"space.{name}={_shown(asked)} is a reversed range; allowed is {allowed}")
    return float(ends[0]), float(ends[1])


def _regenerators(asked: Any) -> tuple[tuple[bool, ...], tuple[float, float]]:
    """Split the effectiveness into the choice (none or one) and its bounds when there is one."""
    least, most = 0.4, 0.8
    allowed = "0 (none), a number from 0.4 to 0.8, or a range [low, high] of these"
    if asked is None:
        return (False, True), (least, most)
    low, high = _pair("regenerator_effectiveness", asked, allowed)
    present = (max(low, least), min(high, most))
    if low < 0 or high > most or (low > 0 and present[0] > present[1]):
        raise InputError(f"space.regenerator_effectiveness={_shown(asked)} cannot be; allowed is {allowed}")
    if present[0] > present[1]:
        return (False,), (least, most)
    return ((False, True) if low == 0 else (True,)), present


def _layouts(asked: Mapping[str, Any]) -> tuple[Layout, ...]:
    """Keep the layouts that agree with the pins on store mode, stages and pressure levels."""
    modes = _names("store_mode", asked.get("store_mode"), {mode: mode for mode in STORE_MODES})
    stages = _whole("stages", asked.get("stages"))
    levels = _whole("pressure_levels", asked.get("pressure_levels"))
    kept = tuple(
        x for x in LAYOUTS if x.store_mode in modes and x.stages in stages and x.pressure_levels in levels
    )
    if not kept:
        raise InputError(
            "space.store_mode, space.stages and space.pressure_levels leave no layout: "
            "pressure_levels must lie between 1 and stages, and be 1 on a fully mixed store"
        )
    return kept


def _whole(name: str, asked: Any) -> range:
    """Read a pinned or narrowed whole number from 1 to 3."""
    if asked is None:
        return range(1, 4)
    allowed = "a whole number from 1 to 3, or [low, high]"
    low, high = _pair(name, asked, allowed)
    if low != int(low) or high != int(high) or low < 1 or high > 3:
        raise InputError(f"space.{name}={_shown(asked)} cannot be; allowed is {allowed}")
    return range(int(low), int(high) + 1)


def _names(name: str, asked: Any, options: Mapping[str, str]) -> tuple[str, ...]:
    """Read a name or a list of names; ``options`` maps every accepted spelling to the name kept."""
    allowed = f"one or several of {', '.join(dict.fromkeys(options.values()))}"
    if asked is None:
        return tuple(dict.fromkeys(options.values()))
    wanted = [asked] if isinstance(asked, str) else asked
    if not isinstance(wanted, Sequence) or not wanted or not all(isinstance(x, str) for x in wanted):
        raise InputError(
            f"space.{name}={_shown(asked)} is not a name or a list of names; allowed is {allowed}"
        )
    for value in wanted:
        if value not in options:
            raise InputError(f"space.{name}={_shown(asked)}: {value!r} is not known; allowed is {allowed}")
    return tuple(dict.fromkeys(options[value] for value in wanted))


def _fluids(case: Case, asked: Any) -> tuple[tuple[str, ...], dict[str, str]]:
    """Choose the fluids of a case and give the reason for each one left out."""
    listed = case.scenario.fluids or tuple(card.name for card in case.fluids.values())
    classes = case.scenario.limits.safety_classes
    allowed, left_out = [], {}
    for name in listed:
        safety = case.card(name).safety_class
        if classes is None or safety in classes:
            allowed.append(name)
        else:
            left_out[name] = f"safety class {safety} is not allowed by the scenario ({', '.join(classes)})"
    if not allowed:
        raise InputError(
            f"scenario.limits.safety_classes allows none of the fluids considered; "
            f"their classes are {', '.join(sorted({case.card(name).safety_class for name in listed}))}"
        )
    stems = {stem: card.name for stem, card in case.fluids.items() if card.name in allowed}
    _explain_left_out(asked, left_out)
    return _names("fluid", asked, {name: name for name in allowed} | stems), left_out


def _explain_left_out(asked: Any, left_out: Mapping[str, str]) -> None:
    for name in [asked] if isinstance(asked, str) else asked or ():
        if isinstance(name, str) and name in left_out:
            raise InputError(f"space.fluid: {name} cannot be used, its {left_out[name]}")


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and bool(np.isfinite(value))


def _shown(value: Any) -> str:
    return f"[{', '.join(str(x) for x in value)}]" if isinstance(value, list | tuple) else str(value)
