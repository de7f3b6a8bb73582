"""First start, stop, standing hot and winter, in a builder's words: what to do, this design's figures, what to heed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from explore.tell.build.step import Step, Table, amount, bar, lines, plain
from explore.units import fixed

if TYPE_CHECKING:
    from explore.bench.commissioning import Handling


def running(told: Mapping[str, Any], hazards: Mapping[str, Any]) -> list[Step]:
    """Return the steps of a filled plant, of what ``bench/commissioning.py`` gathered."""
    return [
        _start(told["start"], hazards),
        _stop(told["start"], hazards),
        _standing(told["rest"], told["handling"], hazards),
        _winter(told["winter"]),
    ]


def _start(start: Mapping[str, Any], hazards: Mapping[str, Any]) -> Step:
    coil = _is_coil(start)
    size, most = (" at the sizing point", ", at most") if coil else ("", "")
    receivers = ", ".join(fixed(one, 2) for one in start["receivers_bar_g"][1:])
    clearance = ", ".join(plain(one) for one in start["clearance_mL"])
    figures = [
        (f"Boiler, running{size}", bar(start["boiler_bar_g"])),
        *(
            [("Boiler, running from a full store", f"up to {bar(start['most_bar_g'])}")]
            if "most_bar_g" in start
            else []
        ),
        *([("Receivers before the next stages", f"{receivers} bar gauge")] if receivers else []),
        ("Condenser, running", bar(start["condenser_bar_g"])),
        ("Vapour to the engine", f"{start['vapour_degC']:.0f} °C"),
        (
            "Speed and torque, rated",
            f"{start['speed_rev_per_min']:.0f} rev/min, {start['torque_Nm']:.1f} N m",
        ),
        *_full(start),
        (f"Feed{size}", f"{start['fluid_kg_per_min']:.2f} kg/min"),
        (
            "Hot water",
            f"{amount(start['hot_water_L_per_min'], 'L/min')}, back at {start['return_degC']:.0f} °C"
            if not coil
            else "none flows: the boiler is a coil in the store",
        ),
        (f"Cooling water{most}", amount(start["cooling_water_L_per_min"], "L/min")),
        (
            "Heat that the cold engine takes first",
            f"{amount(start['warm_up_kJ'], 'kJ')}, {amount(start['warm_up_L'], 'L', 2)} of hot water",
        ),
        ("Room for liquid above the piston, each stage", f"{clearance} mL"),
    ]
    return Step(
        "First start",
        (
            "Look at the gauges cold: with explore task=gauge they tell whether the charge is what it should be. "
            "Load off, belt off.",
            f"Engine's valve shut and locked, {'the store still cold' if coil else 'no hot water flowing yet'}: turn the "
            "engine by hand two whole turns with its drains to the condenser open: what resists is liquid. From then on "
            "hands and bars stay off the flywheel.",
            f"Cooling water on, and felt to flow. {_warming(coil)} The engine's valve stays shut.",
            "Open the engine's valve a crack with the drains open: it warms through, and may start to turn at "
            "once. Close the drains when they run dry. Bring it up to speed over some minutes, then the load.",
            "Within the first hour: soap on every joint again, bearings by hand, level and speed written down "
            "every ten minutes.",
        ),
        figures,
        (
            f"A cylinder with more liquid than the {clearance} mL above its piston breaks: never force an engine "
            "that will not turn.",
            f"Above {bar(float(hazards['standstill_pressure_bar_g']))} at the boiler something is wrong: "
            f"{_cooling_down(coil)}, and find out why with the plant at rest and cold.",
            "Guard flywheel, belt and cranks before it turns; nobody alone at a first start.",
        ),
    )


def _full(start: Mapping[str, Any]) -> list[tuple[str, str]]:
    speed, torque = start.get("full_rev_per_min", math.nan), start.get("full_Nm", math.nan)
    if not math.isfinite(speed) or not math.isfinite(torque):
        return []
    return [("Speed and torque from a full store", f"{speed:.0f} rev/min, {torque:.1f} N m")]


def _is_coil(start: Mapping[str, Any]) -> bool:
    return not math.isfinite(start["hot_water_L_per_min"])


def _warming(coil: bool) -> str:
    """Say how heat comes to the boiler for the first time."""
    if coil:
        return (
            "The coil has no tap: let the sun warm the store for the first time with somebody there, and read the "
            "boiler's gauge at every 10 K; it follows the store."
        )
    return "Then hot water to the boiler, a little at a time; the boiler's gauge follows the water."


def _cooling_down(coil: bool) -> str:
    """Say how heat is taken from the boiler in trouble."""
    if coil:
        return "cover the collectors, let hot water out of the store to a drain and cold water in"
    return "hot water off"


def _stop(start: Mapping[str, Any], hazards: Mapping[str, Any]) -> Step:
    coil = _is_coil(start)
    first = (
        "The coil in the store cannot be cut off from the heat: shut the valve between boiler and engine while the "
        "load still holds the engine back."
        if coil
        else "Shut off the hot water and let the engine work on until the boiler's gauge falls; then shut the "
        "valve between boiler and engine while the load still holds the engine back."
    )
    return Step(
        "Stop",
        (
            first,
            "Leave the cooling water running until the condenser has taken what the engine held; then drains open, "
            "feed pump off.",
            "In haste: shut the valve between boiler and engine. The boiler then stands at the pressure of the "
            "store, for which it is built.",
        ),
        [
            ("Boiler left on hot water rises to", bar(float(hazards["standstill_pressure_bar_g"]))),
            ("With the store boiling, the fault", bar(float(hazards["fault_pressure_bar_g"]))),
        ],
        (
            "No valve that is shut may hold back the relief valve, or keep liquid between two ends. An engine that "
            "loses its load races: the load comes off last.",
            f"{_hot_still(coil, presses=float(hazards['standstill_pressure_bar_g']) > 0.0)} Nothing is opened, loosened "
            "or gripped with bare hands until gauge and thermometer say that it may.",
        ),
    )


def _hot_still(coil: bool, *, presses: bool) -> str:
    """Say how long a boiler stays hot and, where its fluid presses outwards, under pressure."""
    how_long = (
        "the boiler stays as hot as the store, for days"
        if coil
        else "boiler, pipes and engine stay hot for hours"
    )
    if presses:
        return f"Stopped is neither cold nor without pressure: {how_long}, and under pressure while they are warm."
    return f"Stopped is not cold: {how_long}; where it is opened air rushes in, and what is hot boils."


def _standing(rest: Mapping[str, Any], handling: Handling, hazards: Mapping[str, Any]) -> Step:
    vacuum = rest["rest_bar_g"] < 0.0
    heed = [
        "Not shut off, the liquid distils into the coldest part of the plant: before the next start turn by hand, "
        "engine's valve shut and locked, drains open.",
    ]
    if vacuum:
        heed.insert(
            0,
            "Engine and condenser stand below the air's pressure: every leak lets air in. A gauge above the "
            "table's pressure after a night is air, or a plant too full: explore task=gauge tells how to find out. "
            f"Until then neither warm nor open it. {_air_out(handling)}",
        )
    return Step(
        "Standing hot",
        (
            "Look at the gauges whenever you pass: at one temperature a plant with liquid in it shows the table's "
            "pressure and no other.",
            "The relief valve is the only thing between a boiling store and the boiler's walls. Lift it as its "
            "maker says, never plug it, and lead its outlet outdoors away from flames and people.",
        ),
        [
            ("Full store", bar(float(hazards["standstill_pressure_bar_g"]))),
            ("Store boiling, the fault", bar(float(hazards["fault_pressure_bar_g"]))),
            ("Relief valve opens at the latest", bar(float(hazards["relief_setting_bar_g"]))),
            (f"Engine and condenser, shut off, at {rest['rest_degC']:.0f} °C", bar(rest["rest_bar_g"])),
        ],
        tuple(heed),
        (Table(("At, °C", "bar gauge"), lines(rest["standing"])),),
    )


def _air_out(handling: Handling) -> str:
    """Say how air gets out of a filled plant: a vacuum pump would take the fluid along."""
    if handling.may_be_let_out:
        return (
            "A vacuum pump on a filled plant takes the fluid along: draw the fluid off first, then pull down and fill "
            "anew."
        )
    sparks = (
        " With air it explodes: nothing that sparks, no ordinary electric pump, only machines made for fluids that burn."
        if handling.burns
        else ""
    )
    return (
        "Never put a vacuum pump on a filled plant: it takes the fluid along. People licensed for it first recover the "
        f"fluid into a cylinder, then the air is pumped out and the plant is filled anew.{sparks}"
    )


def _winter(found: Mapping[str, Any]) -> Step:
    if found["freezes"]:
        place = (
            f"Here the air falls to {found['coldest_degC']:.0f} °C in the year of the weather file, and a real year "
            "may be colder."
        )
    elif found["indoor"]:
        place = (
            f"Store and engine stand indoors at {found['coldest_degC']:.0f} °C; if the heating fails, or a pipe leads "
            f"outdoors, what follows holds for {found['frost_degC']:.0f} °C."
        )
        if found["air_degC"] < 0.0:
            place += (
                f" The collectors stand in air that falls to {found['air_degC']:.0f} °C in the year of the weather file; "
                "with their water let out, what they are counted on to bring in winter is not there."
            )
    else:
        place = (
            f"The year of the weather file has no frost; what follows holds for {found['frost_degC']:.0f} °C."
        )
    figures = [
        (
            f"A full store at 20 °C in air of {found['frost_degC']:.0f} °C reaches 0 °C after",
            amount(found["store_days"], "days", 2),
        ),
        *(
            (f"The fluid at {T:.0f} °C shows", bar(pressure))
            for T, pressure in ((0.0, found["freezing_bar_g"]), (found["frost_degC"], found["frost_bar_g"]))
            if math.isfinite(pressure)
        ),
    ]
    heed = [
        f"Ice needs {found['swells_percent']:.0f} % more room than its water and bursts tubes and condenser; the "
        "water side then leaks into the fluid. Pipes and condenser freeze in a night, long before the store.",
        "A vent that is frozen shut closes the store: a closed store passes every pressure on this sheet.",
    ]
    fluid = "The fluid stays where it is."
    if found["fluid_freezes_degC"] > found["frost_degC"]:
        fluid = (
            f"The fluid freezes at {found['fluid_freezes_degC']:.0f} °C: draw it off as well, out of boiler, "
            "condenser, feed pump and low places, and fill anew in spring."
        )
    elif math.isfinite(found["fluid_freezes_degC"]):
        heed.append(
            f"The fluid itself freezes at {found['fluid_freezes_degC']:.0f} °C: keep all of the plant above that."
        )
    return Step(
        "Winter",
        (
            place,
            "Before the first frost let the water out of collectors, condenser, water pumps and pipes at their "
            f"lowest points, and leave the drains open; blow the low places through. {fluid}",
            "A store that stays filled is kept warm by its collectors, or watched: the figure says how long it "
            "lasts.",
            "In spring: water in first, then look at the gauges with explore task=gauge, then as at the first "
            "start.",
        ),
        figures,
        tuple(heed),
    )
