"""Commands that name a run: composed from its own configuration, read as data, with what else was typed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from explore.errors import InputError

if TYPE_CHECKING:
    from argparse import Namespace

    from explore.config.schema import Case

RESUMABLE = (
    "resume",
    "beside",
    "search.sampler",
    "search.workers",
    "search.seconds",
    "search.designs",
    "search.storage",
    "search.artifacts",
)
OF_ONE_DESIGN = ("inspect", "build", "day", "fit")
"""Tasks that tell of one design: one of a run is told of as its run saw it, whatever the default scenario is."""
DOUBT_KEYS = ("task", "run", "draws", "designs", "row", "search.workers")


@dataclass(frozen=True)
class Judging:
    """What a task that judges a run's designs needs of it, and what is typed beside the run."""

    files: tuple[str, ...]
    beside: str = ""
    may_lack: bool = False
    """the task does without a run as well"""


JUDGING = {
    "reprice": Judging(("config.yaml", "designs.csv"), ", and what is to change"),
    "doubt": Judging(("config.yaml", "designs.csv", "front.csv", "summary.json")),
    "fit": Judging(("config.yaml", "front.csv"), may_lack=True),
}


def take_run_of_design(arguments: Namespace) -> None:
    """Tell of a design of a run under the run's own configuration, unless another one is asked for."""
    typed = dict(word.split("=", 1) for word in arguments.overrides if "=" in word)
    run = Path(typed.get("design", "")).parent
    chosen = set(typed) & {"scenario", "engine", "exchangers", "costs", "search", "report"}
    name = typed.get("task", "")
    of_run = "design" in typed and (run / "summary.json").is_file() and (run / "config.yaml").is_file()
    if name == "fit" and "design" in typed and "fitted" in typed and not of_run:
        raise InputError(
            f"fitted={typed['fitted'][:80]}: it would size the plant of design= anew, which was built before; give the "
            "line of its run, design=results/.../front.csv row=N, or its cylinders as machine=FILE"
        )
    if name not in OF_ONE_DESIGN or chosen or arguments.config_path or arguments.config_name:
        return
    if of_run and not (name == "fit" and "run" in typed):
        _start_from(arguments, run)
        arguments.overrides = [
            f"task.name={name}" if word == f"task={name}" else word for word in arguments.overrides
        ]


def _start_from(arguments: Namespace, run: Path) -> Case:
    """Compose from a run's configuration, read as data: its folder is never handed to Hydra."""
    from explore.config.compose import register_run
    from explore.run.reader import borrowed, judged_case

    case = judged_case(run)
    arguments.config_name = register_run(borrowed(case))
    return case


def take_run_to_resume(arguments: Namespace) -> None:
    """Go on with a run under its own configuration, with what else was typed.

    Raises :class:`InputError` where no run can be gone on with.
    """
    typed = dict(word.split("=", 1) for word in arguments.overrides if "=" in word)
    if typed.get("resume", "null") == "null":
        return
    from explore.config.refusals import refuse_unnamed_sampler

    run = Path(typed["resume"])
    if not (run / "config.yaml").is_file():
        raise InputError(
            f"resume={run}: no run to go on with there; give the folder of a search, results/<scenario>/<time>"
        )
    case = _take_configuration(arguments, run, f"resume={run}", typed)
    _refuse_another_study(run, case, typed)
    for key in ("storage", "artifacts"):
        if getattr(case.search, key) is not None and f"search.{key}" not in typed:
            raise InputError(
                f"resume={run}: its campaign is kept elsewhere; a folder's word is not taken for where, "
                f"so name it again with search.{key}=..."
            )
    refuse_unnamed_sampler(case.model_dump(), arguments.overrides, f"resume={run}")
    if typed.get("search.sampler", case.search.sampler) != case.search.sampler:
        raise InputError(
            f"resume={run}: search.sampler cannot change within a run; it was begun with "
            f"{case.search.sampler[:60]}: give that, or start a new run"
        )
    if case.search.storage is None and not (run / "campaign.journal").is_file():
        raise InputError(
            f"resume={run}: no run to go on with there; give the folder of a search, results/<scenario>/<time>"
        )


def _refuse_another_study(run: Path, case: Case, typed: Mapping[str, str]) -> None:
    """Raise :class:`InputError` for whatever would make a resumed run another study than it is."""
    from explore.run.reader import read_summary

    for key in typed:
        if key.lstrip("+~") not in RESUMABLE and not key.startswith("hydra."):
            raise InputError(
                f"resume={run}: {key[:60]} cannot change within a run, only workers and the budget can; "
                f"start a new run with it: explore -cp {run} -cn config {key[:60]}=..."
            )
    done = read_summary(run).get("designs_evaluated", 0) if (run / "summary.json").is_file() else 0
    asked = typed.get("search.designs", "")
    if asked.isdecimal() and len(asked) < 20 and int(asked) < done:  # the schema refuses more digits
        raise InputError(
            f"resume={run}: search.designs={asked} is below the {done} designs done; give more, "
            f"or start a new run: explore -cp {run} -cn config search.designs={asked}"
        )


def take_run_to_judge(arguments: Namespace) -> None:
    """Judge a run's designs under its own configuration, with what else was typed."""
    typed = dict(word.split("=", 1) for word in arguments.overrides if "=" in word)
    name = typed.get("task", "")
    if name not in JUDGING or arguments.config_path or arguments.config_name:
        return
    run, purpose = Path(typed.get("run", "")), JUDGING[name]
    if purpose.may_lack and "run" not in typed:
        return
    if not typed.get("run"):
        raise InputError(f"task={name} needs run=results/<scenario>/<time>{purpose.beside}")
    if not all((run / file).is_file() for file in purpose.files):
        raise InputError(
            f"task={name} run={run}: no run to {name} there; give the folder of one, results/<scenario>/<time>"
        )
    for key in typed if name == "doubt" else ():
        if key.lstrip("+~") not in DOUBT_KEYS and not key.lstrip("+~").startswith(("doubt.", "hydra.")):
            raise InputError(
                f"task=doubt run={run}: {key[:60]} cannot change, its designs are tried under its own configuration; give "
                "doubt.bands.KEY=[low,high], or reprice the run first"
            )
    _take_configuration(arguments, run, f"task={name} run={run}", typed)
    arguments.overrides = [
        f"task.name={name}" if word == f"task={name}" else word for word in arguments.overrides
    ]


def _take_configuration(arguments: Namespace, run: Path, asked: str, typed: Mapping[str, str]) -> Case:
    """Compose from a run's own configuration; files of the configs folder cannot be put in its place."""
    if arguments.config_path or arguments.config_name:
        raise InputError(f"{asked} takes the run's own configuration; leave -cp and -cn away")
    for group in ("scenario", "engine", "exchangers", "costs", "search", "report"):
        if group in typed:
            raise InputError(
                f"{group}={typed[group]}: {asked} takes the run's own configuration; change single values of it, "
                f"{group}.KEY=VALUE, or start a new run"
            )
    return _start_from(arguments, run)
