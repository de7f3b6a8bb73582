"""Checks of the sun: position, tilted plane, collectors and typical years."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from explore.plant.collector import stagnation_excess, useful_heat
from explore.units import ZERO_C
from explore.verify.bench import Bench
from explore.verify.check import Check, Kind, given, on_bench
from explore.verify.reading import rows
from explore.verify.sources import cite
from explore.year.sun import SunPosition, effective_irradiance, sun_position, transpose

SUN, COLLECTOR, WEATHER = "sun on the plane", "collectors", "weather"
SPF = {"eta0": 0.623, "a1": 1.52, "a2": 0.0146}
G_W_PER_M2 = 800.0
DULL_DAY_KWH = 1.5


def checks() -> Iterator[Check]:
    """Every check of this module."""
    yield from _position()
    yield from _tilted_plane()
    yield from _incidence_modifier()
    yield from _collectors()
    yield from _weather_years()


def sun_of_the_example() -> SunPosition:
    """Position of the sun at the instant of NREL's worked example."""
    instant = np.array(["2003-10-17T19:30:30"], dtype="datetime64[s]")
    site = (39.742476, -105.1786, 1830.14)
    return sun_position(instant, *site, pressure_Pa=82e3, temperature_degC=11.0, delta_t_s=67.0)


def incidence_of_the_example() -> float:
    """Incidence angle [deg] on the tilted plane of NREL's worked example, by the plant's transposition."""
    sun = sun_of_the_example()
    dark = np.zeros(1)
    plane = transpose(
        sun.zenith_deg, sun.azimuth_deg, ghi=dark, dni=dark, dhi=dark, extraterrestrial=dark + 1400.0,
        tilt_deg=30.0, azimuth_deg=170.0, albedo=0.0,
    )  # fmt: skip
    return float(plane.incidence_deg[0])


def _position() -> Iterator[Check]:
    found: list[tuple[str, str, str, float, float, Callable[[Bench], float]]] = [
        ("zenith", "zenith angle, refraction included", "deg", 50.11162, 1e-5,
         lambda b: float(sun_of_the_example().zenith_deg[0])),
        ("azimuth", "azimuth", "deg", 194.34024, 1e-5, lambda b: float(sun_of_the_example().azimuth_deg[0])),
        ("elevation", "elevation without refraction", "deg", 39.872046, 1e-6,
         lambda b: float(sun_of_the_example().true_elevation_deg[0])),
        ("time", "equation of time", "min", 14.641503, 1e-4,
         lambda b: float(sun_of_the_example().equation_of_time_min[0])),
        ("incidence", "incidence on 30 deg of tilt, 10 deg east of south", "deg", 25.18700, 1e-5,
         lambda b: incidence_of_the_example()),
    ]  # fmt: skip
    for name, words, unit, value, tolerance, ours in found:
        yield Check(
            f"sun-{name}",
            SUN,
            f"17 October 2003, 12:30:30 UTC-7, Golden: {words}",
            unit,
            value,
            tolerance,
            False,
            cite("spa/Table A5.1"),
            "published",
            "component",
            ours,
        )


def diffuse(
    part: str, *, zenith: float, azimuth: float, tilt: float, albedo: float, **irradiance: float
) -> float:
    """One diffuse part [W/m2] of the irradiance on a plane facing south, by the plant's transposition."""
    sun = {name: np.array([value]) for name, value in irradiance.items()}
    plane = transpose(
        np.array([zenith]), np.array([azimuth]), tilt_deg=tilt, azimuth_deg=180.0, albedo=albedo, **sun
    )
    return float(getattr(plane, part)[0])


def _tilted_plane() -> Iterator[Check]:
    def sky(bench: Bench) -> float:
        return diffuse("sky", zenith=30.0, azimuth=170.0, tilt=40.0, albedo=0.0,
                       ghi=0.0, dni=800.0, dhi=100.0, extraterrestrial=1400.0)  # fmt: skip

    def overcast(bench: Bench) -> float:
        return diffuse("sky", zenith=60.0, azimuth=180.0, tilt=45.0, albedo=0.0,
                       ghi=100.0, dni=0.0, dhi=100.0, extraterrestrial=1400.0)  # fmt: skip

    def ground(bench: Bench) -> float:
        return diffuse("ground", zenith=60.0, azimuth=180.0, tilt=45.0, albedo=0.2,
                       ghi=500.0, dni=0.0, dhi=0.0, extraterrestrial=1400.0)  # fmt: skip

    found: list[tuple[str, str, float, str, Kind, Callable[[Bench], float]]] = [
        ("sky", "sky diffuse on 40 deg, 100 diffuse and 800 W/m2 beam, sun 30 deg from zenith", 102.5021,
         "hay/anisotropic sky with index DNI/1400", "recomputed", sky),
        ("overcast", "sky diffuse on 45 deg under 100 W/m2 of overcast sky", 85.3553,
         "duffie/isotropic sky, (1 + cos 45 deg)/2", "recomputed", overcast),
        ("ground", "from the ground on 45 deg, 500 W/m2, albedo 0.2", 14.6447,
         "duffie/ground reflection, (1 - cos 45 deg)/2", "recomputed", ground),
    ]  # fmt: skip
    for name, words, value, source, kind, ours in found:
        yield Check(
            f"plane-{name}", SUN, words, "W/m2", value, 1e-5, True, cite(source), kind, "component", ours
        )  # fmt: skip


def beam_modifier(angle_deg: float, b0: float) -> float:
    """Share of the beam that counts [-] at an incidence angle, by the plant's modifier."""
    tilted = transpose(
        np.array([angle_deg]), np.array([180.0]), ghi=np.zeros(1), dni=np.array([500.0]), dhi=np.zeros(1),
        extraterrestrial=np.array([1400.0]), tilt_deg=0.0, azimuth_deg=180.0, albedo=0.0,
    )  # fmt: skip
    return float(effective_irradiance(tilted, b0)[0] / tilted.beam[0])


def diffuse_modifier(b0: float) -> float:
    """Share of sky and ground that counts [-], by the plant's modifier."""
    plane = transpose(
        np.array([60.0]), np.array([180.0]), ghi=np.array([300.0]), dni=np.zeros(1), dhi=np.array([300.0]),
        extraterrestrial=np.array([1400.0]), tilt_deg=45.0, azimuth_deg=180.0, albedo=0.2,
    )  # fmt: skip
    return float(effective_irradiance(plane, b0)[0] / plane.total[0])


def _incidence_modifier() -> Iterator[Check]:
    yield Check(
        "incidence-modifier-diffuse",
        COLLECTOR,
        "incidence modifier for diffuse light, b0 = 0.1: that at 60 deg",
        "-",
        0.9,
        1e-4,
        True,
        cite("brandemuehl/equivalent angle near 60 deg"),
        "recomputed",
        "component",
        given(diffuse_modifier, 0.1),
    )
    for angle, value in ((60.0, 0.9), (45.0, 0.95858)):
        yield Check(
            f"incidence-modifier-{angle:g}",
            COLLECTOR,
            f"incidence modifier of one glass sheet, b0 = 0.1, at {angle:g} deg",
            "-",
            value,
            1e-4,
            True,
            cite("duffie/ch. 6, 1 - b0 (1/cos - 1)"),
            "recomputed",
            "component",
            given(beam_modifier, angle, 0.1),
        )


def collector_efficiency(rise: float) -> float:
    """Efficiency [-] of the SPF tube at 800 W/m2, its mean temperature ``rise`` [K] above the air."""
    return float(useful_heat(G_W_PER_M2, rise, **SPF)) / G_W_PER_M2


def _collectors() -> Iterator[Check]:
    for rise, value in ((0.0, 0.6230), (40.0, 0.5178), (70.0, 0.4006)):
        yield Check(
            f"collector-spf-{rise:g}",
            COLLECTOR,
            f"evacuated tube 0.623/1.52/0.0146 at 800 W/m2, {rise:g} K above the air: efficiency",
            "-",
            value,
            2e-4,
            True,
            cite("spf/coefficients as quoted in public"),
            "recomputed",
            "component",
            given(collector_efficiency, rise),
        )
    yield Check(
        "collector-stagnation",
        COLLECTOR,
        "flat plate 0.80/3.5/0.015 at 1000 W/m2: stagnation above the air",
        "K",
        142.07,
        1e-4,
        True,
        cite("iso9806/efficiency curve set to zero"),
        "recomputed",
        "component",
        lambda bench: float(stagnation_excess(1000.0, eta0=0.8, a1=3.5, a2=0.015)),
    )


def weather_figure(bench: Bench, spec: str, quantity: str) -> float:
    """One figure of a typical year in the unit of the data file."""
    weather = bench.weather(spec)
    found = {
        "global horizontal irradiation": weather.ghi.sum() / 1e3,
        "direct normal irradiation": weather.dni.sum() / 1e3,
        "diffuse horizontal irradiation": weather.dhi.sum() / 1e3,
        "mean air temperature": weather.air_temperature_K.mean() - ZERO_C,
        "lowest air temperature": weather.air_temperature_K.min() - ZERO_C,
        "days below 1.5 kWh/m2": (weather.ghi.reshape(-1, 24).sum(axis=1) / 1e3 < DULL_DAY_KWH).sum(),
    }
    return float(found[quantity])


def _weather_years() -> Iterator[Check]:
    for row in rows("weather_years"):
        yield Check(
            f"weather-{row['file'].partition('.')[0]}-{row['quantity'].replace(' ', '-').replace('/', '-')}",
            WEATHER,
            f"{row['source'].partition('/')[2]}, typical year: {row['quantity']}",
            row["unit"],
            float(row["value"]),
            float(row["tolerance"]),
            False,
            cite(row["source"]),
            "recomputed",
            "component",
            on_bench(weather_figure, f"pvlib:{row['file']}", row["quantity"]),
        )
