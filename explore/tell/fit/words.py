"""The words of a fit that terminal and page share, and how its numbers are written."""

from __future__ import annotations

from typing import TYPE_CHECKING

from explore.bench.columns import BOILER, CONDENSER, RUNNING
from explore.bench.plant import TUBE_FILMS
from explore.bench.posterior import ENOUGH
from explore.config.engine import Engine
from explore.config.tubes import Exchangers
from explore.figures.format import label, shown
from explore.figures.names import parted
from explore.tell.doubts import BENCH
from explore.tell.terminal import paragraph, table

if TYPE_CHECKING:
    from pydantic.fields import FieldInfo

    from explore.bench.fit import Coefficient, Fit
    from explore.bench.log import Log
    from explore.bench.plant import Built
    from explore.bench.rejudge import Best, Verdict
    from explore.config.machine import GivenMachine
    from explore.config.schema import Case

DIGITS = 3
"""Significant digits of a coefficient: intervals are seldom narrower than a hundredth."""
POOR = 1.5
"""Misfit from which it is told first: chance alone gives as much to less than one log in a thousand of twenty readings."""
AIR_MOVES = 0.02
"""Bar by which the air around is off its mean on an ordinary day of wind and rain: common practice, no source."""
FAR = 3.0
"""Standard deviations beyond which a reading is named: one in 400 is so by chance."""
SCOPE = (
    "Intervals are of 90 %. They hold if the readings are independent and as accurate as stated, and the laws of the model "
    "those of the engine; a gauge that is wrong by the same in every line is not found out by more lines."
)
DECIDES = (
    "A fit approves nothing: what may be built and run, local codes for pressure equipment and people licensed to practise "
    "under them decide."
)

HOT = (
    "What runs on a bench is hot and under pressure. Fit or change gauges and thermometers only when it is cold and "
    "without pressure, and let nothing stand between it and its relief valve. Keep flames and sparks away from a fluid "
    "that burns, air the room, and keep hands off hot water, hot metal and what turns."
)
"""Cautions of whoever logs what runs."""
FILMS = {
    ("boiler", "liquid"): "feed_temperature_degC, in lines with cold feed and with warm, at half the flow and at all of it",
    ("boiler", "two_phase"): "lines at half the flow and at all of it, the water some kelvin warmer than what boils",
    ("boiler", "vapour"): "inlet_temperature_degC, in lines with little superheat and with much",
    ("condenser", "liquid"): "condensate_temperature_degC, in lines with little cooling water and with much",
    ("condenser", "two_phase"): "lines at half the flow and at all of it, the water some kelvin colder than what condenses",
    ("condenser", "vapour"): "exhaust_temperature_degC, in lines in which it lies little and far above its dew point",
}  # fmt: skip
"""What tells each film of an exchanger, beside the water that it is about."""
TUBES = (
    "the water of boiler or condenser as it enters, in lines at half the flow and at all of it, the water some kelvin off "
    "what boils or condenses"
)
"""What tells the one factor of all tubes."""


def number(value: float) -> str:
    """Write a coefficient."""
    return f"{value:.{DIGITS}g}"


def unit(name: str) -> str:
    """Return the unit of a coefficient, empty for a pure number."""
    extra = _field(name).json_schema_extra
    found = str(extra.get("unit", "")) if isinstance(extra, dict) else ""
    return "" if found == "-" else found


def about(name: str) -> str:
    """Return what a coefficient is."""
    return _field(name).description or name.replace("_", " ")


def _field(name: str) -> FieldInfo:
    """Return the field of a coefficient, of the engine or of exchangers made of tubes."""
    return (Exchangers if name == TUBE_FILMS else Engine).model_fields[name]


def title(column: str) -> str:
    """Return a column of the log in words, with its unit."""
    stem, found = parted(column)
    words = stem.replace("_", " ")
    return f"{words[:1].upper()}{words[1:]}" + (f", {found}" if found else "")


def coefficients(fit: Fit) -> str:
    """Lay out the coefficients: prior, fitted value, 90 % interval, width."""
    rows = [["coefficient", "unit", "assumed", "fitted", "90 % from", "to"]]
    for one in fit.coefficients:
        name = one.item.name
        told = [number(one.fitted[0]), *interval(one)] if one.identified else ["not identified", "", ""]
        rows.append([name, unit(name) or "-", number(one.prior[0]), *told])
    return table(rows, left=2, whole=True)


def interval(one: Coefficient) -> list[str]:
    """Return the ends of a 90 % interval; one that stopped at the edge of its band is open there."""
    low, high = (number(end) for end in one.fitted[1:])
    return [f"< {low}" if one.edge < 0 else low, f"> {high}" if one.edge > 0 else high]


def plant(built: Built) -> str:
    """Say what stands on the bench, for whoever built it to compare."""
    stages = []
    for one in built.machine.cylinders:
        number = "" if one.number == 1 else f"{one.number} of "
        stages.append(
            f"{number}{one.bore_mm:.1f} x {one.stroke_mm:.1f} mm, cut-off {100.0 * (one.cut_off or 0.0):.0f} %"
        )
    boiler = "coil in the store" if built.coil else "boiler"
    sizes = " and ".join(f"{area:.2f}" for area in built.boilers)
    if built.levels > 1:
        boiler = f"{built.levels} boilers in series, hottest first,"
    areas = f"{boiler} {sizes} m2, condenser {built.areas['condenser']:.2f} m2{_tubes(built)}"
    return (
        f"The plant as the design has it: cylinders {'; '.join(stages)}; {areas}; store {built.store_volume_L:.0f} L with "
        f"{built.insulation_mm:.0f} mm of insulation. All is fitted for "
        "these sizes: what yours has otherwise goes into its coefficients."
    )


def machine(given: GivenMachine) -> str:
    """Say which cylinders the file of a machine has, for whoever measured them to compare."""
    sizes = "; ".join(f"{one.bore_mm:g} x {one.stroke_mm:g} mm" for one in given.cylinders)
    return (
        f"The machine as its file has it: cylinders {sizes}. All is fitted for these sizes: a bore that is measured "
        "wrong goes into the coefficients, and their intervals know nothing of it."
    )


def copied(log: Log) -> list[str]:
    """Name lines that are the same in every column, if there are any: readings of a bench seldom are."""
    return [
        f"Lines {', '.join(map(str, lines))} are the same in every column. If one is a copy take it out: each counts as a "
        "reading of its own and makes intervals narrower than they are."
        for lines in log.copied
    ]


def _tubes(built: Built) -> str:
    """Say how many tubes of which length that is."""
    if built.tubes is None:
        return ""
    made = built.tubes
    each = zip((*made.boilers, made.condensers), made.lengths, strict=True)
    told = [f"{count:.0f} of {length:.1f} m" for count, length in each]
    return f" (tubes side by side: boiler {' and '.join(told[:-1])}, condenser {told[-1]})"


def gauges(log: Log) -> list[str]:
    """Say what gauges were read against, if there were any."""
    if log.air_bar is None:
        return []
    return [
        f"Columns in bar_g were read off gauges: {log.air_bar:.3f} bar of air were added, the mean at the site's height "
        f"(scenario.site.altitude_m). Weather moves it by some {AIR_MOVES} bar: where that counts, read a barometer and "
        "write bar_a."
    ]


def hot(log: Log) -> str:
    """Return the cautions of a log of something that runs, else nothing."""
    return HOT if any(test.kind in (RUNNING, BOILER, CONDENSER) for test in log.tests) else ""


def misfit_words(fit: Fit) -> str:
    """Say how well the model meets the readings."""
    count = f"{len(fit.readings)} reading{'s' * (len(fit.readings) != 1)}"
    far = [one for one in fit.readings if abs(one.off) > FAR]
    if fit.misfit <= POOR:
        said = f"{count}; after the fit the model meets what was read within its accuracy"
        if fit.misfit > 1.0:
            said += f", nearly (misfit {fit.misfit:.2f})"
    else:
        said = (
            f"{count}; even after the fit the model misses what was read by {fit.misfit:.1f} times its accuracy, and all "
            "intervals are that much wider: look for wrong readings, dimensions or conditions, or the laws are not those "
            "of this engine"
        )
    named = ", ".join(f"line {one.line} {one.column}" for one in far[:3])
    rest = f" and {len(far) - 3} more" if len(far) > 3 else ""
    if not far:
        return f"{said}."
    untold = any(not one.identified for one in fit.coefficients)
    why = (
        ", or what the log says of coefficients together that it does not tell apart, which stay as assumed"
        if untold
        else ""
    )
    return f"{said}. Far off with the coefficients as told: {named}{rest}. A wrong reading, which counted less{why}."


def bent(fit: Fit) -> list[str]:
    """Name the parts of the log whose draws did not settle: nothing is told of them."""
    return [
        f"Nothing is told of {tests.replace('_', ' ')}: of the draws of what is left of doubt {100.0 * share:.0f} % count "
        f"and {100.0 * ENOUGH:.0f} % are asked, so that all intervals would be too narrow. More kinds of reading, or "
        "conditions further apart, tell the coefficients from each other."
        for tests, share in fit.effective.items()
        if share < ENOUGH
    ]


def missing(fit: Fit) -> list[str]:
    """Name the coefficients that are not identified, those of one reason together, and what would measure them."""
    found: dict[tuple[str, str], list[str]] = {}
    for one in fit.coefficients:
        if not one.identified:
            found.setdefault((one.why, _how(one)), []).append(one.item.name)
    return [
        f"Not identified, kept as assumed: {', '.join(names)}; {why}. To measure: {how}."
        for (why, how), names in found.items()
    ]


def _how(one: Coefficient) -> str:
    """Say what would measure a coefficient."""
    if one.item.group != "films":
        return BENCH[one.item.group]
    if one.item.name == TUBE_FILMS:
        return TUBES
    part, _, zone = one.item.name.partition("_U_")
    told = FILMS["condenser" if part == "condenser" else "boiler", zone]
    return f"with the water of the {part}, {told}"


def edges(fit: Fit) -> list[str]:
    """Name the coefficients that stopped at the edge of what their bands allow, and what to type if readings are right."""
    return [_at_edge(one) for one in fit.identified() if one.edge]


def _at_edge(one: Coefficient) -> str:
    name, further = one.item.name, "less" if one.edge < 0 else "more"
    said = (
        f"{name} stopped at the edge of what its band allows, {number(one.fitted[0])}, and may be {further}: its interval "
        "tells nothing of what lies beyond. Look at the readings and the sizes first"
    )
    if one.wider is None:
        return f"{said}."
    low, high = (number(end) for end in one.wider)
    return f"{said}; if they are right, give it a wider band: 'doubt.bands.{name}=[{low},{high}]'."


def told(fit: Fit) -> str:
    """Say all of a fit in the terminal."""
    parts: list[str] = [coefficients(fit), misfit_words(fit), *bent(fit), *edges(fit)]
    parts += missing(fit)
    parts += [
        "A coefficient counts as identified if the log tells at least as much of it as its band did: an interval of 0.71 "
        "of that before.",
        SCOPE,
        DECIDES,
    ]
    return "\n\n".join(part if "\n" in part else paragraph(part) for part in parts)


def with_films(fit: Fit, case: Case) -> bool:
    """Tell whether designs of a case are judged with films of exchangers that a log has told."""
    tubes = case.exchangers.method == "tubes"
    films = [one for one in fit.identified() if one.item.group == "films"]
    return any((one.item.name == TUBE_FILMS) == tubes for one in films)


def verdict(found: Verdict, case: Case, films: bool = False) -> str:
    """Say what is best of a front with the engine that was measured, and with its exchangers' ``films``."""
    if films:
        return f"{_judged(found, case)} Exchangers of all designs are sized with the films that the log has told."
    return _judged(found, case)


def _judged(found: Verdict, case: Case) -> str:
    words = label(found.figure).lower()
    was, now = found.was, found.now
    kept = f"{found.feasible} of the front's {found.designs} designs keep every limit."
    if now is None:
        return (
            f"With your engine no design of the run's front keeps every limit; that which was best, {_design(was, case)}, "
            f"would give {_change(found.figure, was)} ({words}). Search again with fitted=."
        )
    if now.line == was.line:
        return (
            f"With your engine {_design(was, case)} stays best; {words} {_change(found.figure, was)}. {kept}"
        )
    if now.fluid == was.fluid:
        start = f"With your engine {_fluid(was, case)} stays best, by another design, line {now.line}"
    else:
        start = f"With your engine {_design(now, case)} is best in place of {_design(was, case)}"
    gone = "" if found.was_keeps else ", which would now break a limit"
    return (
        f"{start}; {words} {shown(repr(now.after), found.figure)} instead of {shown(repr(was.before), found.figure)}. "
        f"The design that was best, line {was.line}{gone}: {_change(found.figure, was)}. {kept} A new search with "
        "fitted= may find better ones."
    )


def _change(figure: str, one: Best) -> str:
    return f"{shown(repr(one.after), figure)} instead of {shown(repr(one.before), figure)}"


def _design(one: Best, case: Case) -> str:
    return f"{_fluid(one, case)} (line {one.line})"


def _fluid(one: Best, case: Case) -> str:
    return next((card.title for card in case.fluids.values() if card.name == one.fluid), one.fluid).partition(
        " ("
    )[0]
