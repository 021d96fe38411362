"""The paper world of a made-up book: substances' uses, ingredients, formulas, products, labels."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from formulas.models import (
    Article,
    Composition,
    Constituent,
    Formula,
    FormulaVersion,
    Ingredient,
    Line,
    Phase,
    Price,
    Product,
    Source,
    Step,
    Substance,
    Supplier,
)
from labels.models import Label, SheetLayout
from tests.benchmarks.shelf import Shelf
from tests.benchmarks.size import DEEPEST, Size

PLANTS = ("Glasswort", "Sea Kale", "Thrift", "Samphire", "Cordgrass", "Sandwort", "Sea Holly", "Tamarisk")
KINDS = ("seed oil", "butter", "wax", "extract", "powder", "water", "absolute", "clay")
FORMS = ("balm", "bar", "scrub", "cream", "oil")
SHARES = (("98.5", "99.5"), ("0.2", "1"), ("0.05", "0.5"))
SHEET = {
    "page_width_mm": Decimal(210),
    "page_height_mm": Decimal(297),
    "columns": 3,
    "rows": 8,
    "label_width_mm": Decimal(60),
    "label_height_mm": Decimal(30),
    "left_mm": Decimal(10),
    "top_mm": Decimal(12),
}
IN_HOUSE = 200
"""Parts of 1,000 that an in-house ingredient takes in a formula."""


@dataclass(slots=True)
class Recipe:
    """A version with its lines: (ingredient, parts of 1,000)."""

    version: FormulaVersion
    lines: list[tuple[Ingredient, int]]
    product: Product | None = None
    makes: Ingredient | None = None
    needs: Ingredient | None = None


@dataclass(slots=True)
class Paper:
    """What the batches are made by; facts of an ingredient by its UUID.

    ``stock``: recipes of in-house ingredients, each made with the one before it.
    """

    bought: list[Ingredient] = field(default_factory=list)
    sources: dict[UUID, Source] = field(default_factory=dict)
    compositions: dict[UUID, Composition] = field(default_factory=dict)
    stock: list[Recipe] = field(default_factory=list)
    sale: list[Recipe] = field(default_factory=list)


def make_paper(shelf: Shelf, size: Size, start: datetime) -> Paper:
    """Write the paper world and return what the bench needs of it."""
    paper = Paper()
    suppliers = [shelf.add(Supplier, name=f"Bulk of the Bight {number:03}") for number in range(size.few)]
    substances = list(Substance.objects.filter(maker=None).order_by("key")[:400])
    if len(substances) < 100:
        raise ValueError("The reference substances are not loaded.")
    for number in range(size.few):
        shelf.coded(Article, "article", f"A-{number:04}", name=f"Tin {number:04}")
        shelf.add(SheetLayout, name=f"Sheet {number:04}", **SHEET)
    for number in range(size.ingredients):
        buy(shelf, paper, number, suppliers[number % len(suppliers)], substances, start)
    shelf.write((Supplier, Ingredient, Source, Composition))
    for level in range(1, DEEPEST):
        before = paper.stock[-1].makes if paper.stock else None
        recipe = write_formula(shelf, paper, size, f"Infusion of level {level}", "infusion", before, start)
        recipe.makes = shelf.coded(
            Ingredient,
            "ingredient",
            f"IN-{level:04}",
            name=f"House infusion {level}",
            made_from=recipe.version.formula,
        )
        paper.stock.append(recipe)
    for number in range(size.formulas):
        name = f"{PLANTS[number % len(PLANTS)]} {FORMS[number % len(FORMS)]} {number:04}"
        needs = paper.stock[number // 2 % len(paper.stock)].makes if number % 2 else None
        recipe = write_formula(shelf, paper, size, name, FORMS[number % len(FORMS)], needs, start)
        sell(shelf, recipe, number, name)
        paper.sale.append(recipe)
    shelf.write((Formula, Ingredient, FormulaVersion, Phase, Product))
    return paper


def buy(
    shelf: Shelf, paper: Paper, number: int, supplier: Supplier, substances: list[Substance], start: datetime
) -> None:
    """A bought ingredient with its source, price and composition of three substances."""
    name = f"{PLANTS[number % len(PLANTS)]} {KINDS[number // len(PLANTS) % len(KINDS)]} {number:04}"
    row = shelf.coded(
        Ingredient, "ingredient", f"I-{number:05}", name=name, roles=["emollient"], low_stock_g=Decimal(200)
    )
    source = shelf.add(Source, ingredient=row, supplier=supplier, article_code=f"A{number}", preferred=True)
    price = Decimal(shelf.random.randrange(300, 9000)).scaleb(-2)
    shelf.add(Price, source=source, on=start.date(), amount=price, currency="EUR", pack_g=Decimal(1000))
    paper.bought.append(row)
    paper.sources[row.uuid] = source
    paper.compositions[row.uuid] = shelf.add(
        Composition,
        ingredient=row,
        source=source,
        number=1,
        valid_from=date(start.year, 1, 1),
        origin="sheet",
        frozen_at=start,
    )
    for substance, (low, high) in zip(shelf.random.sample(substances, len(SHARES)), SHARES, strict=True):
        shelf.add(
            Constituent,
            composition=paper.compositions[row.uuid],
            substance=substance,
            low=Decimal(low),
            high=Decimal(high),
        )


def write_formula(
    shelf: Shelf, paper: Paper, size: Size, name: str, form: str, needs: Ingredient | None, start: datetime
) -> Recipe:
    """A formula with one approved version whose lines make 100."""
    code = f"F-{len(paper.stock) + len(paper.sale):05}"
    formula = shelf.coded(Formula, "formula", code, name=name, kind="leave-on", body_area="body", form=form)
    version = shelf.add(
        FormulaVersion,
        formula=formula,
        number=1,
        state="approved",
        made_at=start,
        approved_at=start,
        approved_by=shelf.by.user,
        frozen_at=start,
    )
    phases = [shelf.add(Phase, version=version, letter=letter, position=at) for at, letter in enumerate("AB")]
    shelf.add(Step, version=version, phase=phases[0], position=0, text="Melt and stir.", max_c=Decimal(75))
    chosen = shelf.random.sample(paper.bought, size.lines - (needs is not None))
    cuts = sorted(shelf.random.sample(range(1, 1000 - (IN_HOUSE if needs else 0)), len(chosen) - 1))
    ends = [0, *cuts, 1000 - (IN_HOUSE if needs else 0)]
    lines = [(row, ends[at + 1] - ends[at]) for at, row in enumerate(chosen)]
    lines += [(needs, IN_HOUSE)] if needs else []
    for at, (ingredient, parts) in enumerate(lines):
        phase = phases[at * 2 // len(lines)]
        percent = Decimal(parts).scaleb(-1)
        shelf.add(Line, version=version, phase=phase, position=at, ingredient=ingredient, percent=percent)
    return Recipe(version, lines, needs=needs)


def sell(shelf: Shelf, recipe: Recipe, number: int, name: str) -> None:
    """A product of the formula, with a label for the EU and on every second one for the US."""
    markets = ["EU", "US"] if number % 2 else ["EU"]
    recipe.product = shelf.coded(
        Product,
        "product",
        f"PR-{number:05}",
        formula=recipe.version.formula,
        name=name,
        net_amount=Decimal(50),
        fill_g=Decimal(50),
        markets=markets,
        identity="Body balm",
        life_months=18,
        pao_months=12,
    )
    for market in markets:
        shelf.add(Label, product=recipe.product, market=market)
