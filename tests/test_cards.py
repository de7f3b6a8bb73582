"""The cards of fluids and collectors, and the other configuration files that only list values."""

from __future__ import annotations

import datetime
import math
from pathlib import Path

import numpy as np
import pytest
import yaml

from explore.config.schema import Collector, Costs, Engine, FluidCard, Scenario
from explore.fluids.transport_sources import sourced
from explore.judgement import hazards
from explore.judgement.safety_class import toxicity

CONFIGS = Path(__file__).parents[1] / "configs"
FLUIDS = sorted((CONFIGS / "fluid").glob("*.yaml"))
COLLECTORS = sorted((CONFIGS / "collector").glob("*.yaml"))
SCENARIOS = sorted((CONFIGS / "scenario").glob("*.yaml"))

WANTED = [
    "n-Butane",
    "IsoButane",
    "n-Propane",
    "Isopentane",
    "n-Pentane",
    "Neopentane",
    "Cyclopentane",
    "DimethylEther",
    "Ammonia",
    "R134a",
    "R152A",
    "R1234yf",
    "R1234ze(E)",
    "R1233zd(E)",
    "R245fa",
    "R1336mzz(Z)",
    "R1336mzz(E)",
    "R227EA",
    "R236ea",
    "Ethanol",
    "Methanol",
    "Acetone",
    "Water",
]

# Hydrocarbons and dimethyl ether: lower flammability limits in volume per cent and kg/m3 at 25 degC after
# ISO 817:2014, annex B (from memory), and in volume per cent after IEC 60079-20-1:2010, table B.1, and NFPA
# 497:2008, as shipped in the data of the package `chemicals`.
LIMITS = {
    "n-Butane": (1.6, 0.0380, 1.4, 1.9),
    "IsoButane": (1.8, 0.0428, 1.3, 1.8),
    "n-Propane": (2.1, 0.0379, 1.7, 2.1),
    "n-Pentane": (1.2, 0.0354, 1.1, 1.5),
    "Isopentane": (1.3, 0.0383, 1.3, 1.4),
    "DimethylEther": (3.4, 0.0640, 2.7, 3.4),
    "Ammonia": (16.7, 0.1163, 15.0, 15.0),
}

# GWP100 after IPCC AR6 (2021), WG1, table 7.SM.7; dimethyl ether AR4 (2007), WG1, table 2.14; all as
# shipped in the data of the package `chemicals`.
GWP = {
    "n-Butane": 0.006,
    "n-Propane": 0.02,
    "DimethylEther": 1.0,
    "R134a": 1530.0,
    "R152A": 164.0,
    "R1234yf": 0.501,
    "R1234ze(E)": 1.37,
    "R1233zd(E)": 3.88,
    "R245fa": 962.0,
    "R1336mzz(Z)": 2.08,
    "R1336mzz(E)": 17.9,
    "R227EA": 3600.0,
    "R236ea": 1500.0,
}


def load(path: Path) -> dict[str, object]:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


def card(path: Path) -> FluidCard:
    return FluidCard.model_validate(load(path))


CARDS = {loaded.name: loaded for loaded in map(card, FLUIDS)}
CANDIDATES = [name for name, loaded in CARDS.items() if not loaded.is_mixture]


def molar_mass(name: str) -> float:
    from CoolProp.CoolProp import PropsSI

    return PropsSI("M", name)


def test_the_catalogue_is_complete():
    """None of the 23 pure fluids wanted from the start lacks its card; no two cards are of one fluid."""
    assert len(CARDS) == len(FLUIDS)
    assert set(WANTED) <= set(CANDIDATES)


@pytest.mark.parametrize("path", FLUIDS, ids=lambda path: path.stem)
def test_file_is_named_after_the_fluid(path):
    """A card's file is its CoolProp name without parentheses, so that overrides can name it."""
    assert path.stem == card(path).name.replace("(", "").replace(")", "")


@pytest.mark.parametrize("name", CANDIDATES)
def test_fluid_is_known_to_the_property_library(name):
    """Every candidate resolves to an equation of state with a critical point above the coldest store."""
    from CoolProp.CoolProp import PropsSI

    assert PropsSI("Tcrit", name) > 273.15 + 60.0
    assert PropsSI("P", "T", 273.15 + 40.0, "Q", 1, name) > 0.0


@pytest.mark.parametrize("name", CANDIDATES)
def test_no_sentinel_numbers(name):
    """No number of a card is a placeholder such as 1e8, -1e9 or 9999; unknown is empty."""
    loaded = CARDS[name]
    numbers = [value for value in loaded.model_dump().values() if isinstance(value, float)]
    assert all(math.isfinite(value) and 0.0 <= value <= 5000.0 for value in numbers)
    assert loaded.gwp100 is None or loaded.gwp100 <= 3600.0


@pytest.mark.parametrize("name", CANDIDATES)
def test_every_number_has_a_source(name):
    """A limit, a class, a GWP and a price each say where they come from."""
    loaded = CARDS[name]
    assert loaded.safety_source
    assert loaded.lfl_source
    assert loaded.exposure_limit_source
    assert loaded.gwp_source
    assert "assumption" in loaded.price_source


@pytest.mark.parametrize("name", CANDIDATES)
def test_regulation_is_dated(name):
    """The legal status carries the day on which it was true, and a phase-down is explained."""
    loaded = CARDS[name]
    assert datetime.date.fromisoformat(loaded.regulation_date) >= datetime.date(2024, 3, 11)
    assert loaded.phase_down == ("2024/573, in force" in loaded.regulation)
    assert loaded.phase_down == name.startswith("R")


@pytest.mark.parametrize("name", CANDIDATES)
def test_flags_agree_with_the_class(name):
    """Flammable means class 2L, 2 or 3 and toxic means class B, wherever a class exists."""
    loaded = CARDS[name]
    digit = hazards.flammability(loaded.safety_class)
    assert loaded.flammable == (loaded.lfl_percent is not None) == (loaded.lfl_kg_per_m3 is not None)
    if loaded.safety_class != "unclassified":
        assert loaded.flammable == (digit in ("2L", "2", "3"))
        assert loaded.toxic == loaded.safety_class.startswith("B")


@pytest.mark.parametrize("name", CANDIDATES)
def test_toxicity_letter_follows_from_the_exposure_limit(name):
    """Class B begins below an exposure limit of 400 ppm (ISO 817; ASHRAE 34, section 6.1.2)."""
    loaded = CARDS[name]
    if loaded.exposure_limit_ppm is not None:
        assert loaded.toxic == (toxicity(loaded.exposure_limit_ppm) == "B")
        if loaded.safety_class != "unclassified":
            assert loaded.safety_class[0] == toxicity(loaded.exposure_limit_ppm)


@pytest.mark.parametrize("name", [name for name in CANDIDATES if CARDS[name].lfl_kg_per_m3 is not None])
def test_flammability_limit_by_mass_follows_from_that_by_volume(name):
    """kg/m3 is the volume share times molar mass over 24.465 L/mol, the molar volume at 25 degC."""
    loaded = CARDS[name]
    by_mass = hazards.concentration_kg_per_m3(loaded.lfl_percent / 100.0, molar_mass(name))
    assert loaded.lfl_kg_per_m3 == pytest.approx(float(by_mass), rel=2e-3)


@pytest.mark.parametrize("name", LIMITS)
def test_flammability_limit_is_the_cautious_published_one(name):
    """The card holds the lowest of the limits of ISO 817, IEC 60079-20-1 and NFPA 497."""
    iso_percent, iso_kg_per_m3, iec_percent, nfpa_percent = LIMITS[name]
    assert CARDS[name].lfl_percent == min(iso_percent, iec_percent, nfpa_percent)
    by_mass = hazards.concentration_kg_per_m3(iso_percent / 100.0, molar_mass(name))
    assert float(by_mass) == pytest.approx(iso_kg_per_m3, abs=6e-5)


@pytest.mark.parametrize("name", [name for name in LIMITS if name != "Ammonia"])
def test_hydrocarbons_and_dimethyl_ether_are_class_3_by_their_limit(name):
    """A limit of at most 0.10 kg/m3 alone makes class 3 (ISO 817), by the card's and by ISO's own limit."""
    assert hazards.burns_readily(CARDS[name].lfl_kg_per_m3)
    assert hazards.burns_readily(LIMITS[name][1])
    assert CARDS[name].safety_class == "A3"


@pytest.mark.parametrize("name", ["Ammonia", "R152A", "R1234yf", "R1234ze(E)"])
def test_mild_fluids_are_not_class_3_by_their_limit(name):
    """Classes 2 and 2L have a lower flammability limit above 0.10 kg/m3 (ISO 817)."""
    assert not hazards.burns_readily(CARDS[name].lfl_kg_per_m3)
    assert hazards.flammability(CARDS[name].safety_class) in ("2", "2L")


@pytest.mark.parametrize("name", GWP)
def test_global_warming_potential_is_that_of_its_report(name):
    """GWP100 is the latest assessment report's, and the card names that report."""
    assert CARDS[name].gwp100 == GWP[name]
    assert CARDS[name].gwp_source.startswith("IPCC AR4" if name == "DimethylEther" else "IPCC AR6")


@pytest.mark.parametrize(
    ("name", "least", "most"),
    [
        ("n-Butane", 1.0, 5.0),
        ("IsoButane", 1.0, 5.0),
        ("n-Propane", 1.0, 5.0),
        ("Ammonia", 1.0, 3.0),
        ("R134a", 15.0, 40.0),
        ("R1234ze(E)", 30.0, 80.0),
        ("R1233zd(E)", 20.0, 60.0),
        ("R245fa", 30.0, 60.0),
    ],
)
def test_price_lies_in_the_band_of_the_trade(name, least, most):
    """Prices per kilogram lie in the bands of the trade (from memory), which move with quotas."""
    assert least <= CARDS[name].price_EUR_per_kg <= most


def test_collector_prices_are_ordered_and_near_published_ones():
    """Flat plates cost 200-350 EUR/m2, tubes at most 400-600 (Quaschning 2010, 6.5), own work less."""
    price = {path.stem: Collector.model_validate(load(path)).price_EUR_per_m2 for path in COLLECTORS}
    assert 200.0 <= price["flat_plate"] <= 350.0
    assert price["self_built"] < price["flat_plate"] < price["evacuated_tube"] <= 600.0


def test_flammability_limits_stand_in_the_data_of_the_package():
    """Limits cited from IEC 60079-20-1:2010 equal those the package `chemicals` ships."""
    from chemicals.identifiers import CAS_from_any
    from chemicals.safety import LFL

    for name in LIMITS:
        common = {"DimethylEther": "dimethyl ether", "IsoButane": "isobutane"}.get(name, name)
        published = LFL(CASRN=CAS_from_any(common.removeprefix("n-")), method="IEC 60079-20-1 (2010)")
        assert published == pytest.approx(LIMITS[name][2] / 100.0, abs=1e-12)


@pytest.mark.parametrize("path", COLLECTORS, ids=lambda path: path.stem)
def test_collector_card_loads(path):
    """A collector is named after its file and still yields something 40 K above the air at 800 W/m2."""
    collector = Collector.model_validate(load(path))
    assert collector.name == path.stem
    assert collector.source
    assert "assumption" in collector.price_source
    efficiency = collector.eta0 - collector.a1 * 40.0 / 800.0 - collector.a2 * 40.0**2 / 800.0
    assert 0.3 < efficiency < 0.7


def test_collector_efficiencies_of_typical_sets():
    """Efficiencies by ISO 9806 at 0, 40 and 70 K above the air and 800 W/m2.

    Sets: mid-range of public data sheets, from memory; efficiencies recomputed by hand.
    """
    for stem, expected in {
        "flat_plate": (0.800, 0.595, 0.4019),
        "evacuated_tube": (0.720, 0.648, 0.5783),
    }.items():
        c = Collector.model_validate(load(CONFIGS / "collector" / f"{stem}.yaml"))
        found = [c.eta0 - c.a1 * rise / 800.0 - c.a2 * rise**2 / 800.0 for rise in (0.0, 40.0, 70.0)]
        assert found == pytest.approx(expected, abs=6e-5)


@pytest.mark.parametrize(
    ("group", "name", "model"), [("engine", "careful", Engine), ("costs", "default", Costs)]
)
def test_value_lists_are_complete_and_equal_the_defaults(group, name, model):
    """The file lists every value of its group, and each equals the schema's default."""
    listed = load(CONFIGS / group / f"{name}.yaml")
    assert list(listed) == list(model.model_fields)
    assert model.model_validate(listed) == model()


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_scenario_file_loads_and_lists_every_key(path):
    """A scenario is named after its file, writes out every key, and limits pressure where its scale ends."""
    listed = load(path)
    scenario = Scenario.model_validate(listed)
    assert scenario.name == path.stem
    assert set(listed) == set(Scenario.model_fields)
    for group in ("site", "demand", "limits"):
        assert set(listed[group]) == set(Scenario.model_fields[group].annotation.model_fields)
    pressure = next(o for o in scenario.objectives if o.figure == "peak_pressure_bar_g")
    assert pressure.reference == scenario.limits.pressure_ceiling_bar_g


@pytest.mark.parametrize(
    ("name", "conductivity", "viscosity"), [("Water", 0.6406, 11.54e-6), ("R134a", 0.0704, 15.8e-6)]
)
def test_constants_for_the_laws_of_loss_are_near_tables(name, conductivity, viscosity):
    """Liquid at 50 and vapour at 80 degC: IAPWS releases R15-11 and R12-08, ASHRAE's table of R134a; all from memory."""
    card = FluidCard.model_validate(load(CONFIGS / "fluid" / f"{name}.yaml"))
    assert card.liquid_conductivity_W_per_mK == pytest.approx(conductivity, rel=0.01)
    assert card.vapour_viscosity_Pa_s == pytest.approx(viscosity, rel=0.02)


@pytest.mark.parametrize("path", FLUIDS, ids=lambda path: path.stem)
def test_constants_for_the_laws_of_loss_are_those_of_their_source(path):
    """A card's figure is what its source gives; a card without one says that it is assumed."""
    card = FluidCard.model_validate(load(path))
    told = {
        "k_l": (card.liquid_conductivity_W_per_mK, card.liquid_conductivity_source, 323.15),
        "mu_v": (card.vapour_viscosity_Pa_s, card.vapour_viscosity_source, 353.15),
    }
    for key, (value, source, T) in told.items():
        if card.is_mixture:
            assert value is None
            assert source.startswith("assumption")
            continue
        found = sourced(card.name, key, np.array([T - 5.0, T, T + 5.0]))
        assert value == pytest.approx(found.values[1], rel=1e-3), key
        assert source == found.source


GAS = yaml.safe_load((CONFIGS / "fluid" / "Butane-propane-70-30.yaml").read_text(encoding="utf-8"))


def test_ends_of_a_bottles_range():
    """The rest is shared in the card's proportions; nothing of a component is left out; no range has no ends."""
    low, high = FluidCard.model_validate(GAS).ends
    assert dict(zip(low.components, low.fractions, strict=True)) == pytest.approx(
        {"n-Propane": 0.2, "n-Butane": 0.8}
    )
    assert dict(zip(high.components, high.fractions, strict=True)) == pytest.approx(
        {"n-Propane": 0.4, "n-Butane": 0.6}
    )
    assert low.by_mass
    three = {"components": {"n-Butane": 0.6, "IsoButane": 0.2, "n-Propane": 0.2}}
    ends = FluidCard.model_validate(GAS | three | {"composition_range": {"n-Propane": [0.0, 0.4]}}).ends
    assert dict(zip(ends[0].components, ends[0].fractions, strict=True)) == pytest.approx(
        {"n-Butane": 0.75, "IsoButane": 0.25}
    )
    assert ends[1].fractions == pytest.approx((0.4, 0.45, 0.15))
    assert FluidCard.model_validate(GAS | {"composition_range": None}).ends == ()
    pure = {"name": "n-Butane", "components": None, "composition_range": {"n-Propane": [0.0, 0.1]}}
    alone, mixed = FluidCard.model_validate(GAS | pure).ends
    assert alone == "n-Butane"
    assert mixed.fractions == pytest.approx((0.1, 0.9))


@pytest.mark.parametrize(
    ("bottle", "words"),
    [
        ({"n-Propane": [0.2, 0.4], "n-Butane": [0.6, 0.8]}, "leave out the one that makes up the rest"),
        ({"n-Propane": [0.2, 0.7], "IsoButane": [0.0, 0.4]}, "together pass 1"),
        ({"n-Propane": [0.35, 0.4]}, "hold the card's own fraction"),
        ({"n-Propane": [0.4, 0.2]}, "must rise"),
    ],
)
def test_a_range_that_no_bottle_can_have_is_refused(bottle, words):
    """Ranges that leave nothing for the rest, fall, or miss the card's own mixture are told in a sentence."""
    with pytest.raises(ValueError, match=words):
        FluidCard.model_validate(GAS | {"composition_range": bottle})
