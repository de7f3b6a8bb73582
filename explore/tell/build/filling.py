"""From the test with water to the filled plant, in a builder's words: what to do, this design's figures, what to heed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from explore.tell.build.running import running
from explore.tell.build.step import Step, Table, amount, bar, lines, plain

if TYPE_CHECKING:
    from explore.bench.commissioning import Handling

LOG_COLUMNS = (
    "Date, time",
    "Air, °C",
    "Store top, °C",
    "Cooling water in, out, °C",
    "Boiler, bar gauge",
    "Condenser, bar gauge",
    "Speed, rev/min",
    "Scale, kg",
    "What was done, what was seen, by whom",
)
LOG_LINES = 16
"""Lines of the sheet to write on: as many as fit on a page across."""


def steps(told: Mapping[str, Any], hazards: Mapping[str, Any]) -> list[Step]:
    """Return the steps of what ``bench/commissioning.py`` gathered; ``hazards`` as a sheet has them."""
    return [
        _strength(told, hazards),
        _leak(told["leak"], told["volume_L"], hazards),
        _evacuate(told["evacuate"], told["handling"], told["volume_L"]),
        _fill(told["fill"], told["handling"], told["volume_L"]),
        *running(told, hazards),
    ]


def _strength(told: Mapping[str, Any], hazards: Mapping[str, Any]) -> Step:
    return Step(
        "Strength, with water",
        (
            "Test each vessel and the pipework with water before anything else, as the code that applies says, and "
            "by whom it says. Fill from below until no air is left, raise the pressure slowly, hold it, look for "
            "water and for bulges.",
            f"The test lies above the {bar(float(hazards['relief_setting_bar_g']))} at which the relief valve opens, and "
            "above what many gauges show: the test pump has a gauge of its own; take off valve and gauges, plug their "
            "places for this test alone, and put them back before the next step. Without its relief valve the plant sees "
            "neither gas nor heat.",
            "Let the water out and dry everything: what stays behind freezes, rusts and spoils the vacuum.",
        ),
        [
            ("Test with water", bar(float(hazards["test_pressure_bar_g"]))),
            ("Space for the fluid in the whole plant", amount(told["volume_L"], "L")),
        ],
        (
            "Never test strength with air or another gas. Nobody stands beside a part under test, and nobody "
            "tightens a joint that is under pressure.",
        ),
    )


def _fall(leak: Mapping[str, Any]) -> str:
    """Say what a leak of a tenth of the charge a year shows, and whether the test sees it."""
    seen, hours = leak["seen_g_per_year"], leak["asked_hours"]
    words = (
        f"A leak of {amount(leak['asked_g_per_year'], 'g')} of vapour a year, a tenth of the charge, lets it fall by "
        f"{amount(1e3 * leak['asked_fall_bar'], 'mbar')} in {leak['hours']:.0f} h. A gauge that is read to 0.02 bar "
        f"and a thermometer good for 1 K show a fall of {amount(1e3 * leak['seen_fall_bar'], 'mbar')}, which is "
        f"{amount(seen, 'g')} a year; "
    )
    if hours <= leak["hours"]:
        return f"{words}so the test sees that leak."
    return f"{words}so that leak shows after {amount(hours / 24.0, 'days', 2)} only. Soap finds it sooner."


def _air_comes_in(leak: Mapping[str, Any]) -> str:
    """Say what the test is for where the fluid never presses outwards."""
    return (
        "This fluid stays below the air's pressure, running and standing: through a leak no fluid goes, air comes in and "
        "stops the condenser. No fall is small enough: mend whatever soap shows, until none is left beyond the "
        f"{amount(1e3 * leak['seen_fall_bar'], 'mbar')} that a gauge read to 0.02 bar and a thermometer good for 1 K tell."
    )


def _grams(leak: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """Return what a fall of the pressure is in fluid that leaks."""
    return (
        (
            "A fall of 0.1 bar more than the temperature explains, in 24 h, is a leak of",
            f"{amount(leak['g_per_year_of_a_tenth_bar'], 'g')} of fluid a year as vapour; a joint below the liquid "
            "leaks several times as much",
        ),
        ("A tenth of the charge a year is", f"{amount(1e3 * leak['asked_fall_bar'], 'mbar')} in 24 h"),
    )


def _leak(leak: Mapping[str, Any], volume_L: float, hazards: Mapping[str, Any]) -> Step:
    grams = leak["asked_fall_bar"] > 0.0  # nor NaN
    return Step(
        "Leaks, with dry nitrogen or dry air",
        (
            "Only after the test with water. Use nitrogen from a bottle through a pressure reducer with a relief "
            "valve of its own; dry air will do where no fluid or oil has been in the plant yet. Never oxygen, "
            "never a fuel gas.",
            "Let in 0.5 bar, listen, brush every joint with soap water; then go up in steps to the pressure below, "
            "soap again.",
            "Shut off the bottle. Write down gauge and temperature of the pipe; read both again after "
            f"{leak['hours']:.0f} h, if you can at the same temperature. Compare with the table: it holds for a "
            "filling at 20 °C.",
            _fall(leak) if grams else _air_comes_in(leak),
            "Let the gas off outdoors, slowly, to nothing on the gauge. Then mend what leaks, and test again.",
        ),
        [
            ("Test pressure, a tenth below the relief setting", bar(leak["test_bar_g"])),
            ("Change with each kelvin", f"{1e3 * leak['per_K_bar']:.1f} mbar"),
            ("Nitrogen in the plant then", amount(leak["nitrogen_g"], "g")),
            *(_grams(leak) if grams else ()),
            ("Energy of the gas in the plant", amount(leak["energy_kJ"], "kJ")),
        ],
        (
            f"The gas holds {amount(leak['energy_kJ'], 'kJ')}, as much as "
            f"{amount(leak['energy_kJ'] / 0.0981, 'kg')} falling 10 m: when a part gives way it flies. Nobody "
            "stands in line with ends and covers; stay well below the "
            f"{bar(float(hazards['relief_setting_bar_g']))} of the relief valve, which stays in place. Nitrogen in "
            "a closed room suffocates without warning: air the room.",
            "A piston whose back is open to the air loses fluid past its rings for ever: a tight crankcase joined "
            "to the exhaust, or a rod with a gland, belongs to what is tested.",
        ),
        (Table(("Pipe, °C", "bar gauge without a leak"), lines(leak["expected"])),),
    )


def _rise(mbar_per_hour: float) -> str:
    """Say how long a small leak takes to be read in vacuum; nothing where the leak test names none."""
    if not (math.isfinite(mbar_per_hour) and mbar_per_hour > 0.0):
        return ""
    return (
        " A leak of a tenth of the charge a year lets it rise by 1 mbar in "
        f"{amount(1.0 / mbar_per_hour, 'hours', 2)}: small leaks are for pressure and soap to find."
    )


def _evacuate(found: Mapping[str, Any], handling: Handling, volume_L: float) -> Step:
    doing = [
        "Turn the engine by hand so that no cylinder is shut off, open all valves inside the plant, and connect "
        "the pump to boiler and condenser side. The plant is dry, empty and at room temperature.",
        f"Pull down; water that was left behind boils off below {found['drying_mbar']:.0f} mbar at 20 °C, and the "
        "gauge stands still meanwhile.",
        "Shut off the pump and wait an hour: that shows gross leaks, and water, which lets the vacuum rise to its own "
        f"pressure and stay there.{_rise(found['rise_mbar_per_hour'])}",
    ]
    if handling.may_be_let_out and found["pushes_out"]:
        doing.append(
            "Without a pump: this fluid may be let out. Drive the air out by its own vapour, at the highest "
            f"places, with the other ends shut: {found['swept_volumes']:g} times the plant's "
            f"{amount(volume_L, 'L')} leave {found['swept_percent']:.1f} % of the air."
        )
        heed = ["What leaves is hot vapour: lead it away in a pipe, and keep hands and faces off."]
    else:
        doing.append(
            "Let in dry nitrogen to just above nothing on the gauge and pull down again, three times in all: the "
            "last columns say what is left of the air. Nitrogen alone, let in to pressure and let off, thins the "
            "air but stays itself and blocks the condenser as air does; the plant has to be pulled down at the end."
        )
        why = (
            "a store below boiling gives it no pressure to drive the air out with"
            if handling.may_be_let_out
            else " and ".join(handling.reasons)
        )
        heed = [
            f"Never drive the air out by letting this fluid out: {why}. Evacuate, or purge with dry nitrogen first."
        ]
    heed.append(
        "Evacuate only what bears it: tubes, receivers and cylinders do, a thin or flat tank may be crushed, and "
        "the store and anything open to it is not part of this. The pump blows off outdoors."
    )
    header = ("Pulled to, mbar", "gas left, g", "adds in the condenser, mbar", "condenses hotter by, K")
    more = tuple(f"of the air after {n}, %" for n in found["pulls"])
    lines = tuple(
        (
            f"{row['pulled_mbar']:g}",
            plain(row["left_g"]),
            plain(row["back_mbar"]),
            plain(row["hotter_K"]),
            *(plain(share) for share in row["air_percent"]),
        )
        for row in found["rows"]
    )
    return Step("Evacuate and purge", tuple(doing), [], tuple(heed), (Table((*header, *more), lines),))


def _fill(fill: Mapping[str, Any], handling: Handling, volume_L: float) -> Step:
    gas = fill["boils_below_room"]
    doing = [
        "Weigh the bottle and write it down. Fill by mass alone, never by the gauge and never by a sight glass; "
        "stop at the charge, and weigh again.",
    ]
    first = fill["vapour_first_bar_g"]
    if handling.mixture:
        doing.append(
            "A mixture is let in as liquid only, or its composition is not that of the bottle. Liquid that flashes "
            "in a vacuum is colder than ice: let the water out of boiler and condenser first, or keep it flowing."
        )
    elif gas:
        doing.append(
            f"Let in vapour first, until the gauge shows {bar(first)}, its pressure at 5 °C; only then liquid. "
            "Liquid let into a vacuum is colder than ice and bursts exchangers that have water in them; keep the "
            "water flowing."
        )
    else:
        doing.append(
            "The fluid is liquid in its can, and the vacuum draws it in through a hose that stays below its level, "
            "so that no air follows. Keep the water in the exchangers flowing meanwhile."
        )
    doing.append(
        "When the bottle no longer gives, run cooling water through the condenser: at "
        f"{fill['cooling_water_degC']:.0f} °C the plant stands at {bar(fill['cooled_bar_g'])}, a bottle at 20 °C at "
        f"{bar(fill['room_bar_g'])}. Do not heat the bottle."
        if gas
        else "Close the filling valve, cap it, and look for leaks again once the plant stands above the air's "
        "pressure."
    )
    share = [(f"{T:.0f}", f"{value:.0f}") for T, value in fill["liquid"]]
    keeps = "the plant holds that much" if fill["keeps_rule"] else "the plant does NOT hold that much"
    heed = [
        "The store is cold while the plant is filled, and no hot water flows: "
        + (
            "a boiler that is hotter than the bottle drives fluid back into it, and a bottle filled beyond its mark "
            "bursts as it warms."
            if gas
            else "in a hot boiler the liquid boils at once and comes back through the hose."
        ),
        "If more went in than the charge, the plant may be full of liquid: then do not warm it, do not run it and "
        "do not open it. Keep it cool and have people licensed for it draw the fluid off into a recovery cylinder "
        "on a scale, filled to 80 % at most.",
        "Liquid shut in between two valves bursts pipe: close a valve only where the other end stays open.",
    ]
    if not fill["keeps_rule"]:
        heed.insert(
            0,
            "By the fill rule this plant is too small for its charge: add a receiver of the volume that lacks "
            "before anything is filled.",
        )
    if handling.burns:
        heed.append(
            "Vapour and air burn: join can or bottle, hose and plant by a wire to earth before anything flows, and "
            "fill outdoors, far from every flame and spark."
        )
    if not handling.may_be_let_out:
        heed.append(
            f"This fluid must not escape: {' and '.join(handling.reasons)}. The room is aired, and people licensed "
            "for it do this where the law says so."
        )
    return Step(
        "Fill by mass",
        tuple(doing),
        [
            ("Charge", f"{fill['charge_kg']:.2f} kg"),
            (
                f"Space for it, at least {amount(fill['least_volume_L'], 'L')} by the fill rule (ADR 4.3.3.2.2, "
                "OSHA 29 CFR 1910.110)",
                f"{amount(volume_L, 'L')}: {keeps}",
            ),
            ("The plant at 20 °C then shows", bar(fill["room_bar_g"])),
        ],
        tuple(heed),
        (Table(("The whole plant at, °C", "filled with liquid, %"), tuple(share)),),
    )
