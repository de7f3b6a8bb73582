"""What is known of a column beside its values: the part that inputs, figures and limits have in common."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Digits = Literal["three", "whole", "share", "words"]
Better = Literal["", "more", "less"]
Place = Literal["card", "terminal", "compare", "table", "hover", "parallel", "hazards", "size"]

ABSOLUTE, GAUGE = "bar abs.", "bar gauge"
"""Units of pressure as shown: above vacuum, and above the air outside."""

APPLIES = {
    "always": "every design",
    "stratified": "a stratified store",
    "mixed": "a fully mixed store",
    "levels": "more than one pressure level",
    "level 2": "a second pressure level",
    "level 3": "a third pressure level",
    "stage 2": "a second expander stage",
    "stage 3": "a third expander stage",
    "regenerator": "a regenerator",
    "subcritical": "a fluid that is below its critical point in a boiling store",
    "bottled": "bottled gas whose composition is a range",
    "hazardous": "a flammable or toxic fluid",
    "serving": "a plant that gives work in the year",
    "superheated": "vapour that reaches the exchanger superheated",
    "at hand": "tubes of a length at hand",
    "bounded": "a figure that the design has",
}
"""When a column is filled, and in words which designs have it."""


@dataclass(frozen=True)
class Record:
    """One column: its name (unit at the end), the unit shown, its label and the group it stands in.

    ``digits`` says how it is written: three significant, whole, as a percentage, or as words. ``better`` is which
    way a reader would want it, ``applies`` a key of :data:`APPLIES`, ``places`` the lists in which it is shown
    beside the whole sheet, ``scale`` how much of it counts 1 when a limit on it is broken.
    """

    name: str
    unit: str
    label: str
    group: str
    digits: Digits = "three"
    better: Better = ""
    applies: str = "always"
    places: tuple[Place, ...] = ()
    scale: float = 1.0
    short: str = ""

    def __post_init__(self) -> None:
        if self.applies not in APPLIES:
            raise ValueError(f"{self.name}: {self.applies!r} is none of {', '.join(APPLIES)}")

    @property
    def title(self) -> str:
        """The label as a heading has it: short where there is a shorter one."""
        return self.short or self.label


CHOICE = "The choice"
WORK = "Work and efficiency"
PRESSURES = "Pressures"
WATER = "Store and water"
CYLINDERS = "Cylinders"
EXCHANGERS = "Exchangers, flow and charge"
YEAR = "The year"
MONEY = "Money"
MARGINS = "Margins to the limits (negative is safe)"
OTHER = "Other figures"
GROUPS = (CHOICE, WORK, PRESSURES, WATER, CYLINDERS, EXCHANGERS, YEAR, MONEY, MARGINS, OTHER)
"""Groups of columns, in the order of a design sheet."""

SCALES = {
    "K": 10.0,
    "W/K": 10.0,
    "bar": 5.0,
    ABSOLUTE: 5.0,
    GAUGE: 5.0,
    "EUR": 2000.0,
    "EUR/a": 2000.0,
    "EUR/kWh": 2000.0,
    "kJ/L": 5.0,
    "kJ/kg": 5.0,
    "m³": 100.0,
}
"""How much of a unit counts 1 when a limit is broken; 1 of any other. Only the balance between limits depends on it."""
