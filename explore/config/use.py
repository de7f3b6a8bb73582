"""What the shaft is for: the load in its user's own terms, so that the service is told in litres, hours or kilometres."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from explore.config.fields import Checked


class Use(Checked):
    """What the shaft drives; it judges no design and enters no search."""

    kind: Literal["none", "pump", "generator", "workshop", "boat", "cart"] = Field(
        "none", description="what the shaft drives; none: the service is told in hours and kWh alone"
    )
    head_m: float = Field(
        10.0, gt=0, le=500, description="pump: m from water to outlet, losses in the pipe with it"
    )
    pump_efficiency: float = Field(
        0.55, gt=0, le=1, description="pump: water lifted over shaft work (assumption)"
    )
    generator_efficiency: float = Field(
        0.70, gt=0, le=1, description="generator: electricity over shaft work (assumption)"
    )
    battery_efficiency: float = Field(
        0.85, gt=0, le=1, description="generator: out of the battery over into it (assumption)"
    )
    lamp_W: float = Field(6.0, ge=0.01, le=1000, description="generator: power of one lamp")
    tool_W: float = Field(150.0, gt=0, le=100_000, description="workshop: shaft power of the tool at work")
    propulsive_efficiency: float = Field(
        0.50, gt=0, le=1, description="boat, cart: work of moving over shaft work (assumption)"
    )
    resistance_N: float = Field(
        50.0, ge=0.1, le=100_000, description="boat, cart: force that moves it at its usual speed"
    )
    speed_km_per_h: float = Field(5.0, gt=0, le=100, description="boat, cart: its usual speed")
