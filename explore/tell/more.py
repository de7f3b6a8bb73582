"""What a little more of each part at hand would add to a design, in words that terminal and page share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from explore.figures.format import NONE, label, lower, shown, three_digits
from explore.tell.narrator import broken_words
from explore.tell.terminal import paragraph, table

Found = Mapping[str, Any]
TITLE = "What a little more of each part would add"
HEADER = ("a tenth more of", "from", "to", "kWh a year", "EUR", "kWh a year per EUR")
SCOPE = (
    "Each part by itself, the design evaluated again with a tenth more of it; the other parts stay as they are, and the "
    "speed follows so that the cylinders do. Prices are those of the bill for what is bought beside; a larger "
    "cylinder is bought whole."
)
NOTHING = 5e-4
"""Share of a price or an energy that is none: less than a figure of three digits shows."""
SPEED = "speed_rev_per_min"
SEEN = 0.005
"""Share by which a speed moves before it is told: half a hundredth is a belt's slip."""
FULL = 0.95
"""Share of a room or a bottle from which on the plant fills it: a twentieth is no use for anything else."""


def rows(found: Found) -> list[tuple[str, ...]]:
    """Write what each part adds as a line under :data:`HEADER`."""
    return [_row(one) for one in found.get("parts", ())]


def _row(one: Found) -> tuple[str, ...]:
    gains = adds(one)
    price = "yours" if _free(one) else three_digits(one["cost_EUR"])
    ratio = one.get("kWh_per_year_per_EUR")
    return (
        str(one["part"]),
        shown(repr(one["before"]), one["size"], with_unit=False),
        shown(repr(one["after"]), one["size"]),
        f"+{three_digits(one['energy_kWh_per_year'])}" if gains else "nothing",
        price,
        "free" if gains and _free(one) else three_digits(ratio) if gains and ratio is not None else NONE,
    )


def adds(one: Found) -> bool:
    """Whether more of a part gives more shaft energy, and the plant keeps its limits."""
    return one["energy_kWh_per_year"] > NOTHING and not one.get("broken")


def _free(one: Found) -> bool:
    return bool(one["cost_EUR"] <= NOTHING)


def sentences(found: Found) -> list[str]:
    """Say how each part is used, which add nothing and why, and what gas and room have to say."""
    parts = found.get("parts", ())
    said = [words for one in parts if (words := _how(one))]
    return [*said, *_nothing([one for one in parts if not adds(one)]), *_held(found), *_powers(found)]


def _how(one: Found) -> str:
    """Say how a part is used whose size is no input of the design; nothing of others."""
    moves = _moves(one)
    if not adds(one) or not moves:
        return ""
    yours = ", which is there already and left unused" if _free(one) else ""
    return f"More {one['part']}{yours}: {moves}."


def _moves(one: Found) -> str:
    """Write the inputs that move with a part, beside its own and the speed by itself; empty without one."""
    moved = {name: pair for name, pair in one.get("moved", {}).items() if name != one["size"]}
    if not set(moved) - {SPEED} and not one["size"].startswith("swept_volume"):
        return ""
    return ", ".join(
        f"{lower(label(name))} from {shown(repr(pair[0]), name, with_unit=False)} to {shown(repr(pair[1]), name)}"
        for name, pair in moved.items()
        if name != SPEED or abs(pair[1] - pair[0]) > SEEN * abs(pair[0])
    )


def _nothing(parts: Sequence[Found]) -> list[str]:
    said = []
    for one in parts:
        moves, lost = _moves(one), one["energy_kWh_per_year"]
        adds_none = f"More {one['part']} add{'' if str(one['part']).endswith('s') else 's'} nothing"
        if one.get("broken"):
            said.append(f"More {one['part']} would break: {broken_words(one['broken'])}.")
        elif lost < -NOTHING:
            use = f"with {moves} " if moves else ""
            said.append(f"{adds_none}: {use}the plant gives {three_digits(-lost)} kWh a year less.")
        else:
            said.append(f"{adds_none}.")
    return said


def _held(found: Found) -> list[str]:
    said = []
    for key, what, more in (("charge_kg", "kg in the bottle", "gas"), ("room_m3", "m³ of the room", "room")):
        if not (pair := found.get(key)):
            continue
        used, there = pair
        full = used > FULL * there
        end = "alone adds nothing, but a larger plant would need it" if full else "adds nothing"
        said.append(
            f"The plant needs {three_digits(used)} of {three_digits(there)} {what}: more {more} {end}."
        )
    return said


def _powers(found: Found) -> list[str]:
    """Say what the plant gives at other powers: that size is a choice, and no part decides it."""
    said = []
    for one in found.get("powers", ()):
        gain = one["energy_kWh_per_year"]
        words = f"{three_digits(abs(gain))} kWh a year {'more' if gain > 0.0 else 'less'} for "
        words += f"{three_digits(one['cost_EUR'])} EUR" if one["cost_EUR"] > NOTHING else "no EUR more"
        needs = [
            f"{lower(label(name))} {shown(repr(size), name)}" for name, size in one.get("needs", {}).items()
        ]
        words += f" ({', '.join(needs)})" if needs else ""
        broken = f", but breaks: {broken_words(one['broken'])}" if one.get("broken") else ""
        said.append(f"at {three_digits(one['power_W'])} W it gives {words}{broken}")
    if not said:
        return []
    return [
        f"The power is your choice: {'; '.join(said)}. A search at that power finds a plant that suits it better."
    ]


def text(found: Found, name: str) -> str:
    """Return all of it for the terminal, ``name`` saying of which design; empty where there is nothing."""
    if not found.get("parts"):
        return ""
    lines = table([list(HEADER), *map(list, rows(found))], whole=True)
    return "\n".join([f"{TITLE}: {name}", lines, *map(paragraph, [SCOPE, *sentences(found)])])
