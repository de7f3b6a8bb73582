"""Prints one design whole."""

from __future__ import annotations

from explore.config.schema import Case
from explore.config.tasks import InspectTask
from explore.errors import InputError
from explore.tell.terminal import say


def run(case: Case, task: InspectTask, command: str) -> None:
    """Print one design whole."""
    from explore.bench.more import told as parts_told
    from explore.bench.use import service
    from explore.bench.yardsticks import beside, ways
    from explore.model import Evaluator
    from explore.model.details import air_pressure_bar, details, records, transport_sources
    from explore.run.design_file import evaluated
    from explore.tell import more
    from explore.tell.sheet import sheet, transport
    from explore.tell.terminal import paragraph
    from explore.tell.use import TITLE, sentence
    from explore.tell.yardsticks import text

    if task.design is None:
        raise InputError("task=inspect needs design=FILE.yaml, or design=results/.../front.csv row=N")
    if task.design.lower().endswith(".csv") and task.row is None:
        raise InputError(f"design={task.design} is a table: say which line with row=N, counted from 1")
    evaluator = Evaluator(case, case.search.properties)
    design = evaluated(task.design, case, task.row)
    figures = records(design)[0]
    apart = details(evaluator, design)[0]
    say(sheet(figures, apart, case, air_pressure_bar(evaluator)))
    demand = case.scenario.demand
    if figures["possible"] and (done := service(case, figures, apart)):
        say(f"\n{TITLE}\n{paragraph(sentence(done, case.scenario.use, demand.shaft_power_W), indent='  ')}")
    if words := more.text(parts_told(evaluator, figures, figures), "this design"):
        say(f"\n{words}")
    if figures["possible"] and (words := text(ways(evaluator, figures), beside(evaluator, figures))):
        say(f"\n{words}")
    if words := transport(transport_sources(case, str(figures["fluid"]))):
        say(words.removesuffix("\n"))
