"""Boiler and condenser as a builder knows them: their tubes, checked, with default, unit, range and source."""

from __future__ import annotations

from typing import Literal

from pydantic import model_validator

from explore.config.fields import JUDGEMENT, TEXTBOOK, Checked, quantity


class Tubes(Checked):
    """Tubes of one exchanger as a builder knows them."""

    kind: Literal["jacket", "bundle", "coil"] = quantity(
        "jacket",
        unit="-",
        about="each tube in a jacket of its own, a bundle in one shell, or a coil in the store",
    )
    inside_diameter_mm: float = quantity(
        10.0,
        unit="mm",
        about="inside diameter of a tube; at 0 its wall would be as thick as the radius",
        gt=0,
        le=200,
    )
    outside_diameter_mm: float = quantity(12.0, unit="mm", about="outside diameter of a tube", gt=0, le=250)
    jacket_inside_diameter_mm: float | None = quantity(
        None,
        unit="mm",
        about="inside diameter of jacket or shell; empty for a bundle: from a pitch of 1.4 diameters",
        gt=0,
    )
    count: int | None = quantity(
        None,
        unit="-",
        about="tubes side by side; empty: as many as the pressure drops aimed at ask for",
        ge=1,
        le=2000,
    )
    length_m: float | None = quantity(
        None,
        unit="m",
        about="length of each tube at hand, a design must do with it; empty: as needed",
        gt=0,
        le=1000,
    )
    material: Literal["copper", "aluminium", "brass", "steel", "stainless_steel"] = quantity(
        "stainless_steel", unit="-", about="material of the tubes, for the conductivity of the wall"
    )

    @model_validator(mode="after")
    def _exist(self) -> Tubes:
        inside, outside = self.inside_diameter_mm, self.outside_diameter_mm
        if inside >= outside:
            raise ValueError(
                f"inside_diameter_mm {inside:g} leaves no wall in outside_diameter_mm {outside:g}; it must be smaller"
            )
        jacket = self.jacket_inside_diameter_mm
        if self.kind == "coil":
            if jacket is not None:
                raise ValueError(
                    "jacket_inside_diameter_mm: a coil in the store has no jacket, leave it empty"
                )
        elif self.kind == "jacket" and jacket is None:
            raise ValueError(
                "jacket_inside_diameter_mm is empty; kind jacket needs the inside diameter of the jacket"
            )
        elif jacket is not None and jacket <= outside:
            raise ValueError(
                f"jacket_inside_diameter_mm {jacket:g} must be larger than outside_diameter_mm {outside:g}"
            )
        if self.kind == "bundle" and jacket is not None:
            if self.count is None:
                raise ValueError(
                    "count is empty; a bundle in a shell of given diameter needs its number of tubes "
                    "(or leave jacket_inside_diameter_mm empty)"
                )
            if self.count * outside**2 > LARGEST_FILL * jacket**2:
                raise ValueError(
                    f"count {self.count} tubes of {outside:g} mm do not fit into a shell of {jacket:g} mm; "
                    f"at most {int(LARGEST_FILL * (jacket / outside) ** 2)} do"
                )
        return self


LARGEST_FILL = 0.7
"""Share of a shell's cross section that round tubes can fill, with room for water between them."""


class Exchangers(Checked):
    """How boiler and condenser are described: by coefficients of heat transfer, or by their tubes."""

    method: Literal["coefficients", "tubes"] = quantity(
        "coefficients",
        unit="-",
        about="coefficients of the group engine, or tubes with published correlations",
    )
    boiler: Tubes = Tubes(jacket_inside_diameter_mm=16.0)
    coil: Tubes = Tubes(kind="coil")
    condenser: Tubes = Tubes(jacket_inside_diameter_mm=16.0)
    boiling: Literal["liu_winterton", "cooper", "gorenflo"] = quantity(
        "liu_winterton", unit="-", about="correlation: flow boiling, or pool boiling by Cooper or by Gorenflo"
    )
    tube_films_factor: float = quantity(
        1.0,
        unit="-",
        about="coefficients of heat transfer of all tubes over those that the correlations give",
        source=JUDGEMENT,
        band=(0.8, 1.25),
        group="films",
        worse="low",
        only={"method": "tubes"},
        gt=0,
        le=10,
    )
    fouling_water_m2K_per_W: float = quantity(
        0.00018,
        unit="m2 K/W",
        about="fouling on the water side (clean mains or well water)",
        source=TEXTBOOK,
        ge=0,
        le=0.01,
    )
    fouling_fluid_m2K_per_W: float = quantity(
        0.0001,
        unit="m2 K/W",
        about="fouling inside the tubes (working fluid with traces of oil)",
        source=TEXTBOOK,
        ge=0,
        le=0.01,
    )
    roughness_um: float = quantity(
        1.5, unit="um", about="roughness of drawn tube", source=TEXTBOOK, ge=0, le=1000
    )
    pressure_drop_aim_fraction: float = quantity(
        0.03,
        unit="-",
        about="loss of the working fluid in an exchanger that sets the number of tubes, share of its pressure",
        gt=0,
        le=0.3,
    )
    water_pressure_drop_aim_bar: float = quantity(
        0.2, unit="bar", about="loss of a water stream in an exchanger that sets it too", gt=0, le=10
    )
    bends_velocity_heads: float = quantity(
        4.0, unit="-", about="pressure lost in bends and ends of each stream, in velocity heads", ge=0, le=100
    )
    pressure_drop_max_fraction: float = quantity(
        0.1,
        unit="-",
        about="most that the working fluid may lose in an exchanger, share of its pressure",
        gt=0,
        le=0.3,
    )
    water_pressure_drop_max_bar: float = quantity(
        1.0, unit="bar", about="most that a water stream may lose in an exchanger", gt=0, le=10
    )

    def materials(self) -> tuple[str, ...]:
        """Return what the tubes are made of, in the words of a scenario's materials; nothing without tubes."""
        if self.method != "tubes":
            return ()
        return tuple(part.material.replace("_", " ") for part in (self.boiler, self.coil, self.condenser))

    @model_validator(mode="after")
    def _places(self) -> Exchangers:
        for place in ("boiler", "condenser"):
            if getattr(self, place).kind == "coil":
                raise ValueError(f"{place}.kind coil stands in no store; it must be jacket or bundle")
        if self.coil.kind != "coil":
            raise ValueError(
                f"coil.kind {self.coil.kind} must be coil: it is the boiler in a fully mixed store"
            )
        return self
