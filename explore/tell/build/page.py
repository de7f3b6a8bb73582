"""The build sheet as one page of HTML, nothing fetched and no script."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from explore.bench.cylinders import Choices
from explore.figures.format import label, shown
from explore.tell import more, narrator, templates, yardsticks
from explore.tell.build import filling, picture
from explore.tell.build.files import walls_mm
from explore.tell.sheet import IN_ORDER, verdict
from explore.tell.use import sentence

if TYPE_CHECKING:
    from explore.config.owned import Owned
    from explore.config.schema import Case

EFFECTS = (
    "work_per_litre_kJ",
    "power_rated_W",
    "fluid_flow_kg_per_s",
    "served_share",
    "charge_kg",
    "cost_EUR",
)
"""Figures that tell what bores from stock cost or bring."""
SAME_FORCE = 0.03
"""Share by which a piston's area may differ and be the same: half of it is a bore measured with a rule; judgement."""


def page(told: Mapping[str, Any], figures: Mapping[str, Any], case: Case, made: Choices) -> str:
    """Return the page of what :func:`explore.bench.sheet.build_sheet` gathered; all that is put in is escaped."""
    made_by = templates.environment(Path(__file__).parent / "templates")
    walls, scale = walls_mm(told), picture.scale(told["cylinders"])
    hazards = told["hazards"]
    return str(
        made_by.get_template("build.html").render(
            told=told,
            figures=figures,
            case=case,
            made=made,
            fluid=case.card(str(figures["fluid"])).title,
            verdict=verdict(figures, told["cautions"]),
            severity=narrator.severity,
            forbidden=narrator.forbidden(told["cautions"]),
            line=picture.torque_line(told["torque"]),
            circles=[_circle(one) for one in told["cylinders"]],
            drawn=[picture.cylinder(one, walls.get(one["stage"], 0.0), scale) for one in told["cylinders"]],
            pressures=[
                (title, hazards[f"{name}_bar_g"]) for name, title in IN_ORDER if f"{name}_bar_g" in hazards
            ],
            effects=[
                (label(name), shown(str(told["wanted"][name]), name), shown(str(figures[name]), name))
                for name in EFFECTS
            ],
            at_hand=at_hand(case.scenario.owned, told["cylinders"]),
            coils=picture.coils(told["coils"]),
            schematic=picture.drawn(told["scheme"]),
            service=sentence(told["service"], case.scenario.use, case.scenario.demand.shaft_power_W)
            if told["service"]
            else "",
            others=yardsticks.rows(told["ways"]),
            others_header=yardsticks.HEADER,
            others_said=yardsticks.sentences(told["ways"], told["beside"]) if told["ways"] else [],
            more=more.rows(told.get("more", {})),
            more_title=more.TITLE,
            more_header=more.HEADER,
            more_said=[more.SCOPE, *more.sentences(told.get("more", {}))],
            steps=filling.steps(told["filling"], hazards),
            log_columns=filling.LOG_COLUMNS,
            log_lines=filling.LOG_LINES,
            field=(picture.WIDE, picture.HIGH, picture.TALL),
        )
    )


def at_hand(owned: Owned, cylinders: Sequence[Mapping[str, Any]]) -> str:
    """Say how cylinders that are owned differ from those on the sheet, which are as wide as long; empty without any."""
    if owned.bores_mm is None or len(owned.bores_mm) != len(cylinders):
        return ""
    size = f"{' and '.join(f'{bore:g}' for bore in owned.bores_mm)} mm by {owned.stroke_mm:g} mm"
    forces = [
        (bore / float(one["bore_mm"])) ** 2 for bore, one in zip(owned.bores_mm, cylinders, strict=True)
    ]
    if all(abs(one - 1.0) < SAME_FORCE for one in forces):
        return f"Yours, {size}, are those on this sheet: measure them all the same."
    times = " and ".join(f"{one:.2f}" for one in forces)
    return (
        f"Yours are {size}; those on this sheet have their volume but are as wide as long. So the forces on your pistons, "
        f"rods and head bolts are {times} times those here, and crank, rod, ports, gaps, inertia and walls are not of "
        "your engine: reckon them from your own bore and stroke. Volumes, pressures and cut-off hold."
    )


def _circle(one: Mapping[str, Any]) -> dict[str, str]:
    return {
        "inlet": picture.arc(0.0, one["cut_off_deg"]),
        "exhaust": picture.arc(one["release_deg"], one["compression_deg"]),
    }
