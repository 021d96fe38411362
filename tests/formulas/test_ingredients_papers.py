"""Papers kept with an ingredient and with its sources."""

from __future__ import annotations

from datetime import date, timedelta

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from formulas.actions.papers import file_ingredient_paper
from formulas.models import DatedPaper, Ingredient
from formulas.rules.papers import whole_years
from makers.actions import By, entries_about
from makers.actions.house import file_document
from makers.models import Document
from tests.cast import Cast
from tests.formulas.factories_ingredients import (
    PDF,
    make_composition,
    make_ingredient,
    make_sheet,
    make_source,
)
from tests.formulas.pages import page, text_of, url
from tests.formulas.test_compositions_views import rows

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
    assert answer.getvalue()


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


def test_a_paper_of_one_source_stands_in_the_journals_of_ingredient_and_supplier(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """Who reads either sees that it came."""
    source = furnished.sources.get()
    at_home.post(url(by, ADD), {"kind": "safety", "source": source.pk, "upload": make_sheet("sds.pdf")})

    for path in ("ingredients/I-001/", f"suppliers/{source.supplier.uuid}/"):
        text = page(at_home, by, path)
        assert "sds.pdf" in text[text.index('id="h-journal"') :], path


def test_its_own_date_is_kept_and_an_old_one_is_seen_to_be_old(at_home: Client, by: By) -> None:
    """The day typed, its age in years, and the mark on a data sheet but not on a certificate."""
    make_ingredient(by)
    today = by.today()
    day = today.replace(year=today.year - 6, month=1, day=1)
    for kind in ("specification", "certificate"):
        data = {"kind": kind, "issued_on": day.isoformat(), "upload": make_sheet(f"{kind}.pdf")}
        assert at_home.post(url(by, ADD), data).status_code == 303

    text = page(at_home, by, "ingredients/I-001/")

    shown = dict.fromkeys(("specification", "certificate"), "")
    for kind in shown:
        start = text.index(f"{kind}.pdf")
        shown[kind] = text[start : text.index("</tr>", start)]
        assert f"1 Jan {day.year}" in shown[kind]
        assert f"{whole_years(day, today)} years old" in shown[kind]
    assert 'class="st is-caution' in shown["specification"]
    assert 'class="st is-caution' not in shown["certificate"]


def test_a_date_is_given_later_and_put_right(at_home: Client, by: By) -> None:
    """The journal of the ingredient keeps both; the same again writes nothing."""
    row = make_ingredient(by)
    at_home.post(url(by, ADD), {"kind": "safety", "upload": make_sheet()})
    (kept,) = papers(by)
    address = url(by, f"ingredients/I-001/papers/{kept.uuid}/date/")
    assert "not given" in page(at_home, by, "ingredients/I-001/")

    for day in ("2024-03-01", "2023-03-01", "2023-03-01"):
        assert at_home.post(address, {"issued_on": day}).status_code == 303

    assert DatedPaper.objects.get().issued_on == date(2023, 3, 1)
    told = entries_about(by.maker, row.uuid).filter(action="paper.dated")
    assert [(one.change["on"], one.change["was"]) for one in told] == [
        ("2023-03-01", "2024-03-01"),
        ("2024-03-01", ""),
    ]


def test_a_day_to_come_is_refused_and_the_file_is_kept(at_home: Client, by: By) -> None:
    """Nothing typed is lost, nothing is stored."""
    make_ingredient(by)
    day = (by.today() + timedelta(1)).isoformat()

    text = text_of(
        at_home.post(url(by, ADD), {"kind": "safety", "issued_on": day, "upload": make_sheet("a.pdf")})
    )

    assert "That day is still to come." in text
    assert day in text
    assert "a.pdf" in text
    assert papers(by) == []


def test_a_long_list_is_cut_and_all_of_it_has_a_page(at_home: Client, by: By, furnished: Ingredient) -> None:
    """The newest eight on the pages of ingredient and supplier, the rest one step away, and as CSV."""
    source = furnished.sources.get()
    for number in range(10):
        upload = make_sheet(f"sheet-{number}.pdf", PDF + str(number).encode())
        file_ingredient_paper(by, ingredient=furnished, source=source, upload=upload, kind="safety")

    for path in ("ingredients/I-001/", f"suppliers/{source.supplier.uuid}/"):
        text = page(at_home, by, path)
        listed = text[text.index('id="h-papers"') : text.index('id="h-journal"')]
        assert "sheet-2.pdf" in listed
        assert "sheet-1.pdf" not in listed
        assert url(by, f"{path}papers/") in listed
        whole = page(at_home, by, f"{path}papers/")
        assert all(f"sheet-{number}.pdf" in whole for number in range(10))
        table = text_of(at_home.get(url(by, f"{path}papers/?as=csv")))
        assert len(table.strip().splitlines()) == 11


def test_the_sheet_of_a_composition_is_dated_and_stands_with_its_supplier(
    at_home: Client, by: By, furnished: Ingredient
) -> None:
    """Filed with the composition of one source, it is a paper of that source."""
    source = furnished.sources.get()
    data = rows(
        {"substance": "Aqua", "typical": "100"},
        after=str(furnished.compositions.count()),
        source=source.pk,
        issued_on="2022-05-04",
        paper=make_sheet("analysis.pdf"),
    )

    assert at_home.post(url(by, "ingredients/I-001/compositions/add/"), data).status_code == 303

    text = page(at_home, by, f"suppliers/{source.supplier.uuid}/")
    row = text[text.index("analysis.pdf") :]
    assert "4 May 2022" in row[: row.index("</tr>")]
    assert "Composition 2" in row[: row.index("</tr>")]


def test_a_paper_of_another_ingredient_or_maker_takes_no_date(at_home: Client, cast: Cast) -> None:
    """404, also for a paper that is none of an ingredient."""
    make_ingredient(cast.owner)
    other = make_ingredient(cast.owner)
    theirs = file_document(cast.stranger, make_sheet(), "safety")
    of_other = file_ingredient_paper(cast.owner, ingredient=other, upload=make_sheet(), kind="safety")

    for paper in (theirs, of_other):
        address = url(cast.owner, f"ingredients/I-001/papers/{paper.uuid}/date/")
        assert at_home.post(address, {"issued_on": "2024-01-01"}).status_code == 404
    assert not DatedPaper.objects.exists()
