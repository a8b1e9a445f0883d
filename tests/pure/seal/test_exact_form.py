"""What may be sealed, and what is refused with its path."""

from __future__ import annotations

import datetime
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction
from types import MappingProxyType

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from records.seal.canonical import DEEPEST, NotSealable, canonical_json, exact_form, read_form
from records.seal.digest import FIRST_PREVIOUS, seal

PREVIOUS = "a" * 64


class Verdict(StrEnum):
    PASSED = "PASS"


@pytest.mark.parametrize(
    ("payload", "path"),
    [
        ({"value": 1.5}, "$.value"),
        ({"value": Decimal("1304.50")}, "$.value"),
        ({"points": [{"left": Fraction(1, 3)}]}, "$.points[0].left"),
        ({"points": ["1", 2, 2**53]}, "$.points[2]"),
        ({"low": -(2**53)}, "$.low"),
        ({"on": datetime.date(2026, 3, 14)}, "$.on"),
        ({"photo": b"bytes"}, "$.photo"),
        ({"set": {1}}, "$.set"),
        ({"words": "half \ud83d"}, "$.words"),
        ({"half \ud83d": 1}, "$.half \\ud83d"),
        ({"steps": {7: "seven"}}, "$.steps.7"),
    ],
)
def test_an_inexact_value_is_refused_with_its_path(payload: dict[str, object], path: str) -> None:
    with pytest.raises(NotSealable) as refusal:
        exact_form(payload)
    assert refusal.value.path == path
    assert refusal.value.detail
    assert refusal.value.remedy
    assert path in str(refusal.value)


def test_the_largest_exact_whole_number_passes() -> None:
    assert (
        exact_form({"high": 2**53 - 1, "low": 1 - 2**53})
        == b'{"high":9007199254740991,"low":-9007199254740991}'
    )


def test_true_and_one_stay_different() -> None:
    assert exact_form({"done": True, "count": 1, "none": None}) == b'{"count":1,"done":true,"none":null}'


def test_words_of_a_closed_list_and_read_only_mappings_are_written_as_text_and_objects() -> None:
    assert (
        exact_form(MappingProxyType({"verdict": Verdict.PASSED, "steps": ("a",)}))
        == b'{"steps":["a"],"verdict":"PASS"}'
    )


def test_an_exact_decimal_keeps_its_trailing_zero() -> None:
    assert read_form(exact_form({"hours": "1304.50"})) == {"hours": "1304.50"}


def test_a_bottomless_nest_is_refused_instead_of_exhausting_the_stack() -> None:
    payload: dict[str, object] = {}
    for _ in range(10_000):
        payload = {"in": payload}
    with pytest.raises(NotSealable, match=f"deeper than {DEEPEST}"):
        exact_form(payload)
    with pytest.raises(NotSealable):
        canonical_json(payload)
    with pytest.raises(NotSealable):
        read_form(b'{"a":' * 100_000 + b"1" + b"}" * 100_000)


@pytest.mark.parametrize(
    "written", [b'{"b":1,"a":2}', b'{ "a":1}', b'{"a":1.5}', b"[1]", b'"a"', b"{", b"\xff", b""]
)
def test_bytes_that_are_not_a_canonical_exact_object_are_refused(written: bytes) -> None:
    with pytest.raises(NotSealable):
        read_form(written)


def test_a_seal_begins_with_sixty_four_zeros_and_then_names_the_digest_before() -> None:
    assert read_form(seal({"n": 1}, None).canonical) == {"n": 1, "previous": FIRST_PREVIOUS}
    assert read_form(seal({"n": 2}, PREVIOUS).canonical) == {"n": 2, "previous": PREVIOUS}


@pytest.mark.parametrize("previous", ["", "abc", "A" * 64, "g" * 64, "0" * 65, "0" * 63 + "\n"])
def test_a_previous_digest_that_is_none_is_refused(previous: str) -> None:
    with pytest.raises(NotSealable) as refusal:
        seal({"n": 1}, previous)
    assert refusal.value.path == "$.previous"


def test_a_payload_may_not_bring_its_own_previous_digest() -> None:
    with pytest.raises(NotSealable, match="written by the seal"):
        seal({"n": 1, "previous": PREVIOUS}, None)


exact_values = st.recursive(
    st.none() | st.booleans() | st.integers(1 - 2**53, 2**53 - 1) | st.text(),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(), inner, max_size=4),
    max_leaves=12,
)


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(st.text(), exact_values, max_size=5))
def test_what_is_written_is_read_back_unchanged_whatever_the_order_of_names(
    payload: dict[str, object],
) -> None:
    written = exact_form(payload)
    assert read_form(written) == payload
    assert exact_form(dict(reversed(payload.items()))) == written


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(st.text(), exact_values, max_size=5))
@example({"\U0001f600": 1, "\ufb33": 2, "\x7f\x1f\u2028": '\x7f\x1f\u2028/"\\'})
def test_exact_values_are_written_byte_for_byte_as_the_general_writer_of_the_scheme_writes_them(
    payload: dict[str, object],
) -> None:
    assert exact_form(payload) == canonical_json(payload)


def test_a_text_at_the_deepest_level_is_held_to_the_same_depth_as_a_list() -> None:
    def nest(levels: int, inner: object) -> dict[str, object]:
        for _ in range(levels):
            inner = {"in": inner}
        return {"in": inner}

    for inner in ("text", None, 1, [], {}):
        assert exact_form(nest(DEEPEST - 1, inner)) == canonical_json(nest(DEEPEST - 1, inner))
        with pytest.raises(NotSealable, match=f"deeper than {DEEPEST}"):
            exact_form(nest(DEEPEST, inner))
