"""What is told of every design that a page can show, ``told.json``: cautions, walls, relief setting, packed small.

Cautions of thousands of designs are the same few sentences with other numbers: each sentence is kept once, numbers apart.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

SLOT = "\u0001"
"""Stands in a sentence where a number was; no sentence has it."""
NUMBER = re.compile(r"\d+(?:\.\d+)?")
WALL_DIGITS = 3
"""Significant digits of a wall in mm: finer than plate is rolled."""

Caution = Mapping[str, str]


def pack(told: Sequence[Iterable[Caution]]) -> dict[str, Any]:
    """Pack the cautions of designs: ``sentences`` as level, topic and text with slots, ``designs`` as their numbers.

    A design's caution is ``[place of the sentence, number, number, ...]``; :func:`unpack` undoes it.
    """
    places: dict[tuple[str, str, str], int] = {}
    designs = []
    for cautions in told:
        packed = []
        for one in cautions:
            text = str(one["text"])
            sentence = (str(one.get("level", "")), str(one.get("topic", "")), NUMBER.sub(SLOT, text))
            packed.append([places.setdefault(sentence, len(places)), *NUMBER.findall(text)])
        designs.append(packed)
    return {"sentences": [list(sentence) for sentence in places], "designs": designs}


def unpack(packed: Mapping[str, Any]) -> list[list[dict[str, str]]]:
    """Return the cautions that :func:`pack` packed: a list for each design."""
    sentences = packed["sentences"]
    return [
        [_filled(sentences[place], numbers) for place, *numbers in design] for design in packed["designs"]
    ]


def _filled(sentence: Sequence[str], numbers: Sequence[str]) -> dict[str, str]:
    level, topic, text = sentence
    first, *rest = text.split(SLOT)
    words = first + "".join(number + part for number, part in zip(numbers, rest, strict=True))
    return {"level": level, "topic": topic, "text": words}


def pack_tubes(tried: Sequence[Mapping[str, Any]]) -> list[list[str] | None]:
    """Pack the limits that each design breaks with exchangers made of tubes only; null where it was not tried so."""
    return [list(one["broken"]) if one else None for one in tried]


def pack_walls(hazards: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Pack walls and relief settings: ``parts`` as part and material, ``walls`` [mm] and ``relief`` [bar gauge] by design.

    A design without a part has null in its place; one of which nothing is known has an empty list and null.
    """
    parts: dict[tuple[str, str], int] = {}
    for one in hazards:
        for wall in one.get("walls", ()):
            parts.setdefault((str(wall["part"]), str(wall["material"])), len(parts))
    walls = []
    for one in hazards:
        row: list[float | None] = [None] * len(parts)
        for wall in one.get("walls", ()):
            place = parts[str(wall["part"]), str(wall["material"])]
            row[place] = float(f"{wall['wall_mm']:.{WALL_DIGITS}g}")
        walls.append(row if one.get("walls") else [])
    return {
        "parts": [list(part) for part in parts],
        "walls": walls,
        "relief": [one.get("relief_setting_bar_g") for one in hazards],
    }
