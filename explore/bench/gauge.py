"""What the gauge of a plant that stands still should show, and what another reading says of the charge.

A plant at one temperature with liquid in it shows the fluid's vapour pressure; of a mixture, one between dew and bubble
point, near the latter where it is well filled. SI and kelvin, absolute pascal.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from explore.errors import InputError
from explore.fluids.blend import Blend, UnusableError
from explore.fluids.helmholtz import substance
from explore.fluids.pair import pair
from explore.fluids.substance import Substance
from explore.units import celsius

GAUGE_BAR = 0.25
"""Common practice, no source: a workshop gauge to 10 bar, good for 2.5 % of its range."""
THERMOMETER_K = 1.0
"""Common practice, no source: a contact thermometer on a pipe that is wrapped over it."""
NEAR_CRITICAL = 0.99
"""Of the critical temperature: nearer to it liquid and vapour are hardly two, and flashes fail."""
LAST = 0.998
"""Of the critical temperature: where the error of a thermometer may still lead, just short of no boiling at all."""
CONDENSING_ABOVE_WATER_K = 10.0
"""Assumption of this project: how far above its cooling water a condenser is taken to run."""
SECOND_READING_K = 20.0
"""Assumption of this project: how far from the first a second reading is to be taken: far enough for a gauge to tell air
from another composition, near enough for sun or night."""
COLDEST_K = 263.15
"""-10 degC: a frosty morning, the coldest a plant is filled or looked at."""
STEP_K = 5.0
"""Between the lines of a table: between them a builder reads by eye, and the whole still fits on a page."""
COMPANIONS = {
    "n-Butane": ("n-Propane", "IsoButane"),
    "IsoButane": ("n-Propane", "n-Butane"),
    "n-Propane": ("n-Butane", "IsoButane"),
    "n-Pentane": ("Isopentane", "n-Butane"),
    "Isopentane": ("n-Pentane", "n-Butane"),
    "Cyclopentane": ("Isopentane", "n-Pentane"),
}
"""What is sold with, or as, a hydrocarbon: bottled gas holds propane and both butanes, technical pentane its isomers.
Common practice, no source."""

Verdict = Literal["fits", "bottle", "high", "low"]


@dataclass(frozen=True)
class Instruments:
    """How far gauge [Pa] and thermometer [K] may be wrong, either way."""

    gauge: float
    thermometer: float


@dataclass(frozen=True)
class Charge:
    """What is in the plant: the fluid, and the compositions at the ends of what a bottle of it may hold."""

    own: Substance
    ends: tuple[Substance, ...] = ()

    @property
    def coldest(self) -> float:
        """Lowest temperature [K] at which it is asked for."""
        return max(one.lowest_temperature for one in (self.own, *self.ends))

    @property
    def hottest(self) -> float:
        """Highest temperature [K] at which liquid stands under vapour and the equation of state tells it safely.

        Of a mixture that to which its lines are known to be found.
        """
        return min(
            one.highest_temperature if one.glides else NEAR_CRITICAL * one.critical_temperature
            for one in (self.own, *self.ends)
        )

    @property
    def last(self) -> float:
        """Temperature [K] beyond which nothing is asked, not even as the error of a thermometer."""
        return LAST * min(one.critical_temperature for one in (self.own, *self.ends))


@dataclass(frozen=True)
class Expected:
    """Pressures [Pa] of the charge at one temperature [K].

    ``bubble`` is what a full charge shows, ``dew`` what the last drop of liquid shows (the same in a pure fluid);
    ``low`` and ``high`` bound readings within the instruments' accuracy, both wrong at once; ``widest`` also allows for
    what a bottle of the fluid may hold.
    """

    temperature: float
    bubble: float
    dew: float
    low: float
    high: float
    widest: tuple[float, float]


@dataclass(frozen=True)
class Air:
    """Air that would explain a reading: its partial pressure [Pa] with bounds, its share of the pressure [-].

    ``back_pressure`` [Pa] is what as much air adds at the condensing temperature, ``condensing`` [K], and ``lost`` [K]
    how much hotter the fluid would have to condense for the same pressure; infinite beyond the fluid's range. ``second``
    [Pa] is what the gauge would then show at the temperature of a second reading.
    """

    partial: float
    low: float
    high: float
    share: float
    condensing: float
    back_pressure: float
    lost: float
    second: float


@dataclass(frozen=True)
class Composition:
    """A ratio that would explain a reading: mass and mole fraction [-] of ``second`` in ``first``, mass with bounds.

    ``reading`` [Pa] is what the gauge would show at the temperature of a second reading.
    """

    first: str
    second: str
    mass: float
    mole: float
    low: float
    high: float
    reading: float


@dataclass(frozen=True)
class Finding:
    """What a reading says: the verdict, and all that would explain it.

    ``coldest_liquid`` [K] is where liquid of this fluid would make the pressure read (None beyond its range),
    ``vapour_density`` [kg/m3] that of the charge were it all vapour; both only for a reading below ``expected.low``.
    """

    verdict: Verdict
    expected: Expected
    pressure: float
    air: Air | None
    compositions: tuple[Composition, ...]
    second_temperature: float
    coldest_liquid: float | None
    vapour_density: float | None


def charge_of(fluid: str | Blend, ends: tuple[str | Blend, ...] = ()) -> Charge:
    """Return the charge of a fluid; raises :class:`UnusableError` for a mixture that CoolProp cannot serve."""
    return Charge(substance(fluid), tuple(map(substance, ends)))


def expected(charge: Charge, temperature: float, instruments: Instruments) -> Expected:
    """Return what the gauge may show at T [K].

    Raises :class:`InputError` where no liquid stands under vapour: outside ``charge.coldest`` to ``charge.hottest``.
    """
    if not charge.coldest <= temperature <= charge.hottest:
        raise InputError(
            f"temperature_degC={celsius(temperature):.4g}: outside the {math.ceil(celsius(charge.coldest))} to "
            f"{math.floor(celsius(charge.hottest))} degC in which this fluid has liquid under vapour and its equation of "
            "state holds; only there a gauge tells the charge"
        )
    cold = max(temperature - instruments.thermometer, charge.coldest)
    warm = min(temperature + instruments.thermometer, charge.last)
    own, all_of = charge.own, (charge.own, *charge.ends)
    try:
        return Expected(
            temperature,
            own.bubble(temperature)[0],
            own.dew(temperature)[0],
            own.dew(cold)[0] - instruments.gauge,
            own.bubble(warm)[0] + instruments.gauge,
            (
                min(one.dew(cold)[0] for one in all_of) - instruments.gauge,
                max(one.bubble(warm)[0] for one in all_of) + instruments.gauge,
            ),
        )
    except ValueError as error:
        raise _no_flash(temperature) from error


def _no_flash(temperature: float) -> InputError:
    return InputError(
        f"temperature_degC={celsius(temperature):.4g}: CoolProp finds no bubble or dew point of this mixture near it; "
        "take another temperature"
    )


def judge(at: Expected, pressure: float) -> Verdict:
    """Say how a pressure read [Pa] lies to what is expected."""
    if at.low <= pressure <= at.high:
        return "fits"
    least, most = at.widest
    if least <= pressure <= most:
        return "bottle"
    return "high" if pressure > most else "low"


def air_partial_pressure(at: Expected, pressure: float) -> tuple[float, float, float]:
    """Return the partial pressure of air [Pa] that a reading [Pa] leaves over the fluid's own, and its bounds.

    Dalton's law: in a gas of low density each part has the pressure it would have alone. The bounds take both
    instruments wrong at once and what a bottle may hold, those of ``at``; none lies below zero.
    """
    lowest, highest = at.widest
    return max(pressure - at.bubble, 0.0), max(pressure - highest, 0.0), max(pressure - lowest, 0.0)


def hotter_condensing(fluid: Substance, condensing: float, back_pressure: float) -> float:
    """Return by how many kelvin the fluid would have to condense hotter than T [K] for a pressure higher by dp [Pa].

    Along the vapour pressure; for little air it is T (v'' - v') dp / h_fg, after Clausius and Clapeyron. Infinite where
    the pressure lies beyond the range of the fluid.
    """
    raised = fluid.bubble(condensing)[0] + back_pressure
    return math.inf if raised > fluid.pressure_roof else fluid.saturation(raised)[0] - condensing


def air(charge: Charge, at: Expected, pressure: float, condensing: float, second: float) -> Air:
    """Return the air that would explain a pressure [Pa], at constant volume where it is warmer or colder.

    ``condensing`` and ``second`` [K] are the temperatures of condenser and second reading. Ideal gas.
    """
    partial, low, high = air_partial_pressure(at, pressure)
    back = partial * condensing / at.temperature
    return Air(
        partial,
        low,
        high,
        partial / pressure,
        condensing,
        back,
        hotter_condensing(charge.own, condensing, back),
        charge.own.bubble(second)[0] + partial * second / at.temperature,
    )


def companions(fluid: str | Blend) -> tuple[tuple[str, str], ...]:
    """Return the pairs of components, less volatile one first where the fluid is pure, in which a ratio is looked for.

    Of a mixture of two its own; of a pure hydrocarbon what it is sold with; else none.
    """
    if isinstance(fluid, Blend):
        first, *rest = fluid.components
        return ((first, rest[0]),) if len(rest) == 1 else ()
    return tuple((fluid, other) for other in COMPANIONS.get(fluid, ()))


def compositions(
    fluid: str | Blend, temperature: float, pressure: float, instruments: Instruments, second: float
) -> tuple[Composition, ...]:
    """Return the ratios with which a full charge boils at T [K] and p [Pa]; those that no ratio reaches are left out."""
    found = (_ratio(names, temperature, pressure, instruments, second) for names in companions(fluid))
    return tuple(one for one in found if one is not None)


def _ratio(
    names: tuple[str, str], temperature: float, pressure: float, instruments: Instruments, second: float
) -> Composition | None:
    try:
        two = pair(*names)
        share = two.share_for(pressure, temperature)
        if not 0.0 < share < 1.0:
            return None
        bounds = sorted(
            two.share_for(pressure + sign * instruments.gauge, temperature - sign * instruments.thermometer)
            for sign in (-1.0, 1.0)
        )
        reading = two.bubble_pressure(share, second)
    except UnusableError:  # above the critical point of one of them: this pair tells nothing
        return None
    return Composition(*names, share, two.mole_fractions(share)[1], bounds[0], bounds[1], reading)


def check(
    fluid: str | Blend,
    charge: Charge,
    temperature: float,
    pressure: float,
    instruments: Instruments,
    condensing: float,
) -> Finding:
    """Return what a pressure read [Pa] at T [K] says of a plant that stands still at one temperature.

    ``condensing`` [K] is where the condenser is taken to work. Raises :class:`InputError` as :func:`expected` does.
    """
    at = expected(charge, temperature, instruments)
    verdict = judge(at, pressure)
    # A plant that reads too high may be full of liquid, which nobody warms: then the second reading is a colder one.
    warmer, colder = temperature + SECOND_READING_K, temperature - SECOND_READING_K
    high = pressure > at.high
    second = colder if warmer > charge.hottest or (high and colder >= charge.coldest) else warmer
    own, low = charge.own, pressure < at.low
    liquid = low and own.pressure_floor <= pressure <= own.pressure_roof
    try:
        return Finding(
            verdict,
            at,
            pressure,
            air(charge, at, pressure, condensing, second) if pressure > at.high else None,
            () if verdict == "fits" else compositions(fluid, temperature, pressure, instruments, second),
            second,
            own.saturation(pressure)[0] if liquid else None,
            1.0 / own.vapour_pt(pressure, temperature)[2] if low else None,
        )
    except ValueError as error:
        raise _no_flash(temperature) from error


def table(charge: Charge, top: float, instruments: Instruments) -> tuple[Expected, ...]:
    """Return what the gauge shows from -10 degC up to T [K] of the full store, in steps of 5 K and at that itself.

    It starts and ends where the fluid has liquid under vapour.
    """
    first, last = max(COLDEST_K, charge.coldest), min(top, charge.hottest)
    steps = range(math.ceil((first - COLDEST_K) / STEP_K), math.ceil((last - COLDEST_K) / STEP_K))
    return tuple(expected(charge, T, instruments) for T in (*(COLDEST_K + STEP_K * n for n in steps), last))
