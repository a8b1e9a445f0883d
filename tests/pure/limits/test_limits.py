"""Limits from data, back to data, and in words."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from fleet.quantities import RefusedInput
from scheduling.limits.kinds import Bounds, NominalLimit, describe, limit_from_data, limit_to_data

EVERY_KIND = [
    ({"kind": "nominal", "unit": "mL", "nominal": "1550", "plus": "600", "minus": "300"},
     "1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)"),
    ({"kind": "relative", "unit": "mL", "nominal": "1500", "plus_percent": "13", "minus_percent": "10"},
     "1500 mL +13/−10 % (1350 to 1695 mL, both allowed)"),
    ({"kind": "minimum", "unit": "kPa", "minimum": "241.3"}, "at least 241.3 kPa"),
    ({"kind": "maximum", "unit": "s", "maximum": "90"}, "at most 90 s"),
    ({"kind": "window", "unit": "degC", "low": "-10", "high": "30.0"}, "-10 to 30 °C, both allowed"),
    ({"kind": "pair_difference", "unit": "mL", "basis": "absolute", "maximum": "600"},
     "within 600 mL of each other"),
    ({"kind": "pair_difference", "unit": "mL", "basis": "of_larger", "maximum_percent": "10"},
     "within 10 % of the larger of each other"),
    ({"kind": "pair_difference", "unit": "mL", "basis": "of_nominal", "maximum_percent": "10", "nominal": "1550"},
     "within 10 % of the nominal (1550 mL) of each other"),
    ({"kind": "ratio", "unit": "mL", "minimum": "0.9"}, "smallest divided by largest at least 0.9"),
    ({"kind": "all_yes", "expected": 6}, "yes, all 6"),
    ({"kind": "minimum", "unit": "mL", "minimum": "1350", "rounding": "half_even"},
     "at least 1350 mL; the reading is rounded half to even to the limit's last place first"),
]  # fmt: skip


@pytest.mark.parametrize(("data", "words"), EVERY_KIND)
def test_a_limit_goes_back_to_the_data_it_came_from(data, words):
    assert limit_to_data(limit_from_data(data)) == data


@pytest.mark.parametrize(("data", "words"), EVERY_KIND)
def test_a_limit_is_described_in_words(data, words):
    assert describe(limit_from_data(data)) == words


def test_bounds_are_exact_fractions_with_the_last_place_of_the_limit():
    limit = NominalLimit("V", Decimal("28"), Decimal("0.50"), Decimal("0.5"))
    assert limit.bounds() == Bounds(Fraction(55, 2), Fraction(57, 2), 2)


def test_every_wrong_field_of_a_limit_is_reported_at_once():
    data = {"kind": "nominal", "unit": "oz", "nominal": "abc", "plus": "-1", "colour": "red"}
    with pytest.raises(RefusedInput) as caught:
        limit_from_data(data, where="left.limit")
    assert [(reason.field, reason.value) for reason in caught.value.reasons] == [
        ("left.limit.colour", "red"),
        ("left.limit.plus", "-1"),
        ("left.limit.minus", "None"),
        ("left.limit.unit", "oz"),
        ("left.limit.nominal", "abc"),
    ]


@pytest.mark.parametrize("data", [None, [], "minimum", {}, {"kind": None}, {"kind": ["minimum"]}])
def test_what_is_no_limit_at_all_is_refused_naming_the_kinds(data):
    with pytest.raises(RefusedInput, match="use one of: nominal, relative, minimum"):
        limit_from_data(data)
