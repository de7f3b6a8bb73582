"""Checked, frozen configuration: every parameter with its default, unit, range and source.

The models here are the only place where a configuration value is described. The report
prints the same descriptions, so an assumption cannot hide. Unknown keys are refused.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field, field_validator, model_validator
from pydantic.fields import FieldInfo

from explore.config.cards import Collector, FluidCard
from explore.config.costs import Costs
from explore.config.doubts import Doubt
from explore.config.engine import Engine
from explore.config.fields import Checked, doubted
from explore.config.owned import Owned
from explore.config.tasks import ChosenTask, SearchTask, own_keys
from explore.config.tubes import Exchangers
from explore.config.urls import secret_options
from explore.config.use import Use
from explore.config.yardsticks import Yardsticks
from explore.errors import few, quoted


class Site(Checked):
    """Where the plant stands and its collectors look."""

    weather: str = Field(
        "pvlib:723170TYA.CSV", description="EPW, TMY3 or TMY2 file; 'pvlib:NAME' is one shipped with pvlib"
    )
    altitude_m: float | None = Field(
        None, ge=-450, le=6000, description="m above sea level; empty: from the weather file"
    )
    tilt_deg: float = Field(35.0, ge=0, le=90, description="collectors from the horizontal")
    azimuth_deg: float = Field(180.0, ge=0, lt=360, description="clockwise from north")
    albedo: float = Field(
        0.2,
        ge=0,
        le=1,
        description="share of sunlight that the ground throws back",
        json_schema_extra=doubted("sun", "low", band=(0.15, 0.3)),
    )
    room: Literal["indoor", "outdoor"] = Field(
        "indoor",
        description="where engine and store stand; outdoors rest and winter are those of the weather",
    )
    room_temperature_degC: float = Field(
        20.0,
        ge=-30,
        le=45,
        description="air around store and engine; outdoors only for the holding time",
        json_schema_extra=doubted("room", "low", spread=(-2.0, 2.0)),
    )
    cooling_water_temperature_degC: float = Field(
        14.0,
        ge=1,
        le=40,
        description="where it enters the condenser, all year",
        json_schema_extra=doubted("cooling water", spread=(-2.0, 2.0)),
    )
    cooling_water_lift_m: float = Field(
        0.0, ge=0, le=200, description="m that the cooling water is pumped up; its work is taken off"
    )
    pump_static_head_m: float = Field(
        1.5, ge=0, le=20, description="liquid level at the condenser's outlet above the feed pump"
    )


class Demand(Checked):
    """When shaft power is asked for."""

    shaft_power_W: float = Field(
        250.0, ge=0.001, le=100_000, description="asked for at the load, in every hour of `hours`"
    )
    speed_rev_per_min: float = Field(300.0, ge=0.01, le=3000, description="speed of the load")
    speed_may_fall: bool = Field(False, description="the load accepts any speed below its own")
    bank: Literal["none", "day"] = Field(
        "none",
        description="day: the day's work is banked, so that the engine may run free while the store is hot",
    )
    bank_kind: Literal["tank", "battery"] = Field("tank", description="a header tank, or a battery")
    bank_efficiency: float = Field(1.0, gt=0, le=1, description="a header tank 1.0, a battery 0.85")
    bank_head_m: float = Field(
        10.0, gt=0, le=500, description="m from the water to a header tank, which gives its size (assumption)"
    )
    power_may_rise: float = Field(
        1.5,
        ge=1,
        le=20,
        description="most power the load takes, over that asked: pump 1.5, generator and battery 4",
    )
    hours: tuple[int, ...] = Field(
        (18, 19, 20, 21), description="clock hours (local standard time) in which the engine runs"
    )
    months: tuple[int, ...] = Field(
        (4, 5, 6, 7, 8, 9, 10), description="months in which the engine runs, 1 to 12"
    )
    hold_hours: float = Field(12.0, ge=0, le=1000, description="h the full store stands before it is used")

    @model_validator(mode="after")
    def _clock(self) -> Demand:
        if not self.hours or any(not 0 <= hour <= 23 for hour in self.hours):
            raise ValueError("demand.hours must be a non-empty list of clock hours from 0 to 23")
        if not self.months or any(not 1 <= month <= 12 for month in self.months):
            raise ValueError("demand.months must be a non-empty list of months from 1 to 12")
        for name, values in (("hours", self.hours), ("months", self.months)):
            if len(set(values)) < len(values):
                raise ValueError(f"demand.{name} must name each of them once, not {list(values)}")
        return self


class Limits(Checked):
    """What a design must keep within."""

    served_share_min: float = Field(
        0.8, ge=0, le=1, description="least share of the work asked for over the year that must be given"
    )
    pressure_ceiling_bar_g: float = Field(
        16.0, gt=0, le=200, description="most that the plant may come to, running or standing hot"
    )
    budget_EUR: float | None = Field(None, gt=0, description="most that it may cost; empty: any")
    safety_classes: tuple[str, ...] | None = Field(
        None, min_length=1, description="classes allowed; null: all"
    )
    vacuum_condenser: bool = Field(True, description="condenser below air pressure allowed")
    standstill_margin_K: float = Field(
        5.0, ge=0, le=40, description="store above its set temperature while the engine stands"
    )
    relief_margin: float = Field(
        1.1,
        ge=1,
        le=2,
        description="relief setting and design pressure over the greater of standstill and fault",
    )
    bounds: dict[str, tuple[float | None, float | None]] = Field(
        default_factory=dict, description="any reported figure: [least, most]"
    )

    @field_validator("bounds")
    @classmethod
    def _refuse_reversed(
        cls, value: dict[str, tuple[float | None, float | None]]
    ) -> dict[str, tuple[float | None, float | None]]:
        for figure, (least, most) in value.items():
            if least is not None and most is not None and least > most:
                raise ValueError(f"bounds.{figure}=[{least:g}, {most:g}]: reversed; write [least, most]")
        return value


class Objective(Checked):
    """One figure to optimise, with the fixed scale on which hypervolume is measured.

    An input that every design has, as its collector area, is as good as a reported figure.
    """

    figure: str
    direction: Literal["maximise", "minimise"]
    ideal: float = Field(description="value that counts as 0 on the normalised axis")
    reference: float = Field(description="value that counts as 1: the reference point")

    @model_validator(mode="after")
    def _order(self) -> Objective:
        better_is_less = self.direction == "minimise"
        if (self.ideal < self.reference) != better_is_less:
            raise ValueError(f"objectives: ideal of {self.figure} must be better than its reference")
        return self


class Scenario(Checked):
    """What is asked of the plant and where."""

    name: str = Field(min_length=1, description="names the folder of its runs")
    title: str = Field(description="heads page and sheets")
    description: str = Field("", description="a sentence or two below the title")
    site: Site = Site()
    demand: Demand = Demand()
    use: Use = Use()
    owned: Owned = Owned()
    limits: Limits = Limits()
    objectives: tuple[Objective, ...] = Field(
        min_length=2,
        max_length=4,
        description="what is traded: figure, direction, ideal and reference of each",
    )
    fluids: tuple[str, ...] | None = Field(
        None, min_length=1, description="working fluids to consider; null: all pure ones in the catalogue"
    )
    materials: tuple[str, ...] = Field(
        ("steel", "copper", "brass"), description="materials the builder means to use"
    )
    stock_bores_mm: tuple[Annotated[float, Field(gt=0, le=1000)], ...] | None = Field(
        None, min_length=1, description="tube bores at hand; empty: bore = stroke"
    )
    stock_walls_mm: tuple[Annotated[float, Field(gt=0, le=100)], ...] | None = Field(
        None, min_length=1, description="tube walls at hand, for the build sheet; empty: a usual list"
    )
    room_volume_m3: float | None = Field(
        40.0,
        gt=0,
        description="room in which the engine stands, limits the charge; empty: it stands outdoors; must be given where a "
        "fluid burns",
    )


MOST_DESIGNS = 10**12
"""Years of many machines."""
LARGEST_LEG = 1_000_000
"""With all its figures a leg of as many takes a gigabyte in each worker; some ten thousand are as quick by the design."""
MOST_KEPT = 10_000_000
"""As many, with all their figures, fill the memory of a large machine."""
SAMPLERS = ("islands", "nsga2", "nsga3", "tpe", "qmc", "random")


def is_own_sampler(name: str) -> bool:
    """Whether a sampler is named by the dotted path of a user's class: text that is imported only at its user's word."""
    parts = name.split(".")
    return len(parts) > 1 and all(part.isidentifier() for part in parts)


class Search(Checked):
    """How long and how hard to search."""

    name: str = Field(description="names how long is searched")
    designs: int | None = Field(None, ge=1, le=MOST_DESIGNS, description="stop after about this many designs")
    seconds: float | None = Field(None, gt=0, description="stop after this time")
    workers: int | None = Field(None, ge=1, le=256, description="processes; empty: one per core")
    seed: int = Field(1, ge=0, description="of all that is drawn: the same seed, the same designs")
    leg_designs: int = Field(
        4000, ge=200, le=LARGEST_LEG, description="designs of one leg, of the first ones if they grow"
    )
    largest_leg_designs: int | None = Field(
        None,
        ge=200,
        le=LARGEST_LEG,
        description="designs of a leg to which those of the islands double every round; empty: all alike",
    )
    legs_per_round: int = Field(
        8,
        ge=1,
        le=256,
        description="legs chosen at a time from what is known; fixes the result whatever the workers",
    )
    sampler: str = Field(
        "islands",
        description="what proposes designs: islands (populations bred side by side); Optuna's nsga2, nsga3, tpe, qmc or "
        "random; or a sampler of your own, package.module.Class",
    )
    population: int = Field(100, ge=8, le=LARGEST_LEG, description="designs that an island breeds from")
    least_share_per_fluid: float = Field(
        0.02,
        ge=0,
        le=0.04,
        description="least share of the designs that each fluid that may be feasible gets",
    )
    archive_designs: int = Field(
        20_000, ge=100, le=MOST_KEPT, description="designs kept; all of them up to this number"
    )
    storage: str | None = Field(
        None, description="database of the campaign; empty: a file in the run's folder"
    )
    artifacts: str | None = Field(
        None, description="folder all machines share for the legs' designs; empty: in the run's folder"
    )
    properties: Literal["tables", "helmholtz"] = Field(
        "tables", description="properties from tables, or from the equation of state itself: much slower"
    )
    against: Literal["nominal", "likely", "cautious"] = Field(
        "nominal",
        description="what the objectives are read by: nominal, the run's own values; likely, their median over worlds, "
        "limits kept in half of them; cautious, what they keep in four of five, limits kept in four of five",
    )
    worlds: int = Field(
        16,
        ge=4,
        le=1024,
        description="plausible worlds that likely and cautious read each design in, each as dear as the design itself",
    )

    @model_validator(mode="before")
    @classmethod
    def _by_its_old_name(cls, value: Any) -> Any:
        """Read the configuration of a run of before there were more samplers than three."""
        old = ("islands", "random", "nsga2")
        if isinstance(value, dict) and value.get("optimiser") in old and "sampler" not in value:
            return {"sampler" if key == "optimiser" else key: given for key, given in value.items()}
        return value

    @field_validator("sampler")
    @classmethod
    def _refuse_unknown_sampler(cls, value: str) -> str:
        if value not in SAMPLERS and not is_own_sampler(value):
            raise ValueError(
                f"{quoted(value)} is no sampler: it must be {', '.join(SAMPLERS[:-1])} or {SAMPLERS[-1]}, or a class of "
                "your own, package.module.Class"
            )
        return value

    @field_validator("storage")
    @classmethod
    def _refuse_secret_options(cls, value: str | None) -> str | None:
        if value and (options := secret_options(value)):
            raise ValueError(
                f"storage: a password does not belong into the URL's query ({options[0]}=...), where it would "
                "show; write user:password@host, or leave it to the driver's environment (PGPASSWORD)"
            )
        return value


class Report(Checked):
    """What the page shows."""

    pressure_ceilings_bar_g: tuple[float, ...] = Field(
        (4.0, 6.0, 10.0, 16.0, 25.0), description="ceilings for which the best design of each is told"
    )
    designs_shown: int = Field(
        3000, ge=10, le=MOST_KEPT, description="designs beside the front that the page draws"
    )
    sheets: int = Field(400, ge=10, le=10_000, description="designs of the front with a sheet of their own")
    own: tuple[str, ...] = Field(
        (), description="files of designs of your own that the page shows with the front"
    )


class Case(Checked):
    """Everything one run needs: the whole configuration, checked."""

    task: ChosenTask = SearchTask()
    scenario: Scenario
    engine: Engine = Engine()
    costs: Costs = Costs()
    exchangers: Exchangers = Exchangers()
    fluids: dict[str, FluidCard] = Field(min_length=1)
    collectors: dict[str, Collector] = Field(min_length=1)
    space: dict[str, Any] = Field(
        default_factory=dict, description="pins and narrowed ranges of design variables"
    )
    search: Search
    report: Report = Report()
    doubt: Doubt = Doubt()
    yardsticks: Yardsticks = Yardsticks()
    results_folder: str = Field("results", min_length=1)

    @field_validator("task", mode="before")
    @classmethod
    def _with_its_own_keys(cls, value: Any) -> Any:
        return own_keys(value)

    @model_validator(mode="after")
    def _fluids_known(self) -> Case:
        known = [card.name for card in self.fluids.values()]
        for name in known:
            if known.count(name) > 1:
                raise ValueError(f"fluids: {quoted(name)} is the name of two cards; each fluid has one")
        for name in self.scenario.fluids or ():
            if name not in known:
                raise ValueError(f"scenario.fluids: {quoted(name)} has no card; known are {few(known, name)}")
        return self

    @model_validator(mode="after")
    def _owned_known(self) -> Case:
        """Refuse parts of a kind that has no card."""
        owned = self.scenario.owned
        for key, cards in (("fluid", self.fluids), ("collector", self.collectors)):
            wanted, names = getattr(owned, key), [card.name for card in cards.values()]
            if wanted is not None and wanted not in names:
                raise ValueError(
                    f"scenario.owned.{key}: {quoted(wanted)} has no card; known are {few(names, wanted)}"
                )
        return self

    @property
    def asked(self) -> dict[str, Any]:
        """What is asked of the design variables: the parts that are there, and ``space`` before them."""
        return self.scenario.owned.pins() | {name: one for name, one in self.space.items() if one is not None}

    def unsized(self, fluid: str) -> str | None:
        """Return why the exchangers cannot be sized for a fluid; None if they can."""
        if self.exchangers.method == "tubes" and self.card(fluid).is_mixture:
            return "films in tubes are known here for pure fluids only; take exchangers=coefficients"
        return None

    def pure_fluids(self) -> tuple[str, ...]:
        """Return the names of all fluids of the catalogue that are no mixtures."""
        return tuple(card.name for card in self.fluids.values() if not card.is_mixture)

    def listed_pure_fluids(self) -> tuple[str, ...]:
        """Return those of them that the scenario lists; all, where it lists no fluid."""
        listed = self.scenario.fluids
        return tuple(name for name in self.pure_fluids() if not listed or name in listed)

    def card(self, fluid: str) -> FluidCard:
        """Return the card of the fluid named ``fluid``."""
        return next(card for card in self.fluids.values() if card.name == fluid)


def described(model: Checked) -> list[dict[str, Any]]:
    """List the described values of a group: name, value, unit, about, source, assumption."""
    rows = []
    fields: dict[str, FieldInfo] = type(model).model_fields
    for name, field in fields.items():
        extra = field.json_schema_extra
        if isinstance(extra, dict) and "unit" in extra:
            rows.append({"name": name, "value": getattr(model, name), "about": field.description, **extra})
    return rows
