"""Leak test, evacuation, purging and filling against published examples and by hand; the steps of the sheet."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from CoolProp.CoolProp import PropsSI

from explore.bench import commissioning, filling
from explore.figures.format import NONE
from explore.fluids.helmholtz import substance
from explore.model.details import details, records
from explore.tell.build.filling import LOG_COLUMNS, LOG_LINES, steps
from explore.verify.influence import designs

PSI = 6894.757
RANKINE = 459.67


def test_nitrogen_that_cools():
    """150 psig at 95 degF is about 144 psig at 75 degF: knowt.com, nitrogen fill procedure, its example."""
    cold, warm = ((T + RANKINE) / 1.8 for T in (75.0, 95.0))
    after = filling.warmed((150.0 + 14.7) * PSI, warm, cold) / PSI - 14.7
    assert after == pytest.approx(144.0, abs=0.5)


def test_only_the_gas_that_left_counts():
    """A pressure that falls with the temperature alone has lost nothing; a tenth of it gone is a tenth of the gas."""
    before = (8e5, 300.0)
    assert filling.moles_lost(0.02, before, (8e5 * 290.0 / 300.0, 290.0)) == pytest.approx(0.0, abs=1e-12)
    held = 8e5 * 0.02 / (8.314462618 * 300.0)
    assert filling.moles_lost(0.02, before, (7.2e5, 300.0)) == pytest.approx(0.1 * held)


def test_leaks_of_a_vacuum_handbook():
    """A tyre of 4 L that loses 1 bar in 30 days: 1.5e-4 Pa m3/s; 10 g of R134a in ten years: 7.1e-7 Pa m3/s.

    Pfeiffer Vacuum, The vacuum technology book, section 7.1.2 (know-how book online); it takes 102 g/mol and 0 degC.
    """
    assert filling.leak_rate(1e5, 4e-3, 30 * 24 * 3600.0) == pytest.approx(1.5e-4, rel=0.03)
    leak = filling.throughput(0.010 / (10 * 365 * 24 * 3600.0), 0.102, 273.15)
    assert leak == pytest.approx(7.1e-7, rel=0.01)
    assert filling.mass_rate(leak, 0.102, 273.15) * 10 * 365 * 24 * 3600.0 == pytest.approx(0.010)


def test_viscous_leaks():
    """A leak of 0.001 atm cm3/s at 10 atm is 0.004 at 20 atm, and nitrogen leaks 1.12 times as fast as helium.

    LACO Technologies, Technical reference guide, conversions in leak testing (both); viscosities 19.6 and 17.6 uPa s from
    memory.
    """
    assert 0.001 * filling.laminar_ratio((10, 1), (20, 1), (1.0, 1.0)) == pytest.approx(0.004, rel=0.01)
    assert filling.laminar_ratio((10, 1), (10, 1), (19.6, 17.6)) == pytest.approx(1.12, rel=0.01)


def test_energy_of_the_gas_is_that_of_its_expansion():
    """ASME PCC-2 II-2 against the work of an isentropic expansion to the air, less nothing: summed by small steps."""
    p, air, volume, k = 7e5, 1e5, 0.02, 1.4
    volumes = np.geomspace(volume, volume * (p / air) ** (1.0 / k), 20_001)
    pressures = p * (volume / volumes) ** k
    work = np.sum(0.5 * (pressures[1:] + pressures[:-1]) * np.diff(volumes))
    assert filling.stored_energy(p, air, volume) == pytest.approx(work, rel=1e-3)


@pytest.mark.parametrize(
    ("start", "end", "low", "high", "times"),
    [(0.21, 0.01, 0.5, 1.0, 5), (0.21, 0.01, 1.0, 5.0, 2), (0.21, 5e-6, 6.0, 760.0, 3)],
)
def test_purge_cycles(start, end, low, high, times):
    """Vacuum to half an atmosphere: five times from 21 to 1 % oxygen; pressure of 5 atm: twice; 6 mmHg to 5 ppm: thrice.

    Branan, Rules of Thumb for Chemical Engineers, inert purging (two worked examples); a problem set after him at
    wizedu.com/questions/83014 (the third).
    """
    assert filling.cycles_for(end / start, low, high) == times
    assert filling.share_left(low, high, times) <= end / start < filling.share_left(low, high, times - 1)


def test_sweeping_through():
    """3.1 volumes of inert gas bring 21 % oxygen to 1 % (Branan, read off his figure 1)."""
    assert 0.21 * filling.swept_share(3.1) == pytest.approx(0.01, rel=0.06)


def test_how_full_by_hand():
    """2 kg in 10 L, 1 and 100 L/kg: 0.19/0.099 kg of liquid, 19.2 %; 12 kg need 1.2 times the room."""
    assert filling.liquid_share(2.0, 0.01, 1e-3, 0.1) == pytest.approx(0.0019192 / 0.01, rel=1e-4)
    assert filling.liquid_share(12.0, 0.01, 1e-3, 0.1) == pytest.approx(1.2)
    assert filling.liquid_share(0.01, 0.01, 1e-3, 0.1) == 0.0


def test_cooling_by_hand():
    """From 20 to 0 degC in air of -20 degC half the difference is gone: C/UA ln 2; never in air of 5 degC."""
    assert filling.cooling_seconds(4.19e6, 2.0, 293.15, 273.15, 253.15) == pytest.approx(
        4.19e6 / 2.0 * math.log(2.0)
    )
    assert filling.cooling_seconds(4.19e6, 2.0, 293.15, 273.15, 278.15) == math.inf


def test_what_may_be_let_out(orchard):
    """Of the catalogue water alone: all others burn, are toxic, or are fluorinated."""
    free = [card.name for card in orchard.fluids.values() if commissioning.handling(card).may_be_let_out]
    assert free == ["Water"]
    assert not commissioning.handling(
        orchard.card("Water").model_copy(update={"gwp100": 150.0})
    ).may_be_let_out


@pytest.fixture(scope="module")
def plants(evaluator):
    """Figures and steps of four designs of both stores, and of one on water."""
    columns = {name: np.append(values, values[:1]) for name, values in designs(evaluator.case).items()}
    columns["fluid"] = columns["fluid"].astype(object)
    columns["fluid"][-1], columns["insulation_mm"][-1] = "Water", 150.0
    table = pd.DataFrame(columns | {name: v for name, v in evaluator.evaluate(columns).items()})
    found = []
    for place, figures in enumerate(records(table)):
        taken = details(evaluator, table.iloc[[place]])[0]
        told = commissioning.commissioning(evaluator, evaluator.case.engine, figures, taken)
        found.append((figures, taken, told, steps(told, taken["hazards"])))
    return found


def test_the_test_pressure_leaves_the_relief_valve_shut(plants):
    """It is the greatest pressure the plant will see, a tenth below the setting; at 20 degC the table says the same."""
    for figures, taken, told, _ in plants:
        leak = told["leak"]
        assert leak["test_bar_g"] * 1.1 == pytest.approx(taken["hazards"]["relief_setting_bar_g"])
        assert dict(leak["expected"])[20.0] == pytest.approx(leak["test_bar_g"])
        assert leak["test_bar_g"] < figures["test_pressure_bar_g"]


def test_a_fall_and_its_leak_agree(plants):
    """Falls and leaks are in proportion, and what is asked for is a tenth of the charge."""
    for figures, _, told, _ in plants:
        leak = told["leak"]
        assert leak["asked_g_per_year"] == pytest.approx(100.0 * figures["charge_kg"])
        if figures["peak_pressure_bar_g"] > 0.0:
            each = leak["g_per_year_of_a_tenth_bar"] / 0.1
            assert leak["asked_fall_bar"] * each == pytest.approx(leak["asked_g_per_year"])
            assert leak["seen_fall_bar"] * each == pytest.approx(leak["seen_g_per_year"])


def test_a_hole_below_the_liquid_leaks_several_times_as_much(plants):
    """The sheet counts vapour and says so: liquid through the same hole, by CoolProp at 20 degC, is 3 to 12 times the mass.

    Viscous flow: mass goes as rho dp/mu of a liquid, and as M (p1^2 - p2^2)/(2 R T mu) of a vapour (as in laminar_ratio).
    """
    for fluid in ("n-Butane", "IsoButane"):
        p, air = PropsSI("P", "T", 293.15, "Q", 0, fluid), 101325.0
        liquid = (
            PropsSI("D", "T", 293.15, "Q", 0, fluid) * (p - air) / PropsSI("V", "T", 293.15, "Q", 0, fluid)
        )
        vapour = PropsSI("M", fluid) * (p**2 - air**2) / (2.0 * filling.GAS_CONSTANT * 293.15)
        assert 3.0 < liquid / (vapour / PropsSI("V", "T", 293.15, "Q", 1, fluid)) < 12.0
    for figures, *_, found in plants:
        leak = next(step for step in found if step.title.startswith("Leaks"))
        if figures["fluid"] == "Water":  # below the air's pressure: air comes in
            continue
        (value,) = (value for name, value in leak.figures if name.startswith("A fall of 0.1 bar"))
        assert "as vapour; a joint below the liquid leaks several times as much" in value
        assert not any("at most" in name for name, _ in leak.figures)


def test_liquid_and_vapour_are_the_charge(plants):
    """Shares of liquid times density, and of vapour, weigh the charge at each temperature."""
    for figures, _, told, _ in plants:
        own = substance(str(figures["fluid"]))
        volume = told["volume_L"] / 1e3
        for T, percent in told["fill"]["liquid"]:
            liquid, vapour = own.bubble(T + 273.15)[3], own.dew(T + 273.15)[3]
            share = percent / 100.0
            held = volume * (share / liquid + (1.0 - share) / vapour)
            assert held == pytest.approx(figures["charge_kg"], rel=1e-6)


def test_volumes_are_those_of_the_charge(plants, evaluator):
    """Boiler, receivers and pipes hold what the configuration says: by hand for the first design."""
    figures, _, told, _ = plants[0]
    engine, held = evaluator.case.engine, told["volumes_L"]
    assert held["boiler"] == pytest.approx(2.1 * figures["boiler_area_m2"])
    assert held["receiver before cylinder 1"] == pytest.approx(6.0 * figures["swept_volume_1_L"])
    assert held["pipes and feed pump"] == engine.pipe_volume_L
    assert told["volume_L"] == pytest.approx(sum(held.values()))


def test_gas_left_raises_the_condensing_temperature(plants):
    """A poor vacuum costs more kelvin than a good one; three pulls leave the cube of the share of one."""
    for _, _, told, _ in plants:
        rows = told["evacuate"]["rows"]
        hotter = [row["hotter_K"] for row in rows if math.isfinite(row["hotter_K"])]
        assert hotter == sorted(hotter, reverse=True)
        first, _, third = (share / 100.0 for share in rows[0]["air_percent"])
        assert third == pytest.approx(first**3)


def test_each_step_has_its_caution(plants):
    """Eight steps, each with what to heed; nobody is told to warm, open or drive out what may not be."""
    for figures, _, told, found in plants:
        assert len(found) == 8
        text = " ".join(" ".join((*step.doing, *step.heed)) for step in found)
        assert all(step.heed for step in found)
        assert "nan" not in text
        assert "do not warm it, do not run it and do not open it" in text
        assert "by its own vapour" not in text
        assert "Never drive the air out by letting this fluid out" in text
        assert ("it burns" in text) == (str(figures["fluid"]) in ("n-Butane", "IsoButane"))
        assert ("freezes at 0 °C" in text) == (figures["fluid"] == "Water")
        assert told["handling"].may_be_let_out == (figures["fluid"] == "Water")


def test_air_is_not_pumped_out_of_a_filled_plant(plants):
    """Of what may not be let out the fluid is recovered first, by licensed people, and nothing sparks where it burns."""
    for figures, taken, told, _ in plants:
        told = told | {"rest": told["rest"] | {"rest_bar_g": -0.5}}
        standing = next(one for one in steps(told, taken["hazards"]) if one.title == "Standing hot")
        said = " ".join(standing.heed)
        assert "Air is pumped out" not in said
        first = (
            "draw the fluid off first"
            if figures["fluid"] == "Water"
            else "first recover the fluid into a cylinder"
        )
        assert first in said
        assert ("People licensed for it" in said) == (figures["fluid"] != "Water")
        assert ("nothing that sparks" in said) == told["handling"].burns


def test_a_fluid_that_freezes_is_drained(plants):
    """Water stays in no plant that sees frost; a fluid that freezes below the frost stays."""
    for figures, _, _, found in plants:
        winter = next(one for one in found if one.title == "Winter")
        said = " ".join(winter.doing)
        assert ("The fluid stays where it is" in said) == (figures["fluid"] != "Water")
        assert ("The fluid freezes at 0 °C: draw it off as well" in said) == (figures["fluid"] == "Water")


def test_the_hour_in_vacuum_is_for_gross_leaks(plants):
    """The hours that a tenth of the charge a year takes for 1 mbar are those of the rise; water has none."""
    for figures, _, told, found in plants:
        (said,) = (one for step in found for one in step.doing if one.startswith("Shut off the pump"))
        assert "gross leaks" in said
        assert ("1 mbar in" in said) == (figures["fluid"] != "Water")
        assert NONE not in said
        if "1 mbar in" in said:
            hours = float(said.split("1 mbar in ")[1].split()[0])
            assert hours * told["evacuate"]["rise_mbar_per_hour"] == pytest.approx(1.0, rel=0.1)


def test_a_coil_is_stopped_by_its_valve(plants):
    """On a fully mixed store no hot water flows that could be shut off."""
    for figures, _, _, found in plants:
        stop = next(step for step in found if step.title == "Stop")
        assert ("The coil in the store" in stop.doing[0]) == (figures["store_mode"] == "mixed")


def test_a_coil_is_warmed_and_cooled_with_its_store(plants):
    """No tap lets hot water to a coil or keeps it away: sun warms it, cold water in the store cools it."""
    for figures, _, _, found in plants:
        start = next(step for step in found if step.title == "First start")
        coil = figures["store_mode"] == "mixed"
        doing, heed = " ".join(start.doing), " ".join(start.heed)
        assert ("The coil has no tap" in doing) == ("the store still cold" in doing) == coil
        assert ("hot water to the boiler, a little at a time" in doing) == (not coil)
        assert ("let hot water out of the store" in heed) == coil
        assert ("hot water off" in heed) == (not coil)


def test_what_is_hot_or_full_is_told(plants):
    """A test above its setting takes the relief valve off and puts it back; a warm plant fills the bottle."""
    for _, taken, _, found in plants:
        by = {step.title: " ".join((*step.doing, *step.heed)) for step in found}
        assert taken["hazards"]["test_pressure_bar_g"] > taken["hazards"]["relief_setting_bar_g"]
        strength = by["Strength, with water"]
        assert "take off valve and gauges" in strength
        assert strength.index("take off valve") < strength.index("put them back before the next step")
        gas = "Do not heat the bottle" in by["Fill by mass"]
        assert ("drives fluid back into it" in by["Fill by mass"]) == gas
        assert ("comes back through the hose" in by["Fill by mass"]) == (not gas)
        presses = taken["hazards"]["standstill_pressure_bar_g"] > 0.0
        assert ("neither cold nor without pressure" in by["Stop"]) == presses
        assert ("air rushes in" in by["Stop"]) == (not presses)


def test_a_fluid_below_the_air_leaks_no_grams(plants):
    """Water stays below the air's pressure in a store below boiling: air comes in, and no figure of a leak is empty."""
    for figures, _, _, found in plants:
        water = figures["fluid"] == "Water"
        leaks = next(step for step in found if step.title.startswith("Leaks"))
        assert ("air comes in" in " ".join(leaks.doing)) == water
        assert ("a tenth of the charge" in " ".join(leaks.doing)) == (not water)
        for step in found:
            assert NONE not in " ".join((*step.doing, *step.heed))
            assert NONE not in " ".join(value for _, value in step.figures)


def test_own_vapour_drives_air_out_where_it_may(plants):
    """A fluid that may be let out and presses more than the air is let push the air out."""
    _, taken, told, _ = plants[-1]
    told = told | {"evacuate": told["evacuate"] | {"pushes_out": True}}
    text = " ".join(" ".join(step.doing) for step in steps(told, taken["hazards"]))
    assert "by its own vapour" in text


def test_the_log_is_a_table_to_write_on():
    """Date, pressures, temperatures and what was done, with room for a day's work."""
    assert LOG_LINES >= 12
    for words in ("Date", "°C", "bar gauge", "what was seen"):
        assert any(words in column for column in LOG_COLUMNS)
