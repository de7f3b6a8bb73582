"""What the shaft does: each kind of load by hand, and what is said of it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from explore.bench import use
from explore.config.compose import load_scenario
from explore.config.use import Use
from explore.figures.format import three_digits
from explore.tell.use import sentence

FIGURES = {"shaft_energy_kWh_per_year": 61.0, "work_per_litre_kJ": 10.0, "store_volume_L": 360.0}
"""An invented design: an average day of 61 kWh in 61 days is 1 kWh, and one store of 360 L gives 1 kWh too."""
MONTHS = {"shaft_energy_kWh": [0.0] * 6 + [40.3, 20.7] + [0.0] * 4}
"""In kWh: July and August, 31 days each."""


def of(kind, **keys):
    """The service of the invented design for a load of this kind, asked for in July and August."""
    case = load_scenario("orchard", ["scenario.demand.months=[7,8]"])
    own = Use(kind=kind, **keys)
    case = case.model_copy(update={"scenario": case.scenario.model_copy(update={"use": own})})
    figures = FIGURES | {"shaft_energy_kWh_per_year": 62.0}
    return use.service(case, figures, {"months": MONTHS}), own


def test_water_lifted():
    """1 kWh at 50 % lifts 18.36 m3 by 10 m: half of 3.6 MJ over 1000 kg/m3 x 9.80665 m/s2 x 10 m.

    The trade's rule, hydraulic energy in Wh is 2.725 times m3 times m (from memory), says the same.
    """
    done, _ = of("pump", head_m=10.0, pump_efficiency=0.5)
    assert done.average == pytest.approx(18_355.0, rel=1e-4)
    assert done.average / 1000.0 * 10.0 * 2.725 == pytest.approx(500.0, rel=1e-3)
    assert done.tank == pytest.approx(done.average)


def test_months():
    """July gives 1.3 kWh a day, August 0.667."""
    done, _ = of("workshop", tool_W=100.0)
    assert done.average == pytest.approx(10.0)
    assert done.best == (7, pytest.approx(13.0))
    assert done.worst == (8, pytest.approx(20.7 / 31 * 10.0))


def test_lamps():
    """1 kWh through 70 and 85 % feeds a lamp of 5 W for 119 h."""
    done, _ = of("generator", lamp_W=5.0)
    assert done.average == pytest.approx(119.0)


def test_boat_and_cart():
    """1 kWh at 50 % against 100 N goes 18 km; 6 km/h ask for 333 W, more than the shaft's 250 W."""
    for kind in ("boat", "cart"):
        done, own = of(kind, resistance_N=100.0, speed_km_per_h=6.0)
        assert done.average == pytest.approx(18.0)
        assert use.speed_power(own) == pytest.approx(333.33, abs=0.01)
        assert "more than the 250 W" in sentence(done, own, 250.0)
        assert "which the shaft gives" in sentence(done, own, 400.0)


def test_amounts_are_written_as_everywhere():
    """Of 18 355 L all digits before the point, as the page and the sheet write numbers, and thousands set apart alike."""
    said = sentence(*of("pump", head_m=10.0, pump_efficiency=0.5), 250.0)
    assert f"gives {three_digits(of('pump', head_m=10.0, pump_efficiency=0.5)[0].average)} L lifted" in said
    assert "18\u202f355 L" in said


def test_nothing_is_said_where_nothing_is_asked():
    """Without a kind there is no sentence."""
    assert of("none")[0] is None


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("pump", "L lifted by 10 m"),
        ("generator", "lamp-hours of 6 W"),
        ("workshop", "hours of the tool of 150 W"),
    ],
)
def test_the_sentence_has_the_user_s_units(kind, words):
    """Amount, unit, best and worst month, and one full store."""
    said = sentence(*of(kind), 250.0)
    for part in (words, "in July", "in August", "One full store gives"):
        assert part in said


def test_months_that_are_alike_are_not_compared():
    """No amount stands there from itself to itself."""
    done, *rest = of("pump")
    said = sentence(replace(done, best=(8, done.worst[1])), *rest, 250.0)
    assert "pump efficiency of 55 %, as much in every month. One full store" in said


def test_shipped_scenarios_say_what_their_shaft_is_for():
    """A pump in the orchard, a tool in both workshops."""
    kinds = {
        name: load_scenario(name).scenario.use.kind
        for name in ("orchard", "school_workshop", "island_workshop")
    }
    assert kinds == {"orchard": "pump", "school_workshop": "workshop", "island_workshop": "workshop"}
