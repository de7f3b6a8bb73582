"""Writes a file to start from: commented, valid as it stands, with what must be decided on top."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from explore.config.explain import closest
from explore.config.files import config_folder
from explore.config.json_schema import MARK, schema_text
from explore.config.schema import Case
from explore.config.tasks import NewTask
from explore.errors import InputError
from explore.run.files import UnwritableError, write_text
from explore.tell.terminal import say

DECIDE = (
    "site.weather: the EPW, TMY3 or TMY2 file of your place",
    "site.cooling_water_temperature_degC, site.cooling_water_lift_m: what you cool with in the season of use",
    "demand.shaft_power_W, demand.speed_rev_per_min, demand.hours, demand.months: what is to be driven, and when",
    "room_volume_m3: the room in which the engine stands, for what a leak may do; null: outdoors",
    "limits.pressure_ceiling_bar_g, limits.safety_classes: what you can build, test and live with",
    "objectives: ideal and reference of each are the scale on which designs are weighed",
)
COPIED = {
    "fluid": (
        "n-Pentane",
        "name (as CoolProp has it), safety and price are still those of n-pentane: change them all",
    ),
    "collector": ("flat_plate", "the figures of a test report to ISO 9806 belong here"),
    "machine": ("air_motor", "cylinders as measured, and the conditions to run it at"),
}
"""Shipped files that others start from, and what to change."""
LOGS = ("log", "plant_log")
"""Tables of invented readings: of an engine with pump and store, and of a whole plant as a design has it."""


def run(case: Case, task: NewTask, command: str) -> None:
    """Write the file that ``what`` and ``file`` ask for, and say how it is used."""
    made = {
        "scenario": _scenario,
        "engine": lambda case, name: _defaults("engine"),
        "costs": lambda case, name: _defaults("costs"),
        "design": _design,
        "mine": _mine,
        **{what: _copied(what) for what in COPIED},
        **{what: _log(what) for what in LOGS},
    }
    if task.what is None or task.what not in made:
        near = closest(task.what, made) if task.what else ""
        raise InputError(f"what={task.what}: it must be one of {', '.join(made)}{near}")
    if task.file is None:
        raise InputError(
            f"task=new what={task.what} needs file=NAME{_endings(task.what)[0]}, the file to write"
        )
    file = Path(task.file)
    if file.suffix not in _endings(task.what):
        raise InputError(f"file={file}: a name that ends in {_endings(task.what)[0]} is expected")
    if file.exists():
        raise InputError(f"file={file}: it is there already; choose another name")
    if not file.parent.is_dir():
        raise InputError(f"file={file}: there is no folder {file.parent}; make it first")
    if task.what in LOGS:
        _write(file, starting_log(task.what))
        say(f"{file}: written, with invented readings. Use it with:\n  {_use(task.what, file)}")
        return
    kind = "scenario" if task.what == "mine" else task.what
    schema = file.with_name(f"{kind}.schema.json")
    if schema.exists() and not _is_schema(schema):
        raise InputError(
            f"file={file}: {schema}, which editors read, is there already and is not ours; move it first"
        )
    text = f"# yaml-language-server: $schema={schema.name}\n{made[task.what](case, file.stem)}"
    _write(schema, schema_text(kind))
    _write(file, text)
    say(f"{file}: written; {schema.name} beside it is for editors. Use it with:\n  {_use(task.what, file)}")


def _endings(what: str) -> tuple[str, ...]:
    """How the name of a file of this kind may end."""
    return (".csv",) if what in LOGS else (".yaml", ".yml")


def _write(file: Path, text: str) -> None:
    try:
        write_text(file, text)
    except UnwritableError as error:
        raise InputError(str(error)) from error


def starting_log(what: str = "log") -> str:
    """Return the table of invented readings that a bench log starts from, of :data:`LOGS`."""
    from explore import bench

    return (Path(bench.__file__).parent / f"starting_{what}.csv").read_text(encoding="utf-8")


def _log(what: str) -> Callable[[Case, str], str]:
    return lambda case, name: starting_log(what)


def _is_schema(file: Path) -> bool:
    """Whether a file is the schema that an earlier command wrote."""
    return file.is_file() and MARK.encode() in file.read_bytes()[:400]


def _scenario(case: Case, name: str) -> str:
    from explore.tell.reference import commented

    objectives = [one.model_dump(mode="json") for one in case.scenario.objectives]
    values = {"name": name, "title": name.replace("_", " "), "objectives": objectives}
    head = ("A place and a demand of your own; every key stands here with its default.",)
    return commented("scenario", values, decide=DECIDE, head=head)


def _defaults(group: str) -> str:
    from explore.tell.reference import commented

    head = (
        f"The group {group} with every key at its default; keys that are left out keep theirs.",
        "What is marked as an assumption or judgement is the first to replace by what you know.",
    )
    return commented(group, {}, head=head)


def _design(case: Case, name: str) -> str:
    """Write the middle of the space in its first layout: where to begin, not what to build."""
    import numpy as np

    from explore.design.space import INPUTS, Space
    from explore.design.variables import RECORDS
    from explore.tell.reference import written

    space = Space.from_case(case)
    columns = space.decode(np.full((1, space.dimensions), 0.5), np.zeros((1, 4), int))
    about = {one.name: f"{one.about or one.label}{f' [{one.unit}]' if one.unit else ''}" for one in RECORDS}
    lines = [
        "# A design to begin with: the middle of every range, in one layout. Not what to build.",
        "# Keys that do not apply to a design are null; `explore task=keys group=space` lists ranges and choices.",
    ]
    for key in INPUTS:
        value = columns[key][0].item() if hasattr(columns[key][0], "item") else columns[key][0]
        if isinstance(value, float):
            value = None if np.isnan(value) else float(f"{value:.6g}")
        lines.append(f"{key}: {written(value)} # {about[key]}")
    return "\n".join(lines) + "\n"


def _mine(case: Case, name: str) -> str:
    """Write the shipped scenario of parts at hand under a name of its own."""
    shipped = (config_folder() / "scenario" / "mine.yaml").read_text(encoding="utf-8")
    _, _, body = shipped.partition("\nname: mine\n")
    head = (
        "# What can I get from what I have? All parts under `owned` are INVENTED: replace what stands here line by line.",
        "# null for a part that you do not have: it is then chosen, and bought (`explore task=keys group=scenario`).",
    )
    return "\n".join((*head, f"name: {name}", body))


def _copied(what: str) -> Callable[[Case, str], str]:
    name, words = COPIED[what]

    def text(case: Case, stem: str) -> str:
        shipped = (config_folder() / what / f"{name}.yaml").read_text(encoding="utf-8")
        head = f"# Started from {name}.yaml; {words}.\n# `explore task=keys group={what}` tells each key.\n"
        return head + shipped

    return text


def _use(what: str, file: Path) -> str:
    if what in COPIED and what != "machine":
        return f"explore -cd FOLDER, where the file is FOLDER/{what}/{file.name}"
    uses = {
        "design": f"explore task=inspect design={file}",
        "machine": f"explore task=machine machine={file}",
        "log": f"explore task=fit log={file} machine=butane_engine",
        "plant_log": f"explore task=fit log={file} design=results/example/front.csv row=142",
    }
    return uses.get(what, f"explore {'scenario' if what == 'mine' else what}={file}")
