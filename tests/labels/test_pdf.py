"""Proofs and sheets as files: words, fonts, sizes, places."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO
from typing import Any

import pdfplumber
import pytest
from pypdf import PdfReader

from labels.actions import add_sheet_layout, draft_label
from labels.actions.labels import proof_page
from labels.fonts import not_drawn
from labels.layout import Block, for_batch, lay_out
from labels.models import SheetLayout
from labels.pdf import PROOF_WORDS, cells, proof_pdf, sheet_pdf
from labels.proof import proof_of
from makers.actions import Refused
from tests.cast import Cast
from tests.labels.factories_labels import make_balm
from tests.labels.test_approval import issue_of, paper_of

pytestmark = pytest.mark.django_db

BLOCKS = (
    Block("name", "name", "Saltwort balm", Decimal("4.8")),
    Block("ingredients", "small", "Ingredients: Cera Alba, Tocopherol", Decimal("4.8")),
    Block("batch", "batch", "Batch …", Decimal("4.8")),
    Block("net quantity", "net", "50 g", Decimal("7.85")),
)


def words_of(content: bytes) -> str:
    """All text, blanks single."""
    pages = PdfReader(BytesIO(content)).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def fonts_of(content: bytes) -> dict[str, bool]:
    """Font name -> whether its file is embedded, over every page's resources."""
    found: dict[str, bool] = {}
    for page in PdfReader(BytesIO(content)).pages:
        resources: Any = page["/Resources"]
        for font in resources["/Font"].values():
            one = font.get_object()
            descriptor = one.get("/FontDescriptor")
            if "/DescendantFonts" in one:
                descriptor = one["/DescendantFonts"][0].get_object()["/FontDescriptor"]
            found[one["/BaseFont"]] = descriptor is not None and "/FontFile2" in descriptor.get_object()
    return found


def proof_of_balm(cast: Cast) -> bytes:
    """A draft's proof."""
    proof = proof_of(paper_of(draft_label(cast.owner, product=make_balm(cast.owner), market="EU")))
    return proof_pdf(proof.layout, proof_page(proof))


def test_a_proof_says_that_it_is_one_and_carries_every_text(cast: Cast) -> None:
    words = words_of(proof_of_balm(cast))

    assert PROOF_WORDS in words
    assert "Cera Alba" in words
    assert "50 g" in words
    assert "Saltmarsh Bench Ltd" in words
    assert "50 mm. Hold a ruler to it" in words
    assert "qualified assessor" in words


def test_an_approved_issues_file_is_no_proof_and_names_issue_and_digest(cast: Cast) -> None:
    issue = issue_of(cast)
    assert issue.pdf is not None
    with issue.pdf.file.open("rb") as file:
        words = words_of(file.read())

    assert PROOF_WORDS not in words
    assert "Issue 1, approved by Nessa Quill" in words
    assert issue.digest[:16] in words


def test_every_font_is_embedded_and_none_is_the_librarys_own(cast: Cast, sheet: SheetLayout) -> None:
    on_sheet = sheet_pdf(
        lay_out(BLOCKS, Decimal(70), Decimal(37)), sheet, title="t", start=1, copies=25, is_proof=True
    )
    for content in (proof_of_balm(cast), on_sheet):
        fonts = fonts_of(content)
        assert all(fonts.values())
        assert all("OpenSans" in name for name in fonts)


def test_the_same_label_gives_the_same_bytes(sheet: SheetLayout) -> None:
    layout = lay_out(BLOCKS, Decimal(70), Decimal(37))

    one, two = (sheet_pdf(layout, sheet, title="t", start=1, copies=2, is_proof=False) for _ in range(2))

    assert one == two


def test_small_text_is_never_below_its_least_size_and_the_quantitys_digits_stand_3_mm(cast: Cast) -> None:
    """50 g: over 50 is 3 mm, up to 50 g 2 mm (Dir 76/211/EEC Annex I 3.1), by the digit's 0.7251 em.

    The tin of 60 x 25 mm has a surface of 10 367 mm2, above 8 000: x-height 1.2 mm = 6.4 pt (house rule).
    """
    with pdfplumber.open(BytesIO(proof_of_balm(cast))) as file:
        chars = [
            char
            for char in file.pages[0].chars
            if 50 < char["x0"] < 225 and char["fontname"].endswith("Regular")
        ]
    sizes = {round(char["size"], 2) for char in chars}
    net = paper_of(draft_label(cast.owner, product=make_balm_of(cast, "Second"), market="EU")).sizes

    assert min(sizes) >= 6.4
    assert net.net_mm == Decimal(2)
    assert net.net_pt >= Decimal("7.8")


def make_balm_of(cast: Cast, name: str) -> Any:
    """A further product of the same formula."""
    from formulas.models import Formula
    from tests.labels.factories_labels import make_product

    return make_product(cast.owner, Formula.objects.get(maker=cast.maker).versions.get(), name)


def test_the_usual_sheet_has_24_places_of_70_by_37_mm(sheet: SheetLayout) -> None:
    places = cells(sheet)

    assert len(places) == 24
    assert places[0] == (Decimal(0), Decimal("0.5"))
    assert places[-1] == (Decimal(140), Decimal("259.5"))


def test_a_sheet_starts_where_it_was_begun_and_goes_on_to_the_next_page(sheet: SheetLayout) -> None:
    layout = lay_out(
        for_batch(BLOCKS, "26-0141", "best used before the end of 05/2028"), Decimal(70), Decimal(37)
    )

    content = sheet_pdf(layout, sheet, title="t", start=23, copies=3, is_proof=False)

    pages = PdfReader(BytesIO(content)).pages
    assert [page.extract_text().count("26-0141") for page in pages] == [2, 1]
    assert "best used before the end of 05/2028" in words_of(content)
    with pdfplumber.open(BytesIO(content)) as file:
        assert min(char["x0"] for char in file.pages[0].chars) >= 70 / 25.4 * 72
        assert min(char["top"] for char in file.pages[0].chars) >= 259.5 / 25.4 * 72


def test_labels_of_a_sheet_that_are_no_issue_say_proof(sheet: SheetLayout) -> None:
    layout = lay_out(BLOCKS, Decimal(70), Decimal(37))

    words = words_of(sheet_pdf(layout, sheet, title="t", start=1, copies=2, is_proof=True))

    assert words.count(PROOF_WORDS) == 2


def test_texts_too_long_for_the_sheets_labels_are_refused_with_the_figures(sheet: SheetLayout) -> None:
    long = (*BLOCKS, Block("more", "small", "Keep cool and dry. " * 120, Decimal("6.4")))
    layout = lay_out(long, Decimal(70), Decimal(37))

    with pytest.raises(ValueError, match=r"need [0-9.]+ mm of height .* 37 mm are there"):
        sheet_pdf(layout, sheet, title="t", start=1, copies=1, is_proof=False)


def test_a_sign_that_the_face_lacks_is_refused_by_name(sheet: SheetLayout) -> None:
    layout = lay_out((Block("name", "name", "海 balm", Decimal(5)),), Decimal(70), Decimal(37))

    assert not_drawn("海 balm") == ("海",)
    with pytest.raises(ValueError, match="no sign for “海”"):
        sheet_pdf(layout, sheet, title="t", start=1, copies=1, is_proof=False)


def test_everything_laid_out_lies_within_the_label() -> None:
    layout = lay_out(BLOCKS, Decimal(70), Decimal(37))

    assert layout.fits
    assert all(0 <= item.x < 70 and 0 <= item.y <= 37 for item in layout.items)


def test_a_sheet_whose_labels_leave_the_page_is_refused(cast: Cast) -> None:
    measures = {
        "page_width_mm": Decimal(210), "page_height_mm": Decimal(297), "label_height_mm": Decimal(37),
        "left_mm": Decimal(0), "top_mm": Decimal(0), "gap_across_mm": Decimal(1), "gap_down_mm": Decimal(0),
    }  # fmt: skip
    with pytest.raises(Refused, match="3 labels across end at 212 mm"):
        add_sheet_layout(
            cast.owner, name="Too wide", columns=3, rows=8, label_width_mm=Decimal(70), **measures
        )
