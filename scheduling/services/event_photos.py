"""A photograph sent with an event: what kind of file it is and how large it may be."""

from __future__ import annotations

from uuid import uuid4

from django.core.files.base import File

from fleet.common.errors import Invalid, Reason

LARGEST_PHOTO = 8 * 1024 * 1024
# What a file of each kind begins with, and the ending it is kept under.
BEGINNINGS = {
    b"\xff\xd8\xff": "jpg",
    b"\x89PNG\r\n\x1a\n": "png",
}


def checked_photo(photo: File[bytes] | None) -> File[bytes] | None:
    """The photograph under a name of our own. Refuses one too large, and what is no JPEG or PNG picture."""
    if photo is None:
        return None
    if photo.size > LARGEST_PHOTO:
        raise _wrong(f"is larger than {LARGEST_PHOTO // 1024 // 1024} MB", "take it smaller")
    head = photo.read(16)
    photo.seek(0)
    ending = next((ending for begin, ending in BEGINNINGS.items() if head.startswith(begin)), None)
    if ending is None:
        raise _wrong("is no JPEG or PNG picture", "choose another file")
    photo.name = f"{uuid4().hex}.{ending}"
    return photo


def _wrong(detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, "photo", remedy=remedy)
    return Invalid("bad_photo", reason.sentence(), reason)
