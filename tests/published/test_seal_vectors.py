"""Canonical form and digest against published vectors and their recomputed digests.

Sources: RFC 8785 (JSON Canonicalization Scheme), its author's public test data (arrays, values), its
appendix B (number table, from memory, recomputed), FIPS 180-4 with its published SHA-256 examples.
"""

from __future__ import annotations

import struct

import pytest

from records.seal.canonical import NotSealable, canonical_json, exact_form, read_form
from records.seal.digest import digest_of, seal

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
    ],
)
def test_digest_is_sha_256_as_fips_180_4_shows_it(message: bytes, expected: str) -> None:
    assert digest_of(message) == expected


@pytest.mark.parametrize(
    ("value", "expected", "digest"),
    [
        (
            [56, {"d": True, "10": None, "1": []}],
            b'[56,{"1":[],"10":null,"d":true}]',
            "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42",
        ),
        (
            {"b": 2, "a": 1},
            b'{"a":1,"b":2}',
            "43258cff783fe7036d8a43033f830adfc60ec037382473548ac742b888292777",
        ),
        ({}, b"{}", "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"),
    ],
)
def test_arrays_keep_their_order_and_objects_are_sorted(value: object, expected: bytes, digest: str) -> None:
    """RFC 8785 section 3.2.3; first case is the author's file `arrays.json`."""
    assert canonical_json(value) == expected
    assert digest_of(canonical_json(value)) == digest


def test_the_values_file_of_the_scheme_s_author_comes_out_byte_for_byte() -> None:
    """RFC 8785 section 3.2.2, the author's file `values.json`: numbers, escapes and literals."""
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    written = canonical_json(value)
    assert b'"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27]' in written
    assert len(written) == 118
    assert digest_of(written) == "2d5e01a318d0f0879ab568c4be289c8b1f64ef8921a53c6277d5e069978baacb"


def test_keys_are_sorted_by_utf_16_code_units_not_by_code_points() -> None:
    """RFC 8785 section 3.2.3, its own example of names."""
    names = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    written = canonical_json(dict.fromkeys(names, 0)).decode()
    assert written == '{"\\r":0,"1":0,"\u0080":0,"\u00f6":0,"\u20ac":0,"\U0001f600":0,"\ufb33":0}'


def test_unicode_is_not_normalised() -> None:
    """RFC 8785 section 3.1: "A" with ring, one character or two, stays as it came."""
    assert canonical_json(["\u00c5", "A\u030a"]) == '["\u00c5","A\u030a"]'.encode()


@pytest.mark.parametrize(
    ("bits", "expected"),
    [
        ("8000000000000000", b"0"),
        ("0000000000000001", b"5e-324"),
        ("7fefffffffffffff", b"1.7976931348623157e+308"),
        ("4340000000000000", b"9007199254740992"),
        ("4430000000000000", b"295147905179352830000"),
        ("444b1ae4d6e2ef50", b"1e+21"),
        ("3eb0c6f7a0b5ed8d", b"0.000001"),
        ("3eb0c6f7a0b5ed8c", b"9.999999999999997e-7"),
    ],
)
def test_binary_numbers_are_written_as_ecmascript_writes_them(bits: str, expected: bytes) -> None:
    """RFC 8785 appendix B (from memory, recomputed)."""
    (number,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical_json(number) == expected


@pytest.mark.parametrize("number", [float("nan"), float("inf"), float("-inf")])
def test_what_is_not_a_number_has_no_canonical_form(number: float) -> None:
    """RFC 8785 section 3.2.2.3."""
    with pytest.raises(NotSealable):
        canonical_json(number)


@pytest.mark.parametrize("written", [b'{"a":1,"a":1}', b'{"a":NaN}', b'{"a":Infinity}', b'{"a":-Infinity}'])
def test_duplicate_names_and_non_numbers_are_refused_when_read(written: bytes) -> None:
    """RFC 8785 section 3.1, which asks for I-JSON (RFC 7493): names are unique."""
    with pytest.raises(NotSealable):
        read_form(written)


FLOW_TEST = {
    "tis_hours": "1304.5",
    "aircraft": "ZZ-001",
    "completed": "2026-01-15T09:30:00Z",
    "kind": "panel_flow_test",
    "measurements": [
        {"channel": "LH wing inboard", "unit": "mL", "value": 612.0},
        {"channel": "RH wing inboard", "unit": "mL", "value": 598.5},
    ],
    "prev": "0" * 64,
    "signed_by": "M-1042",
}


def test_a_record_with_binary_numbers_loses_its_trailing_zero() -> None:
    """Vector recomputed from RFC 8785: 612.0 becomes 612, which is why records refuse such numbers."""
    written = canonical_json(FLOW_TEST)
    assert b'"value":612}' in written
    assert len(written) == 324
    assert digest_of(written) == "9f4238ff4b1fad095292bb87177faab97387df45bcf88135921e9cfef5c32e96"


def test_the_same_record_is_refused_by_the_seal_which_names_the_place() -> None:
    with pytest.raises(NotSealable) as refusal:
        exact_form(FLOW_TEST)
    assert refusal.value.path == "$.measurements[0].value"
    assert refusal.value.remedy == "write the number as text"


def test_the_digest_of_a_seal_is_the_plain_sha_256_of_its_canonical_text() -> None:
    """Recomputed from RFC 8785 and FIPS 180-4: no salt, no separator, any checksum tool can repeat it."""
    first = seal({"number": "QX-SKA-000001"}, None)
    assert first.canonical == b'{"number":"QX-SKA-000001","previous":"' + b"0" * 64 + b'"}'
    second = seal({"hours": "1304.50"}, first.digest)
    assert second.canonical == b'{"hours":"1304.50","previous":"' + first.digest.encode() + b'"}'
    assert digest_of(second.canonical) == second.digest
