"""The schematic of a plant: what is joined to what, with its pressures; not to scale."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from explore.bench.shapes import Ring, Shape, Stroke, Words, box

TEXT = 9.0
"""Height of lettering in the schematic's own units: legible at the width of a page."""
WIDE = 900.0
"""Width of the schematic in its own units: three stages in a row with room for their words."""
STEP = 150.0
"""From one stage to the next."""
FIRST = 420.0
"""Where the first stage stands: right of collectors, store and boilers."""
STEAM = 470.0
"""Height of the uppermost vapour line; the feed comes back at the bottom."""
LEVEL = 78.0
"""From one boiler down to the next."""


def scheme(figures: Mapping[str, Any], details: Mapping[str, Any]) -> list[Shape]:
    """Return the schematic of one design: collectors, store, boilers, receivers, cylinders, condenser,
    regenerator, pumps, valves.

    Each boiler's vapour goes to the receiver that has its pressure. On a fully mixed store the boiler is a coil in it.
    """
    stages = [stage for stage in (1, 2, 3) if float(figures[f"swept_volume_{stage}_L"]) > 0.0]
    mixed = str(figures["store_mode"]) == "mixed"
    boilers = [
        float(one["p_bar_a"])
        for one in details["states"]
        if str(one["place"]).startswith("boiler") and str(one["place"]).endswith("outlet")
    ]
    made: list[Shape] = [*_sun_and_store(figures, mixed)]
    inlets = [float(figures[f"receiver_pressure_{stage}_bar_a"]) for stage in stages]
    for place, pressure in enumerate(boilers):
        nearest = min(range(len(inlets)), key=lambda stage: abs(inlets[stage] - pressure))
        made += _boiler(place, pressure, FIRST + STEP * nearest, mixed)
    for place, stage in enumerate(stages):
        made += _stage(place, stage, inlets[place], last=place == len(stages) - 1)
    return [*made, *_cold_end(len(stages), figures, len(boilers), mixed)]


def _label(x: float, y: float, *lines: str) -> list[Shape]:
    return [Words(x, y - 1.4 * TEXT * place, text, TEXT, centred=True) for place, text in enumerate(lines)]


def _valve(x: float, y: float, layer: str = "outline") -> list[Shape]:
    """Two triangles, point to point: a valve that can be shut."""
    return [
        Stroke(((x - 9, y + 6), (x + 9, y - 6), (x + 9, y + 6), (x - 9, y - 6)), layer, closed=True),
    ]


def _sun_and_store(figures: Mapping[str, Any], mixed: bool) -> list[Shape]:
    volume, top = float(figures["store_volume_L"]), float(figures["top_temperature_degC"])
    made: list[Shape] = [
        box(20, 200, 70, 120, "hot"),
        Stroke(((20, 200), (90, 320)), "hot"),
        *_label(55, 185, "collectors", f"{float(figures['collector_area_m2']):.3g} m2"),
        box(150, 160, 100, 220, "hot"),
        Words(172, 145, f"store {volume:.0f} L", TEXT),
        Words(172, 132, f"full {top:.0f} degC, vented", TEXT),
        Stroke(((185, 380), (185, 400)), "hot"),
        Stroke(((90, 310), (150, 310)), "hot"),
        Stroke(((90, 210), (150, 210)), "hot"),
        Ring(120, 210, 9, "hot"),
    ]
    if mixed:
        points = tuple((165 + 70 * (place % 2), 190 + 14 * place) for place in range(12))
        made.append(Stroke(points, "fluid"))
    return made


def _boiler(place: int, pressure: float, to: float, mixed: bool) -> list[Shape]:
    """One boiler with its gauge and relief valve, its water, and its vapour line to the stage at ``to``."""
    y = STEAM - LEVEL * place
    made: list[Shape] = [*_valve(385, y, "fluid"), Words(398, y + 5, f"{pressure:.2f} bar abs.", TEXT)]
    if mixed:
        made += [Stroke(((235, 344), (300, 344), (300, y), (to, y)), "fluid")]
        made += [Words(306, 346, "from the coil, the boiler", TEXT)]
    else:
        made += [box(300, y - 20, 60, 40), *_label(330, y - 4, f"boiler {place + 1}")]
        made += [Stroke(((360, y), (to, y)), "fluid")]
        water = ((250, 370), (275, 370), (275, y - 12), (300, y - 12))
        made += [Stroke(((345, y + 20), (345, y + LEVEL - 20)) if place else water, "hot")]
        if place:  # liquid lifted to the next hotter boiler
            made += [Stroke(((355, y + 20), (355, y + LEVEL - 20)), "fluid"), Ring(355, y + 30, 5, "fluid")]
    foot = y if mixed else y + 20
    made += [Stroke(((312, foot), (312, y + 32)), "fluid"), Ring(312, y + 39, 7, "fluid")]
    made += [Stroke(((332, foot), (332, y + 26)), "fluid"), *_valve(332, y + 32, "fluid")]
    if place == 0:
        made += [Words(346, y + 30, "gauge; relief valve, no valve before it", TEXT)]
    return made


def _stage(place: int, stage: int, pressure: float, *, last: bool) -> list[Shape]:
    """Receiver, cylinder and crank of one stage, and what it hands on."""
    x = FIRST + STEP * place
    made: list[Shape] = [
        Stroke(((x, STEAM - LEVEL * place), (x, 262)), "fluid"),
        box(x - 18, 222, 36, 40),
        Words(x + 24, 240, f"receiver {stage}", TEXT),
        Words(x + 24, 226, f"{pressure:.2f} bar abs.", TEXT),
        Stroke(((x, 222), (x, 200)), "fluid"),
        box(x - 22, 140, 44, 60),
        Stroke(((x - 22, 172), (x + 22, 172)), "moving"),
        Stroke(((x, 172), (x + 10, 112)), "moving"),
        Ring(x, 104, 14, "axis"),
        Words(x + 28, 150, f"cylinder {stage}", TEXT),
    ]
    out = x + 0.5 * STEP if last else x + STEP
    way = ((x + 22, 190), (x + 100, 190), (x + 100, 275), (out, 275), (out, 262))
    made.append(Stroke(((x + 22, 190), (x + STEP - 40, 190)) if last else way, "fluid"))
    return made


def _cold_end(stages: int, figures: Mapping[str, Any], boilers: int, mixed: bool) -> list[Shape]:
    """Condenser, feed pump with bypass, the feed back to the boilers, and the hot water back to the store."""
    x, lowest = FIRST + STEP * stages - 40, STEAM - LEVEL * (boilers - 1) - 20
    into, foot = (165.0, 190.0) if mixed else (330.0, lowest)
    made: list[Shape] = [
        box(x, 120, 84, 90),
        *_label(x + 42, 170, "condenser", f"{float(figures['condenser_pressure_bar_a']):.2f} bar abs."),
        Stroke(((x + 84, 140), (x + 134, 140)), "cold"),
        Ring(x + 116, 140, 8, "cold"),
        Stroke(((x + 84, 190), (x + 134, 190)), "cold"),
        Words(x + 92, 162, "cooling", TEXT),
        Words(x + 92, 151, "water", TEXT),
        Ring(x - 40, 40, 14, "fluid"),
        *_label(x - 40, 14, "feed pump"),
        Stroke(((x - 62, 40), (x - 62, 66), (x - 18, 66), (x - 18, 40)), "fluid"),
        Words(x - 60, 71, "bypass", TEXT),
        *_valve(into + 60, 40, "fluid"),
        Words(into + 40, 54, "opens one way", TEXT),
    ]
    if float(figures["regenerator_effectiveness"]) > 0.0:
        made += _regenerator(x, (into, foot))
    else:
        made += [Stroke(((x + 42, 120), (x + 42, 40), (into, 40), (into, foot)), "fluid")]
    if not mixed:
        made += [Stroke(((300, lowest + 8), (275, lowest + 8), (275, 180), (250, 180)), "hot")]
        made += [Ring(275, 215, 8, "hot")]
    return made


def _regenerator(x: float, boiler: tuple[float, float]) -> list[Shape]:
    """Exhaust vapour before the condenser at ``x`` warms the feed on its way from the pump to the foot of a boiler."""
    to_it = ((x + 42, 120), (x + 42, 40), (x - 75, 40), (x - 75, 84), (x - 14, 84), (x - 14, 172))
    from_it = ((x - 28, 172), (x - 28, 96), (x - 90, 96), (x - 90, 40), (boiler[0], 40), boiler)
    return [
        box(x - 40, 172, 32, 34),
        Words(x - 16, 214, "regenerator", TEXT),
        Stroke(to_it, "fluid"),
        Stroke(from_it, "fluid"),
    ]
