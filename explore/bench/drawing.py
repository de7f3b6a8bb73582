"""The drawing of cylinders and cranks, in millimetres at full size, as DXF."""

from __future__ import annotations

import io
import math
from collections.abc import Mapping, Sequence
from typing import Any

SHOWN_DEG = 60.0
"""Crank angle that is drawn: rod and crank are then seen apart."""
GAP = 1.5
"""Room between cylinders, in bores, for the text beside each."""
TEXT = 0.06
"""Height of lettering, in bores: legible beside the part."""


def dxf(cylinders: Sequence[Mapping[str, Any]], walls_mm: Mapping[int, float]) -> bytes:
    """Return a DXF file of one cylinder of each stage, its piston, rod and crank circle, to scale in mm.

    ``cylinders`` as :func:`explore.bench.cylinders.cylinder` gives them; ``walls_mm`` least wall by stage. Axis upright,
    crank below.
    """
    import ezdxf

    drawing = ezdxf.new("R2010", setup=True, units=4)  # 4: millimetres
    for layer, colour in (("outline", 7), ("axis", 1), ("moving", 5), ("text", 3)):
        drawing.layers.add(layer, color=colour)
    space, left = drawing.modelspace(), 0.0
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
            f"least wall {wall:.1f}, drawn at {SHOWN_DEG:.0f} deg",
        )
        height = TEXT * max(bore, stroke)
        for line, text in enumerate(words):
            place = (x - half, -crank - (2.0 + 1.6 * line) * height)
            space.add_text(text, height=height, dxfattribs={"layer": "text"}).set_placement(place)
        left = x + (GAP + 0.5) * max(bore, stroke) + wall
    content = io.StringIO()
    drawing.write(content)
    return content.getvalue().encode("utf-8")
