"""A whole chain passes; every way of tampering with it is named."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from records.seal.chain import BreakKind, ChainEntry, verify_chain
from records.seal.digest import FIRST_PREVIOUS, digest_of, seal


def chain_of(length: int, *, aircraft: str = "QX-SKA") -> list[ChainEntry]:
    entries: list[ChainEntry] = []
    previous = FIRST_PREVIOUS
    for sequence in range(1, length + 1):
        sealed = seal({"aircraft": aircraft, "sequence": sequence, "hours": f"130{sequence}.5"}, previous)
        entries.append(ChainEntry(sequence, sealed.canonical, previous, sealed.digest))
        previous = sealed.digest
    return entries


def found(entries: list[ChainEntry], *, known_head: str | None = None) -> list[tuple[int, BreakKind]]:
    report = verify_chain(entries, known_head=known_head)
    assert report.ok == (not report.broken)
    return [(flaw.index, flaw.kind) for flaw in report.broken]


def test_an_empty_chain_and_a_whole_one_are_good() -> None:
    assert verify_chain([]).ok
    report = verify_chain(iter(chain_of(5)))
    assert report.ok
    assert report.length == 5
    assert report.head == chain_of(5)[-1].digest


def test_an_edited_record_is_named() -> None:
    chain = chain_of(4)
    chain[2] = replace(chain[2], canonical=chain[2].canonical.replace(b"1303.5", b"1303.6"))
    report = verify_chain(chain)
    assert [(flaw.index, flaw.kind) for flaw in report.broken] == [(2, BreakKind.EDITED)]
    assert report.broken[0].words.startswith("record 3 was edited: its content gives ")


def test_a_record_edited_and_sealed_anew_breaks_the_link_after_it() -> None:
    chain = chain_of(4)
    canonical = chain[2].canonical.replace(b"1303.5", b"1303.6")
    chain[2] = replace(chain[2], canonical=canonical, digest=digest_of(canonical))
    assert found(chain) == [(3, BreakKind.WRONG_PREVIOUS)]
    assert verify_chain(chain).broken[0].words.endswith("that is not here: record 3 was replaced")


def test_a_changed_stored_digest_is_named_at_both_ends() -> None:
    chain = chain_of(3)
    chain[1] = replace(chain[1], digest="f" * 64)
    assert found(chain) == [(1, BreakKind.EDITED), (2, BreakKind.WRONG_PREVIOUS)]


def test_a_changed_previous_column_is_named() -> None:
    chain = chain_of(3)
    chain[2] = replace(chain[2], previous="f" * 64)
    assert found(chain) == [(2, BreakKind.WRONG_PREVIOUS), (2, BreakKind.WRONG_PREVIOUS)]


@pytest.mark.parametrize(
    ("taken", "index", "words"),
    [
        ([1], 1, "missing before record 3: record 2"),
        ([1, 2, 3], 1, "missing before record 5: records 2 to 4"),
        ([0], 0, "missing before record 2: record 1"),
    ],
)
def test_a_record_taken_out_is_missing(taken: list[int], index: int, words: str) -> None:
    chain = [entry for place, entry in enumerate(chain_of(5)) if place not in taken]
    report = verify_chain(chain)
    assert [(flaw.index, flaw.kind, flaw.words) for flaw in report.broken] == [
        (index, BreakKind.MISSING, words)
    ]


def test_a_record_taken_out_and_the_rest_renumbered_is_still_found() -> None:
    chain = chain_of(4)
    del chain[1]
    chain[1:] = [replace(entry, sequence=entry.sequence - 1) for entry in chain[1:]]
    assert found(chain) == [(1, BreakKind.WRONG_PREVIOUS)]


def test_the_first_record_taken_out_and_the_rest_renumbered_is_still_found() -> None:
    chain = [replace(entry, sequence=entry.sequence - 1) for entry in chain_of(4)[1:]]
    assert found(chain) == [(0, BreakKind.MISSING)]


def test_numbers_that_jump_while_the_seals_follow_are_a_gap() -> None:
    chain = chain_of(3)
    chain[2] = replace(chain[2], sequence=9)
    report = verify_chain(chain)
    assert [(flaw.index, flaw.kind) for flaw in report.broken] == [(2, BreakKind.GAP)]
    assert report.broken[0].words == "numbers jump over records 3 to 8, although the seals follow each other"


def test_two_records_that_changed_places_are_reordered() -> None:
    chain = chain_of(4)
    chain[1], chain[2] = chain[2], chain[1]
    assert (2, BreakKind.REORDERED) in found(chain)


def test_two_records_that_changed_places_and_numbers_are_reordered() -> None:
    chain = chain_of(4)
    chain[1], chain[2] = replace(chain[2], sequence=2), replace(chain[1], sequence=3)
    assert {kind for _, kind in found(chain)} == {BreakKind.REORDERED}


def test_a_record_that_stands_twice_is_repeated() -> None:
    chain = chain_of(3)
    chain.insert(1, chain[0])
    assert found(chain) == [(1, BreakKind.REPEATED)]


def test_a_second_beginning_is_a_wrong_previous() -> None:
    chain = chain_of(2)
    foreign = seal({"aircraft": "QX-SKB"}, None)
    chain.append(ChainEntry(3, foreign.canonical, FIRST_PREVIOUS, foreign.digest))
    assert found(chain) == [(2, BreakKind.WRONG_PREVIOUS)]


def test_text_that_is_no_canonical_record_is_unreadable_even_with_a_matching_digest() -> None:
    chain = chain_of(2)
    spaced = chain[1].canonical.replace(b",", b", ")
    chain[1] = replace(chain[1], canonical=spaced, digest=digest_of(spaced))
    assert found(chain) == [(1, BreakKind.UNREADABLE)]


def test_a_chain_cut_off_at_its_end_is_found_by_a_digest_known_from_elsewhere() -> None:
    chain = chain_of(5)
    head = chain[-1].digest
    assert found(chain[:3]) == []
    assert found(chain[:3], known_head=head) == [(3, BreakKind.MISSING)]
    assert found(chain, known_head=chain[1].digest) == []


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 4), st.data())
def test_no_single_byte_can_change_unnoticed(place: int, data: st.DataObject) -> None:
    chain = chain_of(5)
    written = bytearray(chain[place].canonical)
    at = data.draw(st.integers(0, len(written) - 1))
    written[at] ^= data.draw(st.integers(1, 255))
    chain[place] = replace(chain[place], canonical=bytes(written))
    assert (place, BreakKind.EDITED) in found(chain)


@settings(max_examples=100, deadline=None)
@given(st.permutations(range(6)))
def test_no_reordering_passes(order: list[int]) -> None:
    chain = chain_of(6)
    assert verify_chain([chain[place] for place in order]).ok == (order == list(range(6)))
