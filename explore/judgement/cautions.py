"""The cautions that stand beside every design, in plain words and with its numbers."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from explore.judgement import hazards, vessels
from explore.judgement.severity import SEVERITIES, Severity
from explore.units import fixed

if TYPE_CHECKING:
    from explore.config.schema import FluidCard, Scenario

SCALD_DEGC = 60.0
"""Water of 60 degC burns skin to the depth in about five seconds (Moritz and Henriques, Am. J. Pathol. 23 (1947) 695,
from memory)."""
SEA_LEVEL_BAR_A = 1.01325
"""Standard air pressure, where no site is told: ICAO Doc 7488."""
HIGH_GWP = 150.0
"""Warming potential from which European law restricts gases in new small plant: Regulation (EU) 2024/573, from
memory."""
SHARE_DIFFERENCE = 0.01
"""Mole fraction by which gas above the liquid may differ from the charge and still count as the same."""
FREEZING_DEGC = 0.0
"""Of water, by definition of the scale."""
COLD_WATER_DEGC = 3.0
"""Cooling water below this freezes where a film of it meets colder metal or stands overnight; an assumption."""

Shares = Mapping[str, float]


class Coldest(NamedTuple):
    """Lowest temperatures of the year [°C]: around store and engine, and outdoors, where collectors stand."""

    room_degC: float
    air_degC: float


@dataclass(frozen=True)
class Caution:
    """One caution: its topic, how serious it is, and the sentence a builder reads."""

    topic: str
    severity: Severity
    text: str

    def plain(self) -> dict[str, str]:
        """The caution as files hold it."""
        return {"topic": self.topic, "text": self.text, "level": self.severity.value}


def cautions(
    card: FluidCard,
    figures: Mapping[str, Any],
    scenario: Scenario,
    *,
    air_pressure_bar_a: float = SEA_LEVEL_BAR_A,
    pump_required_head_m: float = 0.0,
    coldest: Coldest | None = None,
    shares: tuple[Shares, Shares] | None = None,
) -> list[Caution]:
    """List the cautions of one design, gravest first.

    ``figures`` maps the public column names to numbers; one that is missing or NaN is passed over, with
    what depends on it. ``air_pressure_bar_a`` is that of the site, ``coldest`` None where nothing is known
    of its winter. ``shares`` gives, for a mixture, the mass fractions
    of the charge and of the first gas above it at 20 degC, by component.
    """
    found = [
        *_pressure(figures, scenario),
        *_at_hand(figures, scenario),
        *_liquid_lock(),
        *_hot_water(figures),
        *_freezing(scenario, coldest),
        *_composition(card, shares),
        *_flammable(card),
        *_toxic(card),
        *_room(card, figures, scenario),
        *_displaced_air(card, figures, scenario),
        *_vacuum(card, figures, scenario, air_pressure_bar_a),
        *_materials(card, scenario),
        *_machine(figures, pump_required_head_m),
        *_cooling_water(figures),
        *_law(card),
    ]
    return sorted(found, key=lambda caution: SEVERITIES.index(caution.severity))


def _number(figures: Mapping[str, Any], name: str) -> float | None:
    value = figures.get(name)
    if value is None or value == "" or not math.isfinite(float(value)):
        return None
    return float(value)


def _pressure(figures: Mapping[str, Any], scenario: Scenario) -> Iterator[Caution]:
    peak, fault = _number(figures, "peak_pressure_bar_g"), _number(figures, "fault_pressure_bar_g")
    if peak is None:
        return
    charge = _number(figures, "charge_kg")
    held = "" if charge is None else f" with {charge:.1f} kg of fluid behind it"
    margin = scenario.limits.relief_margin
    design = float(vessels.design_pressure_bar_g(peak, math.nan if fault is None else fault, margin))
    if peak > vessels.LEAST_DESIGN_PRESSURE_BAR_G:
        yield Caution(
            "pressure equipment",
            Severity.WARNING,
            f"Boiler, receivers and cylinders are pressure equipment for {fixed(peak, 1)} bar gauge{held}: hot liquid "
            "that flashes when a part gives way stores far more energy than the gas alone. Test with "
            f"water, never with air, at {float(vessels.proof_test_bar_g(design)):.1f} bar gauge (1.43 times), "
            "nobody beside it.",
        )
    ceiling = scenario.limits.pressure_ceiling_bar_g
    own = _number(figures, "standstill_pressure_bar_g")
    bottle = ""
    if own is not None and _number(figures, "standstill_pressure_worst_bar_g") is not None:
        bottle = f" Bottles differ: {fixed(own, 1)} bar gauge is the card's own mixture, the worst end of its range counts."
    boiling = "" if fault is None else f", and {fixed(fault, 1)} bar gauge if the store is let boil"
    yield Caution(
        "standstill pressure",
        Severity.STOP
        if peak > ceiling
        else Severity.WARNING
        if fault is not None and fault > ceiling
        else Severity.NOTE,
        f"When the engine stands, the boiler reaches {fixed(peak, 1)} bar gauge{boiling}; the ceiling is "
        f"{ceiling:g} bar gauge. The relief valve opens at "
        f"{float(vessels.relief_setting_bar_g(design)):.1f} bar gauge at the "
        f"latest and blows outdoors, and no valve stands between it and the boiler.{bottle}",
    )


def _at_hand(figures: Mapping[str, Any], scenario: Scenario) -> Iterator[Caution]:
    """Yield what parts made for something else ask for (common practice, no source)."""
    owned, said = scenario.owned, []
    held = {"cylinders": owned.bores_mm, "boiler": owned.boiler_area_m2, "condenser": owned.condenser_area_m2}
    parts = [name for name, size in held.items() if size is not None]
    if parts:
        proof = _number(figures, "test_pressure_bar_g")
        pressure = "the test pressure" if proof is None else f"{fixed(proof, 1)} bar gauge"
        named = f"{', '.join(parts[:-1])} and {parts[-1]}" if len(parts) > 1 else parts[0]
        said.append(
            f"Of the {named} at hand nobody here knows wall, material, age or rating, and that a design fits them says "
            "nothing of what they hold: before any fluid is let in, people licensed for it look each over and test it "
            f"with water at {pressure}, where local codes let such a part be used at all. A part that was made for "
            "another fluid or a lower pressure, and cannot be shown to hold this one, is not used."
        )
    if owned.store_volume_L is not None:
        top = _number(figures, "top_temperature_degC")
        hot = "hot water" if top is None else f"water of {top:.0f} °C"
        said.append(
            f"The tank must bear {hot}, stand open to the air and carry its weight: many plastics soften."
        )
    if owned.charge_kg is not None:
        said.append("What is in the bottle is known by its label alone: compare its gauge, task=gauge.")
    if said:
        yield Caution("parts at hand", Severity.WARNING, " ".join(said))


def _liquid_lock() -> Iterator[Caution]:
    yield Caution(
        "liquid lock",
        Severity.WARNING,
        "Liquid shut in between two valves and then warmed bursts any pipe, several bar for every kelvin: "
        "no stretch of liquid pipe without a way back or a relief valve of its own, and no vessel filled "
        "beyond 80 %.",
    )


def _hot_water(figures: Mapping[str, Any]) -> Iterator[Caution]:
    top = _number(figures, "top_temperature_degC")
    if top is not None and top >= SCALD_DEGC:
        yield Caution(
            "hot water",
            Severity.WARNING,
            f"The store holds water at {top:.0f} °C; above {SCALD_DEGC:.0f} °C it scalds within "
            "seconds. Vent it openly to the air: all pressures given here hold only for a vented store. In "
            "a closed one water gets hotter than boiling, and the fluid's pressure passes the fault "
            "figure. Mix down what is tapped, and expect steam from idle collectors.",
        )


def _freezing(scenario: Scenario, coldest: Coldest | None) -> Iterator[Caution]:
    said, parts, drained = [], "condenser and store", ""
    if coldest is not None and coldest.room_degC < FREEZING_DEGC:
        said.append(
            f"the air around store and engine falls to {fixed(coldest.room_degC, 1)} °C in the year of the weather file"
        )
        parts = "collectors, condenser and store"
    elif coldest is not None and coldest.air_degC < FREEZING_DEGC:
        said.append(
            f"collectors and their pipes hold the store's water in air that falls to {fixed(coldest.air_degC, 1)} °C in "
            "the year of the weather file"
        )
        parts = "collectors and condenser"
    if said:
        drained = (
            " Collectors that empty themselves when their pump stops are the usual way; antifreeze needs an exchanger of "
            "its own, which the figures do not have."
        )
    cooling = scenario.site.cooling_water_temperature_degC
    if cooling < COLD_WATER_DEGC:
        said.append(f"the cooling water of {cooling:g} °C is next to freezing")
    if said:
        words = " and ".join(said)
        yield Caution(
            "freezing",
            Severity.WARNING,
            f"{words[0].upper()}{words[1:]}: ice bursts pipes, {parts}, and a blocked vent closes the store. "
            f"Let the water out in winter or keep it moving and warm, with a drain at every lowest point.{drained}",
        )


def _composition(card: FluidCard, shares: tuple[Shares, Shares] | None) -> Iterator[Caution]:
    if shares is None:
        return
    charge, gas = shares
    if max(abs(gas[name] - charge[name]) for name in charge) < SHARE_DIFFERENCE:
        return

    def listed(parts: Shares) -> str:
        return " and ".join(f"{share:.0%} {name}" for name, share in parts.items()).replace("%", " %")

    bound = "beyond the range of its card" if card.composition_range else "richer in what is in the gas"
    yield Caution(
        "composition",
        Severity.WARNING,
        f"The charge is {listed(charge)} by mass, but the first gas above it at 20 °C is {listed(gas)}. "
        "Fill with liquid, never with gas from the top of a bottle; after a leak of gas let all out and fill "
        "afresh. The pressures at standstill are those of the bubble point of the whole charge; a charge "
        f"{bound} would exceed them.",
    )


def _flammable(card: FluidCard) -> Iterator[Caution]:
    if not card.flammable:
        return
    digit = hazards.flammability(card.safety_class)
    severity = Severity.NOTE if digit == "2L" else Severity.WARNING
    manner = {"2L": "burns slowly", "2": "burns"}.get(digit or "", "burns readily")
    limit = "" if card.lfl_percent is None else f", from {card.lfl_percent:g} % in air"
    yield Caution(
        "flammable fluid",
        severity,
        f"{card.title} {manner} ({card.safety_class}{limit}): no flame, switch or motor that sparks near "
        "the plant, ventilation and a gas alarm at the height where the vapour gathers, charging outdoors.",
    )


def _toxic(card: FluidCard) -> Iterator[Caution]:
    if card.poisons:
        limit = "" if card.exposure_limit_ppm is None else f" (limit {card.exposure_limit_ppm:g} ppm in air)"
        yield Caution(
            "toxic fluid",
            Severity.WARNING,
            f"{card.title} is toxic{limit}: gas alarm, forced ventilation, mask at the door, and two people "
            "whenever the circuit is opened.",
        )


def _room(card: FluidCard, figures: Mapping[str, Any], scenario: Scenario) -> Iterator[Caution]:
    needed = _number(figures, "room_volume_needed_m3")
    if needed is None or needed <= 0.0:
        return
    room = scenario.room_volume_m3
    small = room is not None and hazards.room_margin_m3(needed, room) > 0.0
    aim = "a quarter of the flammable limit" if card.flammable and not card.poisons else "the exposure limit"
    place = "the plant stands outdoors" if room is None else f"the room has {room:.0f} m³"
    if room is None:
        remedy = "Keep it out of pits and clear of doors, drains and windows."
    elif small:
        remedy = "Stand it outdoors, split off a smaller charge or ventilate by force."
    else:
        remedy = "It has that much."
    yield Caution(
        "room volume",
        Severity.STOP if small else Severity.NOTE,
        f"If the whole charge escapes, {needed:.0f} m³ of air keep it below {aim}; {place}. {remedy}{_assumed(card)}",
    )


def _assumed(card: FluidCard) -> str:
    """Say which limits the card lacks, in whose place the worst of its class counts; empty if it lacks none."""
    names = {"lfl_kg_per_m3": "flammability limit", "exposure_limit_ppm": "exposure limit"}
    lacking = [names[key] for key in hazards.assumed_hazards(card)]
    if not lacking:
        return ""
    return f" Its card has no {' and no '.join(lacking)}: one as bad as the worst of its class is assumed."


def _displaced_air(card: FluidCard, figures: Mapping[str, Any], scenario: Scenario) -> Iterator[Caution]:
    """Yield what a fluid does in a room of which no size is asked for, since it neither burns nor is toxic."""
    charge, needed = _number(figures, "charge_kg"), _number(figures, "room_volume_needed_m3")
    room = scenario.room_volume_m3
    if (
        card.flammable
        or card.poisons
        or card.name == "Water"
        or charge is None
        or room is None
        or (needed is not None and needed > 0.0)
    ):
        return
    limit = card.exposure_limit_ppm
    passed = "" if limit is None else f", and may pass the exposure limit of its card, {limit:g} ppm"
    yield Caution(
        "displaced air",
        Severity.WARNING,
        f"No size of room is worked out for {card.title}, which neither burns nor counts as toxic; that is not harmless. "
        f"Let out, {charge:.1f} kg in {room:.0f} m³ are {_rounded(1000.0 * charge / room)} g in each m³: heavy gas gathers "
        f"in pits and on floors, takes the place of the air there{passed}. Ventilate, and go in only when it is gone.",
    )


def _vacuum(
    card: FluidCard, figures: Mapping[str, Any], scenario: Scenario, air_pressure_bar_a: float
) -> Iterator[Caution]:
    condenser, rest = _number(figures, "condenser_pressure_bar_a"), _number(figures, "rest_pressure_bar_g")
    said = []
    if condenser is not None and hazards.vacuum_margin_bar(condenser, air_pressure_bar_a) > 0.0:
        said.append(f"while the engine runs, the condenser works at {condenser:.2f} bar abs.")
    if rest is not None and rest < 0.0:
        fallen = rest + air_pressure_bar_a
        said.append(f"at rest, shut off from the boiler, engine and condenser fall to {fallen:.2f} bar abs.")
    if not said:
        return
    words = " and ".join(said)
    inside = " Air and this fluid inside the plant can make an explosive mixture." if card.flammable else ""
    yield Caution(
        "vacuum",
        Severity.WARNING if scenario.limits.vacuum_condenser else Severity.STOP,
        f"{words[0].upper()}{words[1:]}, below the air outside: every leak lets air in, which "
        f"blocks the condenser and must be vented.{inside}",
    )


def _materials(card: FluidCard, scenario: Scenario) -> Iterator[Caution]:
    clashes = hazards.material_clashes(card, scenario.materials)
    if clashes:
        yield Caution(
            "material clash",
            Severity.STOP,
            f"{card.title} attacks {' and '.join(clashes)}, which is among the materials to be used.",
        )
    elif card.attacks:
        yield Caution("materials", Severity.NOTE, f"{card.title} attacks {', '.join(card.attacks)}.")


def _machine(figures: Mapping[str, Any], pump_required_head_m: float) -> Iterator[Caution]:
    speeds = [_number(figures, f"piston_speed_{stage}_m_per_s") for stage in (1, 2, 3)]
    fastest = max((speed for speed in speeds if speed is not None), default=0.0)
    if fastest > hazards.PISTON_SPEED_LIMIT_M_PER_S:
        yield Caution(
            "piston speed",
            Severity.WARNING,
            f"The mean piston speed of {fastest:.1f} m/s is above {hazards.PISTON_SPEED_LIMIT_M_PER_S:g} "
            "m/s, more than a small dry or oil-wetted piston lasts with: turn slower or shorten the stroke.",
        )
    if (_number(figures, "outside_measured") or 0.0) > 0.0:
        yield Caution(
            "not measured",
            Severity.WARNING,
            "Vapour enters the first cylinder below 1.5 bar absolute. The two measured engines that work so low did 1.5 "
            "to 5 times better than the laws of loss used here: the true work may lie far above or below what is shown.",
        )
    head = _number(figures, "suction_head_m")
    if head is not None and hazards.suction_head_margin_m(head, pump_required_head_m) > 0.0:
        yield Caution(
            "feed pump",
            Severity.WARNING,
            f"The feed pump has {head:.1f} m of suction head and asks for {pump_required_head_m:g} m: it "
            "may pump vapour instead of liquid. Subcool more or set it lower.",
        )


def _cooling_water(figures: Mapping[str, Any]) -> Iterator[Caution]:
    """Yield what taking so much water asks for (common practice, no source)."""
    yearly = _number(figures, "cooling_water_L_per_year")
    if yearly is None or yearly <= 0.0:
        return
    yield Caution(
        "cooling water",
        Severity.NOTE,
        f"The condenser uses about {_rounded(yearly / 1000.0)} m³ of cooling water a year and gives it back warmer. "
        "Taking water from a well, stream or lake and returning it often needs a permit: ask the local water "
        "authority first, and keep the fluid's circuit apart from drinking water.",
    )


def _rounded(value: float) -> str:
    """Write an amount with two digits that count."""
    return f"{float(f'{value:.2g}'):g}"


def _law(card: FluidCard) -> Iterator[Caution]:
    bound = card.phase_down or (card.gwp100 is not None and card.gwp100 >= HIGH_GWP)
    yield Caution(
        "regulation of the fluid",
        Severity.WARNING if bound else Severity.NOTE,
        f"State of {card.regulation_date}: {card.regulation}",
    )
    yield Caution(
        "law and licence",
        Severity.NOTE,
        "Local codes for pressure equipment, gas, buildings and water decide, and those licensed to "
        "practise under them; these figures help to ask the right questions and approve nothing.",
    )
