"""A certificate that was chosen stays chosen when its form comes back."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile, TemporaryUploadedFile
from django.test import Client

from batches.models import Delivery
from makers.actions import By
from makers.forms import keeping
from makers.models import Document
from tests.batches.pages import text_of, url
from tests.batches.stock.factories_stock import PDF, make_ingredient, make_lot, make_supplier, make_upload
from tests.batches.stock.test_receive_page import head, row
from tests.cast import Cast

WORD_FILE = SimpleUploadedFile("coa.docx", b"PK\x03\x04" + b"w" * 40)


@pytest.fixture(autouse=True)
def folder(settings: Any, tmp_path: Path) -> Path:
    """Kept files and papers of the test's own."""
    settings.KEPT_ROOT = tmp_path / "kept"
    settings.MEDIA_ROOT = tmp_path / "files"
    return tmp_path


def token_in(response: Any, name: str) -> str:
    """The token that a page sends along for a field; "" where it keeps nothing."""
    found = re.search(rf'name="{name}_kept" value="([^"]+)"', response.content.decode())
    return found[1] if found else ""


def parcel(by: By, **changes: Any) -> dict[str, Any]:
    """A delivery of one line, whole but for what changes."""
    return {
        **head(by, supplier=make_supplier(by.maker).pk, lines="1"),
        **row(0, f"i-{make_ingredient(by.maker).uuid}"),
        **changes,
    }


def test_a_refused_line_keeps_its_certificate(at_home: Client, by: By) -> None:
    """Chosen once, refused for the amount, written down at the second try without choosing again."""
    data = parcel(by)
    refused = {**data, "line-0-amount_amount": "1O00", "line-0-document": make_upload("coa.pdf")}

    back = at_home.post(url(by, "receive"), refused)
    token = token_in(back, "line-0-document")
    assert "Kept: coa.pdf" in text_of(back)
    assert not Document.objects.exists()
    at_home.post(url(by, "receive"), {**data, "line-0-document_kept": token})

    paper = Document.objects.get()
    assert (paper.name, paper.content_type, paper.size) == ("coa.pdf", "application/pdf", len(PDF))
    assert paper.file.read() == PDF
    assert paper.about == Delivery.objects.get().lots.get().uuid
    paper.file.close()


def test_a_form_refused_by_the_action_keeps_it_too(at_home: Client, by: By) -> None:
    """Freight without a cost is refused by the action; the files of every line stay."""
    data = parcel(by, freight="5", **{"line-0-document": make_upload()})

    back = at_home.post(url(by, "receive"), data)

    assert "line 1 has none" in text_of(back)
    assert token_in(back, "line-0-document")


def test_a_line_with_nothing_but_a_kept_file_is_no_empty_line(at_home: Client, by: By) -> None:
    """Otherwise the certificate would be left out without a word."""
    token = token_in(
        at_home.post(
            url(by, "receive"), parcel(by, lines="1", freight="x", **{"line-0-document": make_upload()})
        ),
        "line-0-document",
    )

    back = at_home.post(url(by, "receive"), {**head(by), "line-0-document_kept": token})

    assert "Choose what this line is." in text_of(back)


def test_adding_lines_keeps_what_was_chosen(at_home: Client, by: By) -> None:
    """Though nothing is checked yet."""
    data = parcel(by, more="3", **{"line-0-document": make_upload("coa.pdf")})
    del data["write"]

    first = at_home.post(url(by, "receive"), data)
    token = token_in(first, "line-0-document")
    again = at_home.post(url(by, "receive"), {**data, "line-0-document": "", "line-0-document_kept": token})

    assert token
    assert token_in(again, "line-0-document") == token


def test_sending_the_same_form_twice_writes_one_paper(at_home: Client, by: By) -> None:
    """A double tap with a kept file has the effect of one, and no sentence that it is gone."""
    data = parcel(by, entry_key=f"{uuid4()}")
    back = at_home.post(url(by, "receive"), {**data, "freight": "x", "line-0-document": make_upload()})
    data["line-0-document_kept"] = token_in(back, "line-0-document")

    for _ in range(2):
        assert at_home.post(url(by, "receive"), data).status_code == 303

    assert Delivery.objects.count() == 1
    assert Document.objects.count() == 1


def test_left_out_it_is_neither_filed_nor_kept(at_home: Client, by: By, folder: Path) -> None:
    """The tick lets it go at once, also when the form comes back again."""
    lot = make_lot(by)
    where = url(by, "lot-decide", code=lot.code)
    token = token_in(at_home.post(where, {"became": "released", "upload": make_upload()}), "upload")

    back = at_home.post(where, {"became": "released", "upload_kept": token, "upload_drop": "yes"})
    assert token
    assert not token_in(back, "upload")
    assert not [path for path in (folder / "kept").rglob("*") if path.is_file()]
    at_home.post(where, {"became": "released", "basis": "looked at", "upload_kept": ""})

    assert not Document.objects.exists()


def test_another_file_replaces_it(at_home: Client, by: By) -> None:
    """What is chosen now counts."""
    lot = make_lot(by)
    where = url(by, "lot-paper", code=lot.code)
    token = token_in(at_home.post(where, {"kind": "", "upload": make_upload("old.pdf")}), "upload")

    at_home.post(where, {"kind": "certificate", "upload": make_upload("new.pdf"), "upload_kept": token})

    assert token
    assert Document.objects.get().name == "new.pdf"


def test_a_refused_file_leaves_the_one_before(at_home: Client, by: By) -> None:
    """A Word file is refused beside the field; the certificate that held up is still offered."""
    lot = make_lot(by)
    where = url(by, "lot-paper", code=lot.code)
    token = token_in(at_home.post(where, {"kind": "", "upload": make_upload("old.pdf")}), "upload")

    back = at_home.post(where, {"kind": "certificate", "upload": WORD_FILE, "upload_kept": token})

    assert "This is a Word file." in text_of(back)
    assert token
    assert token_in(back, "upload") == token
    assert not Document.objects.exists()


def test_a_refused_kind_is_never_kept(at_home: Client, by: By, folder: Path) -> None:
    """Only what its content and size let through."""
    lot = make_lot(by)

    back = at_home.post(url(by, "lot-paper", code=lot.code), {"kind": "", "upload": WORD_FILE})

    assert not token_in(back, "upload")
    assert not (folder / "kept").exists()


@pytest.mark.parametrize("who", ["worker", "stranger"])
def test_another_s_token_files_nothing(client: Client, cast: Cast, who: str) -> None:
    """Of the same workshop or another: the sentence says to choose it again."""
    owner, other = cast.owner, getattr(cast, who)
    client.force_login(owner.user)
    lot = make_lot(owner)
    token = token_in(
        client.post(url(owner, "lot-paper", code=lot.code), {"kind": "", "upload": make_upload()}), "upload"
    )
    theirs = make_lot(other)
    client.force_login(other.user)

    back = client.post(
        url(other, "lot-paper", code=theirs.code), {"kind": "certificate", "upload_kept": token}
    )

    assert token
    assert "no longer there. Choose it again." in text_of(back)
    assert not Document.objects.exists()


def test_an_optional_file_that_is_gone_is_said_and_may_be_gone_without(at_home: Client, by: By) -> None:
    """It is not left out without a word; sent once more as the page stands, it is."""
    data = parcel(by)

    back = at_home.post(url(by, "receive"), {**data, "line-0-document_kept": "a" * 43})
    at_home.post(url(by, "receive"), {**data, "line-0-document_kept": token_in(back, "line-0-document")})

    assert "Choose it again, or go on without it." in text_of(back)
    assert Delivery.objects.count() == 1


def test_a_large_upload_survives_an_act_that_is_taken_back(at_home: Client, by: By) -> None:
    """A file on disk is copied into the papers, not moved: the refusal after it leaves it to be kept."""
    lot = make_lot(by, supplier_lot="AB-1")
    large = SimpleUploadedFile("coa.pdf", PDF + b"0" * 3_000_000)

    back = at_home.post(
        url(by, "lot-decide", code=lot.code),
        {"became": "released", "basis": "looked at", "upload": large, "certificate_lot": "XY-9"},
    )

    token = token_in(back, "upload")
    assert token
    assert not Document.objects.exists()


def test_the_kept_file_is_told_to_who_does_not_see_it(at_home: Client, by: By) -> None:
    """The field is described by what is kept beside it."""
    lot = make_lot(by)

    page = at_home.post(
        url(by, "lot-paper", code=lot.code), {"kind": "", "upload": make_upload()}
    ).content.decode()

    described = re.search(r'<input type="file"[^>]*id="paper-upload"[^>]*>', page)
    assert described is not None
    assert "paper-upload_kept" in described[0]
    assert 'id="paper-upload_kept"' in page


def test_a_temporary_upload_can_be_kept(settings: Any, by: By) -> None:
    """What Django holds in a file of its own, as well as what it holds in memory."""
    keeping.activate(by.maker.uuid, by.user.uuid)
    with TemporaryUploadedFile("coa.pdf", "application/pdf", len(PDF), None) as upload:
        upload.write(PDF)
        kept = keeping.KeepingFileInput().kept(upload)
    keeping.deactivate()

    assert kept is not None
    assert b"".join(kept.chunks()) == PDF
