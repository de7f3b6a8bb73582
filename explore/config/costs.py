"""What parts, work and money cost: every price an assumption with its band."""

from __future__ import annotations

from explore.config.fields import Checked, quantity


class Costs(Checked):
    """Prices; every one is an assumption in EUR of ``price_year``.

    Bands they were held against: stores of 300 L at 2.3-3.7 EUR/L with coil and insulation (Quaschning,
    Renewable Energy and Climate Change, 2010, 6.5), plain buffer stores of 500-2000 L at 0.8-2 EUR/L (trade
    prices, from memory); the exponent of the engine is the six-tenths rule (Williams, Chem. Eng. 54, 1947). Every
    price is taken as good from 0.7 to 1.6 of itself (10-90 %, judgement): a first machine costs more than its list.
    """

    price_year: int = quantity(2026, unit="-", about="year of the prices", ge=2000, le=2100)
    store_EUR_per_L065: float = quantity(
        18.0,
        unit="EUR/L^0.65",
        about="bare store: this times litres to the power 0.65",
        band=(12.6, 28.8),
        group="price of store",
        ge=0,
    )
    insulation_EUR_per_m3: float = quantity(
        250.0, unit="EUR/m3", about="insulation with cladding", band=(175, 400), group="price of store", ge=0
    )
    boiler_EUR_per_m2: float = quantity(
        320.0, unit="EUR/m2", about="boiler surface", band=(224, 512), group="price of exchangers", ge=0
    )
    condenser_EUR_per_m2: float = quantity(
        260.0, unit="EUR/m2", about="condenser surface", band=(182, 416), group="price of exchangers", ge=0
    )
    regenerator_EUR_per_m2: float = quantity(
        220.0, unit="EUR/m2", about="regenerator surface", band=(154, 352), group="price of exchangers", ge=0
    )
    engine_EUR_per_stage: float = quantity(
        400.0,
        unit="EUR",
        about="cylinder, valves and running gear, each stage",
        band=(280, 640),
        group="price of engine",
        ge=0,
    )
    engine_EUR_per_L06: float = quantity(
        500.0,
        unit="EUR/L^0.6",
        about="engine: this times litres of total swept volume to the power 0.6",
        band=(350, 800),
        group="price of engine",
        ge=0,
    )
    boiler_set_EUR_per_level: float = quantity(
        140.0,
        unit="EUR",
        about="shell and fittings of one boiler",
        band=(98, 224),
        group="price of small parts",
        ge=0,
    )
    cut_off_gear_EUR: float = quantity(
        250.0,
        unit="EUR",
        about="valve gear with a variable cut-off",
        band=(175, 400),
        group="price of engine",
        ge=0,
    )
    drive_EUR_per_ratio_4: float = quantity(
        60.0,
        unit="EUR",
        about="belt or gear between engine and load, for a ratio of 4",
        band=(42, 96),
        group="price of engine",
        ge=0,
    )
    battery_EUR_per_kWh: float = quantity(
        300.0,
        unit="EUR/kWh",
        about="battery for a day's demand",
        band=(210, 480),
        group="price of small parts",
        ge=0,
    )
    header_tank_EUR_per_m3: float = quantity(
        100.0,
        unit="EUR/m3",
        about="header tank for a day's demand",
        band=(70, 160),
        group="price of small parts",
        ge=0,
    )
    receiver_EUR_per_level: float = quantity(
        80.0,
        unit="EUR",
        about="receiver of one pressure level",
        band=(56, 128),
        group="price of small parts",
        ge=0,
    )
    feed_pump_EUR_per_level: float = quantity(
        300.0,
        unit="EUR",
        about="feed pump of one pressure level",
        band=(210, 480),
        group="price of small parts",
        ge=0,
    )
    instruments_EUR: float = quantity(
        300.0,
        unit="EUR",
        about="gauges, thermometers, governor",
        band=(210, 480),
        group="price of small parts",
        ge=0,
    )
    safety_valve_EUR: float = quantity(
        90.0,
        unit="EUR",
        about="safety valve, each pressure level",
        band=(63, 144),
        group="price of small parts",
        ge=0,
    )
    fittings_fraction: float = quantity(
        0.10,
        unit="-",
        about="fittings, share of all other lines",
        band=(0.07, 0.16),
        group="price of small parts",
        ge=0,
        le=1,
    )
    interest_rate: float = quantity(0.04, unit="1/a", about="interest rate", ge=0, le=1)
    lifetime_years: float = quantity(
        15.0, unit="a", about="years over which the plant is paid", ge=0.1, le=100
    )
    maintenance_fraction: float = quantity(
        0.02, unit="1/a", about="maintenance a year, share of the cost", ge=0, le=1
    )
