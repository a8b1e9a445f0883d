"""The photograph every past flow test shows: two cylinders on a bench, drawn, so that nothing here is anybody's."""

from __future__ import annotations

import hashlib
from io import BytesIO

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from PIL import Image, ImageDraw, ImageFont

from records.management.demo.bench import Picture

PAPER, INK, FLUID = "#f4f1ea", "#22262b", "#7fb2c9"
SIZE = (480, 360)


def picture_of(registration: str) -> bytes:
    """A PNG of both cylinders with the registration card beside them."""
    image = Image.new("RGB", SIZE, PAPER)
    draw = ImageDraw.Draw(image)
    draw.line((30, 320, 450, 320), fill=INK, width=3)
    for left, level in ((90, 150), (300, 156)):
        draw.rectangle((left, level, left + 80, 316), fill=FLUID)
        draw.rectangle((left, 40, left + 80, 318), outline=INK, width=3)
        for mark in range(60, 310, 25):
            draw.line((left, mark, left + 18, mark), fill=INK, width=2)
    draw.rectangle((185, 250, 285, 300), fill="white", outline=INK, width=2)
    draw.text((196, 264), registration, fill=INK, font=ImageFont.load_default(size=20))
    written = BytesIO()
    image.save(written, "PNG", optimize=True)
    return written.getvalue()


def hang_up(registration: str) -> Picture:
    """Keep the picture of one aircraft where photographs of runs are kept."""
    content = picture_of(registration)
    name = default_storage.save(f"runs/{registration.lower()}-cylinders.png", ContentFile(content))
    return Picture(name, hashlib.sha256(content).hexdigest())
