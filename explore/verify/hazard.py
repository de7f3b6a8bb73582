"""Checks of what the cards of the fluids say of fire and poison, and of the rules that use it."""

from __future__ import annotations

from collections.abc import Iterator

from explore.judgement import hazards
from explore.judgement.safety_class import toxicity
from explore.verify.bench import Bench
from explore.verify.check import Check, on_bench
from explore.verify.reading import rows
from explore.verify.sources import cite

TOPIC = "fire and poison"
PPM = 1e6


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _classes()
    yield from _limits()
    yield from _mass_limits()
    yield from _toxicity()
    yield from _room()


def molar_mass(bench: Bench, fluid: str) -> float:
    """Molar mass [kg/mol] of a fluid by its tables."""
    return float(bench.tables(fluid).molar_mass[0])


def class_by_limit(bench: Bench, fluid: str) -> float:
    """Flammability class 3 or 2 that the limit on its card alone gives a fluid that burns; 1 without a limit."""
    limit = bench.case.card(fluid).lfl_kg_per_m3
    if limit is None:
        return 1.0
    return 3.0 if hazards.burns_readily(limit) else 2.0


def _classes() -> Iterator[Check]:
    for row in rows("flammability"):
        fluid, digit = row["fluid"], int(row["class"][1])
        yield Check(
            f"class-{fluid}",
            TOPIC,
            f"{fluid}: flammability class from the limit on its card (2 stands for 2L too)",
            "-",
            float(digit),
            0.0,
            False,
            cite(f"gbt7778/class {row['class']}"),
            "published",
            "component",
            on_bench(class_by_limit, fluid),
        )


def flammability_limit(bench: Bench, fluid: str) -> float:
    """Lower flammability limit [vol %] behind what the room may hold of a fluid."""
    mass = molar_mass(bench, fluid)
    allowed = hazards.allowed_concentration_kg_per_m3(bench.case.card(fluid), mass) / hazards.LFL_SHARE
    return 100.0 * allowed / float(hazards.concentration_kg_per_m3(1.0, mass))


def _limits() -> Iterator[Check]:
    for row in rows("flammability"):
        fluid = row["fluid"]
        if row["lfl_source"] == "iec60079" and row["class"].startswith("A"):
            yield Check(
                f"limit-{fluid}",
                TOPIC,
                f"{fluid}: lower flammability limit behind the room it needs",
                "vol %",
                float(row["lfl_percent"]),
                0.005,
                True,
                cite("iec60079/table"),
                "published",
                "component",
                on_bench(flammability_limit, fluid),
            )


def mass_in_air(bench: Bench, fluid: str, share: float) -> float:
    """Mass of a fluid per volume of air [kg/m3] at a share of the volume [-]."""
    return float(hazards.concentration_kg_per_m3(share, molar_mass(bench, fluid)))


def _mass_limits() -> Iterator[Check]:
    for row in rows("flammability_mass"):
        fluid, share = row["fluid"], 0.01 * float(row["lfl_percent"])
        yield Check(
            f"mass-limit-{fluid}",
            TOPIC,
            f"{fluid}: {row['lfl_percent']} % of the volume as a mass in air",
            "kg/m3",
            float(row["lfl_kg_per_m3"]),
            float(row["tolerance"]),
            True,
            cite("ashrae34/table of classes, both digits"),
            "from memory",
            "component",
            on_bench(mass_in_air, fluid, share),
        )


def is_toxic(bench: Bench, fluid: str) -> float:
    """Return 1 if the exposure limit on its card puts a fluid into class B, else 0."""
    return float(toxicity(bench.case.card(fluid).exposure_limit_ppm or PPM) == "B")


def _toxicity() -> Iterator[Check]:
    for row in rows("flammability"):
        if row["limit_ppm"]:
            fluid, letter = row["fluid"], row["class"][0]
            yield Check(
                f"toxicity-{fluid}",
                TOPIC,
                f"{fluid}: toxicity class from the exposure limit on its card (A 0, B 1)",
                "-",
                float(letter == "B"),
                0.0,
                False,
                cite(f"gbt7778/class {row['class']}"),
                "published",
                "component",
                on_bench(is_toxic, fluid),
            )


def allowed_ppm(bench: Bench, fluid: str) -> float:
    """Concentration [ppm of the volume] that a full release of a fluid may reach in a room."""
    mass = molar_mass(bench, fluid)
    allowed = hazards.allowed_concentration_kg_per_m3(bench.case.card(fluid), mass)
    return PPM * allowed / float(hazards.concentration_kg_per_m3(1.0, mass))


def room_for(bench: Bench, fluid: str, share: float) -> float:
    """Share of the volume [-], over ``share``, that the charge of a design reaches in the room said to be needed."""
    charge, room = (bench.figure(name, fluid=fluid) for name in ("charge_kg", "room_volume_needed_m3"))
    return charge / room / float(hazards.concentration_kg_per_m3(share, molar_mass(bench, fluid)))


def _room() -> Iterator[Check]:
    yield Check(
        "room-ammonia",
        TOPIC,
        "Ammonia: concentration a room may reach, the exposure limit of eight hours",
        "ppm",
        25.0,
        0.005,
        True,
        cite("ontario/ammonia"),
        "published",
        "component",
        on_bench(allowed_ppm, "Ammonia"),
    )
    yield Check(
        "room-butane",
        TOPIC,
        "n-Butane design: its charge in the room it needs, share of the lower flammability limit",
        "-",
        0.25,
        0.005,
        True,
        cite("iec60079/1.4 % of the volume; the share of a quarter is the rule of this project"),
        "recomputed",
        "system",
        on_bench(room_for, "n-Butane", 0.014),
    )
