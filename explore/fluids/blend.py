"""A mixture of constant composition: what it is made of, before any property is asked for."""

from __future__ import annotations

from dataclasses import dataclass

from explore.errors import InputError


class UnusableError(InputError):
    """A mixture that the equation of state cannot serve; ``reason`` says why, in words that follow a name."""

    def __init__(self, name: str, reason: str) -> None:
        super().__init__(f"the mixture {name} cannot be used: {reason}")
        self.reason = reason


@dataclass(frozen=True)
class Blend:
    """A mixture: its name, CoolProp names of the components and their fractions [-], by mole or by mass."""

    name: str
    components: tuple[str, ...]
    fractions: tuple[float, ...]
    by_mass: bool = False

    def mole_fractions(self) -> list[float]:
        """Return the mole fractions [-], summing to one exactly.

        Raises ``ValueError`` (from CoolProp) for a component it does not know.
        """
        amounts = list(self.fractions)
        if self.by_mass:
            amounts = [x / M for x, M in zip(amounts, self.molar_masses(), strict=True)]
        return [n / sum(amounts) for n in amounts]

    def molar_masses(self) -> list[float]:
        """Return the molar masses of the components [kg/mol]."""
        from CoolProp import AbstractState

        return [AbstractState("HEOS", name).molar_mass() for name in self.components]

    def mass_fractions(self, mole_fractions: list[float]) -> list[float]:
        """Turn mole fractions of the components into mass fractions [-]."""
        masses = [x * M for x, M in zip(mole_fractions, self.molar_masses(), strict=True)]
        return [m / sum(masses) for m in masses]


def equation_names() -> list[str]:
    """Return the names of all fluids whose equation of state CoolProp holds."""
    from CoolProp import CoolProp

    return sorted(CoolProp.get_global_param_string("FluidsList").split(","))


def is_known(component: str) -> bool:
    """Say whether CoolProp has an equation of state for a component, under this name or an alias."""
    from CoolProp import AbstractState

    try:
        AbstractState("HEOS", component)
    except ValueError:
        return False
    return "&" not in component
