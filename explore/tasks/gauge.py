"""Says what the gauge of a plant that stands still shows, or what a reading says of its charge."""

from __future__ import annotations

from explore.config.schema import Case, FluidCard
from explore.config.tasks import GaugeTask
from explore.errors import InputError, few


def run(case: Case, task: GaugeTask, command: str) -> None:
    """Print the table of a fluid or, with a temperature and a reading, the check."""
    from explore.bench import gauge
    from explore.design.space import Space
    from explore.model.details import site_air_pressure
    from explore.tell.gauge import check_text, table_text
    from explore.units import PA_PER_BAR, kelvin, pascal_from_gauge

    card = _card(case, task.fluid)
    temperature, reading = task.temperature_degC, task.reading_bar_g
    if (temperature is None) != (reading is None):
        given, missing = ("reading_bar_g", "temperature_degC")[:: 1 if temperature is None else -1]
        raise InputError(
            f"task=gauge: {given} goes with {missing}; give both for a check, neither for the table"
        )
    air = site_air_pressure(case)
    if reading is not None and pascal_from_gauge(reading, air) <= 0.0:
        raise InputError(
            f"reading_bar_g={reading:g}: below a vacuum; the air of this site has {air / PA_PER_BAR:.3f} bar, so a reading "
            f"lies above -{air / PA_PER_BAR:.3f}"
        )
    instruments = gauge.Instruments(
        (task.gauge_accuracy_bar or gauge.GAUGE_BAR) * PA_PER_BAR,
        task.thermometer_accuracy_K or gauge.THERMOMETER_K,
    )
    charge = gauge.charge_of(card.substance, card.ends)
    if temperature is None or reading is None:
        top = kelvin(float(Space.from_case(case).bounds["top_temperature_degC"][1]))
        print(table_text(card, gauge.table(charge, top, instruments), instruments, air))
        return
    condensing = kelvin(case.scenario.site.cooling_water_temperature_degC) + gauge.CONDENSING_ABOVE_WATER_K
    found = gauge.check(
        card.substance,
        charge,
        kelvin(temperature),
        pascal_from_gauge(reading, air),
        instruments,
        max(condensing, charge.coldest),
    )
    print(check_text(card, found, instruments, air))


def _card(case: Case, fluid: str | None) -> FluidCard:
    """Return the card of a fluid by its name or that of its file; one must be given and known."""
    names = [card.name for card in case.fluids.values()]
    if fluid is None:
        raise InputError(f"task=gauge needs fluid=NAME, one of {few(names, 'n-Butane')}")
    if fluid in case.fluids:
        return case.fluids[fluid]
    if fluid not in names:
        raise InputError(f"fluid={fluid[:60]!r}: no card has this name; known are {few(names, fluid)}")
    return case.card(fluid)
