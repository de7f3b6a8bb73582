"""What a builder has already: parts that every design must be made of, and that no longer cost anything."""

from __future__ import annotations

import math
from typing import Annotated, Any

from pydantic import Field, model_validator

from explore.config.fields import Checked

LEAST_USED = 0.95
"""Share of an owned cylinder's volume that a design must sweep at least: a twentieth is the wear of a bore turned out once
and a stroke measured with a rule; judgement. What sweeps less is another engine."""

Size_mm = Annotated[float, Field(gt=0, le=1000)]


class Owned(Checked):
    """Parts that are there; null: nothing of the kind.

    Tank, insulation, collectors, gas and the build of the engine pin the design; its cylinders must have the volume of
    those that are there; exchangers and the charge of gas are used up to what is there.
    """

    store_volume_L: float | None = Field(None, ge=50, le=3000, description="tank [L]; no other is used")
    insulation_mm: float | None = Field(
        None, ge=30, le=400, description="insulation on that tank [mm]; empty: free, and bought"
    )
    collector: str | None = Field(
        None, min_length=1, description="kind of the collectors: a card in configs/collector"
    )
    collector_area_m2: float | None = Field(None, ge=0.5, le=40, description="collectors [m2]")
    bores_mm: tuple[Size_mm, ...] | None = Field(
        None,
        min_length=1,
        max_length=3,
        description="bore of the engine's cylinder of each expansion, in the vapour's order [mm]",
    )
    stroke_mm: Size_mm | None = Field(
        None, description="stroke of the engine [mm], the same for all its cylinders"
    )
    cylinders_per_stage: int = Field(
        1, ge=1, le=6, description="equal cylinders side by side in each expansion"
    )
    boiler_area_m2: float | None = Field(
        None,
        gt=0,
        le=1000,
        description="surface of all boilers or of the coil in the store [m2], used up to this",
    )
    condenser_area_m2: float | None = Field(
        None, gt=0, le=1000, description="surface of the condenser [m2], used up to this"
    )
    fluid: str | None = Field(None, min_length=1, description="gas or liquid in the bottle; no other is used")
    charge_kg: float | None = Field(None, gt=0, le=1000, description="how much of it [kg], used up to this")
    may_buy_more: bool = Field(
        False,
        description="cylinders, surface and gas beyond these are bought; else a design that needs more is refused",
    )

    @model_validator(mode="after")
    def _whole_parts(self) -> Owned:
        """Refuse half a part: what it is without how much, or how much without what."""
        for one, other in (("collector", "collector_area_m2"), ("bores_mm", "stroke_mm")):
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                raise ValueError(f"owned.{one} and owned.{other} belong together: give both, or neither")
        for part, needs in (("charge_kg", "fluid"), ("insulation_mm", "store_volume_L")):
            if getattr(self, part) is not None and getattr(self, needs) is None:
                raise ValueError(f"owned.{part} needs owned.{needs}: say of what it is")
        if self.cylinders_per_stage > 1 and self.bores_mm is None:
            raise ValueError("owned.cylinders_per_stage needs owned.bores_mm: say of which engine")
        return self

    @property
    def anything(self) -> bool:
        """Whether any part is there."""
        return self != Owned()

    @property
    def swept_volumes_L(self) -> tuple[float, ...]:
        """Swept volume [L] of the cylinders of each stage together, z (pi/4) D^2 S; none without an engine."""
        if self.bores_mm is None or self.stroke_mm is None:
            return ()
        from explore.units import L_PER_M3, MM_PER_M  # with numpy, which the help must not wait for

        areas = (0.25 * math.pi * (bore / MM_PER_M) ** 2 for bore in self.bores_mm)
        return tuple(self.cylinders_per_stage * area * self.stroke_mm / MM_PER_M * L_PER_M3 for area in areas)

    @property
    def square_bores_mm(self) -> tuple[float, ...]:
        """Bore [mm] of a cylinder of each stage as long as wide and of the volume of that owned, (D^2 S)^(1/3)."""
        return tuple((bore**2 * (self.stroke_mm or 0.0)) ** (1.0 / 3.0) for bore in self.bores_mm or ())

    def pins(self) -> dict[str, Any]:
        """Return the design variables that the parts fix, by name."""
        engine = (
            {"stages": len(self.bores_mm), "cylinders_per_stage": self.cylinders_per_stage}
            if self.bores_mm
            else {}
        )
        found = {
            name: getattr(self, name)
            for name in ("store_volume_L", "insulation_mm", "collector", "collector_area_m2", "fluid")
        }
        return {name: value for name, value in (found | engine).items() if value is not None}

    def bounds(self) -> dict[str, tuple[float | None, float | None]]:
        """Return the figures that the parts bound: least and most, by name; none where more may be bought."""
        found: dict[str, tuple[float | None, float | None]] = {}
        if self.may_buy_more:
            return found
        for name in ("boiler_area_m2", "condenser_area_m2", "charge_kg"):
            if getattr(self, name) is not None:
                found[name] = (None, getattr(self, name))
        for stage, volume in enumerate(self.swept_volumes_L, start=1):
            found[f"swept_volume_{stage}_L"] = (LEAST_USED * volume, volume)
        return found
