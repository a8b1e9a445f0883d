"""Free time as bits: bit t of a whole number stands for slot t.

Pure. A week is 672 bits, so one shift-and-and answers for every slot of the week at once.
"""

from __future__ import annotations

from collections.abc import Iterable

from scheduling.planner.problem import Span


def bits(start: int, end: int) -> int:
    """The slots from `start` up to `end`: `bits(1, 3)` is 0b110."""
    return ((1 << (end - start)) - 1) << start if end > start else 0


def bits_of(spans: Iterable[Span]) -> int:
    """The slots of several spans together."""
    mask = 0
    for span in spans:
        mask |= bits(span.start, span.end)
    return mask


def starts(free: int, length: int) -> int:
    """Every slot from which `length` slots are free: `starts(0b1110, 2)` is 0b0110."""
    found, have = free, 1
    while have * 2 <= length:
        found &= found >> have
        have *= 2
    return found & (found >> (length - have))


def first(mask: int, earliest: int = 0) -> int | None:
    """The first slot of a mask from `earliest` on, or None: `first(0b1010, 2)` is 3."""
    rest = mask >> earliest
    return None if rest == 0 else earliest + (rest & -rest).bit_length() - 1


def at_least(masks: Iterable[int], count: int, everything: int) -> int:
    """The slots that stand in at least `count` of the masks: two masks 0b110, 0b011 and 2 give 0b010."""
    if count <= 0:
        return everything
    layers = [0] * count
    for mask in masks:
        carry = mask
        for place in range(count):
            layers[place], carry = layers[place] | carry, layers[place] & carry
            if not carry:
                break
    return layers[-1]


def run_around(free: int, start: int, end: int, horizon: int) -> tuple[int, int]:
    """The widest free run that holds `start` up to `end`, which is itself counted as free."""
    filled = free | bits(start, end)
    blocked_after = (~filled & bits(0, horizon)) >> end
    upper = end + ((blocked_after & -blocked_after).bit_length() - 1 if blocked_after else horizon - end)
    blocked_before = ~filled & bits(0, start)
    return blocked_before.bit_length(), upper


def spans_of(mask: int) -> list[Span]:
    """A mask as spans, first to last: 0b1101 gives 0 to 1 and 2 to 4."""
    found: list[Span] = []
    start = first(mask)
    while start is not None:
        shifted = ~(mask >> start)
        end = start + (shifted & -shifted).bit_length() - 1
        found.append(Span(start, end))
        start = first(mask, end)
    return found
