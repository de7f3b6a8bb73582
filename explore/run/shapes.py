"""The shapes of a run's JSON files, as its readers count on them; further keys are kept as they are.

A file may be a stranger's: whatever a reader, a template or a script of the page takes for granted is asked for here.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from explore.run.folder import FORMAT
from explore.run.told import SLOT

Row = Annotated[int, Field(ge=1)]
"""A line of a table, from 1."""
Count = Annotated[int, Field(ge=0)]
Share = Annotated[float, Field(ge=0, le=1)]
Number = float | None
"""A figure; None is one that is not finite or does not apply."""
Moment = Annotated[list[float], Field(min_length=2, max_length=2)]
"""Evaluations, and the hypervolume then."""


class Loose(BaseModel):
    """A mapping of which some keys are known; a number is a number, a text is a text."""

    model_config = ConfigDict(extra="allow", strict=True, allow_inf_nan=False)


class Caution(Loose):
    """A sentence that warns, how serious it is, and of what."""

    text: str
    level: str = ""
    topic: str = ""


Cautions = list[str | Caution]


class Refinement(Loose):
    """What the local refinement of a front gained."""

    gains: list[float] = []
    picks_gain: float | None = None


Pair = Annotated[list[float], Field(min_length=2, max_length=2)]
"""From and to, or used and there."""


MOST_PARTS = 32
"""Parts of one plant that a page tells of: twice as many as there are, so that a later part fits."""


class MorePart(Loose):
    """What a little more of one part would add."""

    part: str
    size: str
    before: float
    after: float
    moved: dict[str, Pair] = {}
    energy_kWh_per_year: float
    cost_EUR: float
    kWh_per_year_per_EUR: Number = None
    broken: list[str] = []


class OtherPower(Loose):
    """What a design would give at another power."""

    power_W: float
    energy_kWh_per_year: float
    cost_EUR: float
    speed_rev_per_min: float
    needs: dict[str, float] = {}
    broken: list[str] = []


class More(Loose):
    """What more of the parts of a design would add, and what it uses of gas and room."""

    parts: list[MorePart] = Field(max_length=MOST_PARTS)
    charge_kg: Pair | None = None
    room_m3: Pair | None = None
    powers: list[OtherPower] = Field(default=[], max_length=MOST_PARTS)


class Picked(Loose):
    """A recommended design."""

    row: Row
    cautions: Cautions = []
    leeway: str = ""
    more: More | None = None


class Held(Loose):
    """What a design promises by the run's own values, and what of it holds over worlds."""

    fluid: str
    promised: float
    held: float
    lost_share: float
    worlds_kept_share: float = Field(ge=0, le=1)


class Promise(Loose):
    """Of one objective: the best design by the run's own values, and the one recommended."""

    figure: str
    nominal: Held
    recommended: Held


class Against(Loose):
    """The worlds that a search read its designs over."""

    reading: Literal["likely", "cautious"]
    worlds: int = Field(ge=1)
    needed: int = Field(ge=1)
    beside: str
    front_designs: Count
    front_kept: Count
    promises: list[Promise]


class Summary(Loose):
    """What readers ask of summary.json."""

    format: int = Field(default=FORMAT, ge=1, le=FORMAT)
    scenario: str = ""
    created_utc: str = ""
    command: str | list[str] = ""
    stop_reason: str = ""
    seconds: float = Field(default=0.0, ge=0)
    designs_evaluated: Count = 0
    designs_feasible: Count = 0
    air_pressure_bar_a: float | None = Field(default=None, gt=0)
    hypervolume: Number = None
    hypervolume_last_tenth_gain: Number = None
    hypervolume_history: list[Moment] = []
    random_hypervolume_history: list[Moment] = []
    versions: dict[str, str] = {}
    hashes: dict[str, str] = {}
    designs_per_fluid: dict[str, Count] = {}
    feasible_per_fluid: dict[str, Count] = {}
    fluids_left_out: dict[str, str] = {}
    lost_to: dict[str, Count] = {}
    lost_to_this_alone: dict[str, Count] = {}
    picks: list[Picked] = []
    broken_with_tubes: dict[str, list[str]] = {}
    cautions: Cautions = []
    layouts_compared: str = ""
    refinement: Refinement = Refinement()
    against: Against | None = None


class Alike(Loose):
    """Lists of which all that are there are equally long."""

    @model_validator(mode="after")
    def _equally_long(self) -> Self:
        lengths = {len(value) for name in type(self).model_fields if (value := getattr(self, name))}
        if len(lengths) > 1:
            raise ValueError("its lists are of several lengths")
        return self


class Dome(Alike):
    """Where a fluid boils, coldest first: three equally long lists."""

    T_degC: list[Number] = []
    s_liquid_kJ_per_kgK: list[Number] = []
    s_vapour_kJ_per_kgK: list[Number] = []


class State(Loose):
    """The fluid at one place of the circuit."""

    name: str = ""
    place: str = ""
    at: list[float | str] | None = None
    p_bar_a: Number = None
    T_degC: Number = None
    h_kJ_per_kg: Number = None
    s_kJ_per_kgK: Number = None
    quality: Number = None


class Curve(Alike):
    """Temperatures along an exchanger, from its cold end: equally long lists."""

    q_kJ_per_kg: list[Number] = []
    fluid_T_degC: list[Number] = []
    fluid_s_kJ_per_kgK: list[Number] = []
    water_T_degC: list[Number] = []


class Indicator(Alike):
    """Pressure over volume of one stage, a closed loop."""

    V_L: list[Number] = []
    p_bar_a: list[Number] = []


class Destroyed(Loose):
    """A component and the exergy that it destroys."""

    component: str
    destroyed_kJ_per_kg: Number = None
    destroyed_kJ_per_L: Number = None


class Exergy(Loose):
    """Where the exergy of the heat drawn goes."""

    supplied_kJ_per_kg: Number = None
    work_kJ_per_kg: Number = None
    accounts: list[Destroyed] = []


class Sunlight(Loose):
    """Where the exergy of the sunlight goes."""

    sunlight_kJ_per_L: Number = None
    work_kJ_per_L: Number = None
    rejected_kJ_per_L: Number = None
    destroyed: list[Destroyed] = []


class BillLine(Loose):
    """A line of the bill."""

    line: str
    quantity: Number = None
    unit: str | None = ""
    cost_EUR: Number = None


class Wall(Loose):
    """The least wall of a part."""

    part: str
    material: str
    wall_mm: Number = None


class Hazards(Loose):
    """Pressures that a plant must hold, and its walls."""

    standstill_pressure_bar_g: Number = None
    standstill_pressure_worst_bar_g: Number = None
    fault_pressure_bar_g: Number = None
    design_pressure_bar_g: Number = None
    relief_setting_bar_g: Number = None
    test_pressure_bar_g: Number = None
    relief_capacity_kg_per_s: Number = None
    walls: list[Wall] = []


class WithTubes(Loose):
    """Figures as searched and with exchangers made of tubes, the tubes, and the limits that break by how much."""

    compared: dict[str, Annotated[list[Number], Field(min_length=2, max_length=2)]] = {}
    tubes: dict[str, Number | str] = {}
    broken: dict[str, Number] = {}


class Sheet(Loose):
    """What a design's sheet draws."""

    states: list[State] = []
    boilers: list[Curve] = []
    condenser: Curve | None = None
    indicator: list[Indicator] = []
    exergy: Exergy | None = None
    sunlight: Sunlight | None = None
    bill: list[BillLine] = []
    served: list[Annotated[list[Number], Field(max_length=24)]] = Field(default=[], max_length=12)
    months: dict[str, Annotated[list[Number], Field(min_length=12, max_length=12)]] = {}
    with_tubes: WithTubes | None = None
    hazards: Hazards | None = None
    cautions: Cautions = []


class Sheets(Loose):
    """What readers ask of sheets.json."""

    format: int = Field(default=FORMAT, ge=1, le=FORMAT)
    domes: dict[str, Dome] = {}
    designs: dict[str, Sheet] = {}


class Told(Loose):
    """What readers ask of told.json; ``of`` are the digests of the tables that it speaks of."""

    of: dict[str, str] = {}
    kept: list[Row] = []
    sentences: list[Annotated[list[str], Field(min_length=3, max_length=3)]] = []
    designs: list[list[Annotated[list[int | str], Field(min_length=1)]]] = []
    parts: list[Annotated[list[str], Field(min_length=2, max_length=2)]] = []
    walls: list[list[float | None]] = []
    relief: list[float | None] = []
    tubes: list[list[str] | None] | None = None

    @model_validator(mode="after")
    def _each_sentence_filled(self) -> Self:
        """Each caution names a sentence there is and fills its slots; walls and settings speak of each design."""
        slots = [text.count(SLOT) for _, _, text in self.sentences]
        for place, *numbers in (one for design in self.designs for one in design):
            if not isinstance(place, int) or not 0 <= place < len(slots):
                raise ValueError("a caution names a sentence that is not there")
            if len(numbers) != slots[place] or not all(isinstance(number, str) for number in numbers):
                raise ValueError("a caution does not fill the places of its sentence")
        if any(len(row) not in (0, len(self.parts)) for row in self.walls):
            raise ValueError("a design has other walls than there are parts")
        tubes = self.designs if self.tubes is None else self.tubes
        if not len(self.walls) == len(self.relief) == len(tubes) == len(self.designs):
            raise ValueError("cautions, walls, relief settings and tubes are of another number of designs")
        return self


class Check(Loose):
    """An outside check of the model."""

    check: str = ""
    topic: str = ""
    quantity: str = ""
    ours: Number = None
    published: Number = None
    unit: str = ""
    deviation: Number = None
    tolerance: Number = None
    within: bool | None = None
    source: str = ""
    kind: str = ""
    relative: bool = False
    binding: bool = True


class Chance(Loose):
    """How often something is so."""

    probability: Share
    standard_error: Share


class Best(Chance):
    """How often one kind is best."""

    best: str


class Kinds(Loose):
    """Which kind the likely values favour, and how often each is best."""

    nominal: str
    best: list[Best] = Field(min_length=1)


class Corner(Chance):
    """A fluid that wins in an optimistic corner only, and the groups that make it."""

    fluid: str
    nominal: bool
    groups: dict[str, float]


class Ceiling(Loose):
    """What is best under a pressure ceiling."""

    ceiling_bar_g: float
    figure: str
    fluid: Kinds
    store_mode: Kinds
    stages: Kinds
    corners: list[Corner]


class Broken(Loose):
    """A limit that a design breaks in some worlds."""

    limit: str
    share: Share


class Span(Loose):
    """Low, likely and high of a figure."""

    low: Number
    likely: Number
    high: Number


class Band(Span):
    """The same beside what the run itself says."""

    nominal: Number


class Doubted(Loose):
    """A design in many worlds."""

    row: Count
    role: str
    fluid: str
    store_mode: str
    stages: int
    keeps: Chance
    broken: list[Broken]
    near_front: Chance
    bands: dict[str, Band]
    regret: dict[str, Span]


class Bought(Loose):
    """A design as bought in many worlds; without a reason why it is ``not_rated`` it has all the rest."""

    row: Count
    role: str
    fluid: str
    not_rated: str
    power_asked_W: float | None = None
    settled: Share | None = None
    bands: dict[str, Band] = {}
    gives_power: Chance | None = None
    serves: Chance | None = None
    both: Chance | None = None

    @model_validator(mode="after")
    def _whole(self) -> Self:
        """Refuse a rated design without its answers."""
        answers = (self.gives_power, self.serves, self.both, self.power_asked_W, self.settled)
        if not self.not_rated and (None in answers or not self.bands):
            raise ValueError(
                "a design rated as bought needs power_asked_W, settled, bands, gives_power, serves and both"
            )
        return self


class AsBought(Loose):
    """The other question of doubt.json: nothing is sized anew."""

    worlds: int = Field(ge=1)
    served_share_min: float
    designs: list[Bought]


class Worth(Loose):
    """What knowing a group before choosing adds to an objective."""

    gain: float
    standard_error: float


class Topic(Loose):
    """A group of assumptions: what it brings to the spread of all figures, and what knowing it is worth."""

    topic: str
    first: float
    total: float
    total_confidence: float
    worth: dict[str, Worth]


class Years(Loose):
    """The years of weather that the worlds have; none where all have the run's own."""

    years: Count
    resampled: bool
    block_days: Count | None


class Drawn(Loose):
    """An assumption and the band that it was drawn from."""

    name: str
    low: float
    likely: float
    high: float


class Doubt(Loose):
    """What readers ask of doubt.json."""

    format: int = Field(default=FORMAT, ge=1, le=FORMAT)
    front: str = ""
    worlds: int = Field(ge=1)
    designs_tried: int = Field(ge=1)
    weather: Years | None = None
    brief: bool = False
    designs: list[Doubted]
    ceilings: list[Ceiling] = Field(min_length=1)
    steady: list[Doubted]
    measure_first: list[Topic]
    as_bought: AsBought | None = None
    assumptions: list[Drawn] = []
    matters: dict[str, list[dict[str, Any]]] = {}
