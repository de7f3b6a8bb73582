"""Checks of pressure vessels: wall, test pressure, relief, and the air of the site."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.judgement import vessels
from explore.plant.pump import circulation_work, suction_head
from explore.plant.site import SEA_LEVEL_PA, air_pressure
from explore.verify.bench import Bench
from explore.verify.check import Check, Kind, Way
from explore.verify.sources import cite

TOPIC, AIR = "pressure vessels", "air and pumps"
DESIGN_BAR_G = 20.0


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _codes()
    yield from _test_of_a_design()
    yield from _air()


def _codes() -> Iterator[Check]:
    found: list[tuple[str, str, str, float, float, str, Kind, Callable[[Bench], float]]] = [
        ("wall-asme", "wall for 1 MPa, radius 500 mm, 138 MPa, full joint", "mm", 3.6390, 1e-4,
         "asme8/UG-27(c)(1)", "recomputed", lambda b: float(vessels.wall_asme(1.0, 1000.0, 138.0, 1.0))),
        ("wall-en", "wall for 1 MPa, bore 1000 mm, 138 MPa, full joint", "mm", 3.6364, 1e-4,
         "en13445/clause 7.4.2", "recomputed", lambda b: float(vessels.wall_en13445(1.0, 1000.0, 138.0, 1.0))),
        ("wall-thin", "wall for 20 bar, bore 100 mm, hoop stress 50 MPa, less the pressure's own share", "mm", 2.0,
         0.03, "hand/thin tube, t = p d / (2 sigma)", "recomputed",
         lambda b: float(vessels.wall_en13445(2.0, 100.0, 50.0, 1.0))),
        ("stress", "design stress for Rp0.2 198 and Rm 360 MPa", "MPa", 132.0, 1e-9, "en13445/clause 6.2",
         "recomputed", lambda b: vessels.design_stress(198.0, 360.0)),
        ("joint", "joint efficiency of a weld without radiography", "-", 0.70, 1e-9, "asme8/UW-12", "published",
         lambda b: vessels.MATERIALS["steel"].joint_efficiency),
        ("test-ped", "hydrostatic test of a vessel for 20 bar_g", "bar_g", 28.6, 1e-9, "ped/Annex I, 7.4",
         "published", lambda b: float(vessels.proof_test_bar_g(DESIGN_BAR_G))),
        ("test-asme", "hydrostatic test of a vessel for 20 bar_g", "bar_g", 26.0, 1e-9, "asme8/UG-99(b)",
         "published", lambda b: float(vessels.proof_test_asme_bar_g(DESIGN_BAR_G))),
        ("relief-one", "highest setting of one relief valve at 20 bar_g", "bar_g", 20.0, 1e-9, "asme8/UG-134(a)",
         "published", lambda b: float(vessels.relief_setting_bar_g(DESIGN_BAR_G))),
        ("relief-two", "highest setting of a second relief valve at 20 bar_g", "bar_g", 21.0, 1e-9,
         "asme8/UG-134(a)", "published", lambda b: float(vessels.relief_setting_bar_g(DESIGN_BAR_G, 2))),
        ("threshold", "pressure from which a vessel is pressure equipment", "bar_g", 0.5, 1e-9, "ped/Article 1",
         "published", lambda b: float(vessels.design_pressure_bar_g(-0.4, -0.4))),
    ]  # fmt: skip
    for name, words, unit, value, tolerance, source, kind, ours in found:
        yield Check(
            f"vessel-{name}", TOPIC, words, unit, value, tolerance, True, cite(source), kind, "component", ours
        )  # fmt: skip


def _test_of_a_design() -> Iterator[Check]:
    def ratio(bench: Bench) -> float:
        return bench.figure("test_pressure_bar_g") / bench.figure("design_pressure_bar_g")

    yield Check(
        "vessel-test-of-a-design",
        TOPIC,
        "n-butane design: test pressure over design pressure",
        "-",
        1.43,
        1e-9,
        True,
        cite("ped/Annex I, 7.4"),
        "published",
        "system",
        ratio,
    )


def _air() -> Iterator[Check]:
    def water_column(bench: Bench) -> float:
        return float(suction_head(np.array([SEA_LEVEL_PA]), np.zeros(1), np.array([1e-3]), 0.0)[0])

    def well_pump(bench: Bench) -> float:
        return float(circulation_work(np.ones(1), np.array([1e-3]), 0.2e5, 6.0, 0.35)[0])

    found: list[tuple[str, str, str, float, float, str, Kind, Callable[[Bench], float]]] = [
        ("air-0", "air pressure at sea level", "Pa", 101325.0, 1e-9, "iso2533/table", "published",
         lambda b: air_pressure(0.0)),
        ("air-1000", "air pressure at 1000 m", "Pa", 89874.6, 1e-4, "iso2533/formula of the troposphere",
         "recomputed", lambda b: air_pressure(1000.0)),
        ("air-2000", "air pressure at 2000 m", "Pa", 79495.2, 1e-4, "iso2533/formula of the troposphere",
         "recomputed", lambda b: air_pressure(2000.0)),
        ("suction-water", "suction head of water of 1000 kg/m3 under one atmosphere", "m", 10.3323, 1e-5,
         "sp811/conventional metre of water, 9806.65 Pa", "recomputed", water_column),
        ("well-pump", "a kilogram of water lifted 6 m and against 0.2 bar, pump 0.35", "J", 225.257, 1e-5,
         "hand/(g H + v dp) / eta", "recomputed", well_pump),
    ]  # fmt: skip
    way: Way = "component"
    for name, words, unit, value, tolerance, source, kind, ours in found:
        yield Check(name, AIR, words, unit, value, tolerance, True, cite(source), kind, way, ours)
