"""The engine, its feed pump, exchangers, store and pipes: coefficients, their bands, groups and sources.

Two descriptions of an engine's losses: ``scaling`` follows pressure, size, speed and superheat by the laws of
:mod:`explore.plant.losses`; ``constant`` gives every engine the same shares. Bands are 10-90 % ranges; the members
of a group are drawn together, towards better or towards worse. Those of films (0.65 to 1.4 of the value) say how far all
films of a plant may be off together; how far films of different designs lie apart is wider, and no doubt of the plant.
"""

from __future__ import annotations

from typing import Any, Literal

from pydantic import Field

from explore.config.fields import JUDGEMENT, TEXTBOOK, TUBES, Checked, quantity

CLEARANCE = (
    "0.072 of a small steam expander: Glavatskaya, Podevin, Lemort, Shonda, Descombes, Energies 5 (2012) 1751"
)
MACH = "form: port Mach index, C. F. Taylor, The Internal-Combustion Engine in Theory and Practice, 1960 (from memory)"
FRICTION = "form: Chen and Flynn, SAE 650733 (1965) (from memory); root of the bore and size: judgement"
WALLS = "form: missing quantity, Cotterill, in Lineham, Text-Book of Mechanical Engineering; size fitted on steam trials"
LEAK = (
    "form: proportional to pressure difference, independent of sliding speed, Steam Engine Research Committee, "
    "IMechE 1905, in Lineham, Text-Book of Mechanical Engineering; size: judgement"
)
RECEIVER = "reservoir of about six strokes: common practice, no source"
FILMS_BAND = (0.65, 1.4)
"""Of the value; model, section 12."""


def _film(likely: float, where: str) -> Any:
    """Declare a coefficient of heat transfer that stands for the tubes where they are not given."""
    low, high = (round(share * likely, 6) for share in FILMS_BAND)
    return quantity(
        likely,
        unit="W/(m2 K)",
        about=where,
        source=TUBES,
        assumption=True,
        band=(low, high),
        group="films",
        exchangers="coefficients",
        worse="low",
        gt=0,
    )


class Engine(Checked):
    """Losses and coefficients of the machine, the exchangers, the store and the pipes."""

    losses: Literal["scaling", "constant"] = Field(
        "scaling", description="losses that follow pressure, size, speed and superheat, or constant shares"
    )

    # Losses that scale
    valve_base_loss: float = quantity(
        0.02,
        unit="-",
        about="pressure lost in valve and passages however slow the engine",
        source=JUDGEMENT,
        band=(0.01, 0.05),
        group="valves",
        ge=0,
        lt=0.5,
        only={"losses": "scaling"},
    )
    inlet_port_share: float = quantity(
        0.06,
        unit="-",
        about="inlet: discharge coefficient times port area over piston area",
        source=MACH,
        assumption=True,
        band=(0.03, 0.10),
        group="valves",
        worse="low",
        gt=0,
        le=1,
        only={"losses": "scaling"},
    )
    outlet_port_share: float = quantity(
        0.08,
        unit="-",
        about="outlet: discharge coefficient times port area over piston area",
        source=MACH,
        assumption=True,
        band=(0.05, 0.12),
        group="valves",
        worse="low",
        gt=0,
        le=1,
        only={"losses": "scaling"},
    )
    clearance_fraction: float = quantity(
        0.07,
        unit="-",
        about="clearance volume, share of swept volume",
        source=CLEARANCE,
        assumption=True,
        band=(0.04, 0.10),
        group="clearance",
        ge=0,
        lt=0.5,
    )
    ring_gap_um: float = quantity(
        13.0,
        unit="um",
        about="leaking gap of rings and valves at 0.1 m bore and below: lapped 8, careful 13, home made 18",
        source=LEAK,
        assumption=True,
        band=(9.5, 18.0),
        group="seal",
        ge=0,
        le=200,
        only={"losses": "scaling"},
    )
    ring_length_mm: float = quantity(
        3.0,
        unit="mm",
        about="length of the leaking gap; only gap^3/length counts",
        source=JUDGEMENT,
        gt=0,
        only={"losses": "scaling"},
    )
    leak_law: Literal["early", "mild"] = Field(
        "early",
        description="how an early cut-off makes leakage worse: with 1/cut-off, or milder and through 14/13 of the gap",
        json_schema_extra={"only": {"losses": "scaling"}},
    )
    wall_factor: float = quantity(
        0.44,
        unit="-",
        about="vapour lost to cylinder walls, over a film and an iron wall that follow each turn",
        source=WALLS,
        assumption=True,
        band=(0.25, 0.8),
        group="walls",
        ge=0,
        le=5,
        only={"losses": "scaling", "wall_law": "linear"},
    )
    wall_root_factor: float = quantity(
        0.29,
        unit="-",
        about="the same, where the loss follows the root (wall law root)",
        source=WALLS,
        assumption=True,
        band=(0.17, 0.5),
        group="walls",
        ge=0,
        le=5,
        only={"losses": "scaling", "wall_law": "root"},
    )
    wall_law: Literal["linear", "root"] = Field(
        "linear",
        description="how wall loss follows its driving figure; the data do not choose between them",
        json_schema_extra={"only": {"losses": "scaling"}},
    )
    friction_idle_bar: float = quantity(
        0.052,
        unit="bar",
        about="friction mean pressure of an unloaded engine of 0.1 m bore",
        source=FRICTION,
        assumption=True,
        band=(0.027, 0.10),
        group="friction",
        ge=0,
        le=5,
        only={"losses": "scaling"},
    )
    friction_load_share: float = quantity(
        0.055,
        unit="-",
        about="friction mean pressure per indicated mean pressure at 0.1 m bore",
        source=FRICTION,
        assumption=True,
        band=(0.03, 0.12),
        group="friction",
        ge=0,
        lt=1,
        only={"losses": "scaling"},
    )
    friction_speed_bar_s_per_m: float = quantity(
        0.035,
        unit="bar s/m",
        about="friction mean pressure per mean piston speed",
        source=FRICTION,
        assumption=True,
        band=(0.018, 0.07),
        group="friction",
        ge=0,
        le=5,
        only={"losses": "scaling"},
    )

    # Losses that are constant
    admission_pressure_loss: float = quantity(
        0.04,
        unit="-",
        about="constant losses: pressure lost through the admission valve, share of inlet pressure",
        ge=0,
        lt=0.5,
        only={"losses": "constant"},
    )
    exhaust_pressure_loss: float = quantity(
        0.04,
        unit="-",
        about="constant losses: back pressure above the exhaust receiver, share of its pressure",
        ge=0,
        lt=0.5,
        only={"losses": "constant"},
    )
    leakage_fraction: float = quantity(
        0.05,
        unit="-",
        about="constant losses: share of the flow that leaks past piston and valves",
        ge=0,
        lt=0.9,
        only={"losses": "constant"},
    )
    wall_loss_per_K: float = quantity(
        0.002,
        unit="1/K",
        about="constant losses: work lost to the cylinder wall per kelvin between inlet and exhaust",
        ge=0,
        le=0.02,
        only={"losses": "constant"},
    )
    friction_mean_pressure_bar: float = quantity(
        0.15,
        unit="bar",
        about="constant losses: friction mean pressure over the swept volume",
        ge=0,
        le=5,
        only={"losses": "constant"},
    )

    # Cylinders
    acting: Literal["single", "double"] = Field("single", description="pistons pushed from one side or both")
    stroke_over_bore: float = quantity(
        1.0, unit="-", about="stroke over bore of a cylinder sized here", gt=0.2, le=5
    )
    one_throw: bool = Field(
        False, description="all stages share one stroke: one crank throw, or cranks alike"
    )

    # Feed pump
    pump_law: Literal["scaling", "constant"] = Field(
        "scaling", description="feed-pump efficiency that falls at small pressure rise, or a constant one"
    )
    pump_volumetric_efficiency: float = quantity(
        0.90,
        unit="-",
        about="feed pump: volumetric efficiency",
        source=JUDGEMENT,
        band=(0.75, 0.95),
        group="pump",
        worse="low",
        edge=1.0,
        gt=0,
        le=1,
        only={"pump_law": "scaling"},
    )
    pump_drive_efficiency: float = quantity(
        0.85,
        unit="-",
        about="feed pump: belt or eccentric",
        source=JUDGEMENT,
        band=(0.75, 0.92),
        group="pump",
        worse="low",
        edge=1.0,
        gt=0,
        le=1,
        only={"pump_law": "scaling"},
    )
    pump_packing_bar: float = quantity(
        1.5,
        unit="bar",
        about="feed pump: pressure rise that packing and valves cost; efficiency carries dp/(dp + this)",
        source=JUDGEMENT,
        band=(0.7, 3.0),
        group="pump",
        ge=0,
        only={"pump_law": "scaling"},
    )
    pump_drive: Literal["engine", "motor"] = Field(
        "engine",
        description="the engine drives the feed pump, or an electric motor does",
        json_schema_extra={"only": {"pump_law": "scaling"}},
    )
    pump_motor_efficiency: float = quantity(
        0.55,
        unit="-",
        about="feed pump on a motor: motor and generator together",
        source=JUDGEMENT,
        band=(0.4, 0.75),
        group="pump",
        worse="low",
        edge=1.0,
        gt=0,
        le=1,
        only={"pump_law": "scaling", "pump_drive": "motor"},
    )
    pump_efficiency: float = quantity(
        0.6,
        unit="-",
        about="constant law: feed pump efficiency (small plunger pump)",
        gt=0,
        le=1,
        only={"pump_law": "constant"},
    )
    pump_required_head_m: float = quantity(
        1.0,
        unit="m",
        about="suction head the feed pump asks for",
        source=JUDGEMENT,
        band=(0.4, 2.0),
        group="pump",
        ge=0,
    )

    # Exchangers, store, pipes, warming up
    end_approach_fraction: float = quantity(
        0.5,
        unit="-",
        about="smallest temperature difference at the ends of an exchanger, share of the pinch",
        ge=0,
        le=1,
    )
    water_pressure_drop_bar: float = quantity(
        0.2,
        unit="bar",
        about="pressure drop of each water stream; of cooling water where it warms by 10 K",
        band=(0.1, 0.4),
        group="water drops",
        exchangers="coefficients",
        ge=0,
        le=5,
    )
    cooling_drop_law: Literal["rise", "constant"] = Field(
        "rise",
        description="cooling water's pressure drop grows as its warming falls below 10 K, or is constant",
    )
    water_pump_efficiency: float = quantity(
        0.35,
        unit="-",
        about="efficiency of the water pumps",
        band=(0.25, 0.45),
        group="water pumps",
        worse="low",
        edge=1.0,
        gt=0,
        le=1,
    )
    boiler_U_liquid: float = _film(165.0, "boiler, liquid zone")
    boiler_U_two_phase: float = _film(600.0, "boiler, boiling zone")
    boiler_U_vapour: float = _film(190.0, "boiler, superheating zone")
    coil_U_liquid: float = _film(145.0, "coil in still water of a fully mixed store, liquid zone")
    coil_U_two_phase: float = _film(425.0, "coil in still water of a fully mixed store, boiling zone")
    coil_U_vapour: float = _film(160.0, "coil in still water of a fully mixed store, superheating zone")
    condenser_U_liquid: float = _film(35.0, "condenser, subcooling zone")
    condenser_U_two_phase: float = _film(450.0, "condenser, condensing zone")
    condenser_U_vapour: float = _film(100.0, "condenser, desuperheating zone")
    regenerator_U: float = quantity(
        60.0,
        unit="W/(m2 K)",
        about="regenerator, vapour to liquid",
        source=TEXTBOOK,
        band=(39, 84),
        group="films",
        worse="low",
        gt=0,
    )
    insulation_conductivity: float = quantity(
        0.035,
        unit="W/(m K)",
        about="thermal conductivity of the insulation (mineral wool)",
        source=TEXTBOOK,
        band=(0.0315, 0.04375),
        group="store",
        gt=0,
    )
    outside_film: float = quantity(
        10.0, unit="W/(m2 K)", about="heat transfer from the insulation to the air", source=TEXTBOOK, gt=0
    )
    fittings_W_per_K: float = quantity(
        0.6,
        unit="W/K",
        about="heat loss of pipes and fittings of the store",
        source=JUDGEMENT,
        band=(0.3, 1.5),
        group="store",
        ge=0,
    )
    insulation_joints_factor: float = quantity(
        1.25,
        unit="-",
        about="heat loss through the insulation as built over that as drawn: joints, gaps, damp",
        source=JUDGEMENT,
        band=(1.05, 1.6),
        group="store",
        edge=1.0,
        ge=1,
        le=5,
    )
    pipe_loss_fraction: float = quantity(
        0.03,
        unit="-",
        about="share of the collector heat lost in pipes",
        band=(0.02, 0.08),
        group="collectors",
        ge=0,
        lt=1,
    )
    collector_rise_mixed_K: float = quantity(
        3.0, unit="K", about="mean collector temperature above a fully mixed store", ge=0, le=30
    )
    warm_up_law: Literal["scaling", "constant"] = Field(
        "scaling", description="iron to warm that grows with the cylinder, or the same for each stage"
    )
    warm_up_kJ_per_K_per_stage: float = quantity(
        8.0,
        unit="kJ/K",
        about="heat capacity per stage of 0.5 L warmed at the first demand hour of a day (constant law: any stage)",
        band=(4.0, 16.0),
        group="warm-up",
        ge=0,
    )
    warm_up_least_kJ_per_K: float = quantity(
        4.0,
        unit="kJ/K",
        about="least heat capacity of a stage that is warmed",
        ge=0,
        only={"warm_up_law": "scaling"},
    )
    smallest_part_load: float = quantity(
        0.2,
        unit="-",
        about="net work at the sizing temperature, least share of that at the rated point",
        ge=0,
        le=1,
    )
    boiler_hold_up_L_per_m2: float = quantity(
        2.1,
        unit="L/m2",
        about="inner volume of boiler and regenerator per area: d²/(4 D) of a tube, 12 by 10 mm (8 by 6 to 15 by 13 mm)",
        band=(1.1, 2.8),
        group="hold-up",
        exchangers="coefficients",
        ge=0,
    )
    condenser_hold_up_L_per_m2: float = quantity(
        2.1,
        unit="L/m2",
        about="inner volume of the condenser per area, as in the boiler",
        band=(1.1, 2.8),
        group="hold-up",
        exchangers="coefficients",
        ge=0,
    )
    liquid_share_boiler: float = quantity(
        0.5, unit="-", about="share of the boiler volume filled with liquid", ge=0, le=1
    )
    liquid_share_condenser: float = quantity(
        0.2, unit="-", about="share of the condenser volume filled with liquid", ge=0, le=1
    )
    receiver_volume_strokes: float = quantity(
        6.0, unit="-", about="volume of a receiver, in swept volumes of the cylinder it feeds", ge=0
    )
    pipe_volume_L: float = quantity(1.5, unit="L", about="liquid-filled pipes and pump", ge=0)
