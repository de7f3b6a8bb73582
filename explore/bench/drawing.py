"""The drawing of cylinders, cranks and coils in millimetres at full size, and the schematic below, as DXF."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from explore.bench.coil import Coil
from explore.bench.shapes import GAP_MM, TEXT_MM, Ring, Shape, Stroke, Words, coil_shapes, coil_words, size_of

if TYPE_CHECKING:
    from ezdxf.layouts import Modelspace

SHOWN_DEG = 60.0
"""Crank angle that is drawn: rod and crank are then seen apart."""
GAP = 1.5
"""Room between cylinders, in bores, for the text beside each."""
TEXT = 0.06
"""Height of lettering, in bores: legible beside the part."""


LAYERS = {
    "outline": 7,
    "axis": 1,
    "moving": 5,
    "text": 3,
    "hot": 1,
    "fluid": 5,
    "cold": 4,
}
"""Layers and their colours: AutoCAD colour index, as DXF defines it."""


def dxf(
    cylinders: Sequence[Mapping[str, Any]],
    walls_mm: Mapping[int, float],
    coils: Sequence[Coil] = (),
    schematic: Sequence[Shape] = (),
) -> bytes:
    """Return a DXF file: one cylinder of each stage with piston, rod and crank circle, and the coils, to scale in mm.

    ``cylinders`` as :func:`explore.bench.cylinders.cylinder` gives them; ``walls_mm`` wall by stage. Axis upright, crank
    below. The ``schematic`` stands beneath, not to scale.
    """
    import ezdxf

    drawing = ezdxf.new("R2010", setup=True, units=4)  # 4: millimetres
    for layer, colour in LAYERS.items():
        drawing.layers.add(layer, color=colour)
    space = drawing.modelspace()
    left = _cylinders(space, cylinders, walls_mm)
    for coil in coils:
        wide, _ = size_of(coil)
        left += GAP_MM + 0.5 * wide
        _draw(space, coil_shapes(coil, left, 0.0))
        words = [
            Words(left - 0.5 * wide, -2.0 * TEXT_MM * (line + 2), text, TEXT_MM)
            for line, text in enumerate(coil_words(coil))
        ]
        _draw(space, words)
        left += 0.5 * wide
    _draw(space, schematic, down=_below(cylinders))
    content = io.StringIO()
    drawing.write(content)
    return content.getvalue().encode("utf-8")


def _below(cylinders: Sequence[Mapping[str, Any]]) -> float:
    """How far down [mm] the schematic is drawn: clear of the words beneath the longest crank."""
    return 600.0 + 2.0 * max(float(one["stroke_mm"]) + float(one["bore_mm"]) for one in cylinders)


def _draw(space: Modelspace, shapes: Sequence[Shape], down: float = 0.0) -> None:
    for one in shapes:
        if isinstance(one, Stroke):
            points = [(x, y - down) for x, y in one.points]
            space.add_lwpolyline(points, close=one.closed, dxfattribs={"layer": one.layer})
        elif isinstance(one, Ring):
            space.add_circle((one.x, one.y - down), one.radius, dxfattribs={"layer": one.layer})
        else:
            x = one.x - 0.3 * one.height * len(one.text) if one.centred else one.x
            text = space.add_text(one.text, height=one.height, dxfattribs={"layer": "text"})
            text.set_placement((x, one.y - down))


def _cylinders(
    space: Modelspace, cylinders: Sequence[Mapping[str, Any]], walls_mm: Mapping[int, float]
) -> float:
    """Draw the cylinders from the left on; return how far [mm] they reach."""
    left = 0.0
    for one in cylinders:
        bore, stroke, rod = (float(one[name]) for name in ("bore_mm", "stroke_mm", "rod_mm"))
        wall, crank = walls_mm.get(int(one["stage"]), 0.0), 0.5 * stroke
        x = left + 0.5 * bore + wall
        top = rod + crank  # height of the piston's pin at top dead centre, crankshaft at nought
        crown = top + 0.25 * bore  # piston above its pin
        head = crown + float(one["clearance_mm"])
        foot = top - stroke - 0.25 * bore
        for side in (-1.0, 1.0):
            inner, outer = x + side * 0.5 * bore, x + side * (0.5 * bore + wall)
            space.add_lwpolyline(
                [(inner, head), (inner, foot), (outer, foot), (outer, head)],
                close=True,
                dxfattribs={"layer": "outline"},
            )
        space.add_line(
            (x - 0.5 * bore - wall, head), (x + 0.5 * bore + wall, head), dxfattribs={"layer": "outline"}
        )
        angle = math.radians(SHOWN_DEG)
        across, up = crank * math.sin(angle), crank * math.cos(angle)
        pin = up + math.sqrt(rod**2 - across**2)
        half, depth = 0.5 * bore, 0.25 * bore
        space.add_lwpolyline(
            [
                (x - half, pin - depth),
                (x + half, pin - depth),
                (x + half, pin + depth),
                (x - half, pin + depth),
            ],
            close=True,
            dxfattribs={"layer": "moving"},
        )
        space.add_line((x, pin), (x + across, up), dxfattribs={"layer": "moving"})
        space.add_line((x, 0.0), (x + across, up), dxfattribs={"layer": "moving"})
        space.add_circle((x, 0.0), crank, dxfattribs={"layer": "axis"})
        space.add_line((x, -crank), (x, head), dxfattribs={"layer": "axis"})
        words = (
            f"stage {one['stage']}, {one['number']} off",
            f"bore {bore:.1f}, stroke {stroke:.1f}",
            f"rod {rod:.1f}, crank radius {crank:.1f}",
            f"wall {wall:.1f}, drawn at {SHOWN_DEG:.0f} deg",
        )
        height = TEXT * max(bore, stroke)
        for line, text in enumerate(words):
            place = (x - half, -crank - (2.0 + 1.6 * line) * height)
            space.add_text(text, height=height, dxfattribs={"layer": "text"}).set_placement(place)
        left = x + (GAP + 0.5) * max(bore, stroke) + wall
    return left
