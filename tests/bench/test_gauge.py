"""The gauge of a plant at rest: published vapour pressures, and readings made up that must be found again."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from explore.bench import gauge
from explore.cli import main
from explore.config.compose import compose_case
from explore.config.tasks import GaugeTask
from explore.errors import InputError
from explore.fluids.blend import Blend
from explore.fluids.pair import Pair, pair
from explore.model.details import site_air_pressure
from explore.tasks.gauge import run
from explore.tell.gauge import _verdict
from explore.units import celsius, kelvin
from tests.fluids.peng_robinson import PengRobinson

WORKSHOP = gauge.Instruments(0.25e5, 1.0)
PERRY = "Green and Perry, Perry's Chemical Engineers' Handbook, 8th ed., 2007, Table 2-8"
POLING = "Poling, Prausnitz and O'Connell, The Properties of Gases and Liquids, 5th ed., 2001, appendix A"
PUBLISHED = [
    # fluid, degC, bar abs, source; both as the package chemicals holds the coefficients
    ("n-Butane", 20, 2.0799, PERRY),
    ("n-Butane", 50, 4.9646, POLING),
    ("n-Butane", 80, 10.1277, POLING),
    ("IsoButane", 20, 3.0291, PERRY),
    ("IsoButane", 50, 6.8443, PERRY),
    ("n-Propane", 20, 8.3662, POLING),
    ("n-Propane", 50, 17.1298, POLING),
    ("n-Propane", 80, 31.3074, POLING),
    ("n-Pentane", 20, 0.5655, POLING),
    ("n-Pentane", 80, 3.6795, POLING),
    ("Isopentane", 50, 2.0521, PERRY),
    ("Cyclopentane", 50, 1.0393, POLING),
    ("R134a", 50, 13.1776, POLING),
    ("R152A", 20, 5.1280, POLING),
    ("Ammonia", 20, 8.5731, POLING),
    ("Ammonia", 80, 41.3993, POLING),
]
BOILING = [
    # fluid, normal boiling point [K]: CRC Handbook of Chemistry and Physics, 95th ed., as the package chemicals has it
    ("n-Butane", 272.65),
    ("IsoButane", 261.42),
    ("n-Pentane", 309.21),
    ("Isopentane", 301.03),
]


@pytest.mark.parametrize(("fluid", "degC", "bar_a", "source"), PUBLISHED)
def test_the_table_is_the_published_vapour_pressure(fluid, degC, bar_a, source):
    """Within 0.4 %, which is how far handbooks differ among themselves."""
    at = gauge.expected(gauge.charge_of(fluid), kelvin(degC), WORKSHOP)
    assert at.bubble / 1e5 == pytest.approx(bar_a, rel=0.004), source
    assert at.dew == pytest.approx(at.bubble, rel=1e-6)
    assert at.low < at.bubble - 0.25e5 < at.bubble + 0.25e5 < at.high


@pytest.mark.parametrize(("fluid", "kelvins"), BOILING)
def test_the_gauge_stands_at_nought_at_the_boiling_point(fluid, kelvins):
    """At sea level, within the pressure of 0.15 K."""
    at = gauge.expected(gauge.charge_of(fluid), kelvins, WORKSHOP)
    assert abs(at.bubble - 101325.0) < 0.007 * 101325.0


def check(fluid, degC, pressure, instruments=WORKSHOP, condensing=297.15):
    """The finding of a reading [Pa] with no range of bottles."""
    charge = gauge.charge_of(fluid)
    return gauge.check(fluid, charge, kelvin(degC), pressure, instruments, condensing)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    fluid=st.sampled_from(["n-Butane", "n-Pentane", "R134a", "Ammonia"]),
    degC=st.floats(-5.0, 90.0),
    air=st.floats(0.0, 4e5),
    off_gauge=st.floats(-1.0, 1.0),
    off_thermometer=st.floats(-1.0, 1.0),
    size=st.floats(0.02, 1.0),
)
def test_air_that_was_put_in_is_found_again(fluid, degC, air, off_gauge, off_thermometer, size):
    """Whatever the instruments' errors within their accuracy, the bounds hold the air; exact ones find it exactly."""
    instruments = gauge.Instruments(0.25e5 * size, 1.0 * size)
    true = PropsSI("P", "T", kelvin(degC), "Q", 1, fluid) + air
    found = check(
        fluid,
        degC + off_thermometer * instruments.thermometer,
        true + off_gauge * instruments.gauge,
        instruments,
    )
    assert found.verdict in ("fits", "high")
    if found.air is None:
        assert air <= found.pressure - found.expected.low + 1.0
        return
    assert found.air.low - 1.0 <= air <= found.air.high + 1.0
    exact = gauge.air_partial_pressure(
        gauge.expected(gauge.charge_of(fluid), kelvin(degC), instruments), true
    )
    assert exact[0] == pytest.approx(air, abs=1.0)


def test_what_air_costs_by_hand():
    """Little air: Clausius and Clapeyron's T (v'' - v') dp / h_fg; more air: the exact warmer boiling point."""
    T, butane = kelvin(24.0), gauge.charge_of("n-Butane").own
    _, h_l, h_v, _, _, v_l, v_v, _ = butane.saturation(butane.vapour_pressure(T))
    slope = T * (v_v - v_l) / (h_v - h_l)
    assert gauge.hotter_condensing(butane, T, 100.0) == pytest.approx(100.0 * slope, rel=1e-3)
    warmer = PropsSI("T", "P", butane.vapour_pressure(T) + 0.74e5, "Q", 0, "n-Butane") - T
    assert gauge.hotter_condensing(butane, T, 0.74e5) == pytest.approx(warmer, abs=1e-6)
    assert math.isinf(gauge.hotter_condensing(butane, T, 60e5))


def test_air_follows_the_gas_law_to_condenser_and_second_reading():
    """At constant volume its pressure goes with the absolute temperature; its share is of the whole pressure."""
    true = PropsSI("P", "T", kelvin(21.0), "Q", 1, "n-Butane") + 1e5
    air = check("n-Butane", 21.0, true).air
    assert air.partial == pytest.approx(1e5, rel=1e-6)
    assert air.share == pytest.approx(1e5 / true, rel=1e-6)
    assert air.back_pressure == pytest.approx(1e5 * 297.15 / 294.15, rel=1e-6)
    later = PropsSI("P", "T", kelvin(1.0), "Q", 1, "n-Butane") + 1e5 * 274.15 / 294.15
    assert air.second == pytest.approx(later, rel=1e-6)


@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.8])
@pytest.mark.parametrize(
    ("first", "second"), [("n-Butane", "n-Propane"), ("IsoButane", "n-Propane"), ("n-Butane", "IsoButane")]
)
def test_a_blend_gives_back_its_ratio(first, second, share):
    """A reading on a known blend, by another equation of state, lies within the bounds of the ratio found.

    D.-Y. Peng and D. B. Robinson, Ind. Eng. Chem. Fundam. 15 (1976) 59, interaction parameters zero: within 1 % of
    CoolProp here.
    """
    two = Pair(first, second)
    pressure, _ = PengRobinson((first, second), kelvin(20.0)).pressure(np.array(two.mole_fractions(share)))
    assert two.share_for(two.bubble_pressure(share, kelvin(20.0)), kelvin(20.0)) == pytest.approx(
        share, abs=2e-5
    )
    found = gauge.compositions(first, kelvin(20.0), pressure, WORKSHOP, kelvin(40.0))
    one = next((one for one in found if one.second == second), None)
    if one is None:  # no ratio of a little of it can be told from none
        assert share <= 0.02
        return
    assert one.low <= share <= one.high
    assert one.low < one.mass < one.high
    assert one.mole == pytest.approx(two.mole_fractions(one.mass)[1])


def test_mass_and_mole_by_hand():
    """10 % of propane by mass; molar masses 44.096 and 58.122 g/mol: CRC Handbook of Chemistry and Physics."""
    moles = 0.1 / 44.096, 0.9 / 58.122
    assert Pair("n-Butane", "n-Propane").mole_fractions(0.1)[1] == pytest.approx(
        moles[0] / sum(moles), rel=1e-4
    )


@pytest.mark.parametrize("sign", [-1.0, 1.0])
def test_the_bounds_of_a_ratio_hold_both_errors_at_once(sign):
    """A gauge that shows too much and a thermometer that shows too little, or the reverse, still hold the truth."""
    true = pair("n-Butane", "n-Propane").bubble_pressure(0.3, kelvin(21.0))
    found = check("n-Butane", 21.0 - sign * 1.0, true + sign * 0.25e5)
    propane = next(one for one in found.compositions if one.second == "n-Propane")
    edge = propane.low if sign > 0.0 else propane.high
    assert edge == pytest.approx(0.3, abs=1e-4)


def test_a_second_reading_tells_air_from_propane():
    """A blend that has cooled by 20 K shows less than air would; nobody is told to warm what may be full of liquid."""
    pressure = pair("n-Butane", "n-Propane").bubble_pressure(0.2, kelvin(21.0))
    found = check("n-Butane", 21.0, pressure)
    propane = next(one for one in found.compositions if one.second == "n-Propane")
    assert propane.mass == pytest.approx(0.2, abs=1e-4)
    assert celsius(found.second_temperature) == pytest.approx(1.0)
    assert propane.reading == pytest.approx(
        pair("n-Butane", "n-Propane").bubble_pressure(0.2, kelvin(1.0)), rel=1e-4
    )
    assert found.air.second - propane.reading > WORKSHOP.gauge


@pytest.mark.parametrize(("fluid", "reading"), [("n-Butane", 1.9), ("R134a", 7.0), ("Ammonia", 10.0)])
def test_words_never_open_or_warm_a_charged_plant(capsys, fluid, reading):
    """Of a fluid that burns, one whose gas is kept from the air and one that is toxic."""
    task = GaugeTask(name="gauge", fluid=fluid, temperature_degC=21.0, reading_bar_g=reading)
    run(compose_case(), task, "")
    said = " ".join(capsys.readouterr().out.split())
    assert "open to the air" not in said
    assert "warm it no further" in said
    assert ("open the purge" in said) is (fluid == "n-Butane")


def test_a_low_reading_says_where_liquid_would_have_to_be():
    """1.38 bar of butane at 21 degC: liquid at the boiling point of 1.38 bar, or gas of the density of that state."""
    found = check("n-Butane", 21.0, 1.38e5)
    assert found.verdict == "low"
    assert found.air is None
    assert found.coldest_liquid == pytest.approx(PropsSI("T", "P", 1.38e5, "Q", 0, "n-Butane"), abs=1e-3)
    ideal = (
        1.38e5 * 0.0581222 / (8.314462618 * 294.15)
    )  # CRC Handbook, molar mass of C4H10: gas at 4 % under ideal volume
    assert found.vapour_density == pytest.approx(ideal * 1.04, rel=0.01)
    assert all(one.second != "n-Propane" for one in found.compositions)


def test_less_volatile_gas_is_named_for_a_low_reading():
    """Isobutane that holds n-butane."""
    pressure = pair("IsoButane", "n-Butane").bubble_pressure(0.7, kelvin(21.0))
    found = check("IsoButane", 21.0, pressure)
    assert found.verdict == "low"
    assert [(one.second, round(one.mass, 3)) for one in found.compositions] == [("n-Butane", 0.7)]


def test_bottled_gas_fits_between_its_lines_and_within_its_card():
    """Between dew and bubble point one bottle fits; beyond, another of the card's range; beyond that, none."""
    card = compose_case(["task=keys"]).card("Butane-propane-70-30")
    charge, T = gauge.charge_of(card.substance, card.ends), kelvin(20.0)
    at = gauge.expected(charge, T, WORKSHOP)
    assert at.dew < at.bubble
    dews = [one.dew(T - 1.0)[0] for one in (charge.own, *charge.ends)]
    assert at.widest[0] == pytest.approx(min(dews) - 0.25e5)
    assert min(dews) < charge.own.dew(T - 1.0)[0]
    found = [gauge.judge(at, p) for p in ((at.dew + at.bubble) / 2, at.high + 1e4, at.widest[1] + 1.0, 1e5)]
    assert found == ["fits", "bottle", "high", "low"]
    # a dealer's table, psi and degF: common practice, no source; 30 % propane by liquid volume shows 45 psig at 70 degF
    volume = Blend("dealer", ("n-Butane", "n-Propane"), (0.7 * 0.584, 0.3 * 0.507), by_mass=True)
    shown = gauge.expected(gauge.charge_of(volume), kelvin(21.1), WORKSHOP)
    assert shown.low <= 45.0 * 6894.76 + 101325.0 <= shown.high


def test_only_related_fluids_are_proposed():
    """Propane is no part of ammonia."""
    assert check("Ammonia", 20.0, 12e5).compositions == ()
    assert gauge.companions(Blend("three", ("n-Butane", "n-Propane", "IsoButane"), (0.5, 0.3, 0.2))) == ()


def test_the_table_reaches_from_frost_to_the_full_store():
    """In steps of 5 K, only where the fluid has liquid."""
    charge = gauge.charge_of("n-Butane")
    lines = [round(celsius(row.temperature), 6) for row in gauge.table(charge, kelvin(92.0), WORKSHOP)]
    assert lines == [*(-10.0 + 5.0 * n for n in range(21)), 92.0]
    water = gauge.table(gauge.charge_of("Water"), kelvin(20.0), WORKSHOP)
    assert celsius(water[0].temperature) == pytest.approx(5.0)
    propane = gauge.table(gauge.charge_of("n-Propane"), kelvin(97.0), WORKSHOP)
    assert propane[-1].temperature == pytest.approx(0.99 * 369.89, abs=0.1)


def test_beyond_the_critical_point_is_refused():
    """No liquid there: a sentence."""
    with pytest.raises(InputError, match=r"^temperature_degC=97: outside the .* to 93 degC"):
        gauge.expected(gauge.charge_of("n-Propane"), kelvin(97.0), WORKSHOP)


def test_the_air_is_that_of_the_site():
    """ICAO Doc 7488: 898.74 hPa at 1000 m."""
    case = compose_case(["scenario.site.altitude_m=1000"])
    assert site_air_pressure(case) == pytest.approx(89874.0, rel=2e-4)


def said(monkeypatch, capsys, *words):
    """What the command prints, in one line."""
    monkeypatch.setattr("sys.argv", ["explore", "task=gauge", *words])
    assert main() == 0
    return " ".join(capsys.readouterr().out.split())


def test_the_command_says_it_in_words(monkeypatch, capsys):
    """Table and check, with the reasons, the cautions and who decides."""
    table = said(monkeypatch, capsys, "fluid=n-Butane", "scenario.site.altitude_m=0")
    assert " 20 1.06 0.75 1.38 2.08 " in table
    assert "draws air in" in table
    high = said(
        monkeypatch,
        capsys,
        "fluid=n-Butane",
        "temperature_degC=21",
        "reading_bar_g=1.9",
        "gauge_accuracy_bar=0.1",
    )
    for words in (
        "Too high, by 0.74 bar",
        "n-Propane",
        "K warmer",
        "burns (A3)",
        "Local codes",
        "second reading",
    ):
        assert words in high
    assert "Gauge good to 0.1 bar" in high
    assert "by a leak" not in high
    full = said(monkeypatch, capsys, "fluid=R1233zdE", "temperature_degC=21", "reading_bar_g=40")
    assert "Full of liquid to the brim" in full
    assert "does not come in by a leak" in full
    low = said(monkeypatch, capsys, "fluid=R134a", "temperature_degC=21", "reading_bar_g=3")
    for words in ("Too low", "No liquid left", "coldest liquid", "do not let it into the air"):
        assert words in low
    assert "Air in the system" not in low


def test_air_that_could_hide_is_told_from_the_least_that_fits():
    """A reading of 2.75 bar fits down to 1 bar: 1.75 bar of air would not show."""
    found = SimpleNamespace(verdict="fits", pressure=2.75e5, expected=SimpleNamespace(low=1e5, high=3e5))
    assert "would not show up to 1.75 bar of air" in _verdict(found, str)
