"""Labels on paper: a proof in real size with a ruler, and sheets to print. Same input, same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from io import BytesIO
from typing import Any, cast

from reportlab.pdfgen.canvas import Canvas

from labels.fonts import BOLD, MM_PER_PT, REGULAR, faces, not_drawn, width_mm
from labels.layout import Layout, Placed, plain
from labels.models import SheetLayout
from labels.rules.fitting import wrap

A4_MM = (Decimal(210), Decimal(297))
EDGE = Decimal(18)
RULER_MM = Decimal(50)
PROOF_WORDS = "PROOF, not for print"
BODY_PT = Decimal(9)
INK, GREY, RED = (0.09, 0.13, 0.12), (0.45, 0.5, 0.48), (0.61, 0.12, 0.11)


@dataclass(frozen=True, slots=True)
class ProofPage:
    """What stands around the label on its proof. approved: which issue, by whom and when, or ""."""

    title: str
    facts: Sequence[str]
    gaps: Sequence[str]
    approved: str
    foot: str


class Sheet:
    """A page measured in mm from its upper left."""

    def __init__(self, title: str, page: tuple[Decimal, Decimal]) -> None:
        faces()
        self.file = BytesIO()
        self.width, self.height = page
        self.canvas = Canvas(
            self.file,
            pagesize=(pt(page[0]), pt(page[1])),
            invariant=1,
            initialFontName=cast(Any, REGULAR),  # the stubs say number
            pageCompression=1,
        )
        self.canvas.setTitle(title)
        self.canvas.setAuthor("Stillroom")

    def y(self, y_mm: Decimal) -> float:
        """From the top in mm to the library's points from below."""
        return pt(self.height - y_mm)

    def text(
        self,
        x: Decimal,
        y: Decimal,
        words: str,
        size: Decimal,
        *,
        bold: bool = False,
        ink: tuple[float, ...] = INK,
    ) -> None:
        """One line of text with its baseline at y."""
        self.canvas.setFillColorRGB(*ink)
        self.canvas.setFont(BOLD if bold else REGULAR, float(size))
        self.canvas.drawString(pt(x), self.y(y), words)

    def paragraph(
        self, x: Decimal, y: Decimal, words: str, width: Decimal, *, ink: tuple[float, ...] = INK
    ) -> Decimal:
        """Text broken into lines; returns where the next may start."""
        lines, _ = wrap(drawable(words), width, BODY_PT, lambda text, at: width_mm(text, at))
        for line in lines:
            y += BODY_PT * MM_PER_PT * Decimal("1.35")
            self.text(x, y, line, BODY_PT, ink=ink)
        return y

    def box(
        self,
        x: Decimal,
        y: Decimal,
        wide: Decimal,
        high: Decimal,
        *,
        ink: tuple[float, ...] = GREY,
        dashed: bool = False,
    ) -> None:
        """A rectangle whose upper left is at x, y."""
        self.canvas.setStrokeColorRGB(*ink)
        self.canvas.setLineWidth(0.4)
        self.canvas.setDash([2, 1.5] if dashed else [])
        self.canvas.rect(pt(x), self.y(y + high), pt(wide), pt(high), stroke=1, fill=0)
        self.canvas.setDash([])

    def line(self, x1: Decimal, y1: Decimal, x2: Decimal, y2: Decimal) -> None:
        """A straight line."""
        self.canvas.setStrokeColorRGB(*INK)
        self.canvas.setLineWidth(0.5)
        self.canvas.line(pt(x1), self.y(y1), pt(x2), self.y(y2))

    def done(self) -> bytes:
        """The file."""
        self.canvas.showPage()
        self.canvas.save()
        return self.file.getvalue()


def pt(mm: Decimal) -> float:
    """Millimetres as points."""
    return float(mm / MM_PER_PT)


def drawable(words: str) -> str:
    """Words around the label, with a mark for each sign the face lacks."""
    missing = set(not_drawn(words))
    return "".join("?" if sign in missing else sign for sign in words)


def draw_label(sheet: Sheet, layout: Layout, x: Decimal, y: Decimal) -> None:
    """A laid-out label with its upper left at x, y."""
    for item in layout.items:
        if item.kind in ("text", "gap-text"):
            ink = RED if item.kind == "gap-text" else INK
            sheet.text(x + item.x, y + item.y, item.text, item.size_pt, bold=item.bold, ink=ink)
        elif item.kind == "gap":
            sheet.box(x + item.x, y + item.y, item.width, item.height, ink=RED, dashed=True)
        elif item.kind == "jar":
            draw_jar(sheet, item, x, y)


def draw_jar(sheet: Sheet, item: Placed, x: Decimal, y: Decimal) -> None:
    """The open jar: its body and the lid lifted on one side."""
    left, top = x + item.x, y + item.y
    third = item.height / 3
    sheet.box(left, top + third, item.width, item.height - third, ink=INK)
    sheet.line(left, top + third / 2, left + item.width, top)
    sheet.line(left, top + third / 2 + Decimal("0.7"), left + item.width, top + Decimal("0.7"))
    sheet.line(left, top + third / 2, left, top + third / 2 + Decimal("0.7"))
    sheet.line(left + item.width, top, left + item.width, top + Decimal("0.7"))


def draw_ruler(sheet: Sheet, x: Decimal, y: Decimal) -> None:
    """A line of 50 mm to hold a ruler to."""
    sheet.line(x, y, x + RULER_MM, y)
    for step in range(6):
        at = x + step * 10
        sheet.line(at, y - (Decimal("3.5") if step in (0, 5) else Decimal("2.5")), at, y)
    sheet.text(
        x + RULER_MM + 3, y, "50 mm. Hold a ruler to it: if it differs, so does the proof.", Decimal(8)
    )


def proof_pdf(layout: Layout, page: ProofPage) -> bytes:
    """One page with the label in real size. Raises ValueError for a text that can't be drawn."""
    if layout.unknown_signs:
        raise ValueError(layout.refusal())
    wide = max(A4_MM[0], layout.width + 2 * EDGE)
    high = max(A4_MM[1], layout.height + Decimal(150))
    sheet = Sheet(drawable(page.title), (wide, high))
    y = EDGE
    if not page.approved:
        sheet.text(EDGE, y, PROOF_WORDS, Decimal(14), bold=True, ink=RED)
        y += 8
    sheet.text(EDGE, y, drawable(page.title), Decimal(13), bold=True)
    for words in (*((page.approved,) if page.approved else ()), *page.facts):
        y = sheet.paragraph(EDGE, y + 1, words, wide - 2 * EDGE)
    y += 10
    sheet.box(EDGE, y, layout.width, layout.height)
    draw_label(sheet, layout, EDGE, y)
    y += max(layout.height, layout.needed) + 10
    draw_ruler(sheet, EDGE, y)
    y += 4
    y = sheet.paragraph(
        EDGE,
        y,
        f"{plain(layout.width)} × {plain(layout.height)} mm; small letters {plain(layout.small_x_mm)} mm, "
        f"digits of the quantity {plain(layout.digits_mm)} mm.",
        wide - 2 * EDGE,
    )
    for words in page.gaps[:12]:
        y = sheet.paragraph(EDGE, y + 1, words, wide - 2 * EDGE, ink=RED)
    sheet.paragraph(EDGE, high - EDGE, page.foot, wide - 2 * EDGE, ink=GREY)
    return sheet.done()


def cells(layout: SheetLayout) -> list[tuple[Decimal, Decimal]]:
    """Upper left of each label on a sheet, row by row, mm."""
    across = layout.label_width_mm + layout.gap_across_mm
    down = layout.label_height_mm + layout.gap_down_mm
    return [
        (layout.left_mm + column * across, layout.top_mm + row * down)
        for row in range(layout.rows)
        for column in range(layout.columns)
    ]


def sheet_pdf(
    layout: Layout, on: SheetLayout, *, title: str, start: int, copies: int, is_proof: bool
) -> bytes:
    """``copies`` labels from the ``start``-th place of the first sheet on (1 = the first).

    Raises ValueError, with the sentence to show, for a label that doesn't fit or can't be drawn.
    """
    if refusal := layout.refusal():
        raise ValueError(refusal)
    places = cells(on)
    sheet = Sheet(drawable(title), (on.page_width_mm, on.page_height_mm))
    place = start - 1
    for done in range(copies):
        x, y = places[place]
        draw_label(sheet, layout, x, y)
        if is_proof:
            size = Decimal(7)
            high = y + layout.height - Decimal("0.4")
            sheet.text(x + Decimal(2), high, PROOF_WORDS, size, bold=True, ink=RED)
        place += 1
        if place == len(places) and done + 1 < copies:
            sheet.canvas.showPage()
            place = 0
    return sheet.done()
