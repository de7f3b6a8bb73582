"""The text of ``explore --help``."""

from __future__ import annotations

from pathlib import Path

from explore.tasks.registry import REGISTRY, Task

HELP = """\
explore: finds the designs of a small piston engine, run on stored hot water, \
that give the most work per litre for the least cost at the lowest pressure.

  explore                          search the default scenario, about a minute
  explore scenario=NAME            another scenario, or the path of your own scenario.yaml
  explore search=standard          search longer (quick, standard, overnight)

Tasks
{tasks}

Pin or narrow any design variable, change any value
  explore space.store_volume_L=500                       a tank you own
  explore 'space.top_temperature_degC=[80,90]'           a range
  explore 'space.fluid=[n-Butane,IsoButane]'             some fluids only
  explore engine.friction_load_share=0.08 scenario.limits.pressure_ceiling_bar_g=10
  explore fluids.n-Butane.price_EUR_per_kg=3
  explore 'scenario.limits.bounds.boiler_area_m2=[null,2]'   bound any reported figure

With an engine that was measured (task=fit writes the file)
  explore fitted=results/fit/<time>/fitted.yaml

Several runs, one after another
  explore -m scenario=NAME,NAME search.seed=1,2,3

Go on with a run that was stopped or killed, or search longer (the budget counts from its first start)
  explore resume=results/<scenario>/<time> search.seconds=600

A past run again, with changes if you like
  explore -cp results/<scenario>/<time> -cn config engine.friction_load_share=0.08
  -cp runs what it is given: Hydra reads that folder, so use it on folders you trust only

See the whole configuration without running: explore --cfg job
Your own fluid or collector cards: explore -cd FOLDER, with FOLDER/fluid/NAME.yaml

Flags: -m several runs; -cp FOLDER -cn NAME another main config; -cd FOLDER more configs; --cfg job the \
composed configuration; --version; --hydra-help what else Hydra offers.
"""


def usage(folder: Path) -> str:
    """Return the help text with the choices found in the config ``folder``."""
    groups = sorted(path for path in folder.iterdir() if path.is_dir())
    tasks = "\n".join(map(_task, REGISTRY.values()))
    return "\n".join(
        [HELP.replace("{tasks}", tasks), "Choices (files of the configs folder)", *map(_choices, groups)]
    )


def _task(task: Task) -> str:
    """Write a task's call and, beside it or under one that is too long, what it does."""
    lead = f"  {task.call:33}" if len(task.call) < 33 else f"  {task.call}\n{' ' * 35}"
    return lead + " ".join(task.about)


def _choices(group: Path) -> str:
    names = ", ".join(sorted((path.stem for path in group.glob("*.yaml")), key=str.casefold))
    return f"  {group.name:12}{names}"
