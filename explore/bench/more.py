"""What a little more of each part would add to a design made of parts at hand: evaluated again, the other parts kept."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from explore.design.space import Space
from explore.design.variables import INPUTS
from explore.figures.catalogue import CYLINDER_COLUMNS
from explore.figures.limits import BOUND, PREFIX
from explore.fluids.interface import Array

if TYPE_CHECKING:
    from explore.config.owned import Owned
    from explore.model import Evaluator

Row = Mapping[str, Any]
Columns = dict[str, np.ndarray]
ENERGY, COST = "shaft_energy_kWh_per_year", "cost_EUR"
STEP = 0.10
"""How much more of a part is tried: a tenth is a piece that can be bought, and little enough for the rest to stay."""
POWERS = (0.8, 1.25)
"""Times its power that a design is tried at: a fifth less and, as the same step, a quarter more."""
FITTED = 0.60
"""Effectiveness of a regenerator put where there is none: the middle of those searched."""
PLACES = 33
"""Values of an input tried at a time between its own and its end. With all parts in one batch these are enough for compiled
loops, which take a hundred designs in less time than arrays take one."""
ROUNDS = 2
"""Looks at an input, the second within the step in which the part is large enough: 1/1,024 of the way is closer than
anything is built."""
SETTLINGS = 3
"""Times that the speed is brought to what the same cylinders need: each leaves about a tenth of the miss or less."""
SPEED, REGENERATOR = "speed_rev_per_min", "regenerator_effectiveness"
SWEPT = tuple(one.swept for one in CYLINDER_COLUMNS)


@dataclass(frozen=True)
class Way:
    """How a plant uses more of a part: ``part`` in words, ``sizes`` that sum to its size, ``moves`` the input moved.

    ``upwards`` tells to which end of its range. ``follows``: the speed follows, so that the cylinders stay the same.
    """

    part: str
    sizes: tuple[str, ...]
    moves: str
    upwards: bool
    follows: bool = True

    @property
    def direct(self) -> bool:
        """Whether the part's size is the input itself."""
        return self.moves == self.sizes[0]


WAYS = (
    Way("collector area", ("collector_area_m2",), "collector_area_m2", True, follows=False),
    Way("tank volume", ("store_volume_L",), "store_volume_L", True, follows=False),
    Way("insulation", ("insulation_mm",), "insulation_mm", True, follows=False),
    Way("boiler area", ("boiler_area_m2",), "pinch_boiler_K", False),
    Way("boiler area", ("boiler_area_m2",), "evaporating_temperature_degC", True),
    Way("boiler area", ("boiler_area_m2",), "boil_approach_K", False),
    Way("condenser area", ("condenser_area_m2",), "condensing_temperature_degC", False),
    Way("condenser area", ("condenser_area_m2",), "pinch_condenser_K", False),
    Way("regenerator", (REGENERATOR,), REGENERATOR, True),
    Way("cylinder volume", SWEPT, SPEED, False, follows=False),
    Way("cylinder volume", SWEPT, "release_pressure_ratio", False, follows=False),
)
"""All that are tried; where a part has several, the one that gives most shaft energy is told."""


@dataclass(frozen=True)
class More:
    """What more of one ``part`` adds: ``size`` names its column, ``before`` and ``after`` are in that column's unit.

    ``moved``: inputs of the design that change with it, from and to, so that :func:`explore.evaluate` gives the same.
    ``energy`` [kWh a year] and ``price`` [EUR] beyond the design's own; ``broken`` limits that the design keeps as it is.
    """

    part: str
    size: str
    before: float
    after: float
    moved: dict[str, tuple[float, float]]
    energy: float
    price: float
    broken: tuple[str, ...]

    @property
    def free(self) -> bool:
        """Whether it gives more and costs nothing: what is there is not used up."""
        return self.energy > 0.0 and self.price <= 0.0

    @property
    def per_EUR(self) -> float | None:
        """Shaft energy a year for each EUR [kWh/EUR]; None where it adds none or costs nothing."""
        return self.energy / self.price if self.energy > 0.0 and self.price > 0.0 else None

    def plain(self) -> dict[str, Any]:
        """Return it as files hold it."""
        return {
            "part": self.part,
            "size": self.size,
            "before": self.before,
            "after": self.after,
            "moved": {name: list(pair) for name, pair in self.moved.items()},
            "energy_kWh_per_year": self.energy,
            "cost_EUR": self.price,
            "kWh_per_year_per_EUR": self.per_EUR,
            "broken": list(self.broken),
        }


def more(evaluator: Evaluator, design: Row) -> list[More]:
    """Try :data:`STEP` more of each part of one design, and return what it adds: what is free first.

    ``design`` holds its input columns. Every other part stays as it is: those that are there because they are, those to be
    bought as the model sizes them for the plant; where cylinders are there the speed follows, so that they stay the same.
    The rest of the order is most energy per EUR. Empty where the scenario owns nothing, or where the design cannot be.
    """
    if not evaluator.case.scenario.owned.anything:
        return []
    trial = _Trial(evaluator, {name: design[name] for name in INPUTS})
    ways = trial.ways()
    tried = trial.evaluated(ways, [trial.values(way) for way in ways])
    base = tried[0].row(0)
    if not base["possible"]:
        return []
    own = [_size(way, tried[0].columns)[0] for way in ways]
    owned = evaluator.case.scenario.owned
    found: dict[str, More] = {}
    for way, one in _enough(trial, ways, own, tried[1:]):
        told = _told(way, trial.design, base, one, owned)
        known = found.get(way.part)
        if known is None or (not told.broken, told.energy) > (not known.broken, known.energy):
            found[way.part] = told
    return sorted(found.values(), key=lambda one: (not one.free, -(one.per_EUR or 0.0), -one.energy))


def told(evaluator: Evaluator, design: Row, figures: Row) -> dict[str, Any]:
    """Return what files hold: of each part what more of it adds, and what the plant uses of gas and room, [used, there].

    ``figures`` are those of the design. Empty where the scenario owns nothing or the design cannot be.
    """
    found = more(evaluator, design)
    if not found:
        return {}
    scenario, room = evaluator.case.scenario, figures["room_volume_needed_m3"]
    gas, space = scenario.owned.charge_kg, scenario.room_volume_m3
    return {
        "parts": [one.plain() for one in found],
        "charge_kg": None if gas is None else [float(figures["charge_kg"]), gas],
        "room_m3": [float(room), space] if space is not None and _finite(room) else None,
        "powers": powers(evaluator, design),
    }


def powers(evaluator: Evaluator, design: Row) -> list[dict[str, Any]]:
    """Return what the design gives asked for :data:`POWERS` times its power: the one size that no part decides.

    Of each the ``power_W``, energy [kWh a year] and price [EUR] beyond the design's own, ``speed_rev_per_min``, which
    follows where cylinders are there, limits ``broken``, and ``needs``: what it takes beyond the parts, by figure.
    """
    case = evaluator.case
    owned = case.scenario.owned
    own = {name: np.array([design[name]]) for name in INPUTS}
    base, told = evaluator.evaluate(own), list[dict[str, Any]]()
    for factor in POWERS:
        power = factor * case.scenario.demand.shaft_power_W
        demand = case.scenario.demand.model_copy(update={"shaft_power_W": power})
        scenario = case.scenario.model_copy(update={"demand": demand})
        other = evaluator.under(case.model_copy(update={"scenario": scenario}))
        columns, figures = own, other.evaluate(own)
        for _ in range(SETTLINGS if owned.swept_volumes_L else 0):
            speed = np.asarray(columns[SPEED], float) * _growth(figures, base)
            columns = columns | {SPEED: speed if np.isfinite(speed).all() else own[SPEED]}
            figures = other.evaluate(columns)
        needs = {
            name: float(figures[name][0])
            for name, (_, most) in owned.bounds().items()
            if name not in SWEPT and most is not None and figures[name][0] > most
        }
        told.append(
            {
                "power_W": power,
                "energy_kWh_per_year": float(figures[ENERGY][0] - base[ENERGY][0]),
                "cost_EUR": float(figures[COST][0] - base[COST][0]),
                "speed_rev_per_min": float(columns[SPEED][0]),
                "needs": needs,
                "broken": _newly_broken(owned, _first(base), _first(figures)),
            }
        )
    return told


def _growth(figures: Columns, base: Columns) -> Array:
    """How many times larger the cylinder that grows most is than in ``base`` (1,), (n,): a speed so much higher serves."""
    with np.errstate(invalid="ignore", divide="ignore"):
        ratios = [np.asarray(figures[name], float) / np.asarray(base[name], float) for name in SWEPT]
    return np.asarray(np.fmax.reduce(ratios))


def _first(columns: Columns) -> Row:
    return {name: values[0] for name, values in columns.items()}


def _newly_broken(owned: Owned, base: Row, one: Row) -> list[str]:
    """Return limits that ``one`` breaks and ``base`` keeps; what is needed beyond parts is bought."""
    bought = {f"{BOUND}{name}" for name in owned.bounds()}
    limits = [name for name in one if name.startswith(PREFIX) and name not in bought]
    return [name for name in limits if one[name] > 0.0 and not base[name] > 0.0]


@dataclass(frozen=True)
class _Tried:
    """Inputs and figures of the values tried of one input, (n,)."""

    columns: Columns

    def row(self, place: int) -> Row:
        """Return one of them."""
        return {name: values[place] for name, values in self.columns.items()}

    def reached(self, way: Way, wanted: float) -> int | None:
        """Return the first place at which the part has its size and the plant can be; None without one."""
        enough = (_size(way, self.columns) >= wanted) & np.asarray(self.columns["possible"], bool)
        return int(np.argmax(enough)) if enough.any() else None


@dataclass(frozen=True)
class _Trial:
    """A design, and the model that evaluates it again."""

    evaluator: Evaluator
    design: dict[str, Any]

    def ways(self) -> list[Way]:
        """Return those that this design has: an input that it lacks, or that is at its end, cannot move."""
        engine = bool(self.evaluator.case.scenario.owned.swept_volumes_L)
        able = [way for way in WAYS if _finite(self.design[way.moves]) and (engine or way.sizes != SWEPT)]
        return [way for way in able if len(self.values(way))]

    def values(self, way: Way) -> Array:
        """Return the values to try: a tenth more of what is an input itself, else all the way to the end of its range."""
        start = float(self.design[way.moves])
        if way.direct:
            value = FITTED if start == 0.0 else start * (1.0 + STEP)
            return np.array([value] if way.moves != REGENERATOR or value < 1.0 else [])
        low, high = Space.from_case(self.evaluator.case).bounds[way.moves]
        end = high if way.upwards else low
        return (
            np.linspace(start, end, PLACES) if (end > start) == way.upwards and end != start else np.empty(0)
        )

    def evaluated(self, ways: Sequence[Way], values: Sequence[Array]) -> list[_Tried]:
        """Evaluate the design itself, and with the values of each way, as one batch; where it must, the speed follows."""
        lengths = [1, *map(len, values)]
        columns = {name: np.array([self.design[name]] * sum(lengths)) for name in INPUTS}
        follows = np.zeros(sum(lengths), bool)
        ends = np.cumsum(lengths)
        for way, some, end in zip(ways, values, ends[1:], strict=True):
            place = slice(end - len(some), end)
            columns[way.moves] = columns[way.moves].astype(float)
            columns[way.moves][place] = some
            follows[place] = way.follows and bool(self.evaluator.case.scenario.owned.swept_volumes_L)
        figures = self.evaluator.evaluate(columns)
        for _ in range(SETTLINGS if follows.any() else 0):
            speed = np.asarray(columns[SPEED], float) * _growth(
                figures, {name: figures[name][:1] for name in SWEPT}
            )
            moved = follows & np.isfinite(speed) & (speed > 0.0)
            columns = columns | {SPEED: np.where(moved, speed, columns[SPEED])}
            figures = self.evaluator.evaluate(columns)
        whole = columns | figures
        parts = [slice(end - length, end) for length, end in zip(lengths, ends, strict=True)]
        return [_Tried({name: column[part] for name, column in whole.items()}) for part in parts]


def _enough(
    trial: _Trial, ways: Sequence[Way], own: Sequence[float], tried: Sequence[_Tried]
) -> list[tuple[Way, Row]]:
    """Return the ways that make their part large enough, each with the design that does; look closer where it lies."""
    open_ways, sizes, looks = list(ways), list(own), list(tried)
    for _ in range(ROUNDS - 1):
        kept, closer = [], []
        for way, size, look in zip(open_ways, sizes, looks, strict=True):
            place = 0 if way.direct else look.reached(way, (1.0 + STEP) * size)
            if place is None:
                continue
            values = np.asarray(look.columns[way.moves], float)
            step = values[:1] if way.direct else np.linspace(values[max(place - 1, 0)], values[place], PLACES)
            kept.append((way, size))
            closer.append(step)
        open_ways, sizes = [way for way, _ in kept], [size for _, size in kept]
        looks = trial.evaluated(open_ways, closer)[1:]
    found = []
    for way, size, look in zip(open_ways, sizes, looks, strict=True):
        place = 0 if way.direct else look.reached(way, (1.0 + STEP) * size)
        if place is not None:
            found.append((way, look.row(place)))
    return found


def _told(way: Way, design: Row, base: Row, one: Row, owned: Owned) -> More:
    moved = {
        name: (float(design[name]), float(one[name]))
        for name in dict.fromkeys((way.moves, SPEED))
        if float(one[name]) != float(design[name])
    }
    return More(
        way.part,
        way.sizes[0],
        _of_row(way, {**design, **base}),
        _of_row(way, one),
        moved,
        float(one[ENERGY]) - float(base[ENERGY]),
        float(one[COST]) - float(base[COST]),
        tuple(_newly_broken(owned, base, one)),
    )


def _size(way: Way, columns: Columns) -> Array:
    """Size of a way's part, in the unit of its columns, (n,)."""
    return np.asarray(np.nansum([np.asarray(columns[name], float) for name in way.sizes], axis=0))


def _of_row(way: Way, row: Row) -> float:
    return float(_size(way, {name: np.array([row[name]]) for name in way.sizes})[0])


def _finite(value: Any) -> bool:
    return isinstance(value, int | float | np.number) and bool(np.isfinite(value))
