"""Lines and places of the sheet's drawings; the template puts them into SVG."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from explore.bench.coil import Coil
from explore.bench.shapes import Ring, Shape, Stroke, Words, coil_shapes, size_of

RADIUS = 80.0
"""Radius of the valve circle in its own units: its labels then have room in a view of 260."""
WIDE, HIGH = 700.0, 200.0
"""Field of the torque's line, in its own units: wider than high, as a turn is read."""
LETTER = 0.55
"""Width of a letter over its height, on the average of a plain typeface."""
MARGIN = 0.015
"""Of the width of a drawing, left free around it: lines at the edge are not cut."""
TALL = 230.0
"""Height of a drawn cylinder with its crank, in its own units: all stages share the scale."""


def arc(start_deg: float, end_deg: float, radius: float = RADIUS) -> str:
    """Return the path of an arc, clockwise from ``start_deg`` to ``end_deg``, angles from the top."""
    (x1, y1), (x2, y2) = on_circle(start_deg, radius), on_circle(end_deg, radius)
    large = 1 if (end_deg - start_deg) % 360.0 > 180.0 else 0
    return f"M{x1:.2f} {y1:.2f}A{radius:g} {radius:g} 0 {large} 1 {x2:.2f} {y2:.2f}"


def on_circle(angle_deg: float, radius: float) -> tuple[float, float]:
    """Return the place on a circle about nought, ``angle_deg`` clockwise from the top; y points down."""
    angle = math.radians(angle_deg)
    return radius * math.sin(angle), -radius * math.cos(angle)


def torque_line(torque: Mapping[str, Any]) -> dict[str, Any]:
    """Return the torque over a turn as points of a polyline, heights of nought and of the mean, and the extremes."""
    values = [float(one) for one in torque["torque_Nm"]]
    values = [*values, values[0]]
    low, high = min(0.0, *values), max(0.0, *values)
    span = (high - low) or 1.0

    def height(value: float) -> float:
        return HIGH * (high - value) / span

    step = WIDE / (len(values) - 1)
    points = " ".join(
        f"{place * step:.1f},{height(one):.1f}" for place, one in enumerate(values) if place % 4 == 0
    )
    mean = float(torque["shaft_Nm"])
    return {
        "points": points,
        "zero": height(0.0),
        "mean": height(mean),
        "least": min(values),
        "most": max(values),
    }


def cylinder(one: Mapping[str, Any], wall_mm: float, scale: float) -> dict[str, float]:
    """Return places of a cylinder's drawing at 60 degrees of crank, ``scale`` units a mm; axis at x = 0, top at y = 0."""
    bore, stroke, rod = (scale * float(one[name]) for name in ("bore_mm", "stroke_mm", "rod_mm"))
    gap, wall, crank, depth = scale * float(one["clearance_mm"]), scale * wall_mm, 0.5 * stroke, 0.25 * bore
    shaft = gap + depth + rod + crank
    across, up = crank * math.sin(math.pi / 3.0), crank * math.cos(math.pi / 3.0)
    pin = shaft - up - math.sqrt(rod**2 - across**2)
    return {
        "bore": bore, "wall": wall, "crank": crank, "depth": depth, "shaft": shaft, "pin": pin, "across": across,
        "pin_y": shaft - up, "length": gap + stroke + 2.0 * depth,
    }  # fmt: skip


def scale(cylinders: list[Mapping[str, Any]]) -> float:
    """Return units a mm so that the tallest of the cylinders, with crank, fills the height."""
    heights = (
        one["clearance_mm"] + 0.25 * one["bore_mm"] + one["rod_mm"] + one["stroke_mm"] for one in cylinders
    )
    return TALL / max(heights)


def drawn(shapes: Sequence[Shape]) -> dict[str, Any]:
    """Return shapes as a template draws them: ``lines``, ``rings``, ``words``, and the ``view`` that holds them, y down."""
    lines = [
        {
            "points": " ".join(f"{x:.1f},{-y:.1f}" for x, y in one.points),
            "layer": one.layer,
            "tag": "polygon" if one.closed else "polyline",
        }
        for one in shapes
        if isinstance(one, Stroke)
    ]
    rings = [
        {"x": one.x, "y": -one.y, "r": one.radius, "layer": one.layer}
        for one in shapes
        if isinstance(one, Ring)
    ]
    words = [
        {"x": one.x, "y": -one.y, "text": one.text, "size": one.height, "centred": one.centred}
        for one in shapes
        if isinstance(one, Words)
    ]
    left, top, right, foot = _extent(shapes)
    return {"lines": lines, "rings": rings, "words": words, "view": (left, top, right - left, foot - top)}


def _extent(shapes: Sequence[Shape]) -> tuple[float, float, float, float]:
    """Left, top, right and foot of what is drawn, y down, with a margin of one letter."""
    xs: list[float] = []
    ys: list[float] = []
    for one in shapes:
        if isinstance(one, Stroke):
            xs += [x for x, _ in one.points]
            ys += [-y for _, y in one.points]
        elif isinstance(one, Ring):
            xs += [one.x - one.radius, one.x + one.radius]
            ys += [-one.y - one.radius, -one.y + one.radius]
        else:
            wide = LETTER * one.height * len(one.text)
            start = one.x - 0.5 * wide if one.centred else one.x
            xs += [start, start + wide]
            ys += [-one.y - one.height, -one.y + 0.3 * one.height]
    margin = MARGIN * max(max(xs) - min(xs), 1.0)
    return min(xs) - margin, min(ys) - margin, max(xs) + margin, max(ys) + margin


def coils(found: Sequence[Coil]) -> list[dict[str, Any]]:
    """Return the coils as drawings to one scale, in which the tallest fills the height of a cylinder's drawing."""
    if not found:
        return []
    scale = TALL / max(size_of(one)[1] for one in found)
    made = []
    for one in found:
        picture = drawn(coil_shapes(one, 0.0, 0.0))
        _, _, wide, high = picture["view"]
        made.append({"coil": one, "wide": scale * wide, "high": scale * high, **picture})
    return made
