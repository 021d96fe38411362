"""What a batch's own lots say: the label of the compositions that were really weighed in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from django.db.models import Sum

from batches.models import Batch, BatchLine, Lot, Weighing
from formulas.assembly import as_rule_line
from formulas.models import Composition, Product
from formulas.rules.number import exact_sum
from formulas.rules.percent import FormulaLine
from formulas.rules.totals import FormulaCycle
from labels.assembly import LabelPaper, current_issues, label_paper, list_difference, market_word
from labels.models import Label
from labels.rules.declaration import MARKETS
from labels.rules.mixture import Part, mixed
from labels.shelf import shelf_of
from makers.http import address
from makers.registries import OpenPoint

MOST_VARIANTS = 12
DEEPEST = 12


@dataclass(slots=True)
class Pins:
    """Compositions by ingredient, several where lots differ; lots: codes by ingredient."""

    compositions: dict[int, dict[int, Composition]]
    lots: dict[str, str]

    def variants(self) -> list[dict[int, Composition]]:
        """The first of each, then each other one on its own."""
        first = {ingredient: next(iter(found.values())) for ingredient, found in self.compositions.items()}
        more = [
            {**first, ingredient: other}
            for ingredient, found in self.compositions.items()
            for other in list(found.values())[1:]
        ]
        return [first, *more][:MOST_VARIANTS]


def weighed_lots(batch_ids: Sequence[int]) -> list[Lot]:
    """The lots of which something went into these batches, corrections taken off."""
    sums = Weighing.objects.filter(batch__in=batch_ids).values("lot").annotate(total=Sum("grams"))
    lots = [row["lot"] for row in sums if row["total"] and row["total"] > 0]
    return list(Lot.objects.filter(pk__in=lots).select_related("composition").order_by("pk"))


def pins_of(batch: Batch) -> Pins:
    """Compositions bound by the lots of a batch, through in-house lots and rework to any depth."""
    pins = Pins({}, {})
    wanted, seen = [batch.pk], {batch.pk}
    names: dict[str, list[str]] = {}
    for _ in range(DEEPEST):
        if not wanted:
            break
        lots = weighed_lots(wanted)
        for lot in lots:
            if lot.ingredient_id is None:
                continue
            codes = names.setdefault(str(lot.ingredient_id), [])
            if lot.code not in codes:
                codes.append(lot.code)
            if lot.composition is not None:
                pins.compositions.setdefault(lot.ingredient_id, {})[lot.composition.pk] = lot.composition
        wanted = [lot.from_batch_id for lot in lots if lot.from_batch_id and lot.from_batch_id not in seen]
        seen.update(wanted)
    pins.lots = {key: f"lot{'s' * (len(codes) > 1)} {', '.join(codes)}" for key, codes in names.items()}
    return pins


class RemainsUnknown(ValueError):
    """Rework of which nobody wrote down what it was made of. The text says which, for the maker."""


def lines_as_weighed(batch: Batch, depth: int = DEEPEST) -> list[FormulaLine]:
    """What the pot held, as a formula: the version with its substitutes, and rework by what that was made of.

    Raises RemainsUnknown where rework was weighed in whose making is not on record.
    """
    own = lines_with_substitutes(batch)
    weighed = batch.weighings.values("line__kind", "line__rework_lot").annotate(total=Sum("grams")).order_by()
    rework = {
        row["line__rework_lot"]: row["total"]
        for row in weighed
        if row["line__kind"] == BatchLine.Kind.REWORK and row["total"] > 0
    }
    if not rework:
        return own
    parts = []
    fresh = exact_sum(row["total"] for row in weighed if row["line__kind"] != BatchLine.Kind.REWORK)
    if fresh > 0:
        parts.append(Part(fresh, tuple(own)))
    lots = Lot.objects.filter(pk__in=rework).select_related("from_batch__version", "from_batch__maker")
    for lot in lots.order_by("pk"):
        if lot.from_batch is None or depth == 0:
            raise RemainsUnknown(f"what the rework {lot} was made of is not on record")
        parts.append(Part(rework[lot.pk], tuple(lines_as_weighed(lot.from_batch, depth - 1))))
    try:
        return mixed(parts)
    except ValueError as error:
        raise RemainsUnknown("the formula behind its rework does not make 100 %, or is strained") from error


def lines_with_substitutes(batch: Batch) -> list[FormulaLine]:
    """The version's lines, a line for which a substitute was weighed carrying that ingredient."""
    lines = batch.version.lines.select_related("ingredient", "phase", "leaves")
    rules = [as_rule_line(line) for line in lines]
    substitutes = (
        batch.lines.filter(kind=BatchLine.Kind.SUBSTITUTE)
        .annotate(total=Sum("weighings__grams"))
        .select_related("ingredient", "instead_of")
    )
    for line in substitutes:
        if not line.total or line.total <= 0 or line.instead_of is None or line.ingredient is None:
            continue
        rules = [
            replace(rule, ingredient=str(line.ingredient_id), name=line.ingredient.name)
            if rule.ingredient == str(line.instead_of.ingredient_id)
            else rule
            for rule in rules
        ]
    return rules


def papers_as_weighed(batch: Batch, labels: Sequence[Label]) -> dict[int, list[LabelPaper]]:
    """By label, the label of the batch as weighed: one paper for each set of compositions in it."""
    lines = lines_as_weighed(batch)
    pins = pins_of(batch)
    ids = {int(line.ingredient) for line in lines}
    found: dict[int, list[LabelPaper]] = {}
    for pinned in pins.variants():
        shelf = shelf_of(batch.maker, ids, pinned=pinned)
        for label in labels:
            if label.market in MARKETS:
                paper = label_paper(shelf, label, batch.version, lines, lots=pins.lots)
                found.setdefault(label.pk, []).append(paper)
    return found


def products_of(batch: Batch) -> list[Product]:
    """What the batch is sold as."""
    products: dict[int, Product] = {}
    if batch.product is not None:
        products[batch.product.pk] = batch.product
    for pack in batch.packs.select_related("product"):
        products[pack.product_id] = pack.product
    return list(products.values())


def release_points(batch: Batch) -> list[OpenPoint]:
    """Where no approved label stands for a market, or it says something else than the batch as weighed."""
    if batch.purpose != Batch.Purpose.SALE:
        return []
    products = products_of(batch)
    rows = Label.objects.for_maker(batch.maker).filter(product__in=products)
    labels = list(rows.select_related("product__formula", "maker"))
    issues = current_issues(batch.maker, [label.pk for label in labels])
    points = []
    for product in products:
        for market in product.markets:
            if not any(
                label.product_id == product.pk and label.market == market and label.pk in issues
                for label in labels
            ):
                text = f"{product} has no approved label for {market_word(market)}."
                where = label_to_be(product, market, labels)
                points.append(OpenPoint(f"label.none:{product.code}:{market}", text, False, where))
    try:
        papers = papers_as_weighed(batch, [label for label in labels if label.pk in issues])
    except FormulaCycle as error:
        return [*points, OpenPoint("label.cycle", f"The list can't be made: {error} goes round.", False)]
    except RemainsUnknown as error:
        text = f"The labels can't be compared with what was weighed in: {error}."
        return [*points, OpenPoint("label.rework", text, False)]
    for label in labels:
        for paper in papers.get(label.pk, []):
            issue = issues[label.pk]
            if paper.declaration.text == issue.declaration and paper.declaration.is_complete:
                continue
            points.append(
                OpenPoint(
                    f"label.differs:{label.product.code}:{label.address_key}",
                    _differs(paper, issue.declaration, issue.number),
                    False,
                    label_url(label),
                )
            )
            break
    return points


def _differs(paper: LabelPaper, approved: str, number: int) -> str:
    where = f"The label of {paper.label.product} for {market_word(paper.label.market)}, issue {number},"
    if paper.declaration.text == approved:
        waiting = (*paper.declaration.stops, *paper.declaration.unknowns)
        return f"{where} can't be compared: {waiting[0].message}"
    said = list_difference(approved, paper.declaration.text)
    return f"{where} says something else than the batch as weighed: {said}."


def label_url(label: Label) -> str:
    """A label's page."""
    return address(label.maker, "labels:label", code=label.product.code, key=label.address_key)


def label_to_be(product: Product, market: str, labels: Sequence[Label]) -> str:
    """Where a label is to be approved: the draft's page, or where one is drafted."""
    for label in labels:
        if (label.product_id, label.market, label.state) == (product.pk, market, Label.State.DRAFT):
            return label_url(label)
    return product_url(product, market)


def product_url(product: Product, market: str) -> str:
    """Where a label of a product is started for a market."""
    return address(product.maker, "labels:add") + f"?product={product.code}&market={market}"
