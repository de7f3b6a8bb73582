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


SERVED_K = (293.15, 333.15)
"""Between 20 degC, where cooling water lets a fluid condense, and 60 degC, where stored hot water still boils it,
a working fluid must have liquid and vapour; a narrower range leaves no cycle worth building."""
CRITICAL_SHARE = 0.95
"""Of the critical temperature: nearer to it the equations of state and the tables lose their digits."""


def no_boiling_range(name: str) -> str:
    """Say why a pure fluid has no liquid and vapour over :data:`SERVED_K`; empty if it has both."""
    from CoolProp.CoolProp import PropsSI

    from explore.units import celsius  # NumPy stays off the path of --help

    cold, hot = SERVED_K
    try:
        critical, triple = PropsSI("Tcrit", name), PropsSI("Ttriple", name)
        if triple >= cold:
            return f"it is solid below {celsius(triple):.0f} °C"
        if CRITICAL_SHARE * critical <= hot:
            return f"above {celsius(critical):.0f} °C, its critical temperature, it does not boil"
        low, high = (PropsSI("P", "T", T, "Q", 1, name) for T in SERVED_K)
    except ValueError as error:
        return f"its equation of state gives no boiling pressure ({str(error).partition(':')[0].strip()})"
    return "" if low < high else "its boiling pressure does not rise with temperature"
