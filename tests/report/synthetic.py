"""A made-up run folder with the columns of a real one: plausible numbers, no model.

The page's tests and its development stand on this, so they need no search and no property tables.
"""

import csv
import json
from pathlib import Path

import numpy as np

from explore.config.schema import Case, Collector, FluidCard, Limits, Objective, Scenario, Search

# name, title, class, pressure at 20 degC [bar a], kelvin per factor e in pressure, LFL %, GWP, EUR/kg
FLUIDS = (
    ("R1234ze(E)", "R-1234ze(E)", "A2L", 4.3, 30.0, 6.5, 1.4, 38.0),
    ("R134a", "R-134a", "A1", 5.7, 29.0, None, 1530, 22.0),
    ("n-Butane", "Butane (R-600)", "A3", 2.1, 33.0, 1.8, 0.006, 6.0),
    ("IsoButane", "Isobutane (R-600a)", "A3", 3.0, 32.0, 1.8, 0.0, 7.0),
    ("n-Pentane", "Pentane (R-601)", "A3", 0.57, 36.0, 1.4, 0.0, 5.0),
    ("Isopentane", "Isopentane (R-601a)", "A3", 0.77, 35.0, 1.4, 0.0, 6.0),
    ("R1233zd(E)", "R-1233zd(E)", "A1", 1.08, 34.0, None, 3.9, 30.0),
    ("R245fa", "R-245fa", "B1", 1.23, 34.0, None, 962, 28.0),
    ("DimethylEther", "Dimethyl ether", "A3", 5.1, 30.5, 3.4, 1.0, 4.0),
    ("Ammonia", "Ammonia (R-717)", "B2L", 8.6, 27.5, 15.0, 0.0, 3.0),
    ("Cyclopentane", "Cyclopentane", "A3", 0.35, 37.0, 1.1, 0.0, 5.5),
)
BILL = (
    "collectors", "store", "insulation", "boiler", "condenser", "regenerator", "engine", "levels", "charge",
    "instruments", "fittings",
)  # fmt: skip


def case(title: str = "Orchard irrigation, made up", **limits: object) -> Case:
    """Return a whole checked configuration of a made-up scenario."""
    cards = {
        name.replace("(", "").replace(")", ""): FluidCard(
            name=name,
            title=shown,
            safety_class=kind,
            flammable=kind not in ("A1", "B1"),
            toxic=kind.startswith("B"),
            safety_source="made up",
            lfl_percent=lfl,
            gwp100=gwp,
            regulation="free to buy and fill, made up",
            regulation_date="2025-01-01",
            price_EUR_per_kg=price,
            attacks=("copper", "brass") if name == "Ammonia" else (),
        )
        for name, shown, kind, _, _, lfl, gwp, price in FLUIDS
    }
    tube = Collector(
        name="evacuated_tube", title="Evacuated tubes", eta0=0.62, a1=1.5, a2=0.015, area_basis="aperture",
        iam_b0=0.1, price_EUR_per_m2=420, source="made up",
    )  # fmt: skip
    objectives = (
        Objective(figure="work_per_litre_kJ", direction="maximise", ideal=20, reference=0),
        Objective(figure="cost_EUR", direction="minimise", ideal=2000, reference=20000),
        Objective(figure="peak_pressure_bar_g", direction="minimise", ideal=0, reference=30),
    )
    scenario = Scenario(
        name="made_up", title=title, description="Numbers of this run are made up for tests.",
        objectives=objectives, limits=Limits.model_validate(limits),
    )  # fmt: skip
    return Case(
        scenario=scenario,
        fluids=cards,
        collectors={"evacuated_tube": tube},
        search=Search(name="quick", designs=4000),
    )


def designs(count: int, seed: int) -> list[dict[str, object]]:
    """Return ``count`` made-up evaluated designs, feasible and not."""
    rng = np.random.default_rng(seed)
    return [_design(rng, FLUIDS[i % len(FLUIDS)]) for i in range(count)]


def _design(rng: np.random.Generator, fluid: tuple) -> dict[str, object]:
    name, _, kind, p20, scale, *_ = fluid
    stratified = rng.random() < 0.6
    stages = int(rng.integers(1, 4))
    levels = int(rng.integers(1, stages + 1)) if stratified else 1
    top, condensing = rng.uniform(70, 96), rng.uniform(18, 30)
    evaporating = rng.uniform(condensing + 20, top - 6)

    def pressure(temperature: float) -> float:
        return p20 * np.exp((temperature - 20) / scale * (1 - (temperature - 20) / 900))

    volume, area = 10 ** rng.uniform(2.3, 3.5), rng.uniform(4, 30)
    lift = evaporating - condensing
    good = (0.5 if stratified else 0.65) * (1 + 0.12 * (levels - 1)) * rng.uniform(0.82, 1.0)
    work = good * 0.0045 * (top - 14) * lift * (1.1 - 0.01 * abs(np.log(p20)))
    peak, standing = pressure(min(top + 5, 100)) - 1.013, pressure(min(top + 5, 100)) - 1.013
    swept = 0.9 / pressure(condensing) * rng.uniform(0.8, 1.2)
    served = float(np.clip(area / 14 * (1 - np.exp(-volume * work / 4000)), 0, 1))
    bill = {
        "collectors": 420 * area, "store": 28 * volume**0.65, "insulation": 0.5 * volume**0.67, "boiler": 320 * 0.9,
        "condenser": 260 * 1.1, "regenerator": 0.0, "engine": 260 * stages + 420 * (stages * swept) ** 0.6,
        "levels": 380 * levels, "charge": 4 * 12.0, "instruments": 240 + 90 * levels,
    }  # fmt: skip
    bill["fittings"] = 0.1 * sum(bill.values())
    cost = sum(bill.values())
    row: dict[str, object] = {
        "fluid": name, "store_mode": "stratified" if stratified else "mixed", "top_temperature_degC": top,
        "evaporating_temperature_degC": evaporating if stratified else "",
        "lowest_evaporating_temperature_degC": evaporating - 15 if levels > 1 else "",
        "boil_approach_K": "" if stratified else rng.uniform(2, 8),
        "stop_temperature_degC": "" if stratified else condensing + 25,
        "superheat_K": rng.uniform(0, 5), "condensing_temperature_degC": condensing, "subcooling_K": rng.uniform(1, 5),
        "pinch_boiler_K": rng.uniform(1, 6) if stratified else "", "pinch_condenser_K": rng.uniform(1, 6),
        "stages": stages, "pressure_levels": levels, "release_pressure_ratio": rng.uniform(1, 2),
        "regenerator_effectiveness": 0.0, "store_volume_L": volume, "insulation_mm": rng.uniform(50, 250),
        "collector": "evacuated_tube", "collector_area_m2": area,
        "feasible": bool(served > 0.5 and peak < 16), "work_per_litre_kJ": work, "work_per_litre_Wh": work / 3.6,
        "exergy_per_litre_kJ": 0.0065 * (top - 14) ** 2, "second_law_efficiency": work / (0.0065 * (top - 14) ** 2),
        "thermal_efficiency": 0.0017 * lift * good, "isentropic_efficiency": rng.uniform(0.6, 0.8),
        "back_work_ratio": rng.uniform(0.02, 0.08), "exhaust_quality": "", "net_work_kJ_per_kg": 0.3 * lift,
        "pump_work_kJ_per_kg": 1.2, "circulation_work_kJ_per_kg": 0.4, "boiler_pressure_bar_a": pressure(evaporating),
        "max_boiler_pressure_bar_a": pressure(top - 4), "condenser_pressure_bar_a": pressure(condensing),
        "peak_pressure_bar_g": peak, "standstill_pressure_bar_g": standing,
        "fault_pressure_bar_g": pressure(100) - 1.013, "pressure_at_20degC_bar_g": p20 - 1.013,
        "test_pressure_bar_g": 1.43 * peak, "water_per_fluid_kg": 2.1, "cooling_water_per_fluid_kg": 9.0,
        "return_temperature_degC": evaporating - 20, "held_fraction": 0.93 if stratified else "",
        "held_temperature_degC": "" if stratified else top - 3, "store_loss_W_per_K": 2.1,
        "boiler_area_m2": 0.9, "condenser_area_m2": 1.1, "regenerator_area_m2": "", "fluid_flow_kg_per_s": 0.0123,
        "charge_kg": 4.0, "room_volume_needed_m3": 180.0 if kind == "A3" else "", "served_share": served,
        "shaft_energy_kWh_per_year": 214 * served, "longest_unserved_hours": 20 * (1 - served) + 4,
        "autonomy_hours": volume * work / 250 / 3.6, "stagnation_hours": 300.0, "collector_yield_kWh_per_year": 350 * area,
        "sun_to_shaft_efficiency": 0.02, "cooling_water_L_per_year": 90000.0,
    }  # fmt: skip
    for stage in (1, 2, 3):
        used = stage <= stages
        bore = (4 * swept * stage / 1000 / np.pi) ** (1 / 3) * 1000
        figures = {
            f"volume_ratio_{stage}": 2.6, f"swept_volume_{stage}_L": swept * stage, f"bore_{stage}_mm": bore,
            f"stroke_{stage}_mm": bore, f"piston_speed_{stage}_m_per_s": bore / 100,
            f"receiver_pressure_{stage}_bar_a": pressure(evaporating - lift * (stage - 1) / stages),
            f"stage_work_{stage}_kJ_per_kg": 0.3 * lift / stages,
        }  # fmt: skip
        row |= {key: value if used else "" for key, value in figures.items()}
    row |= {f"cost_{line}_EUR": bill[line] for line in BILL}
    row |= {
        "cost_EUR": cost,
        "annual_cost_EUR": 0.11 * cost,
        "cost_EUR_per_kWh": 0.11 * cost / max(214 * served, 1),
    }
    return row | {"violation_served_share": 0.5 - served, "violation_ceiling_bar": peak - 16}


def front_rows(rows: list[dict[str, object]]) -> list[dict[str, object]]:
    """Return the feasible rows that no other beats clearly (by 8 %) in work, cost and pressure at once."""
    feasible = [row for row in rows if row["feasible"]]
    points = np.array([[-r["work_per_litre_kJ"], r["cost_EUR"], r["peak_pressure_bar_g"]] for r in feasible])
    return [
        row
        for row, point in zip(feasible, points, strict=True)
        if not (points < point - 0.08 * np.abs(point)).all(axis=1).any()
    ]


def make_run(
    folder: Path, *, count: int = 1500, seed: int = 1, title: str = "Orchard irrigation, made up"
) -> Path:
    """Write a made-up run folder and return it."""
    folder.mkdir(parents=True, exist_ok=True)
    whole, rows = case(title), designs(count, seed)
    front = front_rows(rows)
    _write_yaml(folder / "config.yaml", whole)
    write_csv(folder / "designs.csv", rows)
    write_csv(folder / "front.csv", front)
    write_csv(folder / "fluids.csv", [_fluid_row(f[0], front, whole) for f in FLUIDS])
    (folder / "summary.json").write_text(json.dumps(_summary(rows, front, seed)), encoding="utf-8")
    (folder / "sheets.json").write_text(json.dumps(_sheets(front)), encoding="utf-8")
    return folder


def over_worlds(folder: Path, reading: str = "cautious") -> Path:
    """Turn a made-up run into one searched over worlds, its objectives a fifth worse there, and return it."""
    from omegaconf import OmegaConf

    config = OmegaConf.load(folder / "config.yaml")
    config.search.against = reading
    (folder / "config.yaml").write_text(OmegaConf.to_yaml(config), encoding="utf-8")
    for name in ("front.csv", "designs.csv"):
        with (folder / name).open(encoding="utf-8", newline="") as file:
            rows: list[dict[str, object]] = [dict(row) for row in csv.DictReader(file)]
        for row in rows:
            for one in config.scenario.objectives:
                worse = 0.8 if one.direction == "maximise" else 1.2
                row[f"{reading}_{one.figure}"] = worse * float(str(row[one.figure]))
        write_csv(folder / name, rows)
    return folder


def write_csv(path: Path, rows: list[dict[str, object]]) -> None:
    """Write rows as CSV, numbers with ten significant digits."""
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(rows[0])
        for row in rows:
            writer.writerow([f"{v:.10g}" if isinstance(v, float) else v for v in row.values()])


def _write_yaml(path: Path, whole: Case) -> None:
    from omegaconf import OmegaConf

    path.write_text(OmegaConf.to_yaml(OmegaConf.create(whole.model_dump(mode="json"))), encoding="utf-8")


def _fluid_row(name: str, front: list[dict[str, object]], whole: Case) -> dict[str, object]:
    own = [row for row in front if row["fluid"] == name]
    row: dict[str, object] = {"fluid": name, "designs_on_front": len(own)}
    for ceiling in whole.report.pressure_ceilings_bar_g:
        under = [r["work_per_litre_kJ"] for r in own if r["peak_pressure_bar_g"] <= ceiling]
        row[f"work_per_litre_kJ_under_{ceiling:g}_bar_g"] = max(under, default="")
    return row


def _summary(rows: list, front: list, seed: int) -> dict[str, object]:
    evaluations = np.linspace(200, len(rows), 30).astype(int).tolist()
    rise = [0.42 * (1 - np.exp(-e / (0.2 * len(rows)))) for e in evaluations]
    return {
        "created_utc": "2025-11-25T10:00:00Z", "command": "explore scenario=made_up", "seed": seed, "seconds": 61.2,
        "designs_evaluated": len(rows), "designs_feasible": sum(bool(r["feasible"]) for r in rows),
        "hypervolume": rise[-1], "hypervolume_history": [list(pair) for pair in zip(evaluations, rise, strict=True)],
        "random_hypervolume_history": [[e, 0.8 * h] for e, h in zip(evaluations, rise, strict=True)],
        "designs_per_fluid": {f[0]: sum(r["fluid"] == f[0] for r in rows) for f in FLUIDS},
        "lost_to": {
            "violation_served_share": sum(bool(r["violation_served_share"] > 0) for r in rows),
            "violation_ceiling_bar": sum(bool(r["violation_ceiling_bar"] > 0) for r in rows),
        },
        "versions": {"python": "3.11.7", "numpy": np.__version__}, "hashes": {"config.yaml": "0" * 64},
        "cautions": ["Hot water and pressure injure; local codes and licensed practice decide."],
    }  # fmt: skip


def _sheets(front: list[dict[str, object]]) -> dict[str, object]:
    names = {row["fluid"] for row in front}
    dome = np.linspace(0, 1, 40)
    width = 0.75 * np.sqrt(1 - dome)
    domes = {
        name: {
            "T_degC": _short(130 * dome), "s_liquid_kJ_per_kgK": _short(1.0 + 0.55 * dome),
            "s_vapour_kJ_per_kgK": _short(1.0 + 0.55 * dome + width),
        }
        for name in names
    }  # fmt: skip
    return {"domes": domes, "designs": {str(i): _sheet(row) for i, row in enumerate(front, start=1)}}


def _short(values: object) -> list[float]:
    return [float(f"{v:.5g}") for v in np.asarray(values, dtype=float)]


def _sheet(row: dict[str, object]) -> dict[str, object]:
    cold, top = float(row["condensing_temperature_degC"]), float(row["top_temperature_degC"])
    hot = float(row["evaporating_temperature_degC"] or top - 6)
    stages, levels = int(row["stages"]), int(row["pressure_levels"])
    s_cold, s_hot = 1.0 + 0.55 * cold / 130, 1.0 + 0.55 * hot / 130
    s_dew = s_hot + 0.75 * np.sqrt(1 - hot / 130)
    low, high = float(row["condenser_pressure_bar_a"]), float(row["boiler_pressure_bar_a"])

    def state(name: str, place: str, p: float, t: float, h: float, s: float) -> dict[str, object]:
        figures = {"p_bar_a": p, "T_degC": t, "h_kJ_per_kg": h, "s_kJ_per_kgK": s}
        at = [640 + 40 * int(name), 460, 0]
        return {"name": name, "place": place, "quality": None, "at": at} | {
            k: float(f"{v:.5g}") for k, v in figures.items()
        }

    states = [
        state("1", "condenser outlet", low, cold - 2, 240, s_cold),
        state("2", "feed pump outlet", high, cold - 1, 241, s_cold),
    ]
    boilers = []
    for level in range(1, levels + 1):
        t = hot - 15 * (level - 1) / max(levels - 1, 1)
        states.append(state(str(len(states) + 1), f"boiler {level} outlet", high, t, 440 - 3 * level, s_dew))
        boilers.append({
            "q_kJ_per_kg": [0, 60, 190, 194], "fluid_T_degC": _short([cold, t, t, t + 3]),
            "fluid_s_kJ_per_kgK": _short([s_cold, s_hot, s_dew, s_dew + 0.01]),
            "water_T_degC": _short([t - 8, t + 3, top - 1, top]),
        })  # fmt: skip
    for stage in range(1, stages + 1):
        fall = stage / stages
        t, p = hot - (hot - cold - 4) * fall, high * (low / high) ** fall
        states.append(
            state(str(len(states) + 1), f"stage {stage} outlet", p, t, 437 - 30 * fall, s_dew + 0.02 * stage)
        )
    condenser = {
        "q_kJ_per_kg": [0, 3, 170, 178], "fluid_T_degC": _short([cold - 2, cold, cold, cold + 4]),
        "fluid_s_kJ_per_kgK": _short([s_cold - 0.01, s_cold, s_dew, s_dew + 0.04]),
        "water_T_degC": _short([14, 14.2, cold - 3, cold - 2.7]),
    }  # fmt: skip
    month = [0.2, 0.4, 0.7, 0.9, 1, 1, 1, 1, 0.95, 0.8, 0.4, 0.2]
    hours = [h in (18, 19, 20, 21) for h in range(24)]
    return {
        "states": states, "boilers": boilers, "condenser": condenser,
        "indicator": [_loop(row, stage) for stage in range(1, stages + 1)],
        "exergy": {
            "supplied_kJ_per_kg": 40.0, "work_kJ_per_kg": 17.5,
            "accounts": [
                {"component": name, "destroyed_kJ_per_kg": value}
                for name, value in (("boiler", 7.0), ("engine", 6.5), ("condenser", 5.0), ("feed pump", 1.0),
                                    ("water pumps", 0.5), ("water returned", 2.5))
            ],
        },
        "sunlight": {
            "sunlight_kJ_per_L": 300.0, "work_kJ_per_L": 15.0, "rejected_kJ_per_L": 5.0,
            "destroyed": [{"component": "collectors and pipes", "destroyed_kJ_per_L": 280.0}],
        },
        "served": [[round(m, 2) if asked and 4 <= i <= 10 else None for asked in hours]
                   for i, m in enumerate(month, start=1)],
        "months": {"collector_yield_kWh": [200.0 + 60 * m for m in range(12)], "shaft_energy_kWh": [30 * m for m in month]},
        "hazards": {"relief_setting_bar_g": 12.0, "walls": [{"part": "boiler", "material": "steel", "wall_mm": 2.0}]},
        "cautions": [
            {"text": f"{row['fluid']} leaks collect near the floor.", "level": "danger"},
            {"text": "Liquid shut in between two valves bursts pipe when it warms.", "level": "warning"},
        ],
    }  # fmt: skip


def _loop(row: dict[str, object], stage: int) -> dict[str, list[float]]:
    swept = float(row[f"swept_volume_{stage}_L"])
    inlet = float(row[f"receiver_pressure_{stage}_bar_a"])
    admitted = np.linspace(0.06, 0.4, 6)
    grown = np.linspace(0.4, 1.06, 20)
    expansion = inlet * (0.4 / grown) ** 1.05
    back = expansion[-1] * 0.8
    returned, closing = np.linspace(1.06, 0.15, 6), np.linspace(0.15, 0.06, 10)
    volume = np.concatenate([admitted, grown, returned, closing, [0.06]]) * swept
    pressure = np.concatenate([
        np.full(6, inlet * 0.96), expansion * 0.96, np.full(6, back), back * (0.15 / closing) ** 1.05, [inlet * 0.96],
    ])  # fmt: skip
    return {"V_L": _short(volume), "p_bar_a": _short(pressure)}
