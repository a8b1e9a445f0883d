"""Volume from weight: ISO 8655-6 Z factors, water density, and CoolProp as an independent oracle."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from CoolProp.CoolProp import PropsSI

from fleet.quantities import Quantity, to_decimal
from records.judge.weighing import Buoyancy, Weighing, density_table, volume_of

pytestmark = pytest.mark.published

# Air-free water, kg/m³: Tanaka et al., Metrologia 38 (2001) 301.
WATER = {10: "999.703", 15: "999.103", 20: "998.207", 25: "997.047", 30: "995.649"}


def of(value: str, unit: str) -> Quantity:
    return Quantity(Decimal(value), unit)


def water_table():
    return density_table((Decimal(celsius), Decimal(density) / 1000) for celsius, density in WATER.items())


def air_density(celsius: int, hectopascal: int) -> Decimal:
    """kg/m³ at 50 % relative humidity, the formula given with ISO 8655-6 (constants from memory)."""
    value = (0.34844 * hectopascal + 50 * (-0.00252 * celsius + 0.020582)) / (celsius + 273.15)
    return Decimal(str(round(value, 5)))


def millilitres_per_gram(celsius: int, buoyancy: Buoyancy) -> Fraction:
    weighing = Weighing(of("1", "g"), of("0", "g"), of(str(celsius), "degC"), water_table(), buoyancy)
    return volume_of(weighing).amount.value


@pytest.mark.parametrize(
    ("celsius", "hectopascal", "z"),
    [
        (15, 853, "1.0018"),
        (15, 960, "1.0019"),
        (15, 1013, "1.0020"),
        (20, 853, "1.0027"),
        (20, 960, "1.0028"),
        (20, 1013, "1.0029"),
        (25, 853, "1.0038"),
        (25, 960, "1.0039"),
        (25, 1013, "1.0040"),
    ],
)
def test_z_factors_of_the_iso_8655_6_table(celsius, hectopascal, z):
    factor = millilitres_per_gram(celsius, Buoyancy(air=air_density(celsius, hectopascal)))
    assert str(to_decimal(factor, 4)) == z


@pytest.mark.parametrize(("celsius", "z"), [(15, "1.00195"), (20, "1.00285"), (25, "1.00402")])
def test_z_factors_in_standard_air_to_five_places(celsius, z):
    assert str(to_decimal(millilitres_per_gram(celsius, Buoyancy()), 5)) == z


@pytest.mark.parametrize(("celsius", "printed"), [("20.0", "250.725"), ("25.0", "251.00")])
def test_250_g_of_water_by_the_rounded_table_factor_agree_within_its_rounding(celsius, printed):
    weighing = Weighing(of("250.00", "g"), of("0", "g"), of(celsius, "degC"), water_table(), Buoyancy())
    # The printed factor is rounded to 0.0001 mL/g, which is 0.0125 mL either way on 250 g.
    assert abs(volume_of(weighing).amount.value - Fraction(printed)) <= Fraction("0.0126")


@pytest.mark.parametrize("celsius", sorted(WATER))
def test_water_density_of_the_table_agrees_with_coolprop(celsius):
    oracle = PropsSI("D", "T", celsius + 273.15, "P", 101325, "Water")
    assert float(water_table().at(of(str(celsius), "degC"))) * 1000 == pytest.approx(oracle, abs=0.002)


def test_a_glycol_table_of_ten_degree_rows_errs_by_less_than_a_tenth_of_a_kilogram_per_cubic_metre():
    def coolprop(celsius: float) -> float:
        return PropsSI("D", "T", celsius + 273.15, "P", 101325, "INCOMP::MEG[0.5]")

    rows = [(Decimal(celsius), Decimal(repr(coolprop(celsius) / 1000))) for celsius in range(-10, 41, 10)]
    table = density_table(rows)
    worst = max(
        abs(float(table.at(of(str(celsius), "degC"))) * 1000 - coolprop(celsius))
        for celsius in range(-10, 41)
    )
    assert 0 < worst <= 0.08
