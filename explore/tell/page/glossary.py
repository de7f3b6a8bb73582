"""Words of the page that a builder need not know, explained once: on hover, and in a list."""

from __future__ import annotations

GLOSSARY: dict[str, str] = {
    "pinch": "the least temperature difference in an exchanger; the smaller, the larger its surface",
    "exergy": "the work that heat could give at best, down to the temperature of the cooling water",
    "second-law efficiency": "work done as a share of the exergy of the hot water",
    "isentropic efficiency": "work done as a share of what an engine without any loss would do",
    "back work": "the share of the engine's work that its pumps take",
    "subcooling": "how far the liquid is cooled below boiling, so that the pump gets no vapour",
    "superheat": "how far the vapour is heated above boiling",
    "stratified": "a store whose hot water lies on the cold, taken from the top and returned at the bottom",
    "mixed": "a store of one temperature throughout, which falls while the engine runs",
    "regenerator": "an exchanger in which the exhaust warms the liquid on its way to the boiler",
    "standstill": "the engine at rest with the store full and hot: the boiler is then as hot as the store",
    "cost: levels": "a line of the bill: boiler set, receiver, feed pump and safety valve of every pressure level",
    "peak pressure": "the most that the plant holds without a fault: with the engine standing and the store full",
    "design pressure": "what vessels are made for: a tenth above the greater of standstill and fault, at least 0.5 bar",
    "relief": "the valve that opens at the design pressure and blows outdoors",
    "test pressure": "what the vessels are tried with, by water, before first use",
    "hypervolume": "the share of the box between the scenario's ideal and reference values that the designs dominate",
    "front": "the designs that no other beats in every objective at once",
    "stagnation": "hours in which the collectors have heat to spare that no store takes",
    "sunless hours": "what a full store's work is in hours of the power asked; an engine that fades gives it for less",
    "swept volume": "the room that a piston passes in one stroke",
    "lower flammability limit": "the least share of the gas in air that burns",
    "safety class": "A or B for less or more toxic, 1 to 3 for how readily it burns, as ISO 817 has them",
}
"""Terms in small letters, as they occur within labels."""


def explained(text: str) -> str:
    """Return the meaning of the terms that occur in a label, empty where none does."""
    small = text.lower()
    found = [f"{term}: {meaning}" for term, meaning in GLOSSARY.items() if term in small]
    return "; ".join(found)
