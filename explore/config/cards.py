"""The catalogue's cards: what the equation of state does not know of a fluid, and the collectors."""

from __future__ import annotations

from itertools import product
from typing import Annotated, Literal

from pydantic import Field, model_validator

from explore.config.fields import ASSUMED, Checked, doubted
from explore.fluids.blend import Blend
from explore.judgement.safety_class import toxicity


class FluidCard(Checked):
    """One working fluid: what the equation of state does not know."""

    name: str = Field(description="CoolProp name; of a mixture, a name of its own")
    title: str = Field(description="name a builder uses, with its refrigerant number")
    safety_class: str = Field(description="ISO 817 / ASHRAE 34 class, or 'unclassified'")
    flammable: bool = Field(
        description="whether it burns: true asks for a room by a quarter of its flammability limit"
    )
    toxic: bool = Field(
        description="whether it poisons: true asks for a room by its exposure limit, and so does any limit below 400 ppm"
    )
    safety_source: str = Field(description="where class, burning and poisoning are published")
    lfl_percent: float | None = Field(
        default=None, gt=0, lt=100, description="lower flammability limit, volume %"
    )
    lfl_kg_per_m3: float | None = Field(
        default=None,
        gt=0,
        description="the same by mass, which the room is reckoned from",
    )
    lfl_source: str = Field("", description="where the flammability limits are published")
    exposure_limit_ppm: float | None = Field(
        default=None,
        gt=0,
        description="what air at work may hold; the room of a toxic fluid is reckoned from it",
    )
    exposure_limit_source: str = Field("", description="where the exposure limit is published")
    gwp100: float | None = Field(
        default=None, ge=0, description="warming over a hundred years, that of CO2 being 1; empty: not known"
    )
    gwp_source: str = Field("", description="where the warming potential is published")
    regulation: str = Field(description="legal status of use")
    regulation_date: str = Field(description="date at which `regulation` was true, YYYY-MM-DD")
    phase_down: bool = Field(
        default=False,
        description="named in a phase-down of fluorinated gases or in the PFAS restriction proposal",
    )
    price_EUR_per_kg: float = Field(
        ge=0,
        description="assumption",
        json_schema_extra=doubted("price of small parts", times=(0.7, 1.6)),
    )
    price_source: str = Field(ASSUMED, description="where the price is from")
    attacks: tuple[str, ...] = Field(default=(), description="materials the fluid attacks")
    remarks: tuple[str, ...] = Field((), description="what else a builder should know; sentences")
    liquid_conductivity_W_per_mK: float | None = Field(
        None, gt=0, description="saturated liquid at 50 degC; empty: 0.10, an assumption"
    )
    liquid_conductivity_source: str = Field(
        f"{ASSUMED}: 0.10 W/(m K)", description="where the conductivity is from"
    )
    vapour_viscosity_Pa_s: float | None = Field(
        None, gt=0, description="saturated vapour at 80 degC; empty: 9e-6, an assumption"
    )
    vapour_viscosity_source: str = Field(f"{ASSUMED}: 9e-6 Pa s", description="where the viscosity is from")
    composition_range: dict[str, tuple[float, float]] | None = Field(
        None, description="of bottled gas: least and greatest fraction of a component that a bottle may hold"
    )
    composition_source: str = Field(ASSUMED, description="where the range of the bottle is from")
    components: dict[str, Annotated[float, Field(gt=0, lt=1)]] | None = Field(
        None, description="of a mixture: CoolProp name of each component and its fraction; they sum to one"
    )
    fractions: Literal["mole", "mass"] = Field("mole", description="what the fractions of components count")

    @model_validator(mode="after")
    def _whole(self) -> FluidCard:
        if self.components is None:
            return self
        if len(self.components) < 2:
            raise ValueError(
                f"components: a mixture has at least two, {self.name} gives {len(self.components)}"
            )
        total = sum(self.components.values())
        if abs(total - 1.0) > 1e-6:
            raise ValueError(
                f"components: the {self.fractions} fractions of {self.name} sum to {total:.7g}, they must sum to 1"
            )
        return self

    @model_validator(mode="after")
    def _bottle(self) -> FluidCard:
        for component, (least, most) in (self.composition_range or {}).items():
            given = (self.components or {}).get(component, 1.0 if component == self.name else None)
            if not 0.0 <= least <= most <= 1.0 or (given is not None and not least <= given <= most):
                raise ValueError(
                    f"composition_range: [{least:g}, {most:g}] of {component} in {self.name} must rise within 0 and 1 and "
                    "hold the card's own fraction"
                )
        return self

    @model_validator(mode="after")
    def _room_for_the_rest(self) -> FluidCard:
        bottle = self.composition_range or {}
        if bottle and not set(self._fractions) - set(bottle):
            raise ValueError(
                f"composition_range: it names every component of {self.name}; leave out the one that makes up the rest"
            )
        if sum(most for _, most in bottle.values()) > 1.0:
            raise ValueError(
                f"composition_range: the greatest fractions in {self.name} together pass 1; nothing is left for the rest"
            )
        return self

    @property
    def poisons(self) -> bool:
        """Whether the fluid counts as toxic: it is said so, or has an exposure limit of class B, whatever else is said."""
        limit = self.exposure_limit_ppm
        return self.toxic or (limit is not None and toxicity(limit) == "B")

    @property
    def _fractions(self) -> dict[str, float]:
        return self.components or {self.name: 1.0}

    @property
    def ends(self) -> tuple[str | Blend, ...]:
        """Substances at the ends of the composition range; empty without one.

        Components that the range does not name share what is left in the proportions of the card.
        """
        bottle = self.composition_range
        if not bottle:
            return ()
        rest = {name: share for name, share in self._fractions.items() if name not in bottle}
        found = []
        for chosen in product(*bottle.values()):
            left = (1.0 - sum(chosen)) / sum(rest.values())
            parts = dict(zip(bottle, chosen, strict=True)) | {
                name: left * share for name, share in rest.items()
            }
            found.append(self._made_of({name: share for name, share in parts.items() if share > 0.0}))
        return tuple(found)

    def _made_of(self, parts: dict[str, float]) -> str | Blend:
        if len(parts) == 1:
            return next(iter(parts))
        return Blend(self.name, tuple(parts), tuple(parts.values()), by_mass=self.fractions == "mass")

    @property
    def is_mixture(self) -> bool:
        """Whether the card names components."""
        return self.components is not None

    @property
    def substance(self) -> str | Blend:
        """What the property library is asked for: a CoolProp name, or the mixture."""
        if self.components is None:
            return self.name
        return self._made_of(self.components)


class Collector(Checked):
    """A collector kind: ISO 9806 coefficients, incidence modifier and price."""

    name: str = Field(description="how a design names it")
    title: str = Field(description="name a builder uses")
    eta0: float = Field(
        gt=0,
        le=1,
        description="zero-loss efficiency",
        json_schema_extra=doubted("collectors", "low", times=(0.95, 1.03)),
    )
    a1: float = Field(
        ge=0, description="W/(m2 K)", json_schema_extra=doubted("collectors", times=(0.85, 1.25))
    )
    a2: float = Field(
        ge=0, description="W/(m2 K2)", json_schema_extra=doubted("collectors", times=(0.85, 1.25))
    )
    area_basis: Literal["gross", "aperture"] = Field(description="area that the coefficients are per")
    iam_b0: float = Field(ge=0, lt=1, description="incidence angle modifier 1 - b0 (1/cos - 1)")
    price_EUR_per_m2: float = Field(
        ge=0,
        description="of that area, with its stand",
        json_schema_extra=doubted("price of collectors", times=(0.7, 1.6)),
    )
    source: str = Field(description="where the coefficients are published")
    price_source: str = Field(ASSUMED, description="where the price is from")
