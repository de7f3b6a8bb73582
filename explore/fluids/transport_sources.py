"""Where each transport property of each fluid comes from, and the values themselves, one temperature at a time.

Used only while tables are built. The order of preference is CoolProp, then the fits of Perry's handbook and the VDI
Heat Atlas shipped with ``chemicals``, then a fit to reference values shipped with ``thermo``, then an estimate by
corresponding states. ``PREFERRED`` says where CoolProp 8.0.0 is passed over, and why.
"""

from __future__ import annotations

from importlib.metadata import version
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from explore.fluids.interface import Array

if TYPE_CHECKING:
    from collections.abc import Callable

PROPERTIES = ("mu_l", "mu_v", "k_l", "k_v", "sigma")
TITLES = {
    "mu_l": "liquid viscosity",
    "mu_v": "vapour viscosity",
    "k_l": "liquid conductivity",
    "k_v": "vapour conductivity",
    "sigma": "surface tension",
}
COOLPROP, PERRY, VDI, FIT = "coolprop", "DIPPR_PERRY_8E", "VDI_PPDS", "REFPROP_FIT"
ORDER = (COOLPROP, PERRY, VDI, FIT)

PREFERRED: dict[str, dict[str, tuple[str, str]]] = {
    "n-Pentane": {"mu_l": (PERRY, "CoolProp is 17-27 % below Perry and VDI")},
    "Isopentane": {"mu_l": (PERRY, "CoolProp's is an estimate, 9-13 % below Perry and VDI")},
    "Cyclopentane": {"mu_l": (PERRY, "CoolProp's is an estimate, 20-28 % below Perry")},
    "R152A": {"mu_v": (PERRY, "CoolProp is 7-17 % above Perry")},
    "R1234yf": {"mu_v": (FIT, "CoolProp's is an estimate, 10-24 % above")},
    "R245fa": {
        "mu_v": (FIT, "CoolProp's is an estimate, 14 % above"),
        "k_l": (FIT, "CoolProp uses estimated molecular parameters, 4-8 % above"),
        "k_v": (FIT, "CoolProp uses estimated molecular parameters, 21-28 % above"),
    },
    "Neopentane": {key: (VDI, "CoolProp has none") for key in ("mu_l", "mu_v", "k_l", "k_v")},
}
"""Choices other than the order of preference: fluid, property, (source, reason)."""

RELATIVES = {"R1336mzz(E)": "R1336mzz(Z)"}
"""Fluid whose reduced properties stand for those of a fluid without data: an isomer or near relative."""
ANY_RELATIVE = "R134a"
"""Stands in where no relative is named: CoolProp's own fits of all five properties go back to measurements of it."""
LAST_REDUCED = {"k_l": 0.90}
"""Reduced temperature up to which a relative's fit is followed; conductivity fits run away near the critical point."""

_PERRY_TABLES = {"mu_l": "2-313", "mu_v": "2-312", "k_l": "2-315", "k_v": "2-314"}
_COOLPROP_KEYS = {"mu": "VISCOSITY", "k_": "CONDUCTIVITY", "si": "SURFACE_TENSION"}
_COOLPROP_CALLS = {"mu": "viscosity", "k_": "conductivity", "si": "surface_tension"}


class Sourced(NamedTuple):
    """Values [SI] at the temperatures asked for, and the words that say where they come from."""

    values: Array
    source: str


def sourced(name: str, key: str, temperatures: Array) -> Sourced:
    """Return property ``key`` of saturated fluid ``name`` at temperatures [K], from the best source there is."""
    found = _measured(name, key, temperatures)
    if found is not None:
        return found
    relative = RELATIVES.get(name, ANY_RELATIVE)
    words = f"estimate, no data: {relative} at the same reduced temperature (corresponding states)"
    return Sourced(by_relative(name, relative, key, temperatures), words)


def _measured(name: str, key: str, temperatures: Array) -> Sourced | None:
    """Return values that go back to measurements, or ``None`` where no source has any."""
    preferred = PREFERRED.get(name, {}).get(key)
    order = ORDER if preferred is None else (preferred[0], *ORDER)
    for source in order:
        values = _mended(temperatures, _values(name, key, source, temperatures))
        if _sound(temperatures, values):
            reason = f"; {preferred[1]}" if preferred and source == preferred[0] else ""
            return Sourced(values, _words(name, key, source) + reason)
    return None


def _sound(temperatures: Array, values: Array) -> bool:
    """Whether values are finite, positive and free of a fit's runaway: nowhere a change of a tenth in one kelvin."""
    if not (np.isfinite(values).all() and (values > 0.0).all()):
        return False
    return bool((np.abs(np.diff(np.log(values))) <= 0.1 * np.diff(temperatures)).all())


def _mended(temperatures: Array, values: Array) -> Array:
    """Fill the few temperatures at which an equation does not solve, if all but a twentieth are there."""
    there = np.isfinite(values) & (values > 0.0)
    if there.all() or there.mean() < 0.95:
        return values
    curve = np.polyfit(temperatures[there], np.log(values[there]), 3)
    return np.where(there, values, np.exp(np.polyval(curve, temperatures)))


def _words(name: str, key: str, source: str) -> str:
    if source == COOLPROP:
        from CoolProp import CoolProp

        reference = CoolProp.get_BibTeXKey(name, _COOLPROP_KEYS[key[:2]])
        return f"CoolProp {version('CoolProp')}" + (f" ({reference})" if reference else "")
    if source == PERRY:
        return (
            f"Green and Perry, Perry's Chemical Engineers' Handbook, 8th ed. 2007, Table {_PERRY_TABLES[key]}"
        )
    if source == VDI:
        return "VDI Heat Atlas, 2nd ed. 2010, sec. D3.1"
    return f"fit to NIST reference values, shipped with thermo {version('thermo')}"


def _values(name: str, key: str, source: str, temperatures: Array) -> Array:
    call = _coolprop(name, key) if source == COOLPROP else _handbook(name, key, source)
    return np.array([call(float(T)) for T in temperatures])


def _coolprop(name: str, key: str) -> Callable[[float], float]:
    import CoolProp

    state = CoolProp.AbstractState("HEOS", name)
    quality, call = float(key.endswith("_v")), _COOLPROP_CALLS[key[:2]]

    def at(temperature: float) -> float:
        try:
            state.update(CoolProp.QT_INPUTS, quality, temperature)
            return float(getattr(state, call)())
        except ValueError:
            return float("nan")

    return at


def _handbook(name: str, key: str, source: str) -> Callable[[float], float]:
    from CoolProp import CoolProp
    from thermo import (
        SurfaceTension,
        ThermalConductivityGas,
        ThermalConductivityLiquid,
        ViscosityGas,
        ViscosityLiquid,
    )

    kinds = {
        "mu_l": ViscosityLiquid,
        "mu_v": ViscosityGas,
        "k_l": ThermalConductivityLiquid,
        "k_v": ThermalConductivityGas,
        "sigma": SurfaceTension,
    }
    correlation = kinds[key](CASRN=CoolProp.get_fluid_param_string(name, "CAS"))
    if source not in correlation.all_methods:
        return lambda temperature: float("nan")
    return lambda temperature: float(correlation.calculate(temperature, source))


def scale(key: str, molar_mass: float, critical_temperature: float, critical_pressure: float) -> float:
    """Return the group that makes a transport property dimensionless at equal reduced temperature.

    ``molar_mass`` M [kg/mol], ``critical_temperature`` T_c [K], ``critical_pressure`` p_c [Pa]. It stands over
    the same group of a relative, so that units fall out.
    Viscosity M^1/2 p_c^2/3 T_c^-1/6, conductivity M^-1/2 p_c^2/3 T_c^-1/6, surface tension p_c^2/3 T_c^1/3:
    Poling, Prausnitz and O'Connell, The Properties of Gases and Liquids, 5th ed. 2001, ch. 9, 10 and 12.
    """
    group = critical_pressure ** (2.0 / 3.0)
    if key == "sigma":
        return float(group * critical_temperature ** (1.0 / 3.0))
    mass = molar_mass**0.5 if key.startswith("mu") else molar_mass**-0.5
    return float(group * mass * critical_temperature ** (-1.0 / 6.0))


def by_relative(name: str, relative: str, key: str, temperatures: Array) -> Array:
    """Estimate a property from a relative at the same reduced temperature (principle of corresponding states).

    x(T) = x_r(T_r) s / s_r at T_r = T_c,r T / T_c with s of :func:`scale`; ``temperatures`` T [K] (n,), properties ``key``
    mu [Pa s], k [W/(m K)], sigma [N/m]. Range: reduced temperatures up to 0.95,
    liquid conductivity 0.90; beyond, the value there. Source: Poling, Prausnitz and O'Connell, as :func:`scale`.
    Held against fluids whose data are known, isomers meet each other within 17 % (tests/fluids/test_transport.py).
    Raises ``ValueError`` if the relative has no data either.
    """
    own, other = _critical(name), _critical(relative)
    reduced = np.minimum(temperatures / own[1], LAST_REDUCED.get(key, 0.95))
    there = _measured(relative, key, reduced * other[1])
    if there is None:
        raise ValueError(f"{relative} has no data of {TITLES[key]} either")
    return np.asarray(there.values * scale(key, *own) / scale(key, *other))


def _critical(name: str) -> tuple[float, float, float]:
    """Molar mass [kg/mol], critical temperature [K] and pressure [Pa]."""
    import CoolProp

    state = CoolProp.AbstractState("HEOS", name)
    return state.molar_mass(), state.T_critical(), state.p_critical()
