"""Writes the page of one run: reads the run folder, fills the templates, packs everything into one file."""

from __future__ import annotations

from bisect import bisect_left
from pathlib import Path
from typing import Any

from explore.config.fields import ASSUMED
from explore.figures.format import NONE, label, listed, sections, shown, three_digits, unit, whole
from explore.judgement.front import RULE
from explore.judgement.severity import SEVERITIES
from explore.tell import against, narrator, shelf, templates
from explore.tell import more as parts
from explore.tell.fluid_name import short_name
from explore.tell.lessons import Lessons
from explore.tell.page import doubt, embed, lessons, measured, more
from explore.tell.page.assumptions import groups, settings
from explore.tell.page.believe import evidence, verdict
from explore.tell.page.data import Run, fluid_title, read_run
from explore.tell.page.fluids import compare
from explore.tell.page.glossary import GLOSSARY, explained
from explore.tell.page.payload import AMOUNTS, Amount, common_cautions, payload, with_kept
from explore.tell.page.picks import Cautioned, broken_with_tubes, every_caution, pick
from explore.tell.page.presenting import presenting
from explore.tell.page.search_story import against_random, layouts, refined_after, tell
from explore.tell.page.sentences import how_sure, opening, scenario_line, still_going_on, when
from explore.whole_file import write_whole

MOST_BYTES = 6_000_000
"""Size of a page that a phone still opens at once and a letter still carries."""


def write_page(run_folder: Path, *, most_bytes: int = MOST_BYTES) -> Path:
    """Write ``report.html`` into a run folder, from the files in it alone, and return its path.

    Where a large front would make the page larger than ``most_bytes``, it carries fewer background designs, then
    fewer design sheets, and says so; every figure of every design of the front stays.
    Raises :class:`explore.errors.InputError` when a file of the run is missing or broken.
    """
    return write_and_teach(run_folder, most_bytes=most_bytes)[0]


def write_and_teach(run_folder: Path, *, most_bytes: int = MOST_BYTES) -> tuple[Path, str]:
    """Do as :func:`write_page`; return the path, and in short what the front teaches."""
    run = read_run(run_folder)
    page, taught = run_folder / "report.html", lessons.tell(run)
    write_whole(page, fitting(run, most_bytes, taught).encode())
    return page, taught.short


def fitting(run: Run, most_bytes: int, taught: Lessons) -> str:
    """Return the page with as much in it as ``most_bytes`` allow, at least the least amount."""
    cautioned = every_caution(run)
    made: dict[int, str] = {}

    def fits(place: int) -> bool:
        made[place] = render(run, AMOUNTS[place], cautioned, taught)
        return len(made[place].encode("utf-8")) <= most_bytes

    if fits(0):
        return made[0]
    # Each amount is less than the one before: the first that fits lies where halving ends.
    place = 1 + bisect_left(range(1, len(AMOUNTS) - 1), True, key=fits)
    return made.get(place) or render(run, AMOUNTS[place], cautioned, taught)


def render(
    run: Run,
    amount: Amount = AMOUNTS[0],
    cautioned: Cautioned | None = None,
    taught: Lessons | None = None,
) -> str:
    """Return the page of a run as HTML.

    ``cautioned`` are the cautions of all its designs and ``taught`` what its front teaches, where they are known already.
    """
    known, taught = cautioned or every_caution(run), taught or lessons.tell(run)
    picks, fluids, story, values = pick(run, known), compare(run), tell(run), groups(run.case)
    entries = [entry for group in values for entry in group.entries]
    found = measured.points(run)
    run = with_kept(run, amount.kept)
    front, own_script = run.front, embed.script()
    known = known[: len(front) + len(run.kept)]
    asked = [objective.figure for objective in run.case.scenario.objectives]
    plotly = embed.plotly_script()
    study, doubts = doubt.tell(run), doubt.on_cards(run)
    content = payload(run, picks, fluids, story, amount, known) | {
        "worlds": doubts,
        "doubted": bool(run.doubt),
    }
    return environment().get_template("page.html.j2").render(
        policy=embed.policy(own_script, plotly),
        style=embed.style(),
        script=own_script,
        plotly=embed.packed_plotly(),
        data=embed.packed_json(content | {"presenting": presenting(run, entries, study, doubts)}),
        run=run,
        scenario=run.case.scenario,
        sentences=opening(run, picks),
        how_sure=how_sure(run, entries),
        scenario_line=scenario_line(run),
        when=when(run),
        going_on=still_going_on(run),
        rule=RULE,
        aboard={*front.text("fluid"), *run.kept.text("fluid")},
        classes=sorted({one.cells["class"] for one in fluids} - {NONE}),
        breaking=bool(broken_with_tubes(run)),
        picks=[(one, front.row(one.row - 1)) for one in picks],
        sections=sections(front.header),
        fluids=fluids,
        left_out=run.summary.get("fluids_left_out", {}),
        ceilings=run.case.report.pressure_ceilings_bar_g,
        story=story,
        against_random=against_random(story),
        refined_after=refined_after(story, run.summary.get("hypervolume")),
        layouts=layouts(run),
        topics=evidence(run),
        believed=verdict(run),
        measured=found,
        measured_topics=measured.topics(found),
        measured_words=measured.words(found),
        lessons=taught.topics,
        linked=lessons.aboard(run),
        more=more.tell(run, picks),
        more_title=parts.TITLE,
        more_scope=parts.SCOPE,
        more_header=parts.HEADER,
        doubt=study,
        doubts_on_cards=doubts,
        handbook=shelf.link(run.folder),
        against=[*against.words(run.summary.get("against") or {})],
        groups=values,
        settings=settings(run.case),
        card_figures=[name for name in listed("card", front.header) if name not in asked],
        hazard_figures=listed("hazards", front.header),
        objectives=run.case.scenario.objectives,
        cautions=narrator.as_cautions([*run.summary.get("cautions", ()), *common_cautions(known[: len(front)])]),
        common_cautions=content["commonCautions"],
        short=lambda name: short_name(name, run.case),
        fluid_title=lambda name: fluid_title(run, name),
    )  # fmt: skip


def environment() -> Any:
    """Return the template environment; everything put into a template is escaped."""
    made = templates.environment(Path(__file__).parent / "templates")
    made.filters |= {
        "explained": explained,
        "label": label,
        "unit": unit,
        "digits": three_digits,
        "whole": whole,
    }
    made.globals |= {"shown": shown, "NONE": NONE, "ASSUMED": ASSUMED, "severities": SEVERITIES}
    made.globals |= {"none_held": narrator.NONE_HELD, "unheld": narrator.unheld}
    made.globals |= {"glossary": GLOSSARY, "heading": narrator.heading, "severity": narrator.severity}
    return made
