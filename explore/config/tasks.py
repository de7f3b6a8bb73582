"""What a command can be asked to do: one model a task, with its own keys only and its words for ``--help``.

What a task does stands in the file of its name in ``explore/tasks/``.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Annotated, Any, ClassVar, Literal, get_args

from pydantic import Discriminator, Field, Tag

from explore.config.fields import Checked
from explore.errors import InputError, quoted


class Task(Checked):
    """Base of all tasks: the name, how it is called, and what it does, as lines of the help text."""

    call: ClassVar[str]
    about: ClassVar[tuple[str, ...]]

    name: str


class SearchTask(Task):
    """Search the design space, or go on with a search."""

    call = "task=search"
    about = (
        "(default) search, write results/<scenario>/<time>/ and its page; search.against=cautious over many",
        "plausible worlds, beside=results/... to set the front of an earlier run beside it",
    )

    name: Literal["search"] = "search"
    resume: str | None = None
    beside: str | None = None


class InspectTask(Task):
    """Print one design whole."""

    call = "task=inspect design=FILE.yaml"
    about = ("print one design whole; or design=.../front.csv row=N",)

    name: Literal["inspect"] = "inspect"
    design: str | None = None
    row: int | None = Field(None, ge=1)


class BuildTask(Task):
    """Write what a builder needs of one design."""

    call = "task=build design=FILE.yaml"
    about = (
        "what to cut, drill and weigh for one design; or design=.../front.csv row=N; a new folder,",
        "results/build/<time> or output=FOLDER; rod_ratio=4 'bores_mm=[40,50,63]' crank_phasing_deg=90",
        "'walls_mm=[2,3,5]' 'reciprocating_kg=[0.4,0.8]' what tube and what pistons with rods you have",
    )

    name: Literal["build"] = "build"
    design: str | None = None
    row: int | None = Field(None, ge=1)
    output: str | None = None
    bores_mm: tuple[Annotated[float, Field(gt=0, le=1000)], ...] | None = Field(None, min_length=1)
    walls_mm: tuple[Annotated[float, Field(gt=0, le=100)], ...] | None = Field(None, min_length=1)
    reciprocating_kg: tuple[Annotated[float, Field(gt=0, le=1000)], ...] | None = Field(None, min_length=1)
    rod_ratio: float | None = Field(None, ge=2, le=20)
    port_velocity_m_per_s: float | None = Field(None, ge=1, le=200)
    speed_fluctuation: float | None = Field(None, ge=0.001, le=0.5)
    crank_phasing_deg: float | None = Field(None, ge=0, le=360)


class DayTask(Task):
    """Follow one design through a day."""

    call = "task=day design=FILE.yaml date=07-15"
    about = (
        "one design through a day of the typical year, by the minute: store, warm-up, governor,",
        "pressures; or design=.../front.csv row=N; a new folder, results/day/<time> or output=FOLDER",
    )

    name: Literal["day"] = "day"
    design: str | None = None
    row: int | None = Field(None, ge=1)
    date: str | None = Field(None, description="month and day, as 07-15")
    output: str | None = None


class MachineTask(Task):
    """Run a given machine."""

    call = "task=machine machine=FILE.yaml"
    about = (
        "what a given machine does: flow, powers, torque, each loss; conditions=FILE.csv",
        "many conditions, output=FILE.csv results and indicator diagrams as tables",
    )

    name: Literal["machine"] = "machine"
    machine: str | None = None
    conditions: str | None = None
    output: str | None = None


class FitTask(Task):
    """Fit the model's coefficients to a bench log."""

    call = "task=fit log=FILE.csv machine=FILE.yaml"
    about = (
        "what a bench log says of the model's coefficients; a new folder, results/fit/<time> or output=FOLDER,",
        "whose fitted.yaml any run takes by fitted=FILE.yaml; 'accuracy={torque_Nm: 0.05}'; run=results/... judged again;",
        "of a plant that was built, design=FILE.yaml or design=.../front.csv row=N in place of machine=, its",
        "exchangers too; 'bores_mm=[40,50,63]' as task=build was given",
    )

    name: Literal["fit"] = "fit"
    log: str | None = None
    machine: str | None = None
    design: str | None = None
    row: int | None = Field(None, ge=1)
    bores_mm: tuple[Annotated[float, Field(gt=0, le=1000)], ...] | None = Field(None, min_length=1)
    output: str | None = None
    run: str | None = None
    accuracy: dict[str, float] | None = None


class ReportTask(Task):
    """Build the page of a past run again."""

    call = "task=report run=results/..."
    about = ("build the page of a past run again",)

    name: Literal["report"] = "report"
    run: str | None = None


class CompareTask(Task):
    """Lay runs side by side."""

    call = "task=compare 'runs=[A,B]'"
    about = ("lay runs side by side on one page",)

    name: Literal["compare"] = "compare"
    runs: tuple[str, ...] = ()


class RepriceTask(Task):
    """Judge a run's archive again."""

    call = "task=reprice run=results/... costs.store_EUR_per_L065=40"
    about = ("a run's archive under changed prices, assumptions or limits, not searched again",)

    name: Literal["reprice"] = "reprice"
    run: str | None = None


class DoubtTask(Task):
    """Try a run's designs in other plausible worlds."""

    call = "task=doubt run=results/..."
    about = (
        "how sure a run's advice is: its designs under many draws of all that is assumed,",
        "draws=1000 of them, designs=300 of its archive; a narrower band with 'doubt.bands.KEY=[low,high]';",
        "row=N: a design of front.csv that is told as the recommended ones are",
    )

    name: Literal["doubt"] = "doubt"
    run: str | None = None
    draws: int | None = Field(None, ge=16, le=100_000)
    designs: int | None = Field(None, ge=1, le=10_000)
    row: int | None = Field(None, ge=1)


class WorkTask(Task):
    """Carry out legs of a campaign that others share."""

    call = "task=work search.storage=..."
    about = ("carry out legs of a campaign kept in a database; any number of these",)

    name: Literal["work"] = "work"


class VerifyTask(Task):
    """Hold the model against published numbers."""

    call = "task=verify"
    about = (
        "hold the model against published numbers; detail=TOPIC some of them,",
        "detail=influence which results each constant moves, detail=assumptions the band of each",
    )

    name: Literal["verify"] = "verify"
    detail: str | None = None


STARTED = (
    "scenario",
    "engine",
    "costs",
    "design",
    "mine",
    "fluid",
    "collector",
    "machine",
    "log",
    "plant_log",
)
"""What a file to start from can be written of."""


class NewTask(Task):
    """Write a file to start from."""

    call = "task=new what=scenario file=mine.yaml"
    about = (
        "a commented file to start from: scenario, engine, costs, fluid, collector, machine,",
        "design, mine (a scenario of parts at hand), or a table, file=mine.csv: log, or plant_log of a whole plant",
    )

    name: Literal["new"] = "new"
    what: str | None = None
    file: str | None = None


class GaugeKeys(Checked):
    """The keys of ``task=gauge``."""

    fluid: str | None = Field(None, description="name of a fluid's card: what the plant was filled with")
    temperature_degC: float | None = Field(
        None, ge=-60, le=200, description="of the whole plant, which stands still; with reading_bar_g"
    )
    reading_bar_g: float | None = Field(
        None,
        ge=-1.1,
        le=100,
        description="bar above the air around, read at that temperature; with temperature_degC",
    )
    gauge_accuracy_bar: float | None = Field(
        None,
        gt=0,
        le=5,
        description="how far the gauge may be wrong; empty: 0.25; common practice, no source",
    )
    thermometer_accuracy_K: float | None = Field(
        None,
        gt=0,
        le=10,
        description="how far the thermometer may be wrong; empty: 1; common practice, no source",
    )


class GaugeTask(GaugeKeys, Task):
    """Say what a plant that stands still shows on its gauge."""

    call = "task=gauge fluid=n-Butane"
    about = (
        "the gauge of a plant that stands still, over temperature, at the site's air pressure; what a",
        "reading says of its charge with temperature_degC=21 reading_bar_g=1.9",
    )

    name: Literal["gauge"] = "gauge"


class KeysTask(Task):
    """Print what may be configured."""

    call = "task=keys"
    about = ("every key with its default, range, meaning and source; group=costs those of one group",)

    name: Literal["keys"] = "keys"
    group: str | None = None


class HandbookTask(Task):
    """Write the handbook."""

    call = "task=handbook"
    about = ("write the handbook, one file that opens offline: tutorial, how-to, theory; file=NAME.html",)

    name: Literal["handbook"] = "handbook"
    file: str | None = None


def _name(task: Any) -> Any:
    return task.get("name") if isinstance(task, Mapping) else getattr(task, "name", None)


ChosenTask = Annotated[
    Annotated[SearchTask, Tag("search")]
    | Annotated[InspectTask, Tag("inspect")]
    | Annotated[BuildTask, Tag("build")]
    | Annotated[DayTask, Tag("day")]
    | Annotated[MachineTask, Tag("machine")]
    | Annotated[FitTask, Tag("fit")]
    | Annotated[ReportTask, Tag("report")]
    | Annotated[CompareTask, Tag("compare")]
    | Annotated[RepriceTask, Tag("reprice")]
    | Annotated[DoubtTask, Tag("doubt")]
    | Annotated[WorkTask, Tag("work")]
    | Annotated[VerifyTask, Tag("verify")]
    | Annotated[NewTask, Tag("new")]
    | Annotated[GaugeTask, Tag("gauge")]
    | Annotated[KeysTask, Tag("keys")]
    | Annotated[HandbookTask, Tag("handbook")],
    Discriminator(_name),
]

TASKS: dict[str, type[Task]] = {
    tag.tag: model for model, tag in map(get_args, get_args(get_args(ChosenTask)[0]))
}
"""Every task by the name that chooses it."""


def keys(name: str) -> tuple[str, ...]:
    """Return the keys that the task of this name uses."""
    return tuple(key for key in TASKS[name].model_fields if key != "name")


def every_key() -> dict[str, Any]:
    """Return a plain search with the keys of all tasks, empty: so a configuration holds them, in memory and in files."""
    empty = [model.model_validate({"name": name}).model_dump(mode="json") for name, model in TASKS.items()]
    return {key: value for task in empty for key, value in task.items()} | {"name": SearchTask().name}


TASK_KEYS = tuple(key for key in every_key() if key != "name")


def own_keys(given: Any) -> Any:
    """Return the group ``task`` of a configuration with the keys of its task, without the empty ones of others.

    Raises :class:`InputError` for a task that there is not, and for a key that only other tasks use.
    """
    if isinstance(given, Task):
        return given
    if not isinstance(given, Mapping):
        raise InputError(f"task={quoted(given)}: it must be a group of keys")
    name = given.get("name", SearchTask().name)
    if not isinstance(name, str) or name not in TASKS:
        *most, last = map(repr, TASKS)
        raise InputError(f"task.name={quoted(name)}: it must be {', '.join(most)} or {last}")
    empty = every_key()
    others = {key for key in empty if key not in TASKS[name].model_fields}
    refuse_unused(name, [key for key in given if key in others and given[key] not in (None, empty[key])])
    return {"name": name} | {key: value for key, value in given.items() if key not in others}


def refuse_unused(name: str, given: Iterable[str]) -> None:
    """Raise :class:`InputError` for those of the ``given`` keys of tasks that the task ``name`` does not use.

    The sentence tells which task does: a forgotten ``task=`` is a search.
    """
    unused = [key for key in TASK_KEYS if key in given and key not in keys(name)]
    if not unused:
        return
    them = "it" if len(unused) == 1 else "them"
    hint = "; to pin what is searched: space.fluid" if "fluid" in unused else ""
    raise InputError(f"{', '.join(unused)}: task={name} does not use {them}; {_users(unused)}{hint}")


def _users(unused: list[str]) -> str:
    """Say which task uses all these keys or, if none does, which uses each."""
    if whole := _with(unused):
        return f"{' and '.join(whole)} {'does' if len(whole) == 1 else 'do'}"
    return ", ".join(f"{key} is for {' or '.join(_with([key]))}" for key in unused)


def _with(wanted: list[str]) -> list[str]:
    return [f"task={name}" for name in TASKS if set(wanted) <= set(keys(name))]
