"""The gauge of a plant that stands still, in the terminal: the table over temperature, and what a reading says."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING

from explore.bench.gauge import CONDENSING_ABOVE_WATER_K
from explore.judgement.cautions import HIGH_GWP
from explore.tell.terminal import paragraph, table
from explore.units import PA_PER_BAR, bar, bar_gauge, celsius, fixed

if TYPE_CHECKING:
    from explore.bench.gauge import Air, Composition, Expected, Finding, Instruments
    from explore.config.cards import FluidCard

Words = Callable[[float], str]


def table_text(
    card: FluidCard, rows: Sequence[Expected], instruments: Instruments, air_pressure: float
) -> str:
    """Lay out what the gauge shows at each temperature [bar g], at an air pressure [Pa]."""

    gauge = _gauge(air_pressure)
    heads = ["°C", "bar g", "from", "to", *(["last drop"] if card.is_mixture else []), "bar abs"]
    if card.composition_range:
        heads.insert(4, "any bottle")
    lines = [heads]
    for row in rows:
        cells = [fixed(celsius(row.temperature), 0), gauge(row.bubble), gauge(row.low), gauge(row.high)]
        if card.composition_range:
            cells.append(f"{gauge(row.widest[0])} to {gauge(row.widest[1])}")
        if card.is_mixture:
            cells.append(gauge(row.dew))
        lines.append([*cells, fixed(bar(row.bubble), 2)])
    words = [
        f"{card.title}: what the gauge shows while the plant stands still at one temperature, with liquid in it and no "
        f"air. Air around: {fixed(bar(air_pressure), 3)} bar. {_accuracy(instruments)}",
        table(lines, left=0),
        *_notes(card, rows, air_pressure),
        *_cautions(card),
    ]
    return "\n\n".join(text if "\n" in text else paragraph(text) for text in words)


def check_text(card: FluidCard, found: Finding, instruments: Instruments, air_pressure: float) -> str:
    """Say what a reading says of the charge, at an air pressure [Pa]."""
    at = found.expected

    gauge = _gauge(air_pressure)
    shown = (
        f"{gauge(at.bubble)} bar g" if at.dew == at.bubble else f"{gauge(at.dew)} to {gauge(at.bubble)} bar g"
    )
    words = [
        f"{card.title} at {fixed(celsius(at.temperature), 1)} °C: read {gauge(found.pressure)} bar g "
        f"({fixed(bar(found.pressure), 2)} bar abs), expected {shown}. {_accuracy(instruments)} Within that, anything "
        f"from {gauge(at.low)} to {gauge(at.high)} bar g fits. Air around: {fixed(bar(air_pressure), 3)} bar.",
        _verdict(found, gauge),
        *_reasons(found, gauge, air_pressure, card),
        *_cautions(card),
    ]
    return "\n\n".join(map(paragraph, words))


def _gauge(air_pressure: float) -> Words:
    """Return what writes an absolute pressure [Pa] as a reading [bar g], none below a vacuum."""
    return lambda pascal: fixed(bar_gauge(max(pascal, 0.0), air_pressure), 2)


def _accuracy(instruments: Instruments) -> str:
    return (
        f"Gauge good to {instruments.gauge / PA_PER_BAR:g} bar, thermometer to {instruments.thermometer:g} K, "
        "both taken as wrong at once."
    )


def _notes(card: FluidCard, rows: Sequence[Expected], air_pressure: float) -> Iterator[str]:
    if card.is_mixture:
        yield (
            "A mixture shows its bubble point while the plant is well filled (bar g), and less the less liquid is "
            "left, down to 'last drop'."
        )
    if card.composition_range:
        yield "'any bottle' is what the whole range of composition on the fluid's card allows, instruments included."
    if any(row.bubble < air_pressure for row in rows):
        yield (
            "Below 0 bar g the plant draws air in at every leak, and only a gauge that shows vacuum tells it from one that "
            "hangs at its stop."
        )
    yield (
        "Running, the gauge on the boiler shows the line of the temperature at which the fluid boils, the one on the "
        "condenser that at which it condenses; the coldest liquid decides what a standing plant shows."
    )


def _verdict(found: Finding, gauge: Words) -> str:
    at = found.expected
    if found.verdict == "fits":
        unseen = max(found.pressure - at.low, 0.0)
        return (
            f"Fits: the fluid itself, with liquid in the plant. These instruments would not show up to "
            f"{fixed(bar(unseen), 2)} bar of air, or a little of another gas; "
            "finer ones, or a reading on a cold morning, would tell more."
        )
    least, most = at.widest
    if found.verdict == "bottle":
        return (
            "Does not fit the card's own composition, but another bottle: the range on the card allows "
            f"{gauge(least)} to {gauge(most)} bar g here. What else would explain it:"
        )
    off = found.pressure - (at.bubble if found.verdict == "high" else at.dew)
    return f"Too {found.verdict}, by {fixed(bar(abs(off)), 2)} bar. What would explain it:"


def _reasons(found: Finding, gauge: Words, air_pressure: float, card: FluidCard) -> Iterator[str]:
    if found.air is not None:
        yield (
            "- Full of liquid to the brim, with no gas above it: then every kelvin adds bars and something bursts. "
            "Keep clear, warm it no further, and let somebody licensed take fluid out."
        )
        yield from _air(found.air, air_pressure, card)
    if found.vapour_density is not None:
        yield from _starved(found)
    for one in found.compositions:
        yield _composition(one)
    if found.verdict == "low" and not found.compositions:
        yield "- Another, less volatile fluid than the label says: ask the dealer."
    if found.verdict in ("high", "bottle"):
        yield (
            "- The thermometer: wrong, or not at the coldest liquid. Let the plant stand until all of it has one "
            "temperature, measure at the lowest liquid, and check the gauge taken off the plant, behind its own closed and "
            "vented cock: in the open air it shows 0. Never open a charged plant for it."
        )
    if found.air is not None and found.compositions:
        yield (
            f"Which it is, a second reading tells{_colder(found)}: at {fixed(celsius(found.second_temperature), 0)} °C "
            "throughout, "
            f"{gauge(found.air.second)} bar g speaks for air, "
            + ", ".join(
                f"{gauge(one.reading)} for {one.second} with {one.first}" for one in found.compositions
            )
            + ", in the same well-filled plant. What differs by less than the gauge's accuracy it does not tell apart."
        )


def _colder(found: Finding) -> str:
    cooler = found.second_temperature < found.expected.temperature
    return ", when the plant has cooled by itself" if cooler else ""


def _air(air: Air, air_pressure: float, card: FluidCard) -> Iterator[str]:
    lost = (
        "beyond the range of this fluid"
        if math.isinf(air.lost)
        else f"as if the condenser were {fixed(air.lost, 1)} K warmer"
    )
    yield (
        f"- Air in the system: {fixed(bar(air.partial), 2)} bar of it ({fixed(bar(air.low), 2)} to "
        f"{fixed(bar(air.high), 2)}), {100 * air.share:.0f} % of the pressure. At a condenser of "
        f"{fixed(celsius(air.condensing), 0)} °C ({CONDENSING_ABOVE_WATER_K:.0f} K above the site's cooling water, an "
        f"assumption) it is a back pressure of {fixed(bar(air.back_pressure), 2)} bar, {lost}; at least, for a running "
        "engine sweeps all air into the condenser, where it also keeps vapour from the tubes."
    )
    if air.low > air_pressure:
        yield "  So much does not come in by a leak: left from a pressure test, or not air at all."
    if card.poisons or _regulated(card):
        yield (
            "  To be rid of it: have somebody licensed recover the charge, evacuate and fill afresh; this fluid is not let "
            "out with the air. Then find where it came in."
        )
        return
    yield (
        "  To be rid of it, and only once it is sure that the plant is not full of liquid: with the engine at rest and the "
        "gauge above 0 (below, an open purge draws more air in), open the purge at the top of the condenser a little at a "
        "time, wait, and read again; or evacuate and fill afresh. Then find where it came in. Mind the caution below first."
    )


def _regulated(card: FluidCard) -> bool:
    """Whether rules keep a fluid from being let into the air."""
    return bool(card.phase_down) or (card.gwp100 or 0.0) >= HIGH_GWP


def _starved(found: Finding) -> Iterator[str]:
    yield (
        "- No liquid left: all has become vapour, superheated. The whole charge is then "
        f"{found.vapour_density:.3g} g a litre of the plant's volume; look for the leak before filling up by mass."
    )
    if found.coldest_liquid is None:
        yield (
            "- The thermometer is not at the coldest liquid, or the gauge is wrong: taken off the plant, behind its closed "
            "cock, it shows 0."
        )
        return
    yield (
        f"- The thermometer is not at the coldest liquid: liquid at {fixed(celsius(found.coldest_liquid), 1)} °C "
        "somewhere, as in the condenser or in a pipe outdoors, would make this pressure. Or the gauge is wrong: "
        "taken off the plant, behind its closed cock, it shows 0."
    )


def _composition(one: Composition) -> str:
    return (
        f"- Another composition: {100 * one.mass:.3g} % {one.second} ({100 * one.low:.3g} to {100 * one.high:.3g} %), the "
        f"rest {one.first}, by mass; {100 * one.mole:.3g} % by mole. Of the liquid, in a plant that is well filled."
    )


def _cautions(card: FluidCard) -> Iterator[str]:
    said = []
    if card.flammable:
        said.append(
            f"{card.title} burns ({card.safety_class}), and with air inside the plant it can explode there: do not run the "
            "engine while air is in it; no flame, switch or spark near where gas is let out, and that outdoors only, away "
            "from pits, drains, doors and windows."
        )
    if card.poisons:
        said.append(
            f"{card.title} is toxic: never let it out where people breathe; two persons, mask at hand."
        )
    if _regulated(card):
        said.append(
            "Rules for fluorinated or greenhouse gases apply: take the fluid out into a bottle, do not let it into the air."
        )
    said.append(
        "A loosened joint sprays boiling liquid, freezing or scalding: gloves and goggles, pressure relieved "
        "first. Local codes for gas and pressure equipment, and people licensed to practise under them, decide who "
        "may open, purge and fill a plant."
    )
    yield "Caution: " + " ".join(said)
