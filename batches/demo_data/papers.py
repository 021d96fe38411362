"""Papers of the demo, drawn when it is filled: certificates, and a photo of a trial."""

from __future__ import annotations

from io import BytesIO

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageDraw, ImageFilter
from reportlab.pdfgen.canvas import Canvas

WIDE, HIGH = 960, 720
SLATE, SHADE, TIN, RIM = (84, 92, 98), (52, 58, 63), (178, 184, 186), (214, 218, 219)
BALM, PALER, GLOSS = (226, 212, 160), (235, 224, 180), (250, 246, 228)


def certificate(supplier: str, what: str, lot: str) -> SimpleUploadedFile:
    """A supplier's certificate as a small PDF."""
    content = BytesIO()
    page = Canvas(content, invariant=True)
    lines = [supplier, "Certificate of analysis", what, f"Lot {lot}"]
    lines += ["Appearance: conforms", "Smell: conforms", "Invented for a demo; no such firm exists."]
    for number, line in enumerate(lines):
        page.drawString(72, 760 - 22 * number, line)
    page.save()
    return SimpleUploadedFile(f"certificate-{lot}.pdf", content.getvalue(), content_type="application/pdf")


def tin_from_above(name: str) -> SimpleUploadedFile:
    """A picture of an open tin of set balm on slate, as a JPEG."""
    photo = Image.new("RGB", (WIDE, HIGH), SLATE)
    _ring(photo, 292, SHADE, blur=26, shift=16)
    _ring(photo, 280, TIN, blur=1)
    _ring(photo, 268, RIM, blur=2)
    _ring(photo, 250, SHADE, blur=5)
    _ring(photo, 246, BALM, blur=3)
    _ring(photo, 190, PALER, blur=60, shift=-14)
    _gloss(photo)
    content = BytesIO()
    photo.save(content, "JPEG", quality=85)
    return SimpleUploadedFile(name, content.getvalue(), content_type="image/jpeg")


def _ring(
    photo: Image.Image, radius: int, colour: tuple[int, int, int], *, blur: int, shift: int = 0
) -> None:
    """A disc of the radius in pixels about the middle, with a soft edge."""
    x, y = WIDE // 2 + shift, HIGH // 2 + shift
    mask = Image.new("L", photo.size, 0)
    ImageDraw.Draw(mask).ellipse((x - radius, y - radius, x + radius, y + radius), fill=255)
    photo.paste(Image.new("RGB", photo.size, colour), mask=mask.filter(ImageFilter.GaussianBlur(blur)))


def _gloss(photo: Image.Image) -> None:
    """The window's light on the set top."""
    x, y, radius = WIDE // 2, HIGH // 2, 205
    mask = Image.new("L", photo.size, 0)
    ImageDraw.Draw(mask).arc((x - radius, y - radius, x + radius, y + radius), 196, 262, fill=190, width=26)
    photo.paste(Image.new("RGB", photo.size, GLOSS), mask=mask.filter(ImageFilter.GaussianBlur(9)))
