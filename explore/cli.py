"""The command ``explore``: reads what was typed, lets Hydra compose, checks, and runs the task.

Exit status: 0 done; 2 bad input, one sentence on stderr; 130 ended by the user (Ctrl-C or SIGTERM) before the
budget was used, whether or not results were written: the sentence on stderr says how to go on; 1 a defect of this
program (set HYDRA_FULL_ERROR=1 to see where).
"""

from __future__ import annotations

import codecs
import errno
import logging
import os
import shlex
import signal
import stat
import sys
import threading
import traceback
from collections.abc import Callable, Mapping, Sequence
from contextlib import redirect_stderr, suppress
from dataclasses import dataclass, field
from io import StringIO, TextIOWrapper
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING, Any

from explore.command.jobs import note, run_hydra
from explore.command.of_run import take_run_of_design, take_run_to_judge, take_run_to_resume
from explore.errors import InputError, shortened
from explore.tell.terminal import fitted, plain_signs

if TYPE_CHECKING:
    from argparse import Namespace


FULL_ERROR = "HYDRA_FULL_ERROR"
PLAIN_SIGNS = "explore-plain-signs"
HELP = {"--help", "-h"}
THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")
"""Read when NumPy is first imported: no matrix here is worth a second thread, which waits for the first at full load."""
UNUSABLE = {errno.ENAMETOOLONG, errno.ELOOP, errno.ENOTDIR, errno.EISDIR, errno.EACCES, errno.EROFS}
"""What is wrong with a path itself, wherever it is first touched."""
FULL = {errno.ENOSPC, errno.EDQUOT, errno.EIO}
"""What is wrong with the place that output goes to."""
SHOWN = 80
"""Most signs of a path in a sentence."""
LONGEST_WORD = 160
"""Signs of what a sentence repeats without a blank, as a value that no refusal has shortened; paths are mostly shorter."""


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
    # What a law makes of an absurd value is judged and told in words; a run's log keeps the library's as well.
    logging.captureWarnings(before != "1")
    for threads in THREADS:
        os.environ.setdefault(threads, "1")
    thread_hook, threading.excepthook = threading.excepthook, _log_thread
    term = _stop_at_term()
    codecs.register_error(PLAIN_SIGNS, plain_signs)
    _open_what_is_closed()
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
        logging.captureWarnings(False)
        del os.environ[FULL_ERROR]
        if before is not None:
            os.environ[FULL_ERROR] = before


def _open_what_is_closed() -> None:
    """Let what is said to a stream that the caller has closed, as in ``explore ... >&-``, go nowhere."""
    for name in ("stdout", "stderr"):
        if getattr(sys, name) is None:
            setattr(sys, name, os.fdopen(os.open(os.devnull, os.O_WRONLY), "w", encoding="utf-8"))


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
    reason = " ".join(shortened(word, LONGEST_WORD) for word in str(error).split())
    if isinstance(error, KeyboardInterrupt):
        return _say(f"stopped; {reason}" if reason else "stopped", 130)
    if isinstance(error, InputError):
        return _say(reason, 2)
    if isinstance(error, OSError) and error.errno in UNUSABLE and error.filename:
        return _say(f"{shortened(str(error.filename), SHOWN)}: {error.strerror}; give another path", 2)
    if isinstance(error, OSError) and error.errno in FULL and not error.filename:
        _hush()
        return _say(f"no more can be written ({error.strerror}); make room, or send the output elsewhere", 2)
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
    _refuse_unreadable(words)
    _refuse_pipes(words)
    if HELP.intersection(words):  # before Hydra's reader, which takes as long to fetch as all the rest
        return _print_usage(config_folder())
    arguments = _read(words)
    _refuse_query_by_hand(arguments)
    _refuse_keys_of_other_tasks(arguments)
    take_run_of_design(arguments)
    take_run_to_resume(arguments)
    take_run_to_judge(arguments)
    register([config_folder(), *([Path(arguments.config_dir)] if arguments.config_dir else [])])
    worst = Worst()
    try:
        job = _job(worst, shlex.join(["explore", *words]), wants_traceback, _anchor(arguments))
        worst.folders += run_hydra(arguments, spelled_out(arguments.overrides), job)
    except Exception as error:
        folder = Path(arguments.config_path) if arguments.config_path else None
        raise explained(error, lambda: known_keys(folder, arguments.config_name or "config")) from error
    if arguments.multirun and len(worst.folders) > 1:
        from explore.tasks.compare import side_by_side

        side_by_side(worst.folders)
    return worst.status


def _refuse_unreadable(words: Sequence[str]) -> None:
    """Refuse a word with bytes that are no text: it could stand in no file that a run leaves."""
    for word in words:
        if any("\ud800" <= sign <= "\udfff" for sign in word):
            shown = word.encode(errors="backslashreplace").decode()
            raise InputError(
                f"{shortened(shown, SHOWN)}: it holds bytes that are no UTF-8; rename what it names"
            )


def _refuse_pipes(words: Sequence[str]) -> None:
    """Refuse what is read more than once, as files are, but can be read once at most, and waits for a writer.

    Conditions of a machine are read once, and may come of ``conditions=<(...)``.
    """
    for word in words:
        if word.partition("=")[0].rpartition(".")[2] == "conditions":
            continue
        for value in word.rpartition("=")[2].strip("[]").split(","):
            with suppress(OSError, ValueError):
                kind = os.stat(value.strip("'\" ")).st_mode
                if stat.S_ISFIFO(kind) or stat.S_ISSOCK(kind):
                    raise InputError(
                        f"{shortened(word, SHOWN)}: that is a pipe, and can be read but once; give a file that holds it"
                    )


def _refuse_query_by_hand(arguments: Namespace) -> None:
    """Refuse what only a shell asks, while one types: it says in its environment what stands there so far."""
    asked = arguments.shell_completion and any(word.startswith("query=") for word in arguments.overrides)
    if asked and "COMP_LINE" not in os.environ:
        raise InputError(
            '-sc query=... is asked by a shell that completes words; have it do so by eval "$(explore -sc install=bash)"'
        )


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
    if arguments.experimental_rerun is not None:
        raise InputError(
            "--experimental-rerun would run what its file holds, and is refused; see explore --help"
        )
    if arguments.package is not None and arguments.cfg is None:
        raise InputError(
            f"--package {shortened(arguments.package, SHOWN)} says what part --cfg shows, and runs nothing; give "
            "--cfg job with it, or leave it away"
        )
    for flag in ("config_path", "config_dir"):
        folder = getattr(arguments, flag)
        if folder is not None and not Path(folder).is_dir():
            raise InputError(f"--{flag.replace('_', '-')} {folder}: there is no such folder")
        setattr(arguments, flag, folder and str(Path(folder).resolve()))
    return arguments


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
                note(folder)
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
