"""A small complete world, made through the actions: at least one of everything that has an address of its own.

The worked traceability example with what it lacks: papers, a label, an article, a complaint, a recall, a hold, a
shop on sale-or-return, a batch still on the bench. ``addresses`` leads to every page of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from batches.actions.making import deviate, open_points, plan_batch, read, start_batch, weigh, yield_output
from batches.actions.selling import add_place, built_in, move_units
from batches.actions.stock import file_paper, open_hold
from batches.actions.tracing import start_recall, write_complaint
from batches.actions.trials import correct_trial_note, note_trial
from batches.models import Batch, Place, Recall
from formulas.actions.costs import add_article_price, add_rate, set_cost_basis, set_product_cost
from formulas.actions.formulas import save_version, start_formula
from formulas.actions.ingredients import add_price, add_source, add_use_level, copy_from_catalogue
from formulas.actions.papers import file_ingredient_paper
from formulas.actions.products import add_article
from formulas.models import ExchangeRate, FormulaVersion, Ingredient, Product, Source, Supplier, UseLevel
from labels.actions import approve_label, draft_label
from labels.actions.printing import open_with_a_sheet, print_run
from labels.models import Label, LabelIssue, SheetLayout
from makers.actions.house import file_document, set_responsible
from makers.models import Document, Maker, Membership
from tests.batches.fixture import ALL_WELL, WHILE_GOOD, Example, make_example, on
from tests.cast import Cast, make_cast
from tests.labels.factories_labels import confirm_everything, make_product, make_version

D = Decimal
PICTURE = bytes.fromhex(
    "89504e470d0a1a0a0000000d4948445200000001000000010802000000907753de0000000c49444154789c63606060000000"
    "040001f61738550000000049454e44ae426082"
)
"""A PNG of one black dot."""
PAPER = b"%PDF-1.4\n1 0 obj<<>>endobj\ntrailer<<>>\n%%EOF\n"


@dataclass
class World:
    """The records, and the arguments that each address takes."""

    cast: Cast
    example: Example
    lavender: Ingredient
    draft: FormulaVersion
    bench: Batch
    shop: Place
    label: Label
    issue: LabelIssue
    recall: Recall
    given: dict[str, Any] = field(default_factory=dict)

    @property
    def maker(self) -> Maker:
        """Whose world it is."""
        return self.cast.maker


def make_world() -> World:
    """Make it; a few seconds."""
    cast = make_cast()
    by = cast.owner
    example = make_example(by)
    lavender = make_paper(cast, example)
    bench = make_bench(cast, example)
    pack = example.packs["P2"]
    shop = add_place(by, name="Eelmere Slipway Shelf", kind="shop", contact_name="Ann Tern", phone="+353 1 1")
    move_units(on(by, WHILE_GOOD), pack=pack, units=4, from_place=built_in(by, "workshop"), to_place=shop)
    open_hold(by, lot=example.lots["L3"], cause="smells of smoke")
    write_complaint(
        by, kind="reaction", words="itches", code_given=pack.code, name="Bo Plover", email="bo@example.org"
    )
    recall = start_recall(by, rehearsal=True, reason="yearly", lot=example.lots["L2"])
    draft = start_formula(by, name="Marsh cream", kind="leave-on", form="balm", body_area="face")
    lines = [{"ingredient": example.oil, "percent": D(60)}, {"ingredient": example.wax, "kind": "to_100"}]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    steps = [{"phase": "A", "text": "Melt", "max_c": D(75)}]
    draft = save_version(by, version=draft, phases=phases, steps=steps, edit=draft.edit)
    open_with_a_sheet(by)
    label = draft_label(by, product=make_labelled(cast), market="US", origin="Made in Ireland")
    confirm_everything(by, label)
    issue = approve_label(by, label=label)
    print_run(by, issue=issue, printed=24, spoiled=2)
    world = World(cast, example, lavender, draft, bench, shop, label, issue, recall)
    world.given = given_of(world)
    return world


def make_paper(cast: Cast, example: Example) -> Ingredient:
    """A catalogue ingredient with source, price and use level; an article; papers; a responsible person."""
    by = cast.owner
    lavender = copy_from_catalogue(by, key="lavender-oil")
    supplier = Supplier.objects.get(maker=by.maker)
    source = add_source(by, ingredient=lavender, supplier=supplier, article_code="LV-1")
    add_source(by, ingredient=example.oil, supplier=supplier)
    add_price(by, source=source, on=by.today(), amount=D(29), pack_g=D(200))
    add_use_level(by, ingredient=lavender, high=D(2), source="their sheet", basis="memory")
    pot = add_article(by, name="Pot of 60 ml")
    add_article_price(by, article=pot, on=by.today(), amount=D(42), pieces=60, currency="GBP")
    add_rate(by, on=by.today(), currency="GBP", rate=D("1.15"), source="bank")
    set_cost_basis(by, labour_per_hour=D(24), overhead_percent=D(10))
    set_product_cost(by, product=example.product, batch_units=40, batch_minutes=D(90), wanted_margin=D(60))
    upload = SimpleUploadedFile("certificate.pdf", PAPER, content_type="application/pdf")
    file_document(by, upload, "certificate")
    sheet = SimpleUploadedFile("lavender.pdf", PAPER, content_type="application/pdf")
    file_ingredient_paper(by, ingredient=lavender, source=source, upload=sheet, kind="safety")
    file_paper(
        by,
        lot=example.lots["L1"],
        document=SimpleUploadedFile("oil.pdf", PAPER, content_type="application/pdf"),
    )
    set_responsible(by, market="EU", name="Cordgrass Ltd", address="2 Tidegate Row, Eelmere")
    return lavender


def make_labelled(cast: Cast) -> Product:
    """A balm of catalogue ingredients with everything that a label wants."""
    things = [copy_from_catalogue(cast.owner, key=key) for key in ("sunflower-oil", "shea-butter", "beeswax")]
    lines = [(thing, percent, "") for thing, percent in zip(things, ("50", "28", "22"), strict=True)]
    return make_product(cast.owner, make_version(cast.owner, "Saltwort balm", lines))


def make_bench(cast: Cast, example: Example) -> Batch:
    """A batch for trial on the bench: one line weighed, a reading, a deviation, some waste."""
    by = cast.owner
    batch = plan_batch(
        by, version=example.version, purpose="trial", scale=example.scale, total_g=D(100), code="T1"
    )
    batch = start_batch(by, batch=batch, checks=ALL_WELL)
    line = batch.lines.get(ingredient=example.oil)
    weigh(by, batch=batch, line=line, lot=example.lots["L1"], grams=D(70))
    read(by, batch=batch, kind="temperature", value=D(71))
    deviate(by, batch=batch, text="spilled a little")
    yield_output(by, batch=batch, kind="waste", grams=D(1))
    photo = SimpleUploadedFile("in-the-dish.png", PICTURE, "image/png")
    note = note_trial(by, batch=batch, seen_on=by.today(), firmness="soft", feel="greasy", upload=photo)
    correct_trial_note(by, note=note, why="not greasy", seen_on=by.today(), firmness="soft", feel="slips")
    assert open_points(batch)
    return batch


# -- where everything is


def given_of(world: World) -> dict[str, Any]:
    """The arguments of addresses: by name of the view where it is particular, else by the path's first word."""
    by, example, lavender = world.cast.owner, world.example, world.lavender
    maker = by.maker
    codes = {
        "formulas": world.draft.formula.code,
        "products": example.product.code,
        "articles": maker_first(maker, "formulas", "Article").code,
        "ingredients": lavender.code,
        "batches": world.bench.code,
        "packs": example.packs["P2"].code,
        "places": world.shop.code,
        "recipients": example.people["C2"].code,
        "dispatches": example.sent["D3"].code,
        "returns": example.came_back.code,
        "deliveries": maker_first(maker, "batches", "Delivery").code,
        "lots": example.lots["L1"].code,
        "complaints": maker_first(maker, "batches", "Complaint").code,
        "recalls": world.recall.code,
        "labels": world.label.product.code,
    }
    bench = world.bench
    uuids = {
        "batches:lot-correct": maker_first(maker, "batches", "LotEntry", lot=example.lots["L1"]).uuid,
        "batches:hold": maker_first(maker, "batches", "Hold").uuid,
        "batches:weighing-back": bench.weighings.get().uuid,
        "batches:output-back": bench.outputs.get().uuid,
        "batches:deviation": bench.deviations.get().uuid,
        "batches:trial-correct": bench.trial_notes.latest("pk").uuid,
        "formulas:rate-change": ExchangeRate.objects.get(maker=maker).uuid,
        "formulas:supplier": Supplier.objects.get(maker=maker).uuid,
        "formulas:supplier-papers": Supplier.objects.get(maker=maker).uuid,
        "formulas:ingredient-paper-date": Document.objects.get(maker=maker, name="lavender.pdf").uuid,
        "formulas:source-prefer": Source.objects.get(ingredient=lavender).uuid,
        "formulas:use-level-confirm": UseLevel.objects.filter(ingredient=lavender).latest("pk").uuid,
        "formulas:use-level-remove": UseLevel.objects.filter(ingredient=lavender).latest("pk").uuid,
        "labels:sheet-change": SheetLayout.objects.get(maker=maker).uuid,
        "house:document": Document.objects.filter(maker=maker)[0].uuid,
        "house:picture": Document.objects.get(maker=maker, name="in-the-dish.png").uuid,
        "house:scale-check": example.scale.uuid,
        "house:member-change": Membership.objects.get(maker=maker, user=world.cast.worker.user).uuid,
    }
    others = {
        "number": 1,
        "pack_code": example.packs["P2"].code,
        "pack": example.packs["P2"].code,
        "issue": world.issue.uuid,
        "key": world.label.address_key,
        "field": next(iter(lavender.facts)),
        "act": "note",
        "substance": "cera-alba",
    }
    particular = {
        "formulas:catalogue-material": {"key": "lavender-oil"},
        "formulas:composition-confirm": {"number": lavender.compositions.get().number},
    }
    return {"codes": codes, "uuids": uuids, "others": others, "particular": particular}


def maker_first(maker: Maker, app: str, model: str, **more: Any) -> Any:
    """One of the maker's records."""
    found = apps.get_model(app, model)._base_manager.filter(maker=maker, **more).order_by("pk").first()
    assert found is not None, f"the world has no {model}"
    return found


def below_maker(
    patterns: list[URLPattern | URLResolver] | None = None, path: str = "", names: tuple[str, ...] = ()
) -> Iterator[tuple[str, str]]:
    """Every address below a maker: its name, its path as declared."""
    for one in get_resolver().url_patterns if patterns is None else patterns:
        here = path + str(one.pattern)
        if isinstance(one, URLResolver):
            inner = (*names, one.namespace) if one.namespace else names
            yield from below_maker(one.url_patterns, here, inner)
        elif here.startswith("<slug:maker>/"):
            yield ":".join((*names, str(one.name))), here.removeprefix("<slug:maker>/")


def addresses(world: World) -> dict[str, str]:
    """An address for every view below a maker, by its name. A new argument wants a line in ``given_of``."""
    found = {}
    for name, path in below_maker():
        first = path.split("/")[0]
        wanted = [part.strip("<>").split(":")[1] for part in path.split("/") if part.startswith("<")]
        arguments: dict[str, Any] = {"maker": world.maker.slug}
        for argument in wanted:
            arguments[argument] = argument_of(world.given, name, first, argument)
        found[name] = reverse(name, kwargs=arguments)
    return found


def argument_of(given: Mapping[str, Any], name: str, first: str, argument: str) -> Any:
    """The value of one argument of one address."""
    if argument in given["particular"].get(name, {}):
        return given["particular"][name][argument]
    if argument == "code":
        return given["codes"][first]
    if argument == "uuid":
        return given["uuids"][name]
    return given["others"][argument]
