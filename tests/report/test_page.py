"""The page as a file: what stands in it without a browser."""

import base64
import csv
import gzip
import html
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import explore
from explore.config.schema import Objective
from explore.config.tasks import ReportTask
from explore.errors import InputError
from explore.figures.catalogue import BILL, TUBE_FIGURES
from explore.figures.format import label, marked, record, shown, three_digits, whole
from explore.figures.names import in_page_units
from explore.judgement.front import normalise
from explore.judgement.severity import SEVERITIES
from explore.run.told import pack, unpack
from explore.tasks import report
from explore.tell import narrator
from explore.tell.fluid_name import short_name
from explore.tell.narrator import LOSSES_HELD, UNKNOWN_CAUTIONS, as_cautions
from explore.tell.page import write_page
from explore.tell.page.data import read_run
from explore.tell.page.glossary import explained
from explore.tell.page.page import render
from explore.tell.page.payload import common_cautions, others, shared_cautions, walls
from explore.tell.page.picks import cautions, every_caution, pick
from explore.tell.page.search_story import SearchStory, against_random, layouts, refined_after
from explore.tell.page.sentences import opening
from tests.real_run import TITLE, copy, once_read
from tests.report.synthetic import write_csv


@pytest.fixture(scope="module")
def folder(run_folder):
    """A real run with its page written."""
    return run_folder


@pytest.fixture(scope="module")
def page(folder):
    """The page's text."""
    return (folder / "report.html").read_text(encoding="utf-8")


def packed(page, name):
    """Unpack one embedded part of the page."""
    found = re.search(rf'id="{name}">([^<]*)<', page)
    assert found
    return gzip.decompress(base64.b64decode(found.group(1))).decode("utf-8")


def test_user_text_is_escaped(page):
    """A title with markup is shown as text, in the heading and nowhere as an element."""
    assert "<img src=x" not in page
    assert html.escape(TITLE, quote=False) in page.replace("&#34;", '"')


def test_page_asks_for_nothing(page):
    """No script, style, image or frame is taken from elsewhere, and the policy forbids it."""
    visible = re.sub(r'<script type="application/octet-stream".*?</script>', "", page, flags=re.DOTALL)
    assert not re.findall(r'(?:src|href)="(?!#|data:)[^"]*"', visible)
    assert "default-src &#39;none&#39;" in page
    assert "connect-src &#39;none&#39;" in page


def test_page_is_small(page):
    """The page of a run stays under 6 MB."""
    assert len(page.encode("utf-8")) < 6_000_000


def test_another_power_is_a_new_search_or_plants_side_by_side(folder, page):
    """The page gives the command for twice the power as for its other new searches, and says what scales exactly."""
    power = once_read(folder).case.scenario.demand.shaft_power_W
    asked = f"scenario.demand.shaft_power_W={2 * power:g}"
    assert f"explore -cp results/orchard/{folder.name} -cn config {asked}" in page
    assert f"two of any design on this page give {2 * power:g} W" in page


def test_same_run_gives_same_page(folder, page, tmp_path):
    """Building the page again gives the same bytes."""
    again = copy(folder, tmp_path / folder.name)
    assert write_page(again).read_text(encoding="utf-8") == page


def test_front_goes_in_as_written(folder, page):
    """The page carries front.csv cell by cell."""
    data = json.loads(packed(page, "run-data"))
    assert data["front"] == (folder / "front.csv").read_text(encoding="utf-8")


def test_cards_show_the_figures_of_the_files(folder, page):
    """Each card's figures are those of its line in front.csv, formatted."""
    run = once_read(folder)
    cards = re.findall(r'<article class="card.*?</article>', page, flags=re.DOTALL)
    assert len(cards) == 1 + len(run.case.scenario.objectives)
    for card, one in zip(cards, pick(run), strict=True):
        row = run.front.row(one.row - 1)
        names = re.findall(r'data-figure="(\w+)"', card)
        assert "cost_EUR" in names
        for name in names:
            assert f'data-figure="{name}">{html.escape(shown(row[name], name))}<' in card


def test_picks_are_best_of_their_kind(folder):
    """Best in work, cost and pressure with the cheaper of near equals, and the point nearest to the ideals.

    Of those only that keep their limits with tubes as well.
    """
    run = once_read(folder)
    chosen = [one.row - 1 for one in pick(run)]
    objectives = run.case.scenario.objectives
    figures = {o.figure: run.front.numbers(o.figure) for o in objectives}
    inside = np.array(
        [str(row) not in run.summary["broken_with_tubes"] for row in range(1, len(run.front) + 1)]
    )
    scales = []
    for one in objectives:
        scales.append((figures[one.figure] - one.ideal) / (one.reference - one.ideal))
        inside &= scales[-1] <= 1
    assert inside.any()
    dear = 0.01 * np.log(figures["cost_EUR"])
    for row, scale in zip(chosen, scales, strict=False):
        assert np.argmin(np.where(inside, scale + dear, np.inf)) == row
        assert abs(scale[row] - scale[inside].min()) < 0.03
    apart = sum(np.maximum(scale, 0) ** 2 for scale in scales)
    assert np.argmin(np.where(inside, apart, np.inf)) == chosen[-1]


def test_picks_agree_with_the_front_module(folder):
    """The compromise of the page is the one the terminal and summary.json name."""
    import pandas as pd

    from explore.judgement.front import picks

    run = once_read(folder)
    frame = pd.read_csv(folder / "front.csv").assign(line=range(1, len(run.front) + 1))
    barred = {int(row) - 1 for row in run.summary["broken_with_tubes"]}
    chosen = picks(frame, run.case.scenario.objectives, knees=0, barred=barred)
    named = {
        name: int(line)
        for names, line in zip(chosen["pick"], chosen["line"], strict=True)
        for name in names.split(", ")
    }
    assert list(chosen["line"]) == [one["row"] for one in run.summary["picks"]]
    assert not any(run.sheets["designs"][str(line)]["with_tubes"]["broken"] for line in chosen["line"])
    by_role = {one.role: one.row for one in pick(run)}
    assert by_role == {
        "work_per_litre_kJ": named["most work per litre"],
        "cost_EUR": named["least cost"],
        "peak_pressure_bar_g": named["least peak pressure"],
        "compromise": named["compromise"],
    }


def test_a_pick_that_breaks_a_limit_with_tubes_loses_its_place_and_is_told(folder):
    """Barred by the summary, the cheapest design gives way to the next, which says so; where all are barred none does."""
    run = once_read(folder)
    untold = run.told | {"tubes": None}
    before = {
        one.role: one
        for one in pick(replace(run, summary=run.summary | {"broken_with_tubes": {}}, told=untold))
    }
    lost = before["cost_EUR"].row
    broken = {str(lost): ["violation_room_m3"]}
    after = {
        one.role: one
        for one in pick(replace(run, summary=run.summary | {"broken_with_tubes": broken}, told=untold))
    }
    assert before["cost_EUR"].displaced == ""
    assert after["cost_EUR"].row != lost
    assert f"design {lost}, would be first" in after["cost_EUR"].displaced
    assert after["cost_EUR"].displaced.endswith("it breaks: room too small for the charge.")
    page = render(replace(run, summary=run.summary | {"broken_with_tubes": broken}, told=untold))
    assert html.escape(after["cost_EUR"].displaced, quote=False) in page
    held = "the least cost that keeps every limit of the scenario with tubes ("
    assert held in page
    assert "most work per litre that keeps" not in page  # nothing better in it was barred
    assert held not in render(replace(run, summary=run.summary | {"broken_with_tubes": {}}, told=untold))
    assert narrator.NONE_HELD not in page.split('id="run-data"')[0]
    every = {str(row): ["violation_room_m3"] for row in range(1, len(run.front) + 1)}
    barred = replace(run, summary=run.summary | {"broken_with_tubes": every}, told=untold)
    assert [one.row for one in pick(barred)] == [one.row for one in before.values()]
    told = "; {} breaks: room too small for the charge."
    assert opening(barred, pick(barred))[1].endswith(told.format("the compromise"))
    page = render(barred)
    assert page.count(told.format("this one")) == len(pick(barred))
    assert narrator.NONE_HELD in page


def test_what_limits_names_the_best_that_keeps_its_limits_with_tubes(folder):
    """Where the most work of all is barred, the chart shows more than the opening tells, which says so."""
    run = once_read(folder)
    untold = run.told | {"tubes": None}
    most = 1 + int(np.nanargmax(run.front.numbers("work_per_litre_kJ")))
    for broken, words in (
        ({}, "the most work, "),
        ({str(most): ["violation_room_m3"]}, "the most work that keeps every"),
    ):
        read = replace(run, summary=run.summary | {"broken_with_tubes": broken}, told=untold)
        assert words in opening(read, pick(read))[2]


def test_what_half_the_pressure_allows_is_of_designs_that_keep_their_limits_with_tubes(folder):
    """Where a better one at half the pressure breaks a limit with tubes, the next is told, and that it is one of those."""
    run = once_read(folder)
    work, pressure = (run.front.numbers(name) for name in ("work_per_litre_kJ", "peak_pressure_bar_g"))
    low = np.flatnonzero(pressure <= pressure[np.nanargmax(work)] / 2)
    best = low[np.argsort(-work[low])]
    for barred, kept in ((), ""), (best[:1], ", with every limit of the scenario kept with tubes"):
        broken = {str(row + 1): ["violation_room_m3"] for row in barred}
        read = replace(
            run, summary=run.summary | {"broken_with_tubes": broken}, told=run.told | {"tubes": None}
        )
        told = marked(shown(str(work[best[len(barred)]]), "work_per_litre_kJ"), "work_per_litre_kJ")
        assert f"while half that pressure still allows {told}{kept}" in opening(read, pick(read))[2]
        assert ("with every limit of the scenario kept" in opening(read, pick(read))[2]) == bool(kept)
    read = replace(
        run,
        summary=run.summary | {"broken_with_tubes": {str(row + 1): ["violation_room_m3"] for row in low}},
        told=run.told | {"tubes": None},
    )
    assert (
        opening(read, pick(read))[2]
        .partition(";")[0]
        .endswith(
            ", and no design that keeps every limit of the scenario with tubes makes do with half that pressure"
        )
    )


@pytest.mark.parametrize("bar", ["-1.18e-06", "0.004", "-0.3"])
def test_of_no_pressure_there_is_no_half(folder, bar):
    """A plant of water just below boiling stands at the pressure of the air, but for rounding; no millionths are told."""
    run = once_read(folder)
    place = run.front.header.index("peak_pressure_bar_g")
    rows = tuple((*row[:place], bar, *row[place + 1 :]) for row in run.front.rows)
    read = replace(run, front=replace(run.front, rows=rows))
    said = opening(read, pick(read))[2]
    assert ", asks for no pressure above that of the air; of the" in said
    assert "half that pressure" not in said


@pytest.mark.parametrize(
    ("figure", "words"), [("boiler_area_m2", "boiler area"), ("collector_area_m2", "collector area")]
)
def test_any_figure_asked_for_has_its_card_and_its_word(folder, figure, words):
    """A fourth objective, a figure or an input, is asked for, found and recommended in the opening, by its record alone."""
    run = once_read(folder)
    area = Objective(figure=figure, direction="minimise", ideal=0.0, reference=1e6)
    scenario = run.case.scenario.model_copy(update={"objectives": (*run.case.scenario.objectives, area)})
    run = replace(run, case=run.case.model_copy(update={"scenario": scenario}))
    one = next(one for one in pick(run) if one.role == figure)
    value = shown(run.front.row(one.row - 1)[figure], figure)
    asked, found, _ = opening(run, pick(run))
    assert f"and the least {words}" in asked
    assert f"least {words}" in found
    assert value.replace(" ", "\u00a0") in found
    (card,) = re.findall(
        rf'<article class="card" data-role="{figure}".*?</article>', render(run), flags=re.DOTALL
    )
    assert f"Least {words}</h3>" in card
    assert f'data-figure="{figure}">{html.escape(value)}<' in card
    assert card.count(f'data-figure="{figure}"') == 1


def test_every_configured_value_is_listed(page):
    """Every described coefficient stands on the page with its source, assumptions flagged."""
    from explore.config.schema import Costs, Engine, described

    for group in (Engine(), Costs()):
        for row in described(group):
            assert f"<code>{row['name']}</code>" in page
    assert '<span class="flag">Assumed</span>' in page


def test_background_keeps_the_best_of_each_fluid(folder):
    """Thinned to ten designs, the background still holds each fluid's best off the front."""
    run = once_read(folder)
    short = run.case.model_copy(update={"report": run.case.report.model_copy(update={"designs_shown": 10})})
    thin = others(type(run)(**{**run.__dict__, "case": short}))
    whole = others(run)
    assert len(thin) < len(whole)
    for fluid in set(whole.text("fluid")):
        best = max(
            w
            for w, f in zip(whole.numbers("work_per_litre_kJ"), whole.text("fluid"), strict=True)
            if f == fluid
        )
        mine = [
            w
            for w, f in zip(thin.numbers("work_per_litre_kJ"), thin.text("fluid"), strict=True)
            if f == fluid
        ]
        assert max(mine) == best


def test_run_without_any_feasible_design_still_has_a_page(real_run, tmp_path):
    """An empty front gives a page that says so and shows what stood in the way."""
    made = copy(real_run, tmp_path / "r")
    header = (made / "front.csv").read_text(encoding="utf-8").splitlines()[0]
    (made / "front.csv").write_text(header + "\n", encoding="utf-8")
    text = write_page(made).read_text(encoding="utf-8")
    assert "nothing to recommend" in text
    assert "Above the pressure ceiling" in text or "Ceiling" in text


def test_measured_rows_have_a_chart(folder, page):
    """What was measured is drawn with its legend, said in words, and goes to the script row by row."""
    checks = json.loads((folder / "checks.json").read_text(encoding="utf-8"))
    measured = [check for check in checks if not check["binding"]]
    assert 'id="chart-measured"' in page
    assert "hollow: from memory or conditions assumed, not counted" in page
    assert "no row of the measured machines counts" in page
    points = json.loads(packed(page, "run-data"))["measured"]
    assert [point["quantity"].split(":")[0] for point in points] == [
        in_page_units(check["quantity"]).split(":")[0] for check in measured
    ]
    assert [point["ratio"] for point in points] == [check["ours"] / check["published"] for check in measured]


def test_run_without_measured_rows_has_no_empty_chart(real_run, tmp_path):
    """Runs of before there were measured rows keep their tables, without a chart and off the paper."""
    made = copy(real_run, tmp_path / "r")
    checks = json.loads((made / "checks.json").read_text(encoding="utf-8"))
    binding = [check for check in checks if check["binding"]]
    (made / "checks.json").write_text(json.dumps(binding), encoding="utf-8")
    text = write_page(made).read_text(encoding="utf-8")
    assert 'id="chart-measured"' not in text
    assert '<section id="believe" class="on-screen"' in text


def test_run_without_sheets_still_has_a_page(real_run, tmp_path):
    """sheets.json is optional."""
    made = copy(real_run, tmp_path / "r")
    (made / "sheets.json").unlink()
    assert write_page(made).stat().st_size > 1_000_000


def broken(folder: Path, name: str, text: str) -> None:
    (folder / name).write_text(text, encoding="utf-8")


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("summary.json", '{"seed": 1', "not valid JSON"),
        ("front.csv", "", "is empty"),
        ("front.csv", "fluid,cost_EUR\nWater\n", "line 2 has 1 cells"),
        ("front.csv", "a,b\n1,2\n", "no column 'fluid'"),
        ("config.yaml", "a: [", "not valid YAML"),
        ("config.yaml", "scenario: {}", "config.yaml: scenario"),
    ],
)
def test_broken_files_give_one_sentence(real_run, tmp_path, name, text, words):
    """A broken file of the run is named in one line, and no page is left behind."""
    made = copy(real_run, tmp_path / "r")
    broken(made, name, text)
    with pytest.raises(InputError, match=re.escape(words)) as caught:
        write_page(made)
    assert "\n" not in str(caught.value)
    assert not list(made.glob("*report*"))


def test_missing_folder_is_named(tmp_path):
    """A folder that does not exist is said so."""
    with pytest.raises(InputError, match="does not exist"):
        write_page(tmp_path / "none")


def test_own_designs_are_carried(real_run, tmp_path):
    """own.csv goes into the page for the charts."""
    made = copy(real_run, tmp_path / "r")
    with (made / "front.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    write_csv(made / "own.csv", [{"name": "the tank I have", **rows[0]}])
    data = json.loads(packed(write_page(made).read_text(encoding="utf-8"), "run-data"))
    assert "the tank I have" in data["own"]


def test_large_page_sheds_background_and_sheets_but_no_figure(real_run, tmp_path):
    """Under a tight limit the page carries fewer sheets and background designs, yet all of front.csv and the picks."""
    made = copy(real_run, tmp_path / "r")
    whole = (real_run / "report.html").read_text(encoding="utf-8")
    small = write_page(made, most_bytes=1).read_text(encoding="utf-8")
    assert len(small) < len(whole)
    data, full = json.loads(packed(small, "run-data")), json.loads(packed(whole, "run-data"))
    assert data["front"] == full["front"]
    assert 0 < len(data["sheets"]["designs"]) < len(full["sheets"]["designs"])
    assert {str(one.row) for one in pick(read_run(made))} <= set(data["sheets"]["designs"])
    assert data["others"].count("\n") < full["others"].count("\n")


def test_fluids_left_out_are_named_with_the_reason(real_run, tmp_path):
    """A fluid the search left out is named with its reason, as text; the table says what to heed of the others."""
    made = copy(real_run, tmp_path / "run")
    path = made / "summary.json"
    summary = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(
        json.dumps({**summary, "fluids_left_out": {"gas": "no mixing rule <b>"}}), encoding="utf-8"
    )
    page = write_page(made).read_text(encoding="utf-8")
    assert "Left out: gas (no mixing rule &lt;b&gt;)." in page
    assert "A3<small>flammable</small>" in page


def test_cautions_shared_by_all_designs_stand_once(real_run, tmp_path):
    """What every design of the front is warned of is told once for all, what only some are is not."""
    made = copy(real_run, tmp_path / "run")
    path = made / "sheets.json"
    sheets = json.loads(path.read_text(encoding="utf-8"))
    for number, sheet in enumerate(sheets["designs"].values()):
        sheet["cautions"] = ["Heed the codes.", *(["Only here."] if number else [])]
    path.write_text(json.dumps(sheets), encoding="utf-8")
    page = write_page(made).read_text(encoding="utf-8")
    basis = page[page.index('<section id="basis"') :]
    assert "Heed the codes." in basis
    assert "Only here." not in basis


def test_without_a_script_the_page_says_so_first_and_warns_of_the_compromise(folder, page):
    """The red box of the sheet has its cautions and pressures as written, and paper those of every recommended design."""
    run = once_read(folder)
    picks = pick(run)
    assert page.index("<noscript>") < page.index('id="opening"')
    box = re.search('id="hazard-figures".*?</aside>', page, re.DOTALL)[0]
    paper = re.search('id="paper-cautions".*?</div>', page, re.DOTALL)[0]
    assert all(caution["text"] in html.unescape(box) for caution in picks[-1].cautions)
    assert 'data-figure="test_pressure_bar_g"' in box
    for one in picks:
        assert f", design {one.row} (" in paper
        assert all(caution["text"] in html.unescape(paper) for caution in one.cautions)


def told(history, random):
    """The story of a search with these histories."""
    return SearchStory(0, 0, 0, (), (), (), tuple(history), tuple(random))


def test_random_search_is_compared_at_equal_numbers_of_designs():
    """Random designs are counted, with the hypervolume of both there and of the search at its end; else nothing is said."""
    words = against_random(told([(100, 0.3), (200, 0.4), (400, 0.5)], [(100, 0.1), (250, 0.2)]))
    assert words == (
        "For comparison, 250 designs drawn at random reach a hypervolume of 0.200; this search has 0.400 after 200 "
        "designs and 0.500 after 400 designs."
    )
    early = against_random(told([(400, 0.5)], [(100, 0.1)]))
    assert early.endswith("hypervolume of 0.100; this search has 0.500 after 400 designs.")
    assert against_random(told([(100, 0.3)], [])) == ""


def test_of_two_hypervolumes_the_page_says_why(folder, page):
    """What stands in the head is of the refined front, what is compared of the search before: both are explained."""
    run = once_read(folder)
    volume = run.summary["hypervolume"]
    assert volume > run.summary["hypervolume_history"][-1][1]
    assert f"Local refinement of the front then brought it to {three_digits(volume)}." in page
    assert refined_after(told([(100, 0.3)], []), 0.3) == ""
    assert refined_after(told([], []), 0.3) == ""


def test_fluids_and_lines_of_the_bill_have_one_name_and_a_meaning(folder, page):
    """Designs tried are counted by the names that the rest of the page uses; what the bill calls levels is explained."""
    run = once_read(folder)
    counts = page[page.index("Designs tried with each fluid") :]
    for name in run.summary["designs_per_fluid"]:
        assert f'<th scope="row" class="words">{html.escape(short_name(name, run.case))}</th>' in counts
    assert "boiler set, receiver, feed pump" in explained(label("cost_levels_EUR"))


def test_unknown_cautions_never_look_like_none(folder):
    """A design whose cautions the page does not hold says so; what all share counts those that are known."""
    run = once_read(folder)
    lines = run.sheets["designs"]
    some = next(iter(lines))
    less = replace(
        run,
        sheets={**run.sheets, "designs": {some: lines[some]}},
        summary={**run.summary, "picks": []},
        told={},
    )
    other = next(row for row in range(1, len(run.front) + 1) if str(row) != some)
    assert cautions(less, other) == UNKNOWN_CAUTIONS
    assert cautions(less, int(some)) == cautions(run, int(some)) != UNKNOWN_CAUTIONS
    packed_ones = shared_cautions(every_caution(less))
    assert "not worked out" in packed_ones["headings"][packed_ones["headed"][other - 1]]
    assert common_cautions(every_caution(less)[: len(less.front)]) == list(cautions(run, int(some)))


def test_every_design_has_its_own_cautions_walls_and_relief_setting(folder):
    """What is told without a sheet is what the sheets tell, and no design on the page is without."""
    run = once_read(folder)
    bare = replace(run, sheets={}, summary={**run.summary, "picks": []})
    every, plain = every_caution(run), every_caution(bare)
    assert len(every) == len(run.front) + len(run.kept)
    assert len(run.kept) > 10
    assert UNKNOWN_CAUTIONS not in every
    known, had = walls(run), walls(replace(run, told={}))
    for row, sheet in run.sheets["designs"].items():
        assert plain[int(row) - 1] == every[int(row) - 1] == as_cautions(sheet["cautions"])
        place = int(row) - 1
        parts = [tuple(part) for part in known["parts"]]
        expected = {(one["part"], one["material"]): one["wall_mm"] for one in sheet["hazards"]["walls"]}
        told_walls = dict(zip(parts, known["walls"][place], strict=True))
        assert {part: mm for part, mm in told_walls.items() if mm is not None} == pytest.approx(
            expected, rel=6e-3
        )
        assert known["relief"][place] == pytest.approx(had["relief"][place], rel=1e-4)
    assert all(known["walls"])
    assert all(known["relief"])
    older = walls(replace(run, told={**run.told, "parts": [], "walls": [[] for _ in every]}))
    assert older["walls"][int(row) - 1] == had["walls"][int(row) - 1] != []
    assert len(older["walls"]) == len(every)


def test_packed_cautions_come_back_as_they_were():
    """Numbers are kept apart from sentences and put back; a sentence is kept once."""
    found = [
        [{"level": "note", "topic": "a", "text": f"At {n} bar and 2.50 mm of R245fa."}, {"text": "None."}]
        for n in (1, 20)
    ]
    packed_ones = pack(found)
    assert len(packed_ones["sentences"]) == 2
    assert [[one["text"] for one in design] for design in unpack(packed_ones)] == [
        [one["text"] for one in design] for design in found
    ]


def test_kept_designs_are_best_of_their_fluid_and_store_and_beaten_by_the_front(folder):
    """Each is beaten by a design of the front and by none of its own kind; each kind's best works are all there."""
    run = once_read(folder)
    objectives = run.case.scenario.objectives
    kinds = list(zip(run.designs.text("fluid"), run.designs.text("store_mode"), strict=True))
    good = [flag.lower() == "true" for flag in run.designs.text("feasible")]
    values, ahead = (
        normalise({o.figure: table.numbers(o.figure) for o in objectives}, objectives)
        for table in (run.designs, run.front)
    )
    aboard = {*run.kept_lines}
    on_front = {kind: 0.0 for kind in kinds}
    for kind, work in zip(
        zip(run.front.text("fluid"), run.front.text("store_mode"), strict=True),
        run.front.numbers("work_per_litre_kJ"),
        strict=True,
    ):
        on_front[kind] = max(on_front[kind], work)
    for kind in set(kinds):
        mine = [i for i, one in enumerate(kinds) if one == kind and good[i]]
        for i in mine:
            if i + 1 in aboard:
                assert (ahead <= values[i] + 1e-8).all(axis=1).any()
                others = values[mine]
                assert not ((others <= values[i]).all(axis=1) & (others < values[i]).any(axis=1)).any()
        if mine:
            works = run.designs.numbers("work_per_litre_kJ")
            held = max([on_front[kind], *(works[i] for i in mine if i + 1 in aboard)])
            assert held == pytest.approx(works[mine].max(), rel=1e-8)


def test_old_run_says_what_its_page_lacks(real_run, orchard, tmp_path):
    """Without told.json, or with one of other tables, the page stands, carries the front alone and says so."""
    made = copy(real_run, tmp_path / "r")
    (made / "told.json").unlink()
    page = write_page(made).read_text(encoding="utf-8")
    assert "The page carries no designs beside the front" in page
    report.run(orchard, ReportTask(name="report", run=str(made)), "")
    assert "designs that are best of\n  their fluid" in (made / "report.html").read_text(encoding="utf-8")
    (made / "designs.csv").write_bytes((made / "designs.csv").read_bytes().replace(b"\n", b"\n\n", 1))
    assert read_run(made).told == {}


def test_opening_doubts_its_losses(page):
    """The words on how sure the figures are say what the losses stand on."""
    assert LOSSES_HELD in page


def test_opening_counts_failures_among_the_designs_that_failed(folder, page):
    """The commonest failure is told out of tried less feasible designs, and the compromise is named with its size."""
    run = once_read(folder)
    asked, found, limits = opening(run, pick(run))
    failed = int(run.summary["designs_evaluated"]) - int(run.summary["designs_feasible"])
    assert f"of the {whole(failed)} designs that failed" in limits
    middle = run.front.row(pick(run)[-1].row - 1)
    for name in (
        "store_volume_L",
        "collector_area_m2",
        "cost_EUR",
        "peak_pressure_bar_g",
        "test_pressure_bar_g",
    ):
        assert shown(middle[name], name).replace(" ", "\u00a0") in found
    assert all(html.escape(words, quote=False) in page for words in (asked, limits))


def test_tubes_are_listed_where_they_count(folder):
    """With exchangers of tubes every value of theirs stands on the page; with coefficients none does."""
    from explore.tell.page.assumptions import groups

    case = once_read(folder).case
    tubes = case.model_copy(update={"exchangers": case.exchangers.model_copy(update={"method": "tubes"})})
    titles = [group.title for group in groups(tubes)]
    assert {"Exchangers of tubes", "Tubes of the boiler", "Tubes of the condenser"} <= set(titles)
    assert not {"Exchangers of tubes", "Tubes of the boiler"} & {group.title for group in groups(case)}
    (boiler,) = (group for group in groups(tubes) if group.title == "Tubes of the boiler")
    assert {"inside_diameter_mm", "length_m", "material"} <= {entry.name for entry in boiler.entries}


def test_every_kind_of_plant_is_told(real_run):
    """The page has a line for each layout that was searched, and how far the best of each number of expansions stays."""
    run = once_read(real_run)
    lines = layouts(run)
    assert len(lines) == len(run.layouts) >= 6
    assert sum(int(cell) for cell in run.layouts.text("evaluated")) == run.summary["designs_evaluated"]
    assert sum(int(cell) for cell in run.layouts.text("on_front")) == len(run.front)
    page = render(run)
    assert all(one["layout"] in page for one in lines)
    assert run.summary["layouts_compared"].startswith("Best by number of expansions: ")
    assert html.escape(run.summary["layouts_compared"]) in page


@pytest.mark.parametrize(
    "text",
    [
        "layout,evaluated,feasible,on_front\n<script>alert(1)</script>,many,,-\n",
        "kind\n1\n",
        "layout,evaluated,work_per_litre_kJ\nmixed,1e400,nan\n",
    ],
)
def test_a_table_of_layouts_that_somebody_else_wrote_is_shown_as_it_is(real_run, tmp_path, text):
    """Words and gaps where numbers should stand are dashes, markup is text, and the page stands."""
    run = copy(real_run, tmp_path / "run")
    (run / "layouts.csv").write_text(text, encoding="utf-8")
    read = read_run(run)
    assert len(layouts(read)) == 1
    page = render(read)
    assert "<script>alert(1)" not in page


def test_a_run_without_a_table_of_layouts_has_no_such_part(real_run, tmp_path):
    """Nor does its page name it."""
    run = copy(real_run, tmp_path / "run")
    (run / "layouts.csv").unlink()
    read = read_run(run)
    assert layouts(read) == []
    assert "What each kind of plant reached" not in render(read)


@pytest.mark.parametrize(
    ("gains", "words"),
    [
        (
            [0.001, 0.135],
            "How sure: the search has NOT settled: a further local refinement still improved one of 2 ",
        ),
        (
            [0.001, 0.002],
            "; a further local refinement of 2 front designs improved none by more than 0.20 %;",
        ),
    ],
)
def test_the_page_says_first_that_a_search_has_not_settled(folder, gains, words):
    """As the terminal does: before anything else of how sure the figures are, or else what refinement gained at most."""
    run = once_read(folder)
    page = render(replace(run, summary=run.summary | {"refinement": {"gains": gains}}))
    assert html.escape(words) in page


STATIC = Path(explore.__file__).parent / "tell" / "page" / "static"
TEMPLATES = STATIC.parent / "templates"


def test_severities_are_spelled_as_in_python():
    """The style sheet has a rule for every severity and for no other word; no class and no script spells one."""
    sheet = (STATIC / "page.css").read_text(encoding="utf-8")
    assert re.findall(r'data-severity="(\w+)"', sheet) == [one.value for one in SEVERITIES]
    for file in [*STATIC.glob("*.js"), *TEMPLATES.glob("*.j2")]:
        text = file.read_text(encoding="utf-8")
        for word in {one.value for one in SEVERITIES} - {
            "note"
        }:  # a note is a plain remark of the page as well
            assert not re.search(rf"""["' ]{word}["']""", text), f"{file.name}: {word}"


@pytest.mark.parametrize("file", sorted(STATIC.glob("*.js")), ids=lambda file: file.stem)
def test_no_script_takes_the_name_of_a_column_apart(file):
    """Names of columns come whole with the page's data: none is matched by a pattern, cut, or put together."""
    text = file.read_text(encoding="utf-8")
    cuts = r"""(?:startsWith|endsWith|replace|split|match|test)\(\s*["'`/][^)\n]*_[A-Za-z"'`]"""
    put_together = r"_\$\{|\}_[A-Za-z]"
    patterns = r"/\^?[a-z]*_\S*/[gimu]*\.test"
    assert not re.findall(f"{cuts}|{put_together}|{patterns}", text)


def test_columns_of_bill_cylinders_and_tubes_travel_as_data(folder, page):
    """What the sheet lists by line, stage and exchanger comes from the catalogue, and only what the run has."""
    run, data = once_read(folder), json.loads(packed(page, "run-data"))
    header = set(run.front.header)
    assert [one["column"] for one in data["bill"]] == [name for name in BILL if name in header]
    assert [one["line"] for one in data["bill"]][:2] == [
        label(n).removeprefix("Cost: ") for n in list(BILL)[:2]
    ]
    assert [one["bore"] for one in data["cylinders"]] == ["bore_1_mm", "bore_2_mm", "bore_3_mm"]
    tubed = next(iter(run.sheets["designs"].values()))["with_tubes"]["tubes"]
    listed = {name for one in data["tubes"] for name in (one["number"], one["length"])}
    assert {name for name in tubed if record(name).label.count(" tubes, ")} <= listed <= set(TUBE_FIGURES)


def test_no_design_beside_the_front_seems_to_beat_it(real_run):
    """Read back from the file, whose digits are cut, each is beaten by a line of the front."""
    run = once_read(real_run)
    objectives = run.case.scenario.objectives
    front, kept = (
        normalise({o.figure: table.numbers(o.figure) for o in objectives}, objectives)
        for table in (run.front, run.kept)
    )
    assert len(kept) > 10
    assert all((front <= one).all(axis=1).any() for one in kept)


@pytest.mark.parametrize("words", ["Jan Feb Mar", " LETTERS = "])
def test_lists_that_several_modules_need_stand_once(words):
    """The months, and the letters of the shortlist: written twice, one of the two would be forgotten."""
    assert [path.name for path in STATIC.glob("*.js") if words in path.read_text(encoding="utf-8")] == [
        "words.js"
    ]
