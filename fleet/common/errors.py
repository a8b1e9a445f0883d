"""Refusals: every "no" this product says carries a code, a sentence and its reasons.

Pure. Doors never catch these; `fleet.common.http` turns them into answers.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason of a refusal: which field, the value as given, and what to do about it."""

    detail: str
    field: str = ""
    value: str = ""
    remedy: str = ""

    def sentence(self) -> str:
        """The reason as one line: `Reason("must be above zero", "minutes", "0", "enter 1 or more")`."""
        head = (
            f"{self.field} “{self.value}”: "
            if self.field and self.value
            else f"{self.field}: "
            if self.field
            else ""
        )
        tail = f" – {self.remedy}" if self.remedy else ""
        return f"{head}{self.detail}{tail}"

    def beside(self) -> str:
        """The reason where its field and value are in sight: "must be above zero. Enter 1 or more."."""
        remedy = f" {self.remedy[0].upper()}{self.remedy[1:].rstrip('.')}." if self.remedy else ""
        return f"{self.detail.rstrip('.')}.{remedy}"


class Refusal(Exception):
    """The product says no. `code` is stable for programs, `sentence` is for people."""

    status = 400

    def __init__(self, code: str, sentence: str, *reasons: Reason) -> None:
        super().__init__(sentence)
        self.code = code
        self.sentence = sentence
        self.reasons = reasons

    @property
    def is_its_reason(self) -> bool:
        """Whether the sentence only repeats the one reason there is, so that a page needs one of them."""
        return [self.sentence] == [reason.sentence() for reason in self.reasons]


class Invalid(Refusal):
    """What was sent makes no sense; the reasons name fields."""

    status = 422


class NotSignedIn(Refusal):
    """Nobody is signed in, or the token is not known."""

    status = 401


class NotAllowed(Refusal):
    """The actor can see it but may not do it."""

    status = 403


class NotFound(Refusal):
    """It does not exist for this actor; strangers learn nothing more."""

    status = 404


class Conflict(Refusal):
    """The state of things forbids it now: order, double use, a closed task."""

    status = 409


class Stale(Refusal):
    """The reader's copy is older than what is stored (If-Match failed, RFC 9110 13.1.1)."""

    status = 412


class PreconditionMissing(Refusal):
    """An edit came without If-Match (RFC 6585 section 3)."""

    status = 428


def wrong(field: str, value: object, detail: str, remedy: str, *, code: str = "bad_entry") -> Invalid:
    """One field that makes no sense, as a refusal: `raise wrong("minutes", 0, "is no time", "enter 1 or more")`."""
    reason = Reason(detail, field, str(value), remedy)
    return Invalid(code, reason.sentence(), reason)


def check_version(stored: int, read: int | None) -> None:
    """Refuse a change of something that was changed after it was read; None means nobody said what was read."""
    if read is not None and stored != read:
        raise Stale("changed_meanwhile", f"This was changed after you read it: it is now version {stored}.")
