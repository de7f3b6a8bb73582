"""evaluate(): the order of things, from designs to every reported figure and constraint."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from copy import copy
from dataclasses import replace
from difflib import get_close_matches
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from explore import units
from explore.cache import cache_folder
from explore.cycle.discharge import mixed
from explore.cycle.performance import Performance
from explore.cycle.rated import LEAST_WORK
from explore.cycle.stratified import stratified
from explore.design import pins
from explore.design.designs import OPTIONAL, Designs
from explore.design.variables import INPUTS, OBJECTIVES
from explore.errors import InputError, quoted
from explore.figures.catalogue import FIGURES, TUBE_FIGURES
from explore.fluids import mixture_tables
from explore.fluids.blend import Blend, UnusableError
from explore.fluids.bottled import worst_fault, worst_pressure
from explore.fluids.interface import CRITICAL_MARGIN, HIGHEST_SATURATION_K, Array, Index, WorkingFluid
from explore.fluids.table_fluid import TableFluid, stacked
from explore.fluids.water import Water, boiling_temperature
from explore.judgement import vessels
from explore.judgement.limits import PHYSICAL, ROUNDING, Surroundings, laws_of_nature, violations
from explore.model import figures as written
from explore.model import least_collectors, years
from explore.model.ranges import outside_ranges
from explore.model.runs import Group, Runs
from explore.model.translation import plant_of
from explore.plant.site import air_pressure
from explore.year.series import Year
from explore.year.weather import Weather

if TYPE_CHECKING:
    from explore.config.schema import Case

Columns = dict[str, np.ndarray]
Path = Literal["tables", "helmholtz"]
ROOM_K = 293.15
"""20 degC, at which a bottle's pressure is commonly told."""
CHUNK = 4096
"""Designs evaluated at once: arrays of some megabytes; more are cut up and give the same bits."""
LAWS = "violation_laws_of_nature_fraction"
GENE = "collector_gene"
"""Of fitted collectors, beside the columns of a batch while it is evaluated; no figure that is reported."""


class Evaluator:
    """The system model of one case, ready for batches of designs.

    Holds property tables, the weather year on the collectors and all parameters; has no state that a
    call changes. ``properties`` chooses the tables or the Helmholtz equations themselves. Tables of a mixture
    are read, or built, when a design first asks for it; one that the equation of state cannot serve raises
    :class:`explore.errors.InputError` then.
    """

    def __init__(self, case: Case, properties: Path = "tables") -> None:
        self.case = case
        self.properties = properties
        cards = list(case.fluids.values())
        self.fluids = tuple(card.name for card in cards)
        self._substances = [card.substance for card in cards]
        self._ends = [card.ends for card in cards]
        pure = ~np.array([card.is_mixture for card in cards])
        self._mixture_number = np.where(pure, 0, 1 + np.arange(len(cards)))
        self._place = np.cumsum(pure) - 1
        self.collectors = tuple(card.name for card in case.collectors.values())
        self.water = Water.load()
        self._pure, listed = case.pure_fluids(), case.listed_pure_fluids()
        self._listed = np.array([listed.index(name) if name in listed else -1 for name in self.fluids])
        self._stack = stacked(listed, cache_folder()) if properties == "tables" and listed else None
        self.weather = years.weather(case)
        self.altitude = years.altitude_m(case, self.weather)
        self.air_pressure = air_pressure(self.altitude)
        self.boiling_temperature = boiling_temperature(self.air_pressure)
        self.plant = plant_of(case)
        self._refuse_unknown_figures()

    def _refuse_unknown_figures(self) -> None:
        """Raise :class:`InputError` if a bound or an objective names what no design has."""
        scenario = self.case.scenario
        reported = FIGURES if self.plant.tubing is None else FIGURES + TUBE_FIGURES
        asked = [("objectives", o.figure, OBJECTIVES) for o in scenario.objectives]
        asked += [("limits.bounds", name, INPUTS) for name in scenario.limits.bounds]
        for place, name, inputs in asked:
            if name in reported or name in inputs:
                continue
            if name in INPUTS:
                raise InputError(
                    f"scenario.{place}: {quoted(name)} is not a number that every design has; take a reported figure or "
                    f"one of {', '.join(inputs)}"
                )
            near = get_close_matches(name, (*reported, *inputs), n=1)
            hint = f"; did you mean {near[0]}?" if near else ""
            raise InputError(f"scenario.{place}: {quoted(name)} is not a reported figure{hint}")

    @property
    def usual(self) -> dict[str, Any]:
        """What counts where designs lack an optional column: the load's speed, the first governor it takes."""
        speed = self.case.scenario.demand.speed_rev_per_min
        return OPTIONAL | {"speed_rev_per_min": speed, "governing": pins.governors(self.case)[0]}

    @cached_property
    def _fault(self) -> list[tuple[float, float]]:
        """Pressure [Pa] with the store boiling and critical temperature [K] of each card's fluid, NaN if unusable.

        Of bottled gas they are those of the worst end of its range.
        """
        found = []
        for substance, ends in zip(self._substances, self._ends, strict=True):
            try:
                found.append(worst_fault((substance, *ends), self.fault_temperature))
            except UnusableError:  # designs on it are refused with the reason, the others are none the worse
                found.append((np.nan, np.nan))
        return found

    @property
    def fault_temperature(self) -> float:
        """Temperature [K] of the store when it boils: the fault."""
        return min(self.boiling_temperature, HIGHEST_SATURATION_K)

    @property
    def coldest_room(self) -> float:
        """Lowest temperature [K] of the air around store and engine; outdoors that of the year's coldest hour too."""
        site = self.case.scenario.site
        room = units.kelvin(site.room_temperature_degC)
        return room if site.room == "indoor" else min(room, self.coldest_air)

    @property
    def coldest_air(self) -> float:
        """Temperature [K] of the year's coldest hour, outdoors."""
        return float(np.min(self.weather.air_temperature_K))

    @property
    def rest_temperature(self) -> float:
        """Temperature [K] that engine and condenser fall to while they are shut off from the boiler."""
        return min(self.coldest_room, self.plant.machine.cooling_water_temperature)

    @cached_property
    def _fault_pressures(self) -> Array:
        return np.array([pressure for pressure, _ in self._fault])

    @cached_property
    def _fault_critical(self) -> Array:
        return np.array([critical for _, critical in self._fault])

    @cached_property
    def year(self) -> Year:
        """The hourly year of this case on every kind of collector."""
        return years.year(self.case, self.weather)

    def prepare(self) -> None:
        """Work out what every design asks for, so that it stands on disk: the year, each fluid's pressure in the fault."""
        _ = self.year, self._fault

    def under(self, case: Case, year: Year | None = None, weather: Weather | None = None) -> Evaluator:
        """Return the model of a case of the same fluids, collectors' names and place; tables are shared.

        ``year`` and ``weather`` are those of the case, where they differ from this one's.
        """
        for known in ("_fault_pressures", "_fault_critical"):
            getattr(
                self, known
            )  # worked out here, it goes over with the copy; else each copy would do it again
        other = copy(self)
        other.case, other.plant = case, plant_of(case)
        if year is not None:
            vars(other)["year"] = year
        if weather is not None:
            other.weather = weather
        return other

    def fluid(self, index: Index) -> WorkingFluid:
        """Return properties bound to designs whose fluids are ``self.fluids[index]``.

        They must be pure fluids only, or one mixture only (:meth:`structure` keeps them apart).
        """
        from explore.fluids.helmholtz import HelmholtzFluid

        number = int(self._mixture_number[index[0]]) if len(index) else 0
        if np.any(self._mixture_number[index] != number):
            raise ValueError("a batch holds pure fluids only, or one mixture only")
        if number:
            reason = self.case.unsized(self.fluids[number - 1])
            if reason is not None:
                raise InputError(f"{self.fluids[number - 1]} cannot be used: {reason}")
            blend = self._substances[number - 1]
            if self.properties == "tables" and isinstance(blend, Blend):
                return mixture_tables.stack(blend).bind(index)
            return HelmholtzFluid([blend], np.zeros(len(index), dtype=np.intp))
        if self.properties == "tables":
            return self._tabulated(index)
        return HelmholtzFluid(self._pure, self._place[index])

    def _tabulated(self, index: Index) -> TableFluid:
        """Bind tables of the fluids that the scenario lists; of all, which take longer, once a design asks for another."""
        place = self._listed[index]
        if self._stack is not None and not np.any(place < 0):
            return self._stack.bind(place)
        return stacked(self._pure, cache_folder()).bind(self._place[index])

    def boilers(self, designs: Designs) -> Index:
        """Return how many boilers in series each design runs with: a mixture or a fully mixed store has one."""
        several = designs.stratified & (self._mixture_number[designs.fluid] == 0)
        return np.where(several, np.minimum(designs.levels, designs.stages), 1)

    def structure(self, designs: Designs) -> Index:
        """Return a number that is equal for designs computed in one group.

        Hundreds tell stratified (1) from fully mixed (0), tens the stages, ones the boilers, thousands the mixture.
        """
        kind = designs.stratified * 100 + designs.stages * 10 + self.boilers(designs)
        return np.asarray(kind + 1000 * self._mixture_number[designs.fluid])

    def evaluate(self, columns: Mapping[str, np.ndarray]) -> Columns:
        """Evaluate sound columns of n designs, one at least; returns output columns, each (n,).

        Objectives and violations are always finite, and a search ranks by them; figures that do not apply are NaN. An
        input comes back where it is an objective. What is shown of a design that cannot be goes through :func:`emptied`.
        """
        return self._evaluated(columns, None)

    def evaluate_fitted(
        self, columns: Mapping[str, np.ndarray], gene: Array, area_of: Callable[[Array], Array]
    ) -> tuple[Array, Columns] | None:
        """Evaluate columns with the least collectors that serve the demand in place of their own.

        ``gene`` (n,) is that of each design's area, ``area_of`` [m2] as :func:`explore.model.least_collectors.fitted` has
        it. Returns the genes of the areas taken, and the figures; ``None`` where a larger area may be the better one.
        """
        if not least_collectors.is_best(self.case):
            return None
        figures = self._evaluated({**columns, GENE: gene}, area_of)
        return figures.pop(GENE), figures

    def _evaluated(
        self, columns: Mapping[str, np.ndarray], area_of: Callable[[Array], Array] | None
    ) -> Columns:
        """As :meth:`evaluate`, or with collectors that are fitted to the demand, whose genes stand among the figures."""
        n = len(columns["fluid"])
        if n > CHUNK:
            parts = [
                self._evaluated({k: v[i : i + CHUNK] for k, v in columns.items()}, area_of)
                for i in range(0, n, CHUNK)
            ]
            return {key: np.concatenate([part[key] for part in parts]) for key in parts[0]}
        designs = self.designs(columns)
        kinds = self._mixture_number[designs.fluid]
        if np.any(kinds != kinds[:1]):
            return self._apart(columns, kinds, area_of)
        done, taken = self.perform(designs), {}
        if area_of is None:
            season = years.run(self.year, self.case, self.plant, self.water, designs, done)
        else:
            gene, season = self._fitted(designs, done, columns[GENE], area_of)
            taken, area = {GENE: gene}, area_of(gene)
            designs, columns = replace(designs, collector_area=area), {**columns, "collector_area_m2": area}
        drawn = season.pop(years.DRAWN)
        figures = self._figures(designs, done, season)
        surroundings = Surroundings(
            self.air_pressure,
            self.boiling_temperature,
            self.standstill_temperature(designs),
            CRITICAL_MARGIN * self.fluid(designs.fluid).critical_temperature,
            self.plant.machine.cooling_water_temperature,
            np.where(designs.stratified & (kinds == 0), designs.stages, 1.0),
            self.fault_temperature - self._fault_critical[designs.fluid],
        )
        known = figures | self._wanted_inputs(columns)
        figures |= violations(self.case, designs, known, done, surroundings)
        best = years.best_efficiency(self.plant, designs, done)
        figures[LAWS] = laws_of_nature(figures, drawn, best, designs.top_temperature, surroundings)
        return self._settle(figures | self._objective_inputs(columns)) | taken

    def _fitted(
        self, designs: Designs, done: Performance, gene: Array, area_of: Callable[[Array], Array]
    ) -> tuple[Array, Columns]:
        """Genes of the least collectors that serve the demand, and the year with them."""

        def run(rows: Index, area: Array) -> Columns:
            part = replace(designs.take(rows), collector_area=area)
            return years.run(self.year, self.case, self.plant, self.water, part, done.take(rows))

        wanted = self.case.scenario.limits.served_share_min
        return least_collectors.fitted(run, gene, area_of, wanted, done.rated.net_work > LEAST_WORK)

    def _apart(
        self, columns: Mapping[str, np.ndarray], kinds: Index, area_of: Callable[[Array], Array] | None
    ) -> Columns:
        """Evaluate pure fluids and each mixture of a batch by themselves."""
        out: Columns = {}
        for kind in np.unique(kinds):
            rows = np.flatnonzero(kinds == kind)
            for name, values in self._evaluated({k: v[rows] for k, v in columns.items()}, area_of).items():
                out.setdefault(name, np.empty(len(kinds), values.dtype))[rows] = values
        return out

    def _wanted_inputs(self, columns: Mapping[str, np.ndarray]) -> Columns:
        """Input columns that the scenario bounds."""
        return {name: columns[name] for name in self.case.scenario.limits.bounds if name in columns}

    def _objective_inputs(self, columns: Mapping[str, np.ndarray]) -> Columns:
        """Input columns that are objectives: a search reads them beside the figures."""
        asked = [o.figure for o in self.case.scenario.objectives if o.figure in OBJECTIVES]
        n = len(columns["fluid"])
        return {name: columns[name] if name in columns else np.full(n, self.usual[name]) for name in asked}

    def designs(self, columns: Mapping[str, np.ndarray]) -> Designs:
        """Turn sound columns into arrays."""
        if self.plant.laws is None:  # constant losses know of no speed, governor or size
            columns = {name: values for name, values in columns.items() if name not in OPTIONAL}
        return Designs.from_columns(columns, self.fluids, self.collectors, self.usual)

    def perform(self, designs: Designs) -> Performance:
        """Run the cycles of all designs, group by group of equal structure."""
        return self.run(designs).done

    def run(self, designs: Designs) -> Runs:
        """Run the cycles of all designs and keep them, group by group of equal structure."""
        done, groups = Performance.empty(len(designs)), []
        key = self.structure(designs)
        for code in np.unique(key):
            index = np.flatnonzero(key == code)
            index = index[np.argsort(designs.fluid[index], kind="stable")]
            part, stages, boilers = designs.take(index), int(code) // 10 % 10, int(code) % 10
            fluid, engine = self.fluid(part.fluid), None
            if part.stratified[0]:
                cycle, results = stratified(fluid, self.water, self.plant, part, stages, boilers)
            else:
                cycle, engine, results = mixed(fluid, self.water, self.plant, part, stages)
            done.fill(index, results)
            groups.append(Group(index, part, fluid, cycle, engine))
        return Runs(designs, done, groups)

    def _figures(self, designs: Designs, done: Performance, season: Columns) -> Columns:
        fluid = self.fluid(designs.fluid)
        out: Columns = {}
        out |= written.cycle(self.plant, self.water, designs, done)
        out |= self.pressures(fluid, designs, done)
        out |= written.machine(self.case, self.plant, fluid, designs, done)
        out |= written.running(self.plant, fluid, self.fault_temperature, designs, done)
        out |= season
        out |= written.costs(self.case, self.plant, designs, out)
        if self.plant.tubing is not None:
            out |= dict(zip(TUBE_FIGURES, done.exchangers.tubes.figures.T, strict=True))
        return out | outside_ranges(designs, done, self.plant.tubing is not None)

    def standstill_temperature(self, designs: Designs) -> Array:
        """Highest temperature [K] of the store while the engine stands."""
        margin = self.case.scenario.limits.standstill_margin_K
        return np.minimum(designs.top_temperature + margin, self.boiling_temperature)

    def _worst_standstill(self, designs: Designs) -> Array:
        """Standstill pressure [Pa] at the worst end of what a bottle may hold; NaN where no range is given."""
        worst, temperature = np.full(len(designs), np.nan), self.standstill_temperature(designs)
        for number in np.unique(designs.fluid):
            if self._ends[number]:
                rows = np.flatnonzero(designs.fluid == number)
                worst[rows] = worst_pressure(
                    (self._substances[number], *self._ends[number]), temperature[rows]
                )
        return worst

    def pressures(self, fluid: WorkingFluid, designs: Designs, done: Performance) -> Columns:
        """Pressures of the plant, running, at rest and in the fault, by the names of the catalogue, each (n,)."""
        air = self.air_pressure
        roof = CRITICAL_MARGIN * fluid.critical_temperature
        standstill = fluid.saturation_pressure(np.minimum(self.standstill_temperature(designs), roof))
        worst = self._worst_standstill(designs)
        peak = np.fmax(np.maximum(standstill, done.pressures.highest_boiler), worst)
        rest = fluid.dew_pressure(np.full_like(roof, self.rest_temperature))  # of a mixture, the lower line
        fault_g = units.bar_gauge(self._fault_pressures[designs.fluid], air)
        peak_g = units.bar_gauge(peak, air)
        limits = self.case.scenario.limits
        design = vessels.design_pressure_bar_g(peak_g, fault_g, limits.relief_margin)
        return {
            "boiler_pressure_bar_a": units.bar(done.pressures.boiler),
            "max_boiler_pressure_bar_a": units.bar(done.pressures.highest_boiler),
            "lowest_boiler_pressure_bar_a": units.bar(done.pressures.lowest_boiler),
            "condenser_pressure_bar_a": units.bar(done.pressures.condenser),
            "rest_pressure_bar_g": units.bar_gauge(rest, air),
            "pressure_at_20degC_bar_g": units.bar_gauge(
                fluid.saturation_pressure(np.full_like(roof, ROOM_K)), air
            ),
            "peak_pressure_bar_g": peak_g,
            "standstill_pressure_bar_g": units.bar_gauge(standstill, air),
            "standstill_pressure_worst_bar_g": units.bar_gauge(worst, air),
            "fault_pressure_bar_g": fault_g,
            "design_pressure_bar_g": design,
            "test_pressure_bar_g": vessels.proof_test_bar_g(design),
        }

    def _settle(self, figures: Columns) -> Columns:
        """Make objectives and constraints finite, and say which designs are possible and which feasible.

        A number that is not finite in a figure that every design has counts as a violation of its own. The laws of
        nature are asked of designs that nothing else forbids; a year of those that cannot run says nothing.
        """
        must = [o.figure for o in self.case.scenario.objectives] + ["work_per_litre_kJ", "cost_EUR"]
        broken = np.zeros(len(figures["cost_EUR"]))
        for objective in dict.fromkeys(must):
            values = np.asarray(figures[objective], dtype=float)
            lost = ~np.isfinite(values)
            broken += lost
            if lost.any():
                figures[objective] = np.where(lost, self._worst(objective), values)
        figures["violation_numbers_count"] = figures["violation_numbers_count"] + broken
        names = [name for name in figures if name.startswith("violation_")]
        physical = [name for name in names if name in PHYSICAL and name != LAWS]
        possible = np.all([~(figures[name] > 0.0) for name in physical], axis=0)
        figures[LAWS] = np.where(possible, figures[LAWS], -ROUNDING)
        possible = possible & ~(figures[LAWS] > 0.0)
        feasible = np.all([~(figures[name] > 0.0) for name in names], axis=0)
        return {"possible": possible, "feasible": feasible} | figures

    def _worst(self, figure: str) -> float:
        for objective in self.case.scenario.objectives:
            if objective.figure == figure:
                return objective.reference
        return 0.0
