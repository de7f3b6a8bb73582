"""Checks of bottled gas: lines and gas of a mixture against another equation of state and the trade's tables.

The numbers after Peng and Robinson are worked out with all interaction parameters zero, and critical constants and
acentric factors of Poling, appendix A; tests/fluids/peng_robinson.py works them out again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.fluids import mixture_tables
from explore.fluids.blend import Blend
from explore.fluids.helmholtz import HelmholtzFluid
from explore.fluids.water import ATMOSPHERE_PA
from explore.units import PA_PER_BAR, bar_gauge, kelvin
from explore.verify.bench import Bench
from explore.verify.check import Check, Way, on_bench
from explore.verify.sources import SOURCES, cite

TOPIC = "bottled gas"
CARD = "Butane-propane-70-30"
PROPANE, BUTANE = "n-Propane", "n-Butane"
LIQUID_KG_PER_L = {BUTANE: 0.584, PROPANE: 0.507}
"""Densities at 15.6 degC (60 degF), with which shares of liquid volume become shares of mass (from memory)."""


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _another_equation()
    yield from _dealers_table()
    yield Check(
        "bottled-gas-flammable", TOPIC, f"{CARD}: lower flammability limit by Le Chatelier's rule", "%", 1.495, 0.005,
        True, cite("lechatelier/rule on the limits 1.4 and 1.7 % of IEC 60079-20-1:2010"), "recomputed", "property",
        on_bench(flammability_limit),
    )  # fmt: skip


def blend(bench: Bench) -> Blend:
    """Return the mixture of the shipped card."""
    found = bench.case.card(CARD).substance
    if not isinstance(found, Blend):
        raise TypeError(f"{CARD} is no mixture")
    return found


def dew_bar(bench: Bench, degC: float) -> float:
    """Dew pressure of the mixture of the card [bar_a], by its tables."""
    fluid = mixture_tables.stack(blend(bench)).bind(np.zeros(1, dtype=np.intp))
    return float(fluid.dew_pressure(np.array([kelvin(degC)]))[0]) / PA_PER_BAR


def propane_in_gas(bench: Bench) -> float:
    """Share of propane, by mass, in the first gas over the charge at 20 degC [%]."""
    return 100.0 * mixture_tables.shares(blend(bench))[1][PROPANE]


def figure(bench: Bench, name: str) -> float:
    """Return a pressure [bar_g] of a plant on the mixture of the card with its store at 85 degC."""
    return bench.figure(name, fluid=CARD, top_temperature_degC=85.0)


def flammability_limit(bench: Bench) -> float:
    """Lower flammability limit of the card [%]."""
    return float(bench.case.card(CARD).lfl_percent or np.nan)


def _another_equation() -> Iterator[Check]:
    found: tuple[tuple[str, str, str, float, Way, Callable[[Bench], float]], ...] = (
        ("20", "bubble point at 20 degC, the plant's gauge pressure then", "bar_g", 3.1866, "system",
         on_bench(figure, "pressure_at_20degC_bar_g")),
        ("90", "bubble point at 90 degC, the standstill pressure of a store at 85 degC", "bar_g", 19.1421, "system",
         on_bench(figure, "standstill_pressure_bar_g")),
        ("dew-20", "dew point at 20 degC", "bar_a", 2.8729, "property", on_bench(dew_bar, 20.0)),
        ("dew-50", "dew point at 50 degC", "bar_a", 6.7748, "property", on_bench(dew_bar, 50.0)),
        ("gas", "propane in the first gas at 20 degC, by mass", "%", 59.64, "property", on_bench(propane_in_gas)),
    )  # fmt: skip
    for name, quantity, unit, value, way, ours in found:
        yield Check(
            f"bottled-gas-{name}", TOPIC, f"{CARD}: {quantity}", unit, value, 0.01, True,
            cite("peng/equations 4 to 22, interaction parameters zero"), "recomputed", way, ours,
        )  # fmt: skip


def gauge(bench: Bench, propane_share: float, degC: float) -> float:
    """Gauge pressure [bar_g] of butane with a share of propane by liquid volume, on its equation of state."""
    parts = {BUTANE: 1.0 - propane_share, PROPANE: propane_share}
    mass = [share * LIQUID_KG_PER_L[name] for name, share in parts.items()]
    mixed = Blend("dealer's mixture", tuple(parts), tuple(m / sum(mass) for m in mass), by_mass=True)
    fluid = HelmholtzFluid([mixed], np.zeros(1, dtype=np.intp))
    return bar_gauge(float(fluid.saturation_pressure(np.array([kelvin(degC)]))[0]), ATMOSPHERE_PA)


def _dealers_table() -> Iterator[Check]:
    """A table that dealers hand out, in psi and degF, its shares read as liquid volume: it does not say."""
    psi = 0.0689476
    for share, at_70, at_100 in ((0.7, 82.0, 134.0), (0.5, 61.0, 104.0), (0.3, 45.0, 79.0)):
        for degC, value in ((21.1, at_70), (37.8, at_100)):
            yield Check(
                f"bottled-gas-{100 * share:.0f}-{degC:g}", TOPIC,
                f"gauge on {100 * share:.0f} % propane, the rest butane, at {degC:g} degC ({value:g} psig)", "bar_g",
                value * psi, 0.06, True, f"{SOURCES['practice']}: dealers' table of propane and butane mixtures",
                "common practice, no source", "property", on_bench(gauge, share, degC),
            )  # fmt: skip
