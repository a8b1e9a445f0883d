"""Free time as bits agrees with plain loops over slots."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.problem import Span, length_words, moment_words, slots_of
from scheduling.planner.timeline import at_least, bits, bits_of, first, run_around, spans_of, starts

MASKS = st.integers(0, 2**24 - 1)


@settings(max_examples=100)
@given(MASKS, st.integers(1, 9))
def test_starts_are_the_slots_with_room_behind_them(mask, length):
    expected = [t for t in range(24) if all(mask >> (t + n) & 1 for n in range(length))]
    assert [t for t in range(24) if starts(mask, length) >> t & 1] == expected


@settings(max_examples=100)
@given(st.lists(MASKS, max_size=5), st.integers(0, 4))
def test_at_least_counts_how_many_masks_hold_a_slot(masks, count):
    expected = sum(1 << t for t in range(24) if sum(mask >> t & 1 for mask in masks) >= count)
    assert at_least(masks, count, 2**24 - 1) == expected


@settings(max_examples=100)
@given(MASKS)
def test_a_mask_and_its_spans_are_the_same_slots(mask):
    assert bits_of(spans_of(mask)) == mask


def test_spans_first_and_run_are_read_from_a_mask():
    assert spans_of(0b1101) == [Span(0, 1), Span(2, 4)]
    assert (first(0b1010), first(0b1010, 2), first(0b1010, 4)) == (1, 3, None)
    assert run_around(0b0110_0110, 4, 5, 8) == (4, 7)
    assert bits(1, 3) == 0b110
    assert bits(3, 1) == 0


def test_moments_and_lengths_read_as_days_and_hours():
    assert [moment_words(slot) for slot in (0, 134, 96, 672, 671)] == [
        "Mon 00:00",
        "Tue 09:30",
        "Tue 00:00",
        "Sun 24:00",
        "Sun 23:45",
    ]
    assert [length_words(slots) for slots in (2, 4, 6)] == ["30 min", "1 h", "1 h 30 min"]
    assert [slots_of(minutes) for minutes in (1, 15, 16, 50)] == [1, 1, 2, 4]
