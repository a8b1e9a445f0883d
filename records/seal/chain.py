"""Is a chain of sealed records whole? Names edits, gaps, reorderings, missing records, wrong links. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import StrEnum

from records.seal.canonical import NotSealable, read_form
from records.seal.digest import FIRST_PREVIOUS, PREVIOUS, digest_of


class BreakKind(StrEnum):
    """What is wrong with an entry or with its link to the one before."""

    EDITED = "edited"
    UNREADABLE = "unreadable"
    WRONG_PREVIOUS = "wrong previous"
    GAP = "gap"
    REORDERED = "reordered"
    REPEATED = "repeated"
    MISSING = "missing"


@dataclass(frozen=True, slots=True)
class ChainEntry:
    """One stored record: its place in the chain (1, 2, 3…), its exact bytes, the two digests beside them."""

    sequence: int
    canonical: bytes
    previous: str
    digest: str


@dataclass(frozen=True, slots=True)
class Break:
    """One thing that is wrong: `index` counts the entries given from 0, `words` say it to a person."""

    index: int
    kind: BreakKind
    words: str


@dataclass(frozen=True, slots=True)
class ChainReport:
    """The outcome for one chain. `head` is the digest of its last entry, empty for an empty chain."""

    ok: bool
    broken: tuple[Break, ...]
    length: int
    head: str


def verify_chain(entries: Iterable[ChainEntry], *, known_head: str | None = None) -> ChainReport:
    """Check every entry and every link, in the order given: `verify_chain([]).ok` is true.

    A chain cut off at its end looks whole from inside. `known_head`, a digest known from elsewhere (a printed
    record, a backup), finds that too: it must be among the entries' digests.
    """
    chain = tuple(entries)
    broken = [flaw for index, entry in enumerate(chain) for flaw in _entry_flaws(index, entry)]
    broken.extend(_link_flaws(chain))
    if known_head is not None and known_head not in {entry.digest for entry in chain}:
        words = f"the record with digest {_short(known_head)}, known from elsewhere, is not in this chain"
        broken.append(Break(len(chain), BreakKind.MISSING, words))
    broken.sort(key=lambda flaw: flaw.index)
    head = chain[-1].digest if chain else ""
    return ChainReport(ok=not broken, broken=tuple(broken), length=len(chain), head=head)


def _entry_flaws(index: int, entry: ChainEntry) -> Iterator[Break]:
    """What is wrong with one entry by itself."""
    found = digest_of(entry.canonical)
    if found != entry.digest:
        digests = f"its content gives {_short(found)}, sealed as {_short(entry.digest)}"
        yield Break(index, BreakKind.EDITED, f"record {entry.sequence} was edited: {digests}")
    try:
        payload = read_form(entry.canonical)
    except NotSealable as refusal:
        yield Break(index, BreakKind.UNREADABLE, f"record {entry.sequence} cannot be read: {refusal}")
        return
    if payload.get(PREVIOUS) != entry.previous:
        words = f"record {entry.sequence} has another previous digest inside its seal than beside it"
        yield Break(index, BreakKind.WRONG_PREVIOUS, words)


def _link_flaws(chain: tuple[ChainEntry, ...]) -> Iterator[Break]:
    """What is wrong between each entry and the one before it."""
    places = {entry.digest: entry.sequence for entry in chain}
    before_sequence, before_digest = 0, FIRST_PREVIOUS
    for index, entry in enumerate(chain):
        linked = entry.previous == before_digest
        flaw = _order_flaw(before_sequence, entry.sequence, linked=linked)
        if flaw is None and not linked:
            flaw = _wrong_link(before_sequence, entry, places)
        if flaw is not None:
            yield Break(index, *flaw)
        before_sequence, before_digest = entry.sequence, entry.digest


def _order_flaw(before: int, number: int, *, linked: bool) -> tuple[BreakKind, str] | None:
    """What the numbers of two neighbours say, None where they follow each other."""
    if number == before:
        return BreakKind.REPEATED, f"record {number} stands twice"
    if number < before:
        return BreakKind.REORDERED, f"record {number} stands after record {before}"
    if number == before + 1:
        return None
    left_out = f"record {before + 1}" if number == before + 2 else f"records {before + 1} to {number - 1}"
    if linked:
        return BreakKind.GAP, f"numbers jump over {left_out}, although the seals follow each other"
    return BreakKind.MISSING, f"missing before record {number}: {left_out}"


def _wrong_link(before: int, entry: ChainEntry, places: Mapping[str, int]) -> tuple[BreakKind, str]:
    """Neighbours by number whose seals do not meet."""
    if entry.previous == FIRST_PREVIOUS:
        words = f"record {entry.sequence} claims to be the first of its chain, after record {before}"
        return BreakKind.WRONG_PREVIOUS, words
    if entry.previous in places:
        after = f"after record {places[entry.previous]}, not after record {before}"
        return BreakKind.REORDERED, f"record {entry.sequence} was sealed {after}"
    words = f"record {entry.sequence} was sealed after a record {_short(entry.previous)} that is not here"
    if before == 0:
        return BreakKind.MISSING, f"{words}, although it is numbered first"
    return BreakKind.WRONG_PREVIOUS, f"{words}: record {before} was replaced"


def _short(digest: str) -> str:
    """Enough of a digest to tell two apart in a sentence."""
    return digest[:12] + "…" if len(digest) > 12 else digest
