"""Follows one design through a day of the typical year, by the minute."""

from __future__ import annotations

from pathlib import Path

from explore.config.schema import Case
from explore.config.tasks import DayTask
from explore.errors import InputError

HOME = Path("results/day")


def run(case: Case, task: DayTask, command: str) -> None:
    """Write the page and the minutes of a day into a new folder, and say what the day was like."""
    from explore.model import Evaluator
    from explore.model import day as model
    from explore.model.details import air_pressure_bar, coldest, records, warned
    from explore.run.design_file import evaluated
    from explore.tell.build.files import new_folder, write_files
    from explore.tell.day import words
    from explore.tell.day.page import page
    from explore.tell.day.table import minutes_csv
    from explore.tell.terminal import say

    if task.design is None:
        raise InputError("task=day needs design=FILE.yaml, or design=results/.../front.csv row=N")
    if task.design.lower().endswith(".csv") and task.row is None:
        raise InputError(f"design={task.design} is a table: say which line with row=N, counted from 1")
    if task.date is None:
        raise InputError("task=day needs date=MM-DD, a month and a day of the typical year: date=07-15")
    date = model.date_of(task.date)
    folder = new_folder(task.output, HOME)
    figures = records(evaluated(task.design, case, task.row))[0]
    if not figures["possible"]:
        raise InputError(f"design={task.design}: physics forbids this design; task=inspect says why")
    evaluator = Evaluator(case, case.search.properties)
    told = model.day(evaluator, figures, date)
    fluid = case.card(str(figures["fluid"])).title
    cautions = warned(figures, case, air_pressure_bar(evaluator), coldest(evaluator))
    content = {
        "day.html": page(told, figures, fluid, case.scenario.title, cautions),
        "minutes.csv": minutes_csv(told),
    }
    write_files(folder, {name: text.encode("utf-8") for name, text in content.items()}, "the day")
    say(words.summary(told, fluid, case.scenario.title))
    say(f"\nPage: {folder / 'day.html'}\nMinutes: {folder / 'minutes.csv'}\n{words.DECIDES}")
