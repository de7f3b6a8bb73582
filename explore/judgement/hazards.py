"""Judgements on an outcome: charge, room, margins that feed search and report, and material clashes.

A margin is in the unit of its name and safe where it is <= 0.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from explore.judgement.safety_class import CLASS_B_LIMIT_PPM
from explore.plant.parts import PARTS
from explore.plant.parts.part import Contents

if TYPE_CHECKING:
    from explore.config.schema import Engine, FluidCard

Array = NDArray[np.float64]

M3_PER_L = 1e-3
"""Exact."""

# volume of one mole of gas at 25 degC and 101.325 kPa [m3/mol]
MOLAR_VOLUME = 0.024465

PISTON_SPEED_LIMIT_M_PER_S = 2.0
"""Mean piston speed above which a small unlubricated engine wears: common practice, no source (model, section 9)."""
LFL_SHARE = 0.25
"""Share of the lower flammability limit that a full release may reach: a quarter, as gas safety rules have it (model,
section 9)."""

CLASS_3_LFL_KG_PER_M3 = 0.10
"""ISO 817 / ASHRAE 34: class 3 at or below this lower flammability limit."""

# what an alloy or a coated part offers to attack
CONSTITUENTS = {
    "brass": ("copper",),
    "bronze": ("copper",),
    "galvanised steel": ("zinc",),
}


def charge_kg(engine: Engine, contents: Contents) -> Array:
    """Return the fluid held in the plant [kg], shape (n,): liquid and vapour in every part.

    Each part says what fills it; ``engine`` holds the volumes, which parts with passages alike share.
    """
    filled: dict[str, Array] = {}
    for part in PARTS:
        for held in part.hold_up(engine, contents):
            before = filled.get(held.litres)
            filled[held.litres] = held.filling if before is None else before + held.filling
    litres = [getattr(engine, name) * filling for name, filling in filled.items()]
    return np.asarray(M3_PER_L * sum(litres[1:], start=litres[0]))


def concentration_kg_per_m3(share_of_volume: ArrayLike, molar_mass_kg_per_mol: float) -> Array:
    """Return the mass of gas per volume of air [kg/m3] at 25 degC from its share of the volume [-].

    >>> round(float(concentration_kg_per_m3(0.021, 0.0441)), 4)
    0.0379
    """
    return np.asarray(np.asarray(share_of_volume, dtype=float) * molar_mass_kg_per_mol / MOLAR_VOLUME)


def assumed_hazards(card: FluidCard, catalogue: Iterable[FluidCard] = ()) -> dict[str, float]:
    """Return the hazard numbers a card lacks, each as bad as the worst of its class; empty if it lacks none.

    ``lfl_kg_per_m3`` is assumed for a flammable fluid without a limit by mass or volume, ``exposure_limit_ppm`` for a toxic
    one or one that no standard has classified. The worst is that of the cards of ``catalogue`` that share the flammability
    digit or the toxicity letter (unclassified: class B), or the class's own bound.
    Classes: ISO 817, ASHRAE 34.
    """
    others = tuple(catalogue)
    assumed: dict[str, float] = {}
    if card.flammable and card.lfl_kg_per_m3 is None and card.lfl_percent is None:
        digit = flammability(card.safety_class)
        alike = [c.lfl_kg_per_m3 for c in others if digit is None or flammability(c.safety_class) == digit]
        assumed["lfl_kg_per_m3"] = min([CLASS_3_LFL_KG_PER_M3, *(x for x in alike if x is not None)])
    unknown = card.safety_class[:1] not in ("A", "B")
    if card.exposure_limit_ppm is None and (card.toxic or unknown):
        toxic = [c.exposure_limit_ppm for c in others if c.poisons or c.safety_class[:1] == "B"]
        assumed["exposure_limit_ppm"] = min([CLASS_B_LIMIT_PPM, *(x for x in toxic if x is not None)])
    return assumed


def allowed_concentration_kg_per_m3(
    card: FluidCard, molar_mass_kg_per_mol: float, catalogue: Iterable[FluidCard] = ()
) -> float:
    """Return what a full release may reach in a room [kg/m3]; infinite if the fluid sets no limit.

    A quarter of the lower flammability limit for a flammable fluid, the exposure limit for one that poisons or an
    unclassified one without any, the lower of the two for a fluid that is both. A higher exposure limit is one of working
    days: the standards that classify fluids do not ask for a room by it. A flammability limit by volume alone is
    taken by mass at 25 degC; a number the card lacks is as bad as :func:`assumed_hazards` says.
    """
    assumed = assumed_hazards(card, catalogue)
    limits = [np.inf]
    if card.flammable:
        limits.append(LFL_SHARE * (_lfl_kg_per_m3(card, molar_mass_kg_per_mol) or assumed["lfl_kg_per_m3"]))
    if card.poisons or "exposure_limit_ppm" in assumed:
        ppm = card.exposure_limit_ppm or assumed["exposure_limit_ppm"]
        limits.append(float(concentration_kg_per_m3(1e-6 * ppm, molar_mass_kg_per_mol)))
    return min(limits)


def _lfl_kg_per_m3(card: FluidCard, molar_mass_kg_per_mol: float) -> float | None:
    if card.lfl_kg_per_m3 is not None or card.lfl_percent is None:
        return card.lfl_kg_per_m3
    return float(concentration_kg_per_m3(0.01 * card.lfl_percent, molar_mass_kg_per_mol))


def room_volume_needed_m3(charge_kg: ArrayLike, allowed_kg_per_m3: ArrayLike) -> Array:
    """Return the air volume [m3] in which the whole charge stays within the allowed concentration."""
    return np.asarray(np.asarray(charge_kg, dtype=float) / np.asarray(allowed_kg_per_m3, dtype=float))


def room_margin_m3(needed_m3: ArrayLike, room_volume_m3: float) -> Array:
    """Return by how much the room is too small [m3], (n,), <= 0 if it is large enough."""
    return np.asarray(np.asarray(needed_m3, dtype=float) - room_volume_m3)


def vacuum_margin_bar(condenser_pressure_bar_a: ArrayLike, air_pressure_bar_a: float) -> Array:
    """Return by how much the condenser lies below the air outside [bar], (n,), <= 0 if it does not."""
    return np.asarray(air_pressure_bar_a - np.asarray(condenser_pressure_bar_a, dtype=float))


def suction_head_margin_m(suction_head_m: ArrayLike, required_head_m: float) -> Array:
    """Return by how much suction head the feed pump lacks [m of liquid], (n,), <= 0 if it has enough."""
    return np.asarray(required_head_m - np.asarray(suction_head_m, dtype=float))


def class_margin(safety_class: str, allowed: Iterable[str] | None) -> float:
    """Return 1 if a safety class is not among those allowed, else -1; everything is allowed by None."""
    return 1.0 if allowed is not None and safety_class not in tuple(allowed) else -1.0


def material_clashes(card: FluidCard, materials: Iterable[str]) -> tuple[str, ...]:
    """Return those of ``materials`` that the fluid attacks, themselves or what they are made of."""
    attacked = {material.casefold() for material in card.attacks}
    return tuple(
        material
        for material in materials
        if attacked & {material.casefold(), *CONSTITUENTS.get(material.casefold(), ())}
    )


def flammability(safety_class: str) -> str | None:
    """Return the flammability digit of an ISO 817 class ("1", "2L", "2", "3"), None if unclassified.

    >>> flammability("B2L")
    '2L'
    """
    return safety_class[1:] if safety_class[:1] in ("A", "B") and safety_class[1:] else None


def burns_readily(lfl_kg_per_m3: float) -> bool:
    """Say whether a lower flammability limit alone puts a fluid into class 3 (ISO 817, ASHRAE 34)."""
    return lfl_kg_per_m3 <= CLASS_3_LFL_KG_PER_M3
