"""Measured machines and parts: predicted over measured, shown also where it is red.

The rows stand in ``data/measured_machines.csv`` and ``data/measured_parts.csv``. Nothing here binds: a measured row
outside its accuracy is marked, and does not make the checks fail. Rows from memory, and rows run under conditions
that are assumed, are shown and left out of the statistics.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

import numpy as np

from explore.plant.collector import useful_heat
from explore.plant.pump import FeedPump, feed_efficiency
from explore.plant.store import loss_coefficient
from explore.verify.bench import Bench
from explore.verify.check import Check, Kind, given, on_bench
from explore.verify.reading import rows
from explore.year.sun import PlaneIrradiance, effective_irradiance

if TYPE_CHECKING:
    import pandas as pd

Prediction = Callable[[Bench], float]
Row = dict[str, str]

MACHINES_TOPIC = "measured machines"
TOPICS = {
    "pump": "measured pumps",
    "store": "measured stores",
    "collector": "measured collectors",
    "price": "prices on sale",
}

# Section 5 of the model: mineral wool, air outside, joints and damp between 1.05 and 1.6, fittings between 0.3 and 1.5.
CONDUCTIVITY_W_PER_M_K = 0.035
OUTSIDE_FILM_W_PER_M2_K = 10.0
JOINTS = 1.25
FITTINGS_W_PER_K = 0.6

# CENER report 30.4062.0-001: the coefficients of the plate, its irradiance and the modifier of the diffuse part.
PUMP_RISE_PA = 5e5
PLATE = {"eta0": 0.739, "a1": 3.51, "a2": 0.017}
BEAM_W_PER_M2, DIFFUSE_W_PER_M2, DIFFUSE_MODIFIER = 850.0, 150.0, 0.91


def checks() -> Iterator[Check]:
    """Every check of this module: the parts, then the machines whose predictions are known."""
    yield from part_checks(_parts())
    yield from machine_checks(MACHINES)


def part_checks(predicted: Mapping[str, Prediction]) -> Iterator[Check]:
    """Checks of the rows of ``measured_parts.csv`` by id; raises ValueError for an id that has no row."""
    yield from _checks("measured_parts", predicted)


def machine_checks(predicted: Mapping[str, Prediction]) -> Iterator[Check]:
    """Checks of the rows of ``measured_machines.csv``.

    ``predicted``: by id (``"M1"``) what gives the model's value in the row's unit; rows without one are passed over.
    Raises ValueError for an id that has no row.
    """
    yield from _checks("measured_machines", predicted)


def _checks(file: str, predicted: Mapping[str, Prediction]) -> Iterator[Check]:
    found = {row["id"]: row for row in rows(file)}
    unknown = sorted(set(predicted) - set(found))
    if unknown:
        raise ValueError(f"{file}.csv has no row {', '.join(unknown)}")
    for name, row in found.items():
        if name in predicted:
            yield _check(row, predicted[name])


def _check(row: Row, ours: Prediction) -> Check:
    value, accuracy = measured(row)
    band = f" (band {row['low']} to {row['high']})" if row["low"] else ""
    return Check(
        f"measured-{row['id']}",
        TOPICS[row["part"]] if "part" in row else MACHINES_TOPIC,
        f"{row['what']}: {row['quantity']}{band}",
        row["unit"],
        value,
        accuracy,
        False,
        row["source"],
        kind(row),
        "component",
        ours,
    )


def measured(row: Row) -> tuple[float, float]:
    """Return value and accuracy of a row in its unit; of a band its middle and half its width."""
    if row["low"]:
        low, high = float(row["low"]), float(row["high"])
        return 0.5 * (low + high), 0.5 * (high - low)
    return float(row["value"]), float(row["accuracy"] or 0.0)


def kind(row: Row) -> Kind:
    """Say how a row may be used: only a plain 'measured' one counts in the statistics."""
    if row["mark"] == "M":
        return "measured, from memory"
    return "measured, conditions assumed" if row["assumed"] else "measured"


def statistics(frame: pd.DataFrame) -> pd.DataFrame:
    """Predicted over measured, a line a machine or part.

    ``frame``: results of :func:`explore.verify.run`. Returns ``machine`` (the number of its rows, "M31"), ``topic``,
    ``rows``, ``mean``, ``low`` and ``high`` of predicted over measured [-] and ``error``, the mean of its distance
    from 1 [-]; rows from memory or under assumed conditions are left out.
    """
    import pandas as pd

    counted = frame.loc[frame["kind"] == "measured"]
    ratio = counted["ours"] / counted["published"]
    number = counted["check"].str.extract(r"measured-([A-Z]\d+)", expand=False)
    table = pd.DataFrame(
        {"machine": number, "topic": counted["topic"], "ratio": ratio, "off": (ratio - 1.0).abs()}
    )
    grouped = table.groupby(["machine", "topic"], sort=False)
    return grouped.agg(
        rows=("ratio", "size"),
        mean=("ratio", "mean"),
        low=("ratio", "min"),
        high=("ratio", "max"),
        error=("off", "mean"),
    ).reset_index()


def in_words(frame: pd.DataFrame) -> str:
    """Say how far the measured rows lie from the model, topic by topic; empty without such rows."""
    shown = frame.loc[~frame["binding"].astype(bool)]
    if shown.empty:
        return ""
    counted = statistics(frame)
    ranges = [
        f"{topic} {_span(block['low'].min(), block['high'].max())}"
        for topic, block in counted.groupby("topic", sort=False)
    ]
    left_out = int((shown["kind"] != "measured").sum())
    red = [re.sub("^measured-", "", name) for name in shown.loc[~shown["within"].astype(bool), "check"]]
    parts = [f"{len(shown)} measured rows, predicted over measured: {', '.join(ranges) or 'none counts'}"]
    if left_out:
        parts.append(f"{left_out} from memory or under assumed conditions not counted")
    parts.append(f"outside the accuracy of the measurement: {', '.join(red) if red else 'none'}")
    return "; ".join(parts) + "."


def _span(low: float, high: float) -> str:
    return f"{low:.2f}" if f"{low:.2f}" == f"{high:.2f}" else f"{low:.2f} to {high:.2f}"


def store_loss(volume_L: float, insulation_mm: float) -> float:
    """Heat loss [W/K] of a store by section 5 of the model: shell and ends times the joints, and the fittings."""
    bare = loss_coefficient(
        np.array([volume_L / 1e3]),
        np.array([insulation_mm / 1e3]),
        CONDUCTIVITY_W_PER_M_K,
        OUTSIDE_FILM_W_PER_M2_K,
        0.0,
    )
    return float(JOINTS * bare[0] + FITTINGS_W_PER_K)


def standing_loss(volume_L: float, insulation_mm: float, rise_K: float) -> float:
    """Standing loss [W] of a store ``rise_K`` above the room."""
    return store_loss(volume_L, insulation_mm) * rise_K


def plate_heat(rise_K: float) -> float:
    """Heat [W/m2] of the certified plate with its mean temperature ``rise_K`` above the air, by the plant's curve."""
    beam, sky, none = np.array([BEAM_W_PER_M2]), np.array([DIFFUSE_W_PER_M2]), np.zeros(1)
    plane = PlaneIrradiance(beam=beam, sky=sky, ground=none, total=beam + sky, incidence_deg=none)
    sun = effective_irradiance(plane, 1.0 - DIFFUSE_MODIFIER)
    return float(useful_heat(sun, rise_K, **PLATE)[0])


def pump_efficiency(bench: Bench) -> float:
    """Efficiency of the plant's feed pump [-] against 5 bar; most rows state no pressure."""
    law = bench.evaluator(15.0).plant.machine.feed_pump
    if not isinstance(law, FeedPump):
        return float(law)
    return float(feed_efficiency(law, np.zeros(1), np.array([PUMP_RISE_PA]))[0])


def collector_price(bench: Bench, name: str) -> float:
    """Price of a collector of the catalogue [EUR/m2]."""
    return float(bench.case.collectors[name].price_EUR_per_m2)


def fluid_price(bench: Bench, name: str) -> float:
    """Price of a fluid of the catalogue [EUR/kg]."""
    return float(bench.case.card(name).price_EUR_per_kg)


def _parts() -> dict[str, Prediction]:
    """What predicts which part.

    The heaters of M28 and the tanks of M29 state no insulation, the fields of M32 no weather: they stay bands. The
    store of M33c is a check of the bill already.
    """
    sized = {row["id"]: row for row in rows("measured_parts")}

    def size(name: str, *columns: str) -> tuple[float, ...]:
        return tuple(float(sized[name][column]) for column in columns)

    stores = {name: given(store_loss, *size(name, "volume_L", "insulation_mm")) for name in ("M26", "M27")}
    lines = {
        name: given(standing_loss, *size(name, "volume_L", "insulation_mm", "rise_K"))
        for name in ("M30-300", "M30-500", "M30-1000")
    }
    plates = {name: given(plate_heat, *size(name, "rise_K")) for name in sized if name.startswith("M31-")}
    return {
        **dict.fromkeys(("M22", "M23", "M24", "M25"), pump_efficiency),
        **stores,
        **lines,
        **plates,
        "M33a": on_bench(collector_price, "flat_plate"),
        "M33b": on_bench(collector_price, "evacuated_tube"),
        "M33d": on_bench(fluid_price, "R245fa"),
    }


def ran(bench: Bench, name: str) -> pd.DataFrame:
    """Run a measured machine with the losses of the default engine, saturated where it is steam; a row a condition.

    ``name``: a row of ``measured_machines.csv`` that holds bore, stroke, pressures, speed and a ratio or a cut-off. Of
    several inlet and outlet pressures in a cell each inlet, with its temperature, is run against each outlet.
    """
    from explore.model.given import run_machine

    row = {name: value for name, value in _machine(name).items() if value}
    cylinder = {
        "bore_mm": float(row["bore_mm"]),
        "stroke_mm": float(row["stroke_mm"]),
        "number": int(row.get("cylinders", "1")),
        "acting": row.get("acting", "single"),
    }
    cylinder |= (
        {"cut_off": float(row["cutoff"])}
        if "cutoff" in row
        else {"volume_ratio": float(row["built_in_ratio"])}
    )
    before, behind = _figures(row["inlet_pressure_bar_a"]), _figures(row["outlet_pressure_bar_a"])
    inlet = (
        {"inlet_temperature_degC": np.repeat(_figures(row["inlet_temperature_degC"]), len(behind)).tolist()}
        if "inlet_temperature_degC" in row
        else {"inlet_quality": 1.0}
    )
    machine = {
        "fluid": row["fluid"],
        "cylinders": [cylinder],
        "speed_rev_per_min": float(row["speed_rev_per_min"]),
        "inlet_pressure_bar_a": np.repeat(before, len(behind)).tolist(),
        "outlet_pressure_bar_a": np.tile(behind, len(before)).tolist(),
        **inlet,
        **({"vapour_viscosity_Pa_s": AIR_VISCOSITY} if row["fluid"] == "Air" else {}),
    }
    return run_machine(machine, bench.case)


def _figures(cell: str) -> list[float]:
    return [float(one) for one in cell.split()]


def _machine(name: str) -> Row:
    return next(row for row in rows("measured_machines") if row["id"] == name)


def machine_figure(bench: Bench, name: str, column: str, factor: float = 1.0) -> float:
    """One figure of :func:`ran` times a factor of units; of several conditions the greatest, as the best was measured."""
    return factor * float(ran(bench, name)[column].max())


def steam_rate(bench: Bench, name: str) -> float:
    """Steam [lb/(ihp h)] that a measured engine uses."""
    found = ran(bench, name).iloc[0]
    return float(found["flow_kg_per_h"] / LB_KG / (found["indicated_power_W"] / HP_W))


def shaft_mean_pressure(bench: Bench, name: str) -> float:
    """Shaft work of a revolution over the displacement [bar] of an engine that takes one charge a revolution."""
    row, torque = _machine(name), float(ran(bench, name)["torque_Nm"].iloc[0])
    swept = (
        0.25 * np.pi * float(row["bore_mm"]) ** 2 * float(row["stroke_mm"]) * 1e-9 * float(row["cylinders"])
    )
    return float(2.0 * np.pi * torque / swept / 1e5)


LB_KG, HP_W = 0.45359237, 745.69987
AIR_VISCOSITY = 2.1e-5
"""Of air at 80 degC [Pa s], any handbook; it has no card."""

MACHINES: dict[str, Prediction] = {
    "M1": on_bench(machine_figure, "M1", "shaft_efficiency"),
    **{name: on_bench(machine_figure, name, "missing_quantity", 100.0) for name in ("M4a", "M4b", "M4c")},
    **{name: on_bench(steam_rate, name) for name in ("M5a", "M5b")},
    "M10a": on_bench(machine_figure, "M10a", "torque_Nm"),
    "M10b": on_bench(machine_figure, "M10b", "shaft_power_W"),
    "M10c": on_bench(shaft_mean_pressure, "M10c"),
    "M10d": on_bench(shaft_mean_pressure, "M10d"),
}
"""Predictions of the machines by id, from the engine that runs a given machine; the others state too little to be run."""
