"""What each zone of boiler, coil and condenser has to do, read off a cycle."""

from __future__ import annotations

import numpy as np

from explore.fluids.interface import Array, Saturation
from explore.plant import boiler
from explore.plant.tube_zone import Duty


def _duty(
    zone: boiler.Zone,
    heat: Array,
    fluid_flow: Array,
    water_flow: Array,
    fluid_temperature: Array,
    sign: float,
) -> Duty:
    """One zone's duty; the water is warmer (sign 1) or colder (-1) by the mean of the end differences."""
    gap = 0.5 * (zone.hot_difference + zone.cold_difference)
    return Duty(
        zone.name,
        heat,
        zone.hot_difference,
        zone.cold_difference,
        fluid_flow,
        water_flow,
        fluid_temperature,
        fluid_temperature + sign * gap,
    )


def boiler_duties(
    levels: list[boiler.Level],
    raised: list[Array],
    m_water: Array,
    zones: list[boiler.Zone],
    feed_temperature: Array,
) -> list[list[Duty]]:
    """Duties of all boilers of a stratified store, hottest first; their zones in the order of the water.

    Between two levels the water divides between the economiser of the hotter boiler and the colder boiler in the
    ratio of their heat. ``m_water`` [kg/s] in all, ``raised`` vapour by each boiler per kg of it;
    ``feed_temperature`` [K] where the feed enters.
    """
    duties: list[list[Duty]] = [[] for _ in levels]
    along, passed = iter(zones), np.zeros_like(m_water)
    for i, level in enumerate(levels):
        economiser = next(along) if i else None
        vapour, boils = next(along), next(along)
        own = np.maximum(raised[i], 0.0) * m_water
        heats = [z.heat * m_water for z in (vapour, boils)]
        share = np.ones_like(m_water)
        if economiser is not None:
            warms = np.maximum(economiser.heat * m_water, 0.0)
            total = warms + heats[0] + heats[1]
            share = (heats[0] + heats[1]) / np.maximum(total, 1e-9)
            mean = 0.5 * (levels[i - 1].temperature + level.lifted_temperature)
            duties[i - 1].append(_duty(economiser, warms, passed, (1.0 - share) * m_water, mean, 1.0))
        for zone, heat in zip((vapour, boils), heats, strict=True):
            duties[i].append(_duty(zone, heat, own, share * m_water, level.temperature, 1.0))
        passed = passed + own
    last = next(along)
    mean = 0.5 * (levels[-1].temperature + feed_temperature)
    duties[-1].append(_duty(last, last.heat * m_water, passed, m_water, mean, 1.0))
    return duties


def coil_duties(
    level: boiler.Level,
    zones: list[boiler.Zone],
    flow: Array,
    feed_temperature: Array,
    store_temperature: Array,
) -> list[Duty]:
    """Duties of a coil in a fully mixed store at T [K]; no water is pumped along it."""
    none = np.zeros_like(flow)
    means = {"liquid": 0.5 * (level.temperature + feed_temperature)}
    duties = [_duty(z, z.heat * flow, flow, none, means.get(z.name, level.temperature), 1.0) for z in zones]
    return [d._replace(water_temperature=store_temperature) for d in duties]


def condenser_duties(
    sat: Saturation,
    zones: list[boiler.Zone],
    liquid_temperature: Array,
    exhaust_temperature: Array,
    water_flow: Array,
    flow: Array,
) -> list[Duty]:
    """Duties of the condenser; zones and ``water_flow`` [kg/kg] count per kg of fluid.

    The quality at the hot end of the two-phase zone is that of wet exhaust, or one.
    """
    means = {
        "liquid": 0.5 * (sat.temperature + liquid_temperature),
        "two_phase": sat.temperature,
        "vapour": 0.5 * (sat.temperature + exhaust_temperature),
    }
    latent = sat.h_vapour - sat.h_liquid
    duties = []
    for zone in zones:
        duty = _duty(zone, zone.heat * flow, flow, flow * water_flow, means[zone.name], -1.0)
        if zone.name == "two_phase":
            duty = duty._replace(hot_quality=np.clip(zone.heat / latent, 0.0, 1.0))
        duties.append(duty)
    return duties
