"""Checks of money: annuities, the six-tenths rule, and what a plant of the shipped case costs a year."""

from __future__ import annotations

from collections.abc import Iterator

from explore.judgement import bill
from explore.plant.parts import engine
from explore.plant.parts.part import scaled_cost
from explore.verify.bench import Bench
from explore.verify.check import Check, given
from explore.verify.reading import rows
from explore.verify.sources import cite

TOPIC = "money"
FACTOR_4_PERCENT_15_YEARS = 0.0899411
MAINTENANCE = 0.02


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _annuities()
    yield from _six_tenths()
    yield from _a_year_of_a_design()
    yield from _store_on_sale()


def _annuities() -> Iterator[Check]:
    for row in rows("annuities"):
        interest, years = float(row["interest"]), float(row["years"])
        yield Check(
            f"annuity-{100 * interest:g}-{years:g}",
            TOPIC,
            f"capital recovery at {100 * interest:g} % over {years:g} years",
            "1/a",
            float(row["factor"]),
            float(row["tolerance"]),
            False,
            cite("park"),
            "recomputed",
            "component",
            given(bill.capital_recovery_factor, interest, years),
        )


def times_the_cost(times: float) -> float:
    """Cost of an engine so many times as large over the cost of one [-]."""
    return float(scaled_cost(1.0, times, engine.ENGINE_EXPONENT))


def _six_tenths() -> Iterator[Check]:
    for times, value in ((2.0, 1.5157), (10.0, 3.9811)):
        yield Check(
            f"six-tenths-{times:g}",
            TOPIC,
            f"engine {times:g} times as large: times the cost",
            "-",
            value,
            1e-4,
            True,
            cite("williams"),
            "recomputed",
            "component",
            given(times_the_cost, times),
        )


def _a_year_of_a_design() -> Iterator[Check]:
    yield Check(
        "year-of-a-design",
        TOPIC,
        "design of the shipped case: cost a year over cost, 4 % and 15 years, 2 % maintenance",
        "1/a",
        FACTOR_4_PERCENT_15_YEARS + MAINTENANCE,
        1e-5,
        True,
        cite("park"),
        "recomputed",
        "system",
        lambda bench: bench.figure("annual_cost_EUR") / bench.figure("cost_EUR"),
    )


def store_with_insulation(bench: Bench) -> float:
    """Bill of a store of 300 L with 60 mm of insulation [EUR]."""
    lines = ("cost_store_EUR", "cost_insulation_EUR")
    return sum(bench.figure(line, store_volume_L=300.0, insulation_mm=60.0) for line in lines)


def _store_on_sale() -> Iterator[Check]:
    yield Check(
        "store-on-sale",
        TOPIC,
        "store of 300 L with 60 mm of insulation, retail band 700 to 1100 EUR",
        "EUR",
        900.0,
        200.0,
        False,
        cite("quaschning/section 6.5"),
        "published",
        "system",
        store_with_insulation,
    )
