"""Papers kept with an ingredient and with its sources."""

from __future__ import annotations

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from formulas.models import Ingredient
from makers.actions import By
from makers.actions.house import file_document
from makers.models import Document
from tests.cast import Cast
from tests.formulas.factories_ingredients import make_composition, make_ingredient, make_sheet, make_source
from tests.formulas.pages import page, text_of, url

ADD = "ingredients/I-001/papers/add/"


def papers(by: By) -> list[Document]:
    """What the maker keeps."""
    return list(Document.objects.for_maker(by.maker))


def test_a_paper_of_a_source_is_listed_with_its_kind_and_comes_as_a_download(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """The page names file, kind and source; the file itself is never shown inside the browser."""
    source = furnished.sources.get()
    data = {"kind": "safety", "source": source.pk, "upload": make_sheet("sds-lavender.pdf")}

    assert at_home.post(url(by, ADD), data).status_code == 303

    (paper,) = papers(by)
    assert (paper.kind, paper.about) == ("safety", source.uuid)
    text = page(at_home, by, "ingredients/I-001/")
    listed = text[text.index('id="h-papers"') : text.index('id="h-used"')]
    assert "sds-lavender.pdf" in listed
    assert "Safety data sheet" in listed
    assert str(source) in listed
    answer = at_home.get(url(by, f"papers/{paper.uuid}/"))
    assert answer["Content-Disposition"].startswith("attachment")


def test_a_paper_of_every_source_and_the_sheet_of_a_composition(at_home: Client, by: By) -> None:
    """Both are of the ingredient; the sheet says of which composition."""
    row = make_ingredient(by)
    at_home.post(url(by, ADD), {"kind": "certificate", "upload": make_sheet("coa.pdf")})
    (kept,) = papers(by)
    make_composition(by, row, document=kept)
    at_home.post(url(by, ADD), {"kind": "other", "upload": make_sheet("letter.pdf")})

    text = page(at_home, by, "ingredients/I-001/")

    listed = text[text.index('id="h-papers"') :]
    assert listed.index("letter.pdf") < listed.index("Every source") < listed.index("coa.pdf")
    assert "Composition 1, every source" in listed


def test_the_same_file_sent_twice_is_kept_once(at_home: Client, by: By) -> None:
    """A double tap adds nothing; the same file of another kind does."""
    make_ingredient(by)
    for kind in ("safety", "safety", "other"):
        at_home.post(url(by, ADD), {"kind": kind, "upload": make_sheet()})

    assert [paper.kind for paper in papers(by)] == ["safety", "other"]


def test_what_is_no_paper_is_refused_beside_its_field(at_home: Client, by: By) -> None:
    """The kind that was chosen stays."""
    make_ingredient(by)
    word = SimpleUploadedFile("coa.docx", b"PK\x03\x04" + b"w" * 40)

    answer = at_home.post(url(by, ADD), {"kind": "safety", "upload": word})

    assert answer.status_code == 200
    assert papers(by) == []
    assert '<option value="safety" selected>' in text_of(answer)
    assert 'aria-invalid="true"' in text_of(answer)


def test_a_source_of_another_ingredient_or_maker_is_not_taken(at_home: Client, cast: Cast) -> None:
    """Neither is offered nor accepted, and nothing is kept."""
    make_ingredient(cast.owner)
    other = make_source(cast.owner, make_ingredient(cast.owner))
    theirs = make_source(cast.stranger, make_ingredient(cast.stranger))

    for source in (other, theirs):
        data = {"kind": "safety", "source": source.pk, "upload": make_sheet()}
        assert at_home.post(url(cast.owner, ADD), data).status_code == 200

    assert papers(cast.owner) == []


def test_papers_of_another_maker_are_not_listed(at_home: Client, cast: Cast) -> None:
    """Not even where it names the ingredient."""
    row = make_ingredient(cast.owner)
    file_document(cast.stranger, make_sheet("strange.pdf"), "safety", row.uuid)

    assert "strange.pdf" not in page(at_home, cast.owner, "ingredients/I-001/")
