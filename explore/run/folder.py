"""A run's folder ``results/<scenario>/<UTC time>/``: claimed first, then written file by file.

Every file appears under its name only when it is complete: it is written beside it, forced to the
disk and renamed. A folder is claimed, and tried with a small file, before any work is done. The search keeps its own
beside them: its legs in ``legs/`` and ``campaign.journal``, what they came to in ``campaign.bookmark``, its designs as an
Optuna study in ``designs.journal``, which nothing here reads again (:mod:`explore.search.showcase`).
"""

from __future__ import annotations

import logging
import os
import re
import shutil
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.goals import sought
from explore.errors import InputError
from explore.run.carried import OWN, WEATHER, YEARS
from explore.run.files import digest, write_text, write_yaml

if TYPE_CHECKING:
    from explore.config.schema import Case
    from explore.search import SearchOutcome

PACKAGES = (
    "hot-water-engine-explorer",
    "CoolProp",
    "thermo",
    "chemicals",
    "numpy",
    "scipy",
    "pandas",
    "pvlib",
    "pydantic",
    "hydra-core",
    "optuna",
    "moocore",
    "plotly",
    "SALib",
)
HASHED = (
    "config.yaml",
    "designs.csv",
    "front.csv",
    "fluids.csv",
    "layouts.csv",
    "own.csv",
    "sheets.json",
    "told.json",
    "checks.json",
)
FORMAT = 1
"""Number of this layout of a run; a folder of another is refused with a sentence."""
DOUBT = "doubt"
"""The folder within a run that holds what became of its designs in other worlds, chunk by chunk."""
CONFIG_HEADING = "The whole configuration of this run; `explore -cp FOLDER -cn config` runs it again."


def claim(case: Case, *, now: datetime | None = None) -> Path:
    """Create the run's own folder and prove that it can be written to.

    The name is the UTC time without colons; a second run in the same second gets ``-2``, and so on.
    Raises :class:`InputError` naming the folder and the reason.
    """
    moment = (now or datetime.now(UTC)).strftime("%Y-%m-%dT%H%M%SZ")
    parent = scenario_folder(case)
    try:
        parent.mkdir(parents=True, exist_ok=True)
        folder = _unused(parent, moment)
        write_text(folder / "run.log", "")
    except OSError as error:
        raise InputError(
            f"results_folder={case.results_folder}: cannot write there ({error.strerror}); "
            "choose a folder that can be written to"
        ) from error
    return folder


def scenario_folder(case: Case) -> Path:
    """Return the folder of all runs of the case's scenario; its name is plain, whatever the scenario's is."""
    name = re.sub(r"[^\w.-]+", "_", case.scenario.name).strip(".") or "scenario"
    return Path(case.results_folder) / name


def _unused(parent: Path, moment: str) -> Path:
    for number in range(1, 1000):
        folder = parent / (moment if number == 1 else f"{moment}-{number}")
        try:
            folder.mkdir()
        except FileExistsError:
            continue
        return folder
    raise OSError(17, "too many runs of the same second")


@contextmanager
def claimed(case: Case) -> Iterator[Path]:
    """Claim a folder for the length of a run; bad input or a stop removes it again if it holds no leg and no front.

    After any other error the folder stays, with the error's origin in ``run.log``.
    """
    parent = scenario_folder(case)
    made = [place for place in (parent, *parent.parents) if not place.exists()]
    try:
        folder = claim(case)
    except InputError:
        remove_empty(made)
        raise
    with logged(folder):
        try:
            yield folder
        except (InputError, KeyboardInterrupt):
            if not (folder / "front.csv").exists() and not has_legs(folder):
                discard(folder, made)
            raise
        except Exception:
            logging.getLogger("explore").exception("the run ended by an error")
            raise


def has_legs(folder: Path) -> bool:
    """Tell whether a search has stored a whole leg in a run's folder, so that it can be gone on with."""
    return any(folder.glob("legs/[!.]*"))


def refuge(case: Case) -> Path:
    """Make a folder among the system's temporary files for results that cannot be written where they belong."""
    return Path(tempfile.mkdtemp(prefix=f"{scenario_folder(case).name}-"))


def discard(folder: Path, made: Sequence[Path] = ()) -> None:
    """Remove a claimed folder, and those of the folders ``made`` for it, innermost first, that are empty."""
    shutil.rmtree(folder, ignore_errors=True)
    remove_empty(made)


def remove_empty(made: Sequence[Path]) -> None:
    """Remove folders made for a run, innermost first, as far as they are empty."""
    for place in made:
        with suppress(OSError):  # another run has come into it, or it could not be made
            place.rmdir()


@contextmanager
def logged(folder: Path) -> Iterator[None]:
    """Send log records and Python warnings to the folder's ``run.log``, not to the terminal."""
    handler = logging.FileHandler(folder / "run.log", encoding="utf-8", delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    root = logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.INFO)
    logging.captureWarnings(True)
    try:
        yield
    finally:
        logging.captureWarnings(False)
        root.removeHandler(handler)
        root.setLevel(level)
        handler.close()


def write_config(folder: Path, case: Case) -> None:
    """Write ``config.yaml``; weather files and own designs that the folder holds are named as seen from there."""
    from explore.config.compose import complete

    data = complete(case)
    file = Path(case.scenario.site.weather)
    if file.parent == (folder / WEATHER).resolve():
        data["scenario"]["site"]["weather"] = f"{WEATHER}/{file.name}"
    home = folder.resolve()
    data["report"]["own"] = [_as_seen(home, OWN, own) for own in case.report.own]
    data["doubt"]["weather_years"] = [_as_seen(home, YEARS, file) for file in case.doubt.weather_years]
    write_yaml(folder / "config.yaml", data, heading=CONFIG_HEADING)


def _as_seen(home: Path, place: str, file: str) -> str:
    return Path(file).relative_to(home).as_posix() if Path(file).is_relative_to(home / place) else file


def versions() -> dict[str, str]:
    """Versions of Python and of the packages a result may depend on."""
    import platform
    from importlib import metadata

    found = {"Python": platform.python_version()}
    for package in PACKAGES:
        try:
            found[package] = metadata.version(package)
        except metadata.PackageNotFoundError:  # run from a clone that was never installed
            continue
    return found


def summary(folder: Path, case: Case, outcome: SearchOutcome) -> dict[str, Any]:
    """Collect the facts of a run for ``summary.json``; the files it digests are already written."""
    files = sorted(path for path in folder.iterdir() if path.name in HASHED)
    weather = Path(os.path.expanduser(case.scenario.site.weather))
    hashes = {path.name: digest(path) for path in files}
    if os.path.isfile(weather):
        hashes["weather"] = digest(weather)
    return {
        "format": FORMAT,
        "created_utc": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "scenario": case.scenario.name,
        "seed": outcome.seed,
        "workers": outcome.workers,
        "legs": outcome.legs,
        "seconds": outcome.seconds,
        "stop_reason": outcome.stop_reason,
        "designs_evaluated": outcome.designs_evaluated,
        "designs_feasible": outcome.designs_feasible,
        "designs_per_second": outcome.designs_per_second,
        "designs_written": len(outcome.designs),
        "all_designs_written": outcome.all_kept,
        "front_designs": len(outcome.front),
        "front_resolution": outcome.resolution,
        "hypervolume": outcome.hypervolume,
        "hypervolume_scale": [objective.model_dump() for objective in sought(case).scenario.objectives],
        "hypervolume_history": [[moment.designs, moment.hypervolume] for moment in outcome.history],
        "random_hypervolume_history": [
            [moment.designs, moment.hypervolume] for moment in outcome.random_history
        ],
        "hypervolume_last_tenth_gain": outcome.last_tenth_gain,
        "polished_designs": outcome.polished,
        "refinement": {
            "front_lines": outcome.refinement.lines,
            "gains": outcome.refinement.gains,
            "picks_gain": outcome.picks_gain,
        },
        "trouble": outcome.trouble,
        "designs_per_fluid": outcome.evaluated,
        "feasible_per_fluid": outcome.feasible,
        "fluids_left_out": outcome.left_out,
        "lost_to": outcome.lost_to,
        "lost_to_this_alone": outcome.lost_alone,
        "timings": {"search": outcome.seconds, **outcome.timings_s},
        "microseconds_per_design": {
            "model": outcome.model_us_per_design,
            "bookkeeping": outcome.bookkeeping_us_per_design,
        },
        "versions": versions(),
        "hashes": hashes,
    }
