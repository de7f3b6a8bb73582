"""The data files quote the handbooks right: each value again from the handbook's own coefficients or formula."""

from __future__ import annotations

import math

import pytest

from explore.units import kelvin
from explore.verify.reading import rows
from tests.published import handbooks


def named(row: dict[str, str]) -> str:
    """Name of a row in a test's id."""
    return "-".join(list(row.values())[:2])


@pytest.mark.parametrize("row", rows("vapour_pressure"), ids=named)
def test_vapour_pressure(row):
    """A vapour pressure follows from the coefficients of Perry's or Poling's fit to its last digit."""
    fit = handbooks.perry_pressure if row["source"].startswith("perry") else handbooks.poling_pressure
    value = fit(row["fluid"], kelvin(float(row["temperature_degC"]))) / 1e5
    assert value == pytest.approx(float(row["pressure_bar_a"]), abs=6e-5)


@pytest.mark.parametrize("row", rows("latent_heat"), ids=named)
def test_latent_heat(row):
    """A heat of vaporisation is that of the CRC Handbook, or follows from Perry's fit."""
    fit = handbooks.crc_latent_heat if row["source"].startswith("crc") else handbooks.perry_latent_heat
    assert fit(row["fluid"]) / 1e3 == pytest.approx(float(row["heat_kJ_per_mol"]), abs=6e-4)


@pytest.mark.parametrize("row", rows("liquid_density"), ids=named)
def test_liquid_density(row):
    """A liquid density follows from the coefficients of Perry's fit."""
    value = handbooks.perry_density(row["fluid"], kelvin(float(row["temperature_degC"])))
    assert value == pytest.approx(float(row["density_kg_per_m3"]), abs=6e-3)


@pytest.mark.parametrize(
    "row", [r for r in rows("boiling_point") if r["source"][:3] in ("crc", "yaw")], ids=named
)
def test_boiling_point(row):
    """A boiling point is that of the CRC Handbook or of Yaws' collection."""
    method = "CRC_ORG" if row["source"].startswith("crc") else "YAWS"
    assert handbooks.boiling_point(row["fluid"], method) == pytest.approx(
        float(row["temperature_K"]), abs=6e-3
    )


@pytest.mark.parametrize("row", rows("critical_temperature"), ids=named)
def test_critical_temperature(row):
    """A critical temperature is that of the IUPAC reviews."""
    value = handbooks.critical_temperature(row["fluid"])
    assert value == pytest.approx(float(row["temperature_K"]), abs=6e-3)


@pytest.mark.parametrize("row", [r for r in rows("flammability") if r["lfl_source"] == "iec60079"], ids=named)
def test_flammability_limit(row):
    """A lower flammability limit is that of IEC 60079-20-1."""
    value = 100.0 * handbooks.iec_flammability_limit(row["fluid"])
    assert value == pytest.approx(float(row["lfl_percent"]), abs=1e-9)


@pytest.mark.parametrize("row", rows("counterflow"), ids=named)
def test_counterflow(row):
    """An effectiveness is that of the counterflow formula to four digits."""
    n, c = float(row["transfer_units"]), float(row["capacity_ratio"])
    decay = math.exp(-n * (1.0 - c))
    value = n / (1.0 + n) if c == 1.0 else (1.0 - decay) / (1.0 - c * decay)
    assert value == pytest.approx(float(row["effectiveness"]), abs=6e-5)


@pytest.mark.parametrize("row", rows("annuities"), ids=named)
def test_annuity(row):
    """A capital recovery factor is that of the formula to six digits."""
    i, n = float(row["interest"]), float(row["years"])
    grown = (1.0 + i) ** n
    value = i * grown / (grown - 1.0) if i else 1.0 / n
    assert value == pytest.approx(float(row["factor"]), abs=6e-7)
