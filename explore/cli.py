"""The command ``explore``: reads what was typed, lets Hydra compose, checks, and runs the task.

Exit status: 0 done; 2 bad input, one sentence on stderr; 130 ended by the user (Ctrl-C or SIGTERM) before the
budget was used, whether or not results were written: the sentence on stderr says how to go on; 1 a defect of this
program (set HYDRA_FULL_ERROR=1 to see where).
"""

from __future__ import annotations

import codecs
import logging
import os
import shlex
import shutil
import signal
import sys
import tempfile
import threading
import traceback
from collections.abc import Callable, Mapping, Sequence
from contextlib import redirect_stderr
from dataclasses import dataclass, field
from io import StringIO, TextIOWrapper
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from explore.errors import InputError
from explore.tell.terminal import fitted, plain_signs

if TYPE_CHECKING:
    from argparse import Namespace

    from explore.config.schema import Case

FULL_ERROR = "HYDRA_FULL_ERROR"
NOTE = ".run"
PLAIN_SIGNS = "explore-plain-signs"
HYDRA_RULES = "1.3"
"""Version of Hydra whose defaults hold."""
HELP = {"--help", "-h"}
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


@dataclass
class Worst:
    """The worst exit status of the jobs of one command, and the folders of the runs they left."""

    status: int = 0
    folders: list[Path] = field(default_factory=list)


def main() -> int:
    """Run the command line; returns the exit status and never lets a traceback out."""
    before = os.environ.get(FULL_ERROR)
    os.environ[FULL_ERROR] = "1"  # Hydra then raises its errors here, instead of printing them
    logging.raiseExceptions = False
    thread_hook, threading.excepthook = threading.excepthook, _log_thread
    term = _stop_at_term()
    codecs.register_error(PLAIN_SIGNS, plain_signs)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors=PLAIN_SIGNS)  # a terminal that cannot show a sign shows another
    try:
        return _command(sys.argv[1:], wants_traceback=before == "1")
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    except BrokenPipeError:
        return _hush()
    except BaseException as error:
        if before == "1":
            raise
        return _complain(error)
    finally:
        if term is not None:
            signal.signal(signal.SIGTERM, term)
        threading.excepthook = thread_hook
        del os.environ[FULL_ERROR]
        if before is not None:
            os.environ[FULL_ERROR] = before


def _stop_at_term() -> Any:
    """Let SIGTERM end the command as Ctrl-C does; return what handled it before, None outside the main thread."""
    if threading.current_thread() is not threading.main_thread():
        return None

    def stop(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    return signal.signal(signal.SIGTERM, stop)


def _log_thread(failure: threading.ExceptHookArgs) -> None:
    """Note what ended a thread in the run's log; whoever waits for the thread tells the user."""
    what = f"{failure.exc_type.__name__}: {failure.exc_value}"
    logging.getLogger("explore").info("a thread ended by %s", what, exc_info=failure.exc_value)


def _complain(error: BaseException) -> int:
    """Say in one line what stopped the command and return its exit status."""
    reason = " ".join(str(error).split())
    if isinstance(error, KeyboardInterrupt):
        return _say(f"stopped; {reason}" if reason else "stopped", 130)
    if isinstance(error, InputError):
        return _say(reason, 2)
    what = f"{type(error).__name__}: {reason}"
    return _say(f"a defect of this program ({what}); with {FULL_ERROR}=1 set it shows where", 1)


def _hush() -> int:
    """Write no more: the reader of the output has gone, as in ``explore ... | head``."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    return 0


def _say(sentence: str, status: int) -> int:
    from explore.config.urls import without_passwords

    print(f"explore: {without_passwords(sentence)}", file=sys.stderr)
    return status


def _command(words: Sequence[str], wants_traceback: bool) -> int:
    from explore.config.compose import known_keys, register
    from explore.config.explain import explained
    from explore.config.files import config_folder
    from explore.config.spelling import spelled_out

    if "--version" in words:
        return _print_version()
    if HELP.intersection(words):  # before Hydra's reader, which takes as long to fetch as all the rest
        return _print_usage(config_folder())
    arguments = _read(words)
    _refuse_keys_of_other_tasks(arguments)
    _take_run_of_design(arguments)
    _take_run_to_resume(arguments)
    _take_run_to_judge(arguments)
    register([config_folder(), *([Path(arguments.config_dir)] if arguments.config_dir else [])])
    worst = Worst()
    try:
        job = _job(worst, shlex.join(["explore", *words]), wants_traceback, _anchor(arguments))
        worst.folders += _run_hydra(arguments, spelled_out(arguments.overrides), job)
    except Exception as error:
        folder = Path(arguments.config_path) if arguments.config_path else None
        raise explained(error, lambda: known_keys(folder, arguments.config_name or "config")) from error
    if arguments.multirun and len(worst.folders) > 1:
        from explore.tasks.compare import side_by_side

        side_by_side(worst.folders)
    return worst.status


def _print_usage(folder: Path) -> int:
    from explore.tasks.usage import usage

    print(fitted(usage(folder)))
    return 0


def _refuse_keys_of_other_tasks(arguments: Namespace) -> None:
    """Refuse a key that the task does not use, before a run that it names is looked at.

    Which task another main configuration or each job of a sweep has, Hydra alone knows: the schema refuses then.
    """
    from explore.config.tasks import TASKS, refuse_unused

    typed = dict(word.split("=", 1) for word in arguments.overrides if "=" in word)
    name = typed.get("task", typed.get("task.name", "search"))
    if name in TASKS and not (arguments.config_path or arguments.config_name):
        refuse_unused(name, [key.removeprefix("task.") for key in typed if typed[key] not in ("null", "[]")])


def _take_run_of_design(arguments: Namespace) -> None:
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


def _take_run_to_resume(arguments: Namespace) -> None:
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
    if asked.isdecimal() and int(asked) < done:
        raise InputError(
            f"resume={run}: search.designs={asked} is below the {done} designs done; give more, "
            f"or start a new run: explore -cp {run} -cn config search.designs={asked}"
        )


def _take_run_to_judge(arguments: Namespace) -> None:
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


def _print_version() -> int:
    from explore import __version__

    print("explore", __version__)
    return 0


def _read(words: Sequence[str]) -> Namespace:
    """Read flags and overrides with Hydra's own parser; flags may stand anywhere."""
    from hydra._internal.utils import get_args_parser

    try:
        with redirect_stderr(StringIO()) as said:
            arguments = get_args_parser().parse_intermixed_args(list(words))
    except SystemExit as refused:
        reason = said.getvalue().rpartition("error: ")[2]
        raise InputError(f"{reason.strip()}; see explore --help") from refused
    for flag in ("config_path", "config_dir"):
        folder = getattr(arguments, flag)
        if folder is not None and not Path(folder).is_dir():
            raise InputError(f"--{flag.replace('_', '-')} {folder}: there is no such folder")
        setattr(arguments, flag, folder and str(Path(folder).resolve()))
    return arguments


def _flags(arguments: Namespace) -> list[str]:
    """Write the flags out again, for Hydra to read."""
    words = []
    for name, value in vars(arguments).items():
        if name != "overrides" and value not in (None, False):
            words += [f"--{name.replace('_', '-')}", *([] if value is True else [str(value)])]
    return words


def _run_hydra(arguments: Namespace, overrides: list[str], job: Callable[[Any], None]) -> list[Path]:
    """Hand flags and overrides to Hydra, which composes and calls ``job``, and keep it from leaving files behind.

    Returns the folders that jobs in other processes have left (:func:`_note`).
    """
    import hydra

    from explore.config.files import config_folder

    typed, scratch = sys.argv, tempfile.mkdtemp(prefix="explore-")
    words = [*_flags(arguments), *overrides]
    _configure_hydra(scratch)
    try:
        sys.argv = [typed[0], *words]
        if _is_one_job(arguments, overrides):
            _run_one_job(arguments.config_name or "config", overrides, job)
            return []
        hydra.main(config_path=str(config_folder()), config_name="config", version_base=HYDRA_RULES)(job)()
        asked = [word.partition("=")[2] for word in words if word.startswith("hydra.sweep.dir=")]
        notes = Path(asked[-1] if asked else scratch).glob(f"*{NOTE}")
        return [Path(note.read_text()) for note in sorted(notes, key=lambda note: int(note.stem))]
    finally:
        sys.argv = typed
        shutil.rmtree(scratch, ignore_errors=True)


def _is_one_job(arguments: Namespace, overrides: Sequence[str]) -> bool:
    """Tell whether a command is one job of the shipped configuration or of a run's, with nothing to say to Hydra."""
    flags = (value for name, value in vars(arguments).items() if name not in ("overrides", "config_name"))
    return not any(flags) and not any(word.lstrip("+~").startswith("hydra") for word in overrides)


def _run_one_job(config_name: str, overrides: list[str], job: Callable[[Any], None]) -> None:
    """Compose once and call ``job``: Hydra's own way composes twice, first only to see whether to sweep."""
    from hydra import version
    from hydra._internal.hydra import Hydra
    from hydra._internal.utils import create_config_search_path
    from hydra.core.global_hydra import GlobalHydra

    from explore.config.files import config_folder

    version.setbase(HYDRA_RULES)
    session = Hydra.create_main_hydra2("explore", create_config_search_path(str(config_folder())))
    try:
        session.run(config_name, job, overrides)
    finally:
        GlobalHydra.instance().clear()


def _note(folder: Path) -> None:
    """Leave word, in the sweep's folder, of the run that a job in a process of its own has left."""
    from hydra.core.hydra_config import HydraConfig

    hydra = HydraConfig.get()
    Path(hydra.sweep.dir, f"{hydra.job.num}{NOTE}").write_text(str(folder.resolve()))


def _configure_hydra(scratch: str) -> None:
    """Replace Hydra's own defaults: no output folders, no log files.

    A sweep insists on writing one file: it goes to ``scratch``.
    """
    from hydra.conf import HydraConf, RunDir, SweepDir
    from hydra.core.config_store import ConfigStore

    chosen = {"launcher": "basic", "sweeper": "basic", "help": "default", "hydra_help": "default"}
    chosen |= {"hydra_logging": "none", "job_logging": "none", "env": "default"}
    node = HydraConf(
        defaults=[{group: name} for group, name in chosen.items()],
        run=RunDir("."),
        sweep=SweepDir(scratch, "${hydra.job.num}"),
        output_subdir=None,
    )
    ConfigStore.instance().store(group="hydra", name="config", node=node, provider="hydra")


def _anchor(arguments: Namespace) -> Callable[[Mapping[str, Any]], dict[str, Any]]:
    """Make the function that reads a configuration's paths against the user's files that name them."""
    from explore.config.paths import anchored
    from explore.config.refusals import refuse_unnamed_sampler

    folders = [Path(place) for place in (arguments.config_path, arguments.config_dir) if place]
    name, typed = arguments.config_name or "config", list(arguments.overrides)

    def anchor(config: Mapping[str, Any]) -> dict[str, Any]:
        if arguments.config_path:
            refuse_unnamed_sampler(config, typed, f"-cp {arguments.config_path}")
        return anchored(config, folders, name, typed)

    return anchor


def _job(
    worst: Worst,
    command: str,
    wants_traceback: bool,
    anchor: Callable[[Mapping[str, Any]], dict[str, Any]],
) -> Callable[[Any], None]:
    """Make the function Hydra calls with each composed configuration, its paths read by ``anchor``.

    In this process it reports its own failure, so that a sweep goes on with the next job; in a
    worker process of a launcher it raises, and the parent reports.
    """
    home = os.getpid()

    def job(config: Any) -> None:
        from omegaconf import OmegaConf

        from explore.config.compose import checked
        from explore.config.files import plain
        from explore.tasks.registry import run

        try:
            folder = run(checked(anchor(plain(OmegaConf.to_container(config, resolve=True)))), command)
            if folder and os.getpid() != home:
                _note(folder)
            elif folder:
                worst.folders.append(folder)
            sys.stdout.flush()
        except BrokenPipeError:
            _hush()
        except Exception as error:
            if os.getpid() != home:
                raise
            if wants_traceback:
                traceback.print_exc()
            worst.status = max(worst.status, _complain(_as_input_error(error)))

    return job


def _as_input_error(error: Exception) -> Exception:
    """Read a broken interpolation (found only now) as bad input."""
    from omegaconf.errors import OmegaConfBaseException

    from explore.config.explain import explained

    return explained(error) if isinstance(error, OmegaConfBaseException) else error
