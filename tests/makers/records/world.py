"""A small workshop with something in its corners: circles of references, papers, people, own substances."""

from __future__ import annotations

import json
import zipfile
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction

from batches.actions.making import amend_batch, finish_batch, yield_output
from batches.actions.selling import add_recipient, dispatch, pack_batch
from batches.actions.stock import open_hold
from batches.models import Place
from formulas.actions.formulas import start_formula
from formulas.models import Composition, Constituent, Ingredient, Substance, Supplier
from makers import guards
from makers.actions import By
from makers.actions.exporting import export_records
from makers.actions.house import add_scale, file_document, save_contact
from makers.actions.record_tables import tables
from makers.models import Maker, Membership, OldSlug
from tests.batches.making import factories_making as making
from tests.batches.stock.factories_stock import make_lot
from tests.cast import PASSWORD, Cast

PAPER = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


def furnish(cast: Cast) -> None:
    """Fill the cast's maker: an infusion out of its own batch goes into another, which is released, packed,
    sent, amended and released again."""
    by, maker = cast.owner, cast.maker
    OldSlug.objects.create(maker=maker, slug=f"old-{maker.slug}")
    for kind in ("workshop", "returns", "kept"):
        Place.objects.get_or_create(
            maker=maker, kind=kind, defaults={"name": kind.title(), "code": f"L-{kind}"}
        )
    upload = SimpleUploadedFile("Zertifikat «Öl».pdf", PAPER, content_type="application/pdf")
    paper = file_document(by, upload, "certificate")
    save_contact(cast.worker, name="Aoife Sandpiper", email="aoife@example.org")
    supplier = Supplier.objects.create(maker=maker, name="=Dunlin Oils, “north”")
    infused = making.make_house_lot(by, "Calendula infusion")
    assert infused.ingredient is not None
    declare(infused.ingredient, paper)
    open_hold(by, lot=make_lot(by, supplier=supplier), cause="cloudy")
    lines = [
        making.percent_line(infused.ingredient, "30"),
        making.percent_line(Ingredient.objects.create(maker=maker, name="Rice wax", code="I-991"), "70"),
    ]
    version = making.make_version(by, *lines, name="Marsh balm")
    start_formula(
        by, name="Marsh balm, softer", kind="leave-on", form="balm", body_area="body", parent=version
    )
    sell(by, version, infused)


def furnish_lightly(cast: Cast) -> None:
    """A paper, a contact, a scale and their entries: enough where a test is about the copy."""
    upload = SimpleUploadedFile("Zertifikat.pdf", PAPER, content_type="application/pdf")
    file_document(cast.owner, upload, "certificate")
    save_contact(cast.worker, name="Aoife Sandpiper", email="aoife@example.org")
    add_scale(cast.owner, name="Bench scale", readability_g=Decimal("0.1"), capacity_g=Decimal(6000))


def declare(ingredient: Ingredient, paper: Any) -> None:
    """A composition of the maker's own substance and a shared one."""
    maker = ingredient.maker
    own = Substance.objects.create(maker=maker, key="house-flower", inci_name="Calendula Officinalis Flower")
    shared = Substance.objects.filter(maker=None).order_by("key")[0]
    composition = Composition.objects.create(
        maker=maker, ingredient=ingredient, number=7, valid_from="2025-01-01", document=paper
    )
    for substance, typical in ((own, "0.1"), (shared, "99.9")):
        Constituent.objects.create(
            maker=maker, composition=composition, substance=substance, typical=Decimal(typical)
        )


def sell(by: By, version: Any, infused: Any) -> None:
    """A batch from the infusion, packed, released, sent; amended and released once more."""
    product = making.make_product(version)
    batch = making.make_making(by, version, product=product)
    making.weigh_line(by, batch, 1, lot=infused)
    making.weigh_line(by, batch, 2)
    finish_batch(by, batch=batch, bulk_g=Decimal(990))
    pack = pack_batch(by, batch=batch, product=product, units=19, grams=Decimal(950))
    yield_output(by, batch=batch, kind="sample", grams=Decimal(40))
    making.sign(by, batch)
    recipient = add_recipient(by, kind="person", name="Una Heron", email="una@example.org")
    place = Place.objects.get(maker=by.maker, kind="workshop")
    dispatch(by, recipient=recipient, on=by.today(), lines=[(pack, 5, place)])
    amend_batch(by, batch=batch, what="The room was 19 °C.", why="read off the wrong line", password=PASSWORD)
    batch.refresh_from_db()
    making.sign(by, batch)


def export_to(by: By, path: Path) -> Path:
    """The maker's export, written to a file."""
    with path.open("w+b") as file:
        export_records(by, file)
    return path


def rows_in(path: Path) -> dict[str, list[dict[str, Any]]]:
    """Every table of an export, read with the standard library alone."""
    with zipfile.ZipFile(path) as found:
        names = [name for name in found.namelist() if name.startswith("tables/") and name.endswith(".json")]
        return {
            name.removeprefix("tables/").removesuffix(".json"): json.loads(found.read(name)) for name in names
        }


def wipe(maker: Maker, *, people: bool = True) -> None:
    """Take the maker away, as if it had never been in this database."""
    users = list(Membership.objects.filter(maker=maker).values_list("user_id", flat=True))
    with transaction.atomic(), guards.lifted(), connection.cursor() as cursor:
        for table in reversed(tables()):
            name = table.model._meta.db_table
            column = "id" if table.model is Maker else "maker_id"
            cursor.execute(f"DELETE FROM {name} WHERE {column} = %s", [maker.pk])
        for key in users if people else ():
            cursor.execute("DELETE FROM makers_user WHERE id = %s", [key])
        connection.check_constraints()
