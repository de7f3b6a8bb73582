"""A given machine: from its file to figures a person reads, with the stage and the losses of every other design."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from explore import units
from explore.config.explain import closest
from explore.config.machine import CONDITIONS, GivenMachine, read_machine
from explore.errors import InputError
from explore.fluids.blend import Blend, equation_names, is_known
from explore.model.translation import losses_of
from explore.plant import machine as plant
from explore.plant.compound import Joining, run_compound
from explore.plant.given import Cylinder
from explore.plant.laws import Laws
from explore.plant.losses import CARDLESS_CONDUCTIVITY, CARDLESS_VISCOSITY
from explore.plant.machine import MachineResult

if TYPE_CHECKING:
    import pandas as pd

    from explore.config.cards import FluidCard
    from explore.config.schema import Case
    from explore.fluids.interface import WorkingFluid

UNSETTLED = 0.01
"""Change of the losses in the last sweep above which figures are not to be relied on."""


@dataclass(frozen=True)
class GivenRun:
    """A machine that has been run: ``figures``, a row a condition, and ``diagram``, the indicator diagrams as points.

    ``diagram`` has the columns condition and stage (from 1), volume_cm3 and pressure_bar_a: one side of one cylinder.
    ``assumed`` says which constants of the fluid are assumptions.
    """

    machine: GivenMachine
    figures: pd.DataFrame
    diagram: pd.DataFrame
    assumed: tuple[str, ...]


def run_machine(
    machine: Mapping[str, Any] | str | Path,
    scenario: Case | None = None,
    *,
    conditions: str | Path | None = None,
) -> pd.DataFrame:
    """Run a given machine; returns one row of figures for each condition.

    ``machine``: a mapping or the path of a YAML file with the keys ``fluid`` (a card or any fluid of CoolProp, air and
    nitrogen included), ``cylinders`` (a list, one a stage: ``bore_mm``, ``stroke_mm``, ``number``, ``acting``, and
    ``cut_off`` or ``volume_ratio``), ``speed_rev_per_min``, ``inlet_pressure_bar_a``, ``outlet_pressure_bar_a`` and
    ``inlet_temperature_degC`` or ``inlet_quality``, each a number or a list of n, and perhaps ``clearance_fraction``.
    ``conditions``: a CSV table with columns of those names. ``scenario``: its engine set gives the losses; that of
    :func:`load_scenario` by default.

    Columns: the conditions; flow_kg_per_h; indicated_power_W, shaft_power_W, torque_Nm; indicated_efficiency and
    shaft_efficiency [-] over loss-free expansion, mechanical_efficiency [-]; ideal_power_W; exhaust_temperature_degC;
    piston_speed_m_per_s; missing_quantity [-] of the first stage; port_violation, positive where a port chokes; residual
    of the losses; then for each stage its pressures, powers and what each loss takes [W]. Losses: ``plant/losses.py``.

    Raises :class:`InputError` for a machine that cannot turn, an unknown fluid, and an inlet that is liquid or near or
    above the critical point.
    """
    return run_given(machine, scenario, conditions=conditions).figures


def run_given(
    machine: Mapping[str, Any] | str | Path,
    scenario: Case | None = None,
    *,
    conditions: str | Path | None = None,
) -> GivenRun:
    """Run a given machine as :func:`run_machine` does; returns its indicator diagrams as well."""
    from explore.config.compose import load_scenario

    given = read_machine(machine, conditions)
    case = load_scenario("orchard") if scenario is None else scenario
    place = str(machine) if isinstance(machine, str | Path) else "machine"
    try:
        fluid, films, assumed = _fluid(case, given)
        done = _run(case, given, (fluid, films))
    except InputError as error:
        raise InputError(f"{place}: {error}") from error
    except ValueError as error:
        reason = str(error).partition(" : ")[0].strip()
        raise InputError(
            f"{place}: the property library has no state of {given.fluid} for these conditions: {reason}"
        ) from error
    return GivenRun(given, _figures(given, done), _diagram(done), assumed)


def solve(
    given: GivenMachine, case: Case, sweeps: int = plant.SWEEPS, properties: WorkingFluid | None = None
) -> MachineResult:
    """Run a checked machine in SI; raises :class:`InputError` as :func:`run_machine`, without the file's name.

    ``sweeps`` and ``properties`` as in :func:`explore.plant.machine.run_machine`.
    """
    fluid, films, _ = _fluid(case, given)
    return _run(case, given, (fluid, films), sweeps, properties)


def solve_compound(
    given: GivenMachine,
    case: Case,
    joining: Sequence[Joining],
    sweeps: int = plant.SWEEPS,
    properties: WorkingFluid | None = None,
) -> MachineResult:
    """Run a checked machine that takes vapour between its stages; as :func:`solve`, ``joining`` from the second boiler on.

    Raises :class:`InputError` for an engine set without laws of loss.
    """
    laws = losses_of(case.engine)
    if not isinstance(laws, Laws):
        raise InputError("engine.losses=constant has no laws for an engine of several boilers; take scaling")
    fluid, films, _ = _fluid(case, given)
    return run_compound(
        fluid, cylinders_of(given), _conditions(given), joining, laws, films, sweeps, properties
    )


def tables(given: GivenMachine, case: Case) -> WorkingFluid | None:
    """Return quick properties of the machine's fluid for its conditions; None for a fluid that has no tables."""
    from explore.fluids.table_fluid import Stack

    card = _card(case, given.fluid)
    if card is None or card.is_mixture:
        return None
    return Stack.of([card.name]).bind(np.zeros(given.count, dtype=np.intp))


def _fluid(case: Case, given: GivenMachine) -> tuple[str | Blend, tuple[float, float], tuple[str, ...]]:
    """Return the fluid, its constants for the laws, and which of these are assumptions."""
    card = _card(case, given.fluid)
    if card is None and not is_known(given.fluid):
        near = closest(given.fluid, [*case.fluids, *equation_names()])
        raise InputError(f"fluid {given.fluid!r} is not known to the property library{near}")
    conductivity = given.liquid_conductivity_W_per_mK or (card and card.liquid_conductivity_W_per_mK)
    viscosity = given.vapour_viscosity_Pa_s or (card and card.vapour_viscosity_Pa_s)
    assumed = []
    if not conductivity:
        assumed.append(f"conductivity of the liquid {CARDLESS_CONDUCTIVITY:g} W/(m K)")
    if not viscosity:
        assumed.append(f"viscosity of the vapour {CARDLESS_VISCOSITY:g} Pa s")
    films = (conductivity or CARDLESS_CONDUCTIVITY, viscosity or CARDLESS_VISCOSITY)
    name: str | Blend = given.fluid if card is None else card.substance
    return name, films, tuple(assumed)


def _card(case: Case, fluid: str) -> FluidCard | None:
    """The catalogue's card of a fluid, by file name or by its own name."""
    named = {card.name: card for card in case.fluids.values()}
    return case.fluids.get(fluid) or named.get(fluid)


def cylinders_of(given: GivenMachine) -> list[Cylinder]:
    """Return the cylinders of a machine's file, each in SI."""
    return [
        Cylinder(
            one.bore_mm / units.MM_PER_M,
            one.stroke_mm / units.MM_PER_M,
            one.number,
            1 if one.acting == "single" else 2,
            one.cut_off,
            one.volume_ratio,
        )
        for one in given.cylinders
    ]


def _run(
    case: Case,
    given: GivenMachine,
    fluid: tuple[str | Blend, tuple[float, float]],
    sweeps: int = plant.SWEEPS,
    properties: WorkingFluid | None = None,
) -> MachineResult:
    """Run a machine on a fluid and its constants for the laws, as :func:`_fluid` finds them."""
    name, films = fluid
    return plant.run_machine(
        name,
        cylinders_of(given),
        _conditions(given),
        losses_of(case.engine),
        films,
        given.clearance_fraction,
        sweeps,
        properties,
    )


def _conditions(given: GivenMachine) -> dict[str, np.ndarray]:
    """Return the conditions of a machine in SI."""
    columns = {
        name: np.array(getattr(given, name)) for name in CONDITIONS if getattr(given, name) is not None
    }
    si = {
        "frequency": columns["speed_rev_per_min"] / 60.0,
        "inlet_pressure": columns["inlet_pressure_bar_a"] * units.PA_PER_BAR,
        "outlet_pressure": columns["outlet_pressure_bar_a"] * units.PA_PER_BAR,
    }
    if given.inlet_quality is not None:
        si["inlet_quality"] = columns["inlet_quality"]
    else:
        si["inlet_temperature"] = units.kelvin(columns["inlet_temperature_degC"])
    return si


def _figures(given: GivenMachine, done: MachineResult) -> pd.DataFrame:
    import pandas as pd

    n = given.count
    table: dict[str, Any] = {
        name: np.broadcast_to(np.array(value, dtype=float), n)
        for name in CONDITIONS
        if (value := getattr(given, name)) is not None
    }
    table |= {
        "flow_kg_per_h": done.flow * units.SECONDS_PER_HOUR,
        "indicated_power_W": done.indicated_power,
        "shaft_power_W": done.shaft_power,
        "torque_Nm": done.torque,
        "indicated_efficiency": done.indicated_efficiency,
        "shaft_efficiency": done.shaft_efficiency,
        "mechanical_efficiency": done.mechanical_efficiency,
        "ideal_power_W": done.ideal_power,
        "exhaust_temperature_degC": units.celsius(done.exhaust_temperature),
        "piston_speed_m_per_s": done.piston_speed,
        "missing_quantity": done.missing,
        "port_violation": done.port_violation,
        "residual": done.residual,
    }
    for number, stage in enumerate(done.stages, start=1):
        table |= {
            f"stage_{number}_inlet_pressure_bar_a": units.bar(stage.inlet_pressure),
            f"stage_{number}_exhaust_pressure_bar_a": units.bar(stage.exhaust_pressure),
            f"stage_{number}_indicated_mean_pressure_bar": units.bar(stage.mean_pressure),
            f"stage_{number}_indicated_power_W": stage.indicated_power,
            f"stage_{number}_shaft_power_W": stage.shaft_power,
        }
        table |= {
            f"stage_{number}_lost_to_{what.replace(' ', '_')}_W": watts
            for what, watts in stage.lost_power.items()
        }
    return pd.DataFrame(table)


def _diagram(done: MachineResult) -> pd.DataFrame:
    import pandas as pd

    parts = []
    for number, stage in enumerate(done.stages, start=1):
        drawn = stage.diagram
        n, points, _ = drawn.shape
        parts.append(
            pd.DataFrame(
                {
                    "condition": np.repeat(np.arange(1, n + 1), points),
                    "stage": number,
                    "volume_cm3": 1e6 * drawn[:, :, 0].ravel(),
                    "pressure_bar_a": units.bar(drawn[:, :, 1].ravel()),
                }
            )
        )
    whole = pd.concat(parts, ignore_index=True)
    return whole.sort_values(["condition", "stage"], kind="stable", ignore_index=True)
