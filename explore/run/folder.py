"""A run's folder ``results/<scenario>/<UTC time>/``: claimed first, then written file by file.

Every file appears under its name only when it is complete: it is written beside it, forced to the
disk and renamed. A folder is claimed, and tried with a small file, before any work is done. The search keeps its own
beside them: its legs in ``legs/`` and ``campaign.journal``, its designs as an Optuna study in ``designs.journal``, which
nothing here reads again (:mod:`explore.search.showcase`).
"""

from __future__ import annotations

import hashlib
import io
import json
import logging
import os
import re
import shutil
import tempfile
from collections.abc import Collection, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.goals import sought
from explore.errors import InputError
from explore.whole_file import replacing, write_whole

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd

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
ARCHIVE_DIGITS = "%.9g"
FORMAT = 1
"""Number of this layout of a run; a folder of another is refused with a sentence."""
WEATHER = "weather"
"""The folder within a run that holds its weather file, if that is one of the user's."""
OWN = "own"
"""The folder within a run that holds the reader's own designs, each file in a folder of its number."""
YEARS = "years"
"""The folder within a run that holds the weather years of its doubt, each file in a folder of its number."""
DOUBT = "doubt"
"""The folder within a run that holds what became of its designs in other worlds, chunk by chunk."""
CONFIG_HEADING = "The whole configuration of this run; `explore -cp FOLDER -cn config` runs it again."


class UnwritableError(InputError):
    """A file cannot be written: the disk is full, the folder has gone, or it may not be written to."""


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
    """Claim a folder for the length of a run; bad input or a stop before the first leg removes it again.

    After any other error the folder stays, with the error's origin in ``run.log``.
    """
    parent = scenario_folder(case)
    made = [place for place in (parent, *parent.parents) if not place.exists()]
    folder = claim(case)
    with logged(folder):
        try:
            yield folder
        except (UnwritableError, KeyboardInterrupt):
            if not (folder / "front.csv").exists() and not has_legs(folder):
                discard(folder, made)
            raise
        except InputError:
            if not (folder / "front.csv").exists():
                discard(folder, made)
            raise
        except Exception:
            logging.getLogger("explore").exception("the run ended by an error")
            raise


def has_legs(folder: Path) -> bool:
    """Tell whether a search has stored anything in a run's folder, so that it can be gone on with."""
    return any(folder.glob("legs/*"))


def refuge(case: Case) -> Path:
    """Make a folder among the system's temporary files for results that cannot be written where they belong."""
    return Path(tempfile.mkdtemp(prefix=f"{scenario_folder(case).name}-"))


def discard(folder: Path, made: Sequence[Path] = ()) -> None:
    """Remove a claimed folder, and those of the folders ``made`` for it, innermost first, that are empty."""
    shutil.rmtree(folder, ignore_errors=True)
    remove_empty(made)


def remove_empty(made: Sequence[Path]) -> None:
    """Remove folders made for a run, innermost first, as far as they are empty."""
    with suppress(OSError):  # another run has come into one of them
        for place in made:
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


def write_text(path: Path, text: str) -> None:
    """Write ``text`` so that ``path`` holds either its old content or all of the new one."""
    with _replacing(path) as file:
        file.write(text)


@contextmanager
def _replacing(path: Path) -> Iterator[Any]:
    try:
        with replacing(path, "w", encoding="utf-8", newline="") as file:
            yield file
    except OSError as error:
        raise UnwritableError(f"cannot write {path}: {error.strerror or error}") from error


def write_json(path: Path, data: Mapping[str, Any] | list[dict[str, Any]], *, indent: int | None = 1) -> None:
    """Write JSON with numpy numbers made plain; a number that is not finite becomes null."""
    write_text(path, json.dumps(_plain(data), indent=indent, ensure_ascii=False, allow_nan=False) + "\n")


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if hasattr(value, "tolist"):
        return _plain(value.tolist())
    if isinstance(value, float):
        return value if value - value == 0.0 else None
    return value


def write_yaml(path: Path, data: Mapping[str, Any], *, heading: str = "") -> None:
    """Write YAML in the order given, after a comment line."""
    import yaml

    text = yaml.safe_dump(dict(data), sort_keys=False, allow_unicode=True, width=100)
    write_text(path, (f"# {heading}\n" if heading else "") + text)


def carry(folder: Path, case: Case) -> Case:
    """Copy the user's weather files and own designs into the run's folder; return the case that is judged by the copies.

    A copy that is there already is the run's own and stays. Raises :class:`InputError` if a file cannot be read.
    """
    own = []
    for number, file in enumerate(map(Path, case.report.own), start=1):
        copy = folder / OWN / str(number) / file.name
        held = copy.is_file() or file.is_file()  # whoever reads a file that is not there says so
        own.append(_carried(file, copy, "own designs") if held else file)
    return at_own(_carry_weather(folder, _carry_years(folder, case)), own)


def _carry_years(folder: Path, case: Case) -> Case:
    found = []
    for number, spec in enumerate(case.doubt.weather_years, start=1):
        source = Path(os.path.expanduser(spec))
        copy = folder / YEARS / str(number) / source.name
        held = not spec.startswith("pvlib:") and (os.path.isfile(copy) or os.path.isfile(source))
        found.append(str(_carried(source, copy, "weather file")) if held else spec)
    return at_years(case, found)


def _carry_weather(folder: Path, case: Case) -> Case:
    spec = case.scenario.site.weather
    source = Path(os.path.expanduser(spec))
    copy = folder / WEATHER / source.name
    if spec.startswith("pvlib:") or not (os.path.isfile(copy) or os.path.isfile(source)):
        return case  # whoever reads a file that is not there says so
    return at_weather(case, _carried(source, copy, "weather file"))


def _carried(source: Path, copy: Path, what: str) -> Path:
    """Copy a file, unless that was done; returns the place of the copy."""
    if not copy.is_file():
        try:
            content = source.read_bytes()
        except OSError as error:
            raise InputError(f"cannot read {what} {source}: {error.strerror or error}") from error
        _write_bytes(copy, content)
    return copy.resolve()


def at_own(case: Case, files: Sequence[Path]) -> Case:
    """Return the case with ``files`` for the reader's own designs."""
    own = tuple(map(str, files))
    return case.model_copy(update={"report": case.report.model_copy(update={"own": own})})


def at_years(case: Case, files: Sequence[str]) -> Case:
    """Return the case with ``files`` for the weather years of its doubt."""
    doubt = case.doubt.model_copy(update={"weather_years": tuple(files)})
    return case.model_copy(update={"doubt": doubt})


def at_weather(case: Case, file: Path) -> Case:
    """Return the case with ``file`` for its weather."""
    site = case.scenario.site.model_copy(update={"weather": str(file)})
    return case.model_copy(update={"scenario": case.scenario.model_copy(update={"site": site})})


def _write_bytes(path: Path, content: bytes) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, content)
    except OSError as error:
        raise UnwritableError(f"cannot write {path}: {error.strerror or error}") from error


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


def write_frame(
    path: Path, frame: pd.DataFrame, *, shorten_from: str | None = None, whole: Collection[str] = ()
) -> None:
    """Write a table as CSV, empty cells for what does not apply.

    Numbers have all their digits; from the column ``shorten_from`` on they are cut to
    :data:`ARCHIVE_DIGITS`, which halves a large file, but for the columns ``whole``: by these designs are compared with
    those of other files, and a digit less would let one beat another that it equals.
    """
    if shorten_from in frame.columns:
        frame = frame.copy(deep=False)
        for name in frame.columns[frame.columns.get_loc(shorten_from) :]:
            if frame[name].dtype.kind == "f" and name not in whole:
                frame[name] = _short(frame[name].to_numpy())
    with _replacing(path) as file:
        frame.to_csv(file, index=False, lineterminator="\n")


def _short(values: np.ndarray) -> np.ndarray:
    import numpy as np

    return np.where(np.isnan(values), "", np.char.mod(ARCHIVE_DIGITS, values))


def write_array(path: Path, array: np.ndarray) -> None:
    """Write an array as a file of its own, whole or not at all."""
    import numpy as np

    content = io.BytesIO()
    np.save(content, np.ascontiguousarray(array), allow_pickle=False)
    _write_bytes(path, content.getvalue())


def digest(path: Path) -> str:
    """SHA-256 of a file, as hexadecimal text."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


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


def read_frame(path: Path) -> pd.DataFrame:
    """Read a CSV table; raises :class:`InputError` if it is missing, empty or broken."""
    import pandas as pd

    try:
        return pd.read_csv(path, engine="python")  # it alone reads floats exactly in pandas 2
    except (OSError, ValueError) as error:
        raise InputError(f"cannot read {path}: {str(error).splitlines()[0]}") from error
