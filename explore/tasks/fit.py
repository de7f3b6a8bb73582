"""Fits the model's coefficients to a log of bench tests, and judges a run again with them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.schema import Case
from explore.config.tasks import FitTask
from explore.errors import InputError

if TYPE_CHECKING:
    from explore.bench.fit import Fit
    from explore.bench.rejudge import Verdict

HOME = Path("results/fit")


def run(case: Case, task: FitTask, command: str) -> None:
    """Write fitted.yaml, the page and the figures of a fit into a new folder, and say what it found."""
    from explore.bench import overlay
    from explore.bench.fit import fit
    from explore.bench.log import read_log
    from explore.bench.trials import Bench
    from explore.config.machine import CONDITIONS, read_machine
    from explore.model.details import site_air_pressure
    from explore.tell.build.files import new_folder, write_files
    from explore.tell.fit import words
    from explore.tell.fit.page import page
    from explore.tell.terminal import paragraph, say
    from explore.units import bar

    if task.log is None or task.machine is None:
        raise InputError(
            "task=fit needs log=FILE.csv and machine=FILE.yaml, the machine whose cylinders are given"
        )
    folder = new_folder(task.output, HOME)
    given = read_machine(task.machine)
    fallback = {
        name: value[0]
        for name in CONDITIONS
        if (value := getattr(given, name)) is not None and len(value) == 1
    }
    log = read_log(task.log, fallback, float(bar(site_air_pressure(case))), task.accuracy)
    found = fit(log, Bench(given, case))
    judged = None if task.run is None else _rejudged(task.run, case, found)
    said = "" if judged is None else words.verdict(judged, case)
    content = {
        "fitted.yaml": overlay.text(found, task.log, task.machine),
        "fit.html": page(found, log, task.machine, said),
        "fit.json": _json(found, command, judged),
    }
    write_files(folder, {name: text.encode("utf-8") for name, text in content.items()}, "the fit")
    say(words.told(found))
    if said:
        say("\n" + paragraph(said))
    say(f"\nPage: {folder / 'fit.html'}\nUse it with: explore fitted={folder / 'fitted.yaml'}")


def _rejudged(run: str, case: Case, found: Fit) -> Verdict:
    """Judge a run's front again; the case is the run's own."""
    from explore.bench.rejudge import rejudge
    from explore.run.folder import read_frame

    front = read_frame(Path(run) / "front.csv")
    return rejudge(front, case, case.model_copy(update={"engine": found.engine}))


def _json(found: Fit, command: str, judged: Verdict | None) -> str:
    """Return all figures of a fit as JSON."""
    import json
    from dataclasses import asdict

    coefficients: list[dict[str, Any]] = [
        {
            "name": one.item.name,
            "group": one.item.group,
            "identified": one.identified,
            "why_not": one.why,
            "assumed": one.prior[0],
            "assumed_90_percent": one.prior[1:],
            "fitted": one.fitted[0],
            "fitted_90_percent": one.fitted[1:] if one.identified else None,
            "band_10_90_percent": one.band,
            "width": one.width,
        }
        for one in found.coefficients
    ]
    whole = {
        "command": command,
        "misfit": found.misfit,
        "effective": dict(found.effective),
        "coefficients": coefficients,
        "correlations": {
            "names": [one.item.name for one in found.identified()],
            "matrix": found.correlations.tolist(),
        },
        "readings": [asdict(one) | {"off": one.off} for one in found.readings],
        "front": None if judged is None else asdict(judged),
    }
    return json.dumps(whole, indent=1, allow_nan=False) + "\n"
