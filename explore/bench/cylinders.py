"""Each stage's cylinder as it is made: sizes, valve events, ports and forces; and the torque of all over a turn."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from explore import units
from explore.bench import crank, flywheel, inertia, sizes

Array = NDArray[np.float64]
STEPS = 1440
"""Quarter degrees of a turn: torque and indicator work then agree within a thousandth."""
W_PER_KW = 1000.0
"""By definition."""

PORT_DISCHARGE = 0.65
"""Discharge coefficient of a valve or port with sharp edges, common practice, no source: 0.6 to 0.7."""
RIM_RADIUS_M = 0.25
"""A rim as large as a bicycle's: the mass of a flywheel is told for it, to be scaled by the square."""


@dataclass(frozen=True)
class Choices:
    """What a builder chooses: rod length over crank radius, gas velocity in ports [m/s], coefficient of fluctuation,
    angle [deg] from each crank to the next (None: equal), pistons pushed from one side (1) or both (2), the air [bar
    abs] on the other side of a piston pushed from one (None: the exhaust pressure), and what goes to and fro in a cylinder
    of each stage [kg], empty: assumed; and the shares of the piston [-] that inlet and exhaust port let through, as the
    losses of the engine are evaluated with (None: ports by the gas velocity)."""

    rod_ratio: float
    gas_velocity: float
    fluctuation: float
    phasing: float | None
    acting: int
    air_bar: float | None = None
    masses: tuple[float, ...] = ()
    ports: tuple[float, float] | None = None

    def mass(self, stage: int, bore: float, stroke: float) -> float:
        """Mass [kg] that goes to and fro in one cylinder of ``stage`` (from 1); bore and stroke in metres."""
        if self.masses:
            return self.masses[stage - 1]
        return inertia.assumed_mass(bore, 0.5 * stroke * self.rod_ratio)

    def port_areas(self, bore: float, piston_speed: float) -> tuple[float, float]:
        """Area [m2] of inlet and exhaust port: share times piston over discharge coefficient, else by the gas velocity."""
        if self.ports is None:
            return (sizes.port_area(bore, piston_speed, self.gas_velocity),) * 2
        inlet, exhaust = (share * sizes.piston_area(bore) / PORT_DISCHARGE for share in self.ports)
        return inlet, exhaust

    def behind(self, exhaust_bar: float) -> float:
        """Pressure [bar abs] on the other side of a piston."""
        return exhaust_bar if self.acting > 1 or self.air_bar is None else self.air_bar


def cylinder(
    figures: Mapping[str, Any], loop: Mapping[str, Sequence[float]], stage: int, made: Choices
) -> dict[str, Any]:
    """One cylinder of ``stage`` (from 1): sizes [mm], angles [deg from top dead centre], ports [mm2], forces [kN].

    ``least_rod_ratio``: below it a trunk piston that reaches a quarter bore below its pin meets the crank's circle at the
    bottom, L - r - D/4 < r.
    """
    bore, stroke = (float(figures[f"{name}_{stage}_mm"]) / units.MM_PER_M for name in ("bore", "stroke"))
    volume, pressure = np.array(loop["V_L"]), np.array(loop["p_bar_a"])
    least, most = float(np.min(volume)), float(np.max(volume))
    swept = most - least
    full = int(np.argmax(volume))
    cut_off = (float(volume[1]) - least) / swept
    closing = (float(volume[full + 2]) - least) / swept if least > 0.0 else 0.0
    angles = np.degrees(crank.angle_of(np.array([cut_off, closing]), made.rod_ratio))
    speed = 2.0 * stroke * float(figures["speed_rated_rev_per_min"]) / units.SECONDS_PER_MINUTE
    lowest = float(np.min(pressure))
    greatest = float(np.max(pressure))
    if stage == 1 and str(figures.get("store_mode")) == "mixed":
        # The indicator diagram is of the rated point; a full store boils higher, and stage 1 may be given all of it.
        greatest = max(greatest, float(figures["max_boiler_pressure_bar_a"]))
    net = (greatest - min(lowest, made.behind(lowest))) * units.PA_PER_BAR
    inlet, exhaust = made.port_areas(bore, speed)
    mass, turning = made.mass(stage, bore, stroke), speed * math.pi / stroke
    return {
        "stage": stage,
        "number": round(float(figures["cylinders_per_stage"])),
        "bore_mm": bore * units.MM_PER_M,
        "stroke_mm": stroke * units.MM_PER_M,
        "rod_mm": 0.5 * stroke * made.rod_ratio * units.MM_PER_M,
        "least_rod_ratio": 2.0 + 0.5 * bore / stroke,
        "clearance_percent": 100.0 * least / swept,
        "clearance_mm": stroke * least / swept * units.MM_PER_M,
        "cut_off_percent": 100.0 * cut_off,
        "cut_off_deg": float(angles[0]),
        "release_deg": 180.0,
        "compression_deg": 360.0 - float(angles[1]),
        "port_mm2": inlet * units.MM_PER_M**2,
        "port_hole_mm": math.sqrt(4.0 * inlet / math.pi) * units.MM_PER_M,
        "exhaust_mm2": exhaust * units.MM_PER_M**2,
        "exhaust_hole_mm": math.sqrt(4.0 * exhaust / math.pi) * units.MM_PER_M,
        "port_m_per_s": sizes.piston_area(bore) * speed / inlet,
        "force_kN": sizes.force(bore, net) / W_PER_KW,
        "mass_kg": mass,
        "inertia_N": inertia.greatest(mass, stroke, turning, made.rod_ratio),
        "head_force_kN": sizes.force(bore, float(figures["test_pressure_bar_g"]) * units.PA_PER_BAR)
        / W_PER_KW,
        "design_force_kN": sizes.force(bore, float(figures["design_pressure_bar_g"]) * units.PA_PER_BAR)
        / W_PER_KW,
    }


def gas_torque(loop: Mapping[str, Sequence[float]], angle: Array, made: Choices) -> Array:
    """Torque [N m] of the vapour in one stage's cylinders at one crank, over ``angle`` [rad].

    Volumes of ``loop`` are those of all its cylinders. What pushes steadily on the other side of a single-acting piston,
    :meth:`Choices.behind`, gives no mean torque, but counts for the swing.
    """
    volume = np.array(loop["V_L"]) / units.L_PER_M3
    pressure = np.array(loop["p_bar_a"]) * units.PA_PER_BAR
    swept = float(np.ptp(volume))
    over = pressure - made.behind(float(np.min(pressure)) / units.PA_PER_BAR) * units.PA_PER_BAR
    total = (
        crank.pressure_over_turn(volume, over, angle, made.rod_ratio)
        * swept
        * crank.lever(angle, made.rod_ratio)
    )
    if made.acting > 1:
        # Outward travel seen from the other end: the way back of the same piston, mirrored about the mid of the stroke.
        gone = crank.travel(angle, made.rod_ratio)
        seen = crank.angle_of(1.0 - gone, made.rod_ratio)
        turned = np.where(np.mod(angle, 2.0 * np.pi) < np.pi, 2.0 * np.pi - seen, seen)
        other = crank.pressure_over_turn(volume, over, turned, made.rod_ratio)
        total = total - other * swept * crank.lever(angle, made.rod_ratio)
    return np.asarray(total)


def torque(
    figures: Mapping[str, Any], loops: Sequence[Mapping[str, Sequence[float]]], made: Choices
) -> dict[str, Any]:
    """Torque over a turn of all cylinders, its mean with and without friction, and the flywheel it asks for.

    ``angle_deg``, ``torque_Nm`` (STEPS,), with that of the masses that go to and fro; friction is steady,
    f V_D i_a / (2 pi) of each stage. ``shaft_Nm`` is the mean after friction, ``work_Nm`` the evaluated stages' work times
    flow over speed: the two must agree (None for a fully mixed store, whose flow is told at another point than the
    diagrams). The flywheel is for the greatest torque between full store and sizing point, the swing in its proportion.
    """
    number = round(float(figures["cylinders_per_stage"]))
    cranks = len(loops) * number
    spacing = 360.0 / cranks if made.phasing is None else made.phasing
    angle = np.arange(STEPS) * 2.0 * np.pi / STEPS
    total, friction, greatest = np.zeros(STEPS), 0.0, 0.0
    speed = float(figures["speed_rated_rev_per_min"]) / units.SECONDS_PER_MINUTE * 2.0 * np.pi
    for place, loop in enumerate(loops):
        bore, stroke = (
            float(figures[f"{name}_{place + 1}_mm"]) / units.MM_PER_M for name in ("bore", "stroke")
        )
        mass = made.mass(place + 1, bore, stroke)
        for twin in range(number):
            lag = np.radians(spacing * (place * number + twin))
            total += gas_torque(loop, angle - lag, made) / number
            own = inertia.torque(mass, stroke, speed, angle - lag, made.rod_ratio)
            total += own
            greatest = max(greatest, float(np.max(np.abs(own))))
        mean = float(figures[f"friction_{place + 1}_bar"]) * units.PA_PER_BAR
        friction += mean * float(np.ptp(loop["V_L"])) / units.L_PER_M3 * made.acting / (2.0 * np.pi)
    work = sum(float(figures[f"stage_work_{place + 1}_kJ_per_kg"]) for place in range(len(loops)))
    energy = flywheel.swing(total) * _stronger(figures)
    mixed = str(figures.get("store_mode")) == "mixed"
    moment = flywheel.inertia(energy, speed, made.fluctuation)
    return {
        "angle_deg": np.degrees(angle),
        "torque_Nm": total - friction,
        "spacing_deg": spacing,
        "friction_Nm": friction,
        "inertia_Nm": greatest,
        "shaft_Nm": float(np.mean(total)) - friction,
        "work_Nm": None if mixed else work * units.J_PER_KJ * float(figures["fluid_flow_kg_per_s"]) / speed,
        "swing_J": energy,
        "inertia_kg_m2": moment,
        "rim_mass_kg": flywheel.rim_mass(moment, RIM_RADIUS_M),
        "rim_diameter_mm": 2.0 * RIM_RADIUS_M * units.MM_PER_M,
    }


def _stronger(figures: Mapping[str, Any]) -> float:
    """How many times the rated point's torque is the greatest [-]: 1 on a stratified store, or where it is not known."""
    told = [float(figures.get(f"torque_{point}_Nm", math.nan)) for point in ("rated", "full", "size")]
    rated, others = told[0], [one for one in told[1:] if math.isfinite(one)]
    return max([1.0, *(one / rated for one in others)]) if math.isfinite(rated) and rated > 0.0 else 1.0
