"""Hydra's part: it composes what was typed, once or as a sweep, and calls the job."""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from argparse import Namespace

NOTE = ".run"
HYDRA_RULES = "1.3"
"""Version of Hydra whose defaults hold."""


def _flags(arguments: Namespace) -> list[str]:
    """Write the flags out again, for Hydra to read."""
    words = []
    for name, value in vars(arguments).items():
        if name != "overrides" and value not in (None, False):
            words += [f"--{name.replace('_', '-')}", *([] if value is True else [str(value)])]
    return words


def run_hydra(arguments: Namespace, overrides: list[str], job: Callable[[Any], None]) -> list[Path]:
    """Hand flags and overrides to Hydra, which composes and calls ``job``, and keep it from leaving files behind.

    Returns the folders that jobs in other processes have left (:func:`note`).
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
    """Compose once and call ``job`` with what is ours of it.

    Hydra's own way composes twice, first only to see whether to sweep, and then copies all of it three times.
    """
    from hydra import version
    from hydra._internal.hydra import Hydra
    from hydra._internal.utils import create_config_search_path
    from hydra.core.global_hydra import GlobalHydra
    from hydra.types import RunMode
    from omegaconf import open_dict

    from explore.config.files import config_folder

    version.setbase(HYDRA_RULES)
    session = Hydra.create_main_hydra2("explore", create_config_search_path(str(config_folder())))
    try:
        config = session.compose_config(config_name, overrides, run_mode=RunMode.RUN)
        with open_dict(config):
            del config["hydra"]
        job(config)
    finally:
        GlobalHydra.instance().clear()


def note(folder: Path) -> None:
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
