"""The label screens: happy paths, strangers, readers, wrong input, downloads."""

from __future__ import annotations

import csv
from decimal import Decimal
from io import StringIO

import pytest
from django.test import Client

from batches.models import Pack
from formulas.models import Product
from labels.actions import approve_label, change_label, draft_label
from labels.assembly import assemble_one
from labels.layout import BATCH, Block, by_hand
from labels.models import FactConfirmation, Label, LabelIssue, PrintRun, SheetLayout
from labels.rules.tables import RULES_EDITION
from makers.actions import By
from makers.http import address
from tests.cast import Cast
from tests.formulas.pages import text_of
from tests.labels.factories_labels import confirm_everything, make_balm, make_product, make_version, material
from tests.labels.test_approval import issue_of
from tests.labels.test_weighed import make_batch

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("sheet")]


def client_of(by: By) -> Client:
    """Signed in."""
    client = Client()
    client.force_login(by.user)
    return client


@pytest.fixture
def label(cast: Cast) -> Label:
    """A draft for the US."""
    return draft_label(cast.owner, product=make_balm(cast.owner), market="US", origin="Made in Ireland")


def url(label: Label, view: str = "label", **more: str) -> str:
    """An address of a label."""
    return address(label.maker, f"labels:{view}", code=label.product.code, key=label.address_key, **more)


def every_url(label: Label) -> list[str]:
    """Every address of this world that has a page."""
    sheet = SheetLayout.objects.for_maker(label.maker).get()
    own = [url(label, view) for view in ("label", "texts", "proof", "sheet")]
    own.append(url(label, "name", substance="cera-alba"))
    return [
        address(label.maker, "labels:labels"),
        address(label.maker, "labels:add"),
        address(label.maker, "labels:sheets"),
        address(label.maker, "labels:sheet-add"),
        address(label.maker, "labels:sheet-change", uuid=sheet.uuid),
        *own,
    ]


ACTS = ("confirm", "judge", "approve", "withdraw", "run-add", "texts")


def test_every_page_opens_for_every_member(cast: Cast, label: Label) -> None:
    for by in (cast.owner, cast.worker, cast.reader):
        client = client_of(by)
        for path in every_url(label):
            assert client.get(path).status_code == 200, path


def test_strangers_find_nothing(cast: Cast, label: Label) -> None:
    client = client_of(cast.stranger)

    assert {client.get(path).status_code for path in every_url(label)} == {404}
    assert {client.post(url(label, act)).status_code for act in ACTS} == {404}


def test_another_makers_label_is_not_below_ones_own_address(cast: Cast, label: Label) -> None:
    client = client_of(cast.stranger)
    path = address(cast.stranger.maker, "labels:label", code=label.product.code, key=label.address_key)

    assert client.get(path).status_code == 404


def test_readers_may_not_write(cast: Cast, label: Label) -> None:
    client = client_of(cast.reader)

    assert {client.post(url(label, act)).status_code for act in ACTS} == {403}
    assert client.post(address(cast.maker, "labels:add")).status_code == 403
    assert b"Approve this label" not in client.get(url(label)).content


def test_acts_take_no_get(cast: Cast, label: Label) -> None:
    client = client_of(cast.owner)

    assert {client.get(url(label, act))["Location"] for act in ACTS if act != "texts"} == {url(label)}


def test_a_label_is_drafted_from_the_form(cast: Cast) -> None:
    product = make_balm(cast.owner)
    client = client_of(cast.worker)

    response = client.post(
        address(cast.maker, "labels:add"), {"product": product.pk, "market": "EU", "language": "en"}
    )

    made = Label.objects.get()
    assert (response.status_code, response["Location"]) == (303, url(made))
    page = client.get(url(made)).content.decode()
    assert "Helianthus Annuus Seed Oil" in page
    assert "<details" in page
    assert 'href="#n-1"' in page
    assert "style=" not in page
    assert "Your country&#x27;s law" in page or "Your country's law" in page


def test_a_label_that_is_there_already_is_said_beside_the_field(cast: Cast, label: Label) -> None:
    response = client_of(cast.owner).post(
        address(cast.maker, "labels:add"), {"product": label.product_id, "market": "US", "language": "en"}
    )

    assert response.status_code == 200
    assert b"in this language. Open that." in response.content


def test_another_makers_product_is_no_choice(cast: Cast) -> None:
    foreign = make_balm(cast.stranger)

    response = client_of(cast.owner).post(
        address(cast.maker, "labels:add"), {"product": foreign.pk, "market": "EU", "language": "en"}
    )

    assert response.status_code == 200
    assert Label.objects.count() == 0


def test_facts_are_confirmed_by_ticks_and_one_basis(cast: Cast, label: Label) -> None:
    client = client_of(cast.owner)
    paper = assemble_one(label)
    assert paper is not None
    keys = [fact.key for fact in paper.waiting]

    without = client.post(url(label, "confirm"), {"facts": keys})
    assert without.status_code == 200
    assert b"Say what you checked it against" in without.content
    response = client.post(url(label, "confirm"), {"facts": keys, "basis": "eCFR, looked up"})

    assert response.status_code == 303
    assert FactConfirmation.objects.count() == len(keys)


def test_a_label_is_approved_and_downloaded(cast: Cast, label: Label) -> None:
    client = client_of(cast.owner)
    client.post(url(label, "approve"))
    assert LabelIssue.objects.count() == 0

    confirm_everything(cast.owner, label)
    assert b"Approve this label" in client.get(url(label)).content
    client.post(url(label, "approve"), {"edit": Label.objects.get().edit})

    issue = LabelIssue.objects.get()
    assert issue.pdf is not None
    paper = client.get(address(cast.maker, "house:document", uuid=issue.pdf.uuid))
    assert paper["Content-Disposition"].startswith("attachment")
    paper.close()


def test_an_issue_names_the_rules_that_it_was_approved_under(
    cast: Cast, label: Label, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Newer rules are named apart from those of the approval, and a draft goes by the newer ones."""
    client = client_of(cast.owner)
    draft = text_of(client.get(url(label)))
    confirm_everything(cast.owner, label)
    approve_label(cast.owner, label=label)
    same = text_of(client.get(url(label)))

    monkeypatch.setattr("labels.views.labels.RULES_EDITION", "2031-05-04")
    later = text_of(client.get(url(label)))
    change_label(cast.owner, label=label, extra="Keep cool.")
    changed = text_of(client.get(url(label)))

    assert f"<dt>Rules as of</dt><dd>{RULES_EDITION}</dd>" in draft
    assert f"under the rules as of {RULES_EDITION}</dd>" in same
    assert "Looked at here" not in same
    assert f"under the rules as of {RULES_EDITION}</dd>" in later
    assert "<dt>Looked at here by the rules as of</dt><dd>2031-05-04</dd>" in later
    assert f'data-head="rules as of">{RULES_EDITION}</td>' in later
    assert f"under the rules as of {RULES_EDITION}</dd>" in changed
    assert "<dt>Looked at here by the rules as of</dt><dd>2031-05-04</dd>" in changed


def test_proof_and_sheet_are_attachments(cast: Cast, label: Label) -> None:
    client = client_of(cast.reader)
    label = draft_label(cast.owner, product=label.product, market="EU")
    sheet = SheetLayout.objects.get()

    for response in (
        client.get(url(label, "proof")),
        client.get(url(label, "sheet"), {"layout": str(sheet.uuid), "start": "1", "copies": "3"}),
    ):
        assert response["Content-Type"] == "application/pdf"
        assert response["Content-Disposition"].startswith("attachment; filename=")
        assert response.content.startswith(b"%PDF")


def test_a_sheet_that_cannot_be_made_comes_back_with_the_reason(cast: Cast, label: Label) -> None:
    sheet = SheetLayout.objects.get()

    response = client_of(cast.owner).get(
        url(label, "sheet"), {"layout": str(sheet.uuid), "start": "25", "copies": "3"}
    )

    assert response.status_code == 200
    assert b"The sheet has 24 places." in response.content


def test_texts_come_back_with_their_errors_and_are_saved_once_right(cast: Cast, label: Label) -> None:
    client = client_of(cast.owner)
    typed = {"edit": label.edit, "identity": "Hand balm", "width_mm": "5", "height_mm": "60"}

    wrong = client.post(url(label, "texts"), typed)
    assert wrong.status_code == 200
    assert b"Hand balm" in wrong.content
    right = client.post(url(label, "texts"), {**typed, "width_mm": "70"})

    label.refresh_from_db()
    assert right.status_code == 303
    assert (label.identity, label.width_mm) == ("Hand balm", 70)


def test_a_name_for_the_us_is_given_from_the_label(cast: Cast) -> None:
    oil = material(cast.maker, "Elder oil", ("Sambucus Nigra Seed Oil", "100"))
    product = make_product(cast.owner, make_version(cast.owner, "Elder balm", [(oil, "100", "")]))
    label = draft_label(cast.owner, product=product, market="US")
    client = client_of(cast.owner)
    page = client.get(url(label)).content.decode()
    assert url(label, "name", substance="sambucus-nigra-seed-oil") in page

    client.post(
        url(label, "name", substance="sambucus-nigra-seed-oil"),
        {"name": "Sambucus Nigra (Elder) Seed Oil", "basis": "confirmed", "source": "a handbook"},
    )

    assert "Sambucus Nigra (Elder) Seed Oil" in client.get(url(label)).content.decode()


def test_a_print_run_is_written_down_once(cast: Cast) -> None:
    issue = issue_of(cast)
    client = client_of(cast.owner)
    typed = {
        "printed": "24", "spoiled": "2", "left": "1", "entry_key": "4c2a3a52-6a6e-4e0e-9a53-0f8b6f0b7a10",
    }  # fmt: skip

    for _ in range(2):
        assert client.post(url(issue.label, "run-add"), typed).status_code == 303
    too_many = client.post(url(issue.label, "run-add"), {"printed": "5", "spoiled": "4", "left": "3"})

    assert PrintRun.objects.count() == 1
    assert b"more than the 5 printed" in too_many.content


def test_the_list_filters_sorts_and_goes_to_csv(cast: Cast, label: Label) -> None:
    draft_label(cast.owner, product=label.product, market="EU")
    client = client_of(cast.reader)
    here = address(cast.maker, "labels:labels")

    assert client.get(here, {"market": "EU"}).content.count(b"labels/P-001/EU-en/") == 1
    assert client.get(here, {"q": "nothing like it"}).content.count(b"No label fits that filter") == 1
    rows = list(csv.reader(StringIO(client.get(here, {"as": "csv"}).content.decode("utf-8-sig"))))
    assert [row[2] for row in rows[1:]] == ["US", "EU"]
    fragment = client.get(here, headers={"HX-Request": "true"}).content
    assert b"<html" not in fragment
    assert b"<table" in fragment


def test_products_without_a_label_are_listed_with_a_link_to_draft_one(cast: Cast, label: Label) -> None:
    page = client_of(cast.owner).get(address(cast.maker, "labels:labels")).content.decode()

    assert f"?product={label.product.code}&amp;market=EU" in page


def test_a_product_shows_its_labels(cast: Cast, label: Label) -> None:
    page = client_of(cast.owner).get(address(cast.maker, "formulas:product", code=label.product.code))

    assert url(label) in page.content.decode()


def test_the_search_finds_a_label_by_its_product(cast: Cast, label: Label) -> None:
    page = client_of(cast.reader).get(address(cast.maker, "house:search"), {"q": "Saltwort"})

    assert url(label) in page.content.decode()


@pytest.mark.parametrize("key", ["EU", "XX-en", "EU-xx", "EU-en-"])
def test_an_address_that_is_no_label_is_not_there(cast: Cast, label: Label, key: str) -> None:
    path = address(cast.maker, "labels:label", code=label.product.code, key=key)

    assert client_of(cast.owner).get(path).status_code == 404


def test_the_list_asks_the_same_number_of_questions_for_many_labels(
    cast: Cast, django_assert_max_num_queries: object
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    product = make_balm(cast.owner)
    client = client_of(cast.owner)
    here = address(cast.maker, "labels:labels")
    draft_label(cast.owner, product=product, market="EU")
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(here)
    version = product.formula.versions.get()
    for number in range(12):
        further: Product = make_product(cast.owner, version, f"Balm {number}")
        draft_label(cast.owner, product=further, market="EU")
    with CaptureQueriesContext(connection) as many:
        client.get(here)

    assert len(many) <= len(few)


def test_a_sheet_is_for_the_newest_batch_with_packs_unless_another_is_chosen(at_home: Client, by: By) -> None:
    """A sheet without a batch leaves blanks to write on, and the form says so where the law asks for both."""
    product = make_balm(by, markets=["EU"], life_months=24)
    label = draft_label(by, product=product, market="EU")
    there = address(by.maker, "labels:label", code=product.code, key=label.address_key)

    form = at_home.get(there).context["sheet"]
    assert form.initial["batch"] is None
    assert form.fields["batch"].help_text == (
        "Without one, write the code and the date on each label by hand: the law asks for it."
    )

    made_batch = make_batch(by, product)
    Pack.objects.create(
        maker=by.maker, batch=made_batch, product=product, code="X-A", packed_on=by.today(), units=1, grams=50
    )
    assert at_home.get(there).context["sheet"].initial["batch"] == made_batch.code


def test_blanks_stand_where_a_batch_is_written_by_hand() -> None:
    """Wide enough for a pen: an ellipsis is not."""
    [batch, other] = by_hand(
        [
            Block("batch", BATCH, "Batch … · best used before the end of …", Decimal(6)),
            Block("name", "name", "And so on …", Decimal(6)),
        ]
    )

    assert batch.text.count("______________") == 2
    assert "…" not in batch.text
    assert other.text == "And so on …"
