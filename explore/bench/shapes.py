"""What a drawing is made of, whoever draws it: lines, circles and words in millimetres, y upwards."""

from __future__ import annotations

from dataclasses import dataclass

from explore.bench.coil import Coil

TEXT_MM = 8.0
"""Height of lettering beside a coil: legible beside a part of some hundred millimetres."""
GAP_MM = 80.0
"""Room between coils, for the text below each."""


@dataclass(frozen=True)
class Stroke:
    """A line through ``points``, closed or open; ``layer``: outline, moving, axis, hot, fluid or cold."""

    points: tuple[tuple[float, float], ...]
    layer: str = "outline"
    closed: bool = False


@dataclass(frozen=True)
class Ring:
    """A circle about (x, y)."""

    x: float
    y: float
    radius: float
    layer: str = "outline"


@dataclass(frozen=True)
class Words:
    """A line of text that begins at (x, y), in the middle of it with ``centred``."""

    x: float
    y: float
    text: str
    height: float
    centred: bool = False


Shape = Stroke | Ring | Words


def box(x: float, y: float, wide: float, high: float, layer: str = "outline") -> Stroke:
    """Return a rectangle whose lower left corner is at (x, y)."""
    return Stroke(((x, y), (x + wide, y), (x + wide, y + high), (x, y + high)), layer, closed=True)


def coil_shapes(coil: Coil, x: float, y: float) -> list[Shape]:
    """Return a coil to scale, seen from the side, its axis at ``x`` and its foot at ``y`` [mm]; a bundle as its tubes.

    Each turn is one slanting tube of its outside diameter; the turns behind are left out.
    """
    half, thick = 0.5 * coil.mean_diameter_mm, 0.5 * coil.wound_mm
    made: list[Shape] = []
    if coil.turns == 0.0:
        for place in range(coil.count):
            made.append(box(x + 2.0 * coil.pitch_mm * place, y, coil.outside_mm, 1e3 * coil.length_m))
        return made
    for turn in range(int(coil.turns / coil.layers)):
        low, high = y + coil.pitch_mm * turn + thick, y + coil.pitch_mm * (turn + 0.5) + thick
        made += [
            Stroke(((x - half, low + side), (x + half, high + side)), "outline") for side in (-thick, thick)
        ]
        made += [Ring(x - half, low, thick), Ring(x + half, high, thick)]
    made.append(Stroke(((x, y - thick), (x, y + coil.height_mm + thick)), "axis"))
    return made


def coil_words(coil: Coil) -> tuple[str, ...]:
    """Say what is wound, in lines for a drawing."""
    tube = f"{coil.count} off, {coil.length_m:.1f} m each, {coil.outside_mm:g} x {coil.inside_mm:g}"
    if coil.turns == 0.0:
        return (coil.name, tube, "straight, a bundle in a shell")
    layers = f" in {coil.layers} layers" if coil.layers > 1 else ""
    return (
        coil.name,
        tube,
        f"{coil.turns:.1f} turns{layers}, mean diameter {coil.mean_diameter_mm:.0f}",
        f"pitch {coil.pitch_mm:.1f}, height {coil.height_mm:.0f}",
    )


def size_of(coil: Coil) -> tuple[float, float]:
    """Return how wide and how high a coil is drawn [mm]."""
    if coil.turns == 0.0:
        return 2.0 * coil.pitch_mm * coil.count, 1e3 * coil.length_m
    return coil.mean_diameter_mm + coil.wound_mm, coil.height_mm + coil.wound_mm
