"""Fits the model's coefficients to a log of bench tests, and judges a run again with them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.config.schema import Case
from explore.config.tasks import FitTask
from explore.errors import InputError

if TYPE_CHECKING:
    from explore.bench.fit import Fit
    from explore.bench.plant import Built
    from explore.bench.rejudge import Verdict
    from explore.bench.trials import Bench

HOME = Path("results/fit")


def run(case: Case, task: FitTask, command: str) -> None:
    """Write fitted.yaml, the page and the figures of a fit into a new folder, and say what it found."""
    from explore.bench import overlay
    from explore.bench.fit import fit
    from explore.bench.log import read_log
    from explore.model.details import site_air_pressure
    from explore.tell.build.files import new_folder, write_files
    from explore.tell.fit import words
    from explore.tell.fit.page import page
    from explore.tell.terminal import paragraph, say
    from explore.units import bar

    if task.log is None or (task.machine is None) == (task.design is None):
        raise InputError(
            "task=fit needs log=FILE.csv and either machine=FILE.yaml, the machine whose cylinders are given, or "
            "design=FILE.yaml (design=.../front.csv row=N), the plant as it was built"
        )
    folder = new_folder(task.output, HOME)
    bench, name, fallback = _bench(case, task)
    log = read_log(task.log, fallback, float(bar(site_air_pressure(case))), task.accuracy, bench.plant)
    found = fit(log, bench)
    judged = None if task.run is None else _rejudged(task.run, case, found)
    said = "" if judged is None else words.verdict(judged, case, words.with_films(found, case))
    stands = [words.machine(bench.given) if bench.plant is None else words.plant(bench.plant)]
    stands += [*log.untold, *found.untold, *words.copied(log), *words.gauges(log)]
    content = {
        "fitted.yaml": overlay.text(found, task.log, name, case),
        "fit.html": page(found, log, name, said, stands),
        "fit.json": _json(found, command, judged, stands),
    }
    write_files(folder, {name: text.encode("utf-8") for name, text in content.items()}, "the fit")
    for one in stands:
        say(paragraph(one) + "\n")
    say(words.told(found))
    if caution := words.hot(log):
        say("\n" + paragraph(caution))
    if said:
        say("\n" + paragraph(said))
    if found.misfit > words.POOR:
        say(
            "\n"
            + paragraph(
                "Find out first why the model misses the readings: a search takes fitted.yaml as it is."
            )
        )
    say(f"\nPage: {folder / 'fit.html'}\nUse it with: explore fitted={folder / 'fitted.yaml'}")


def _bench(case: Case, task: FitTask) -> tuple[Bench, str, dict[str, float]]:
    """Return what stands on the bench, its name, and the conditions that its file says where the log does not."""
    from explore.bench.trials import Bench
    from explore.config.machine import CONDITIONS, read_machine

    if task.machine is None:
        assert task.design is not None
        plant = _built(case, task, task.design)
        row = "" if task.row is None else f", row {task.row}"
        return Bench(plant.machine, case, plant), f"{task.design}{row}", {}
    for key in ("row", "bores_mm"):
        if getattr(task, key) is not None:
            raise InputError(f"{key}: a machine's file says its cylinders; {key} goes with design=FILE")
    given = read_machine(task.machine)
    fallback = {
        name: value[0]
        for name in CONDITIONS
        if (value := getattr(given, name)) is not None and len(value) == 1
    }
    return Bench(given, case), task.machine, fallback


def _built(case: Case, task: FitTask, design: str) -> Built:
    """Return the plant of a design as its own run sizes it: coefficients typed beside it are priors, no other sizes."""
    from explore.bench import sheet
    from explore.bench.plant import as_built
    from explore.model.details import records
    from explore.run.design_file import evaluated
    from explore.run.reader import judged_case

    if design.lower().endswith(".csv") and task.row is None:
        raise InputError(f"design={design} is a table: say which line with row=N, counted from 1")
    home = Path(design).parent
    of_run = (home / "summary.json").is_file() and (home / "config.yaml").is_file()
    if of_run and task.run is not None and Path(task.run).resolve() != home.resolve():
        raise InputError(
            f"run={task.run}: design={design} is of another run; fit it first, then judge that run with fitted=FILE.yaml"
        )
    sized = sheet.with_stock(judged_case(home) if of_run else case, task.bores_mm or ())
    if sized.exchangers.method != case.exchangers.method:
        raise InputError(
            f"exchangers={case.exchangers.method}: design={design} was sized with exchangers={sized.exchangers.method}, "
            "and its areas are those; leave the key away"
        )
    figures = records(evaluated(design, sized, task.row))[0]
    if not figures["possible"]:
        raise InputError(
            f"design={design}: physics forbids this design with bores from stock, so that it has no cylinders and areas; "
            "task=build says why, bores_mm=[...] names those that were built"
        )
    return as_built(figures, sized)


def _rejudged(run: str, case: Case, found: Fit) -> Verdict:
    """Judge a run's front again; the case is the run's own."""
    from explore.bench.rejudge import rejudge
    from explore.run.files import read_frame

    front = read_frame(Path(run) / "front.csv")
    return rejudge(
        front, case, case.model_copy(update={"engine": found.engine, "exchangers": found.exchangers})
    )


def _json(found: Fit, command: str, judged: Verdict | None, stands: Sequence[str]) -> str:
    """Return all figures of a fit as JSON; ``stands`` says which plant it is of and what lines do not tell."""
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
            "at_edge": bool(one.edge),
            "width": one.width,
        }
        for one in found.coefficients
    ]
    whole = {
        "command": command,
        "plant": list(stands),
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
