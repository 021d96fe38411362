"""From records to a label of today: list, quantity, date, cautions, what is missing, what is to be confirmed.

The number of queries depends on how deep in-house ingredients are nested, not on how many labels there are.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any

from batches.models import Batch
from formulas.assembly import NOTHING_SUPPOSED, Supposed, as_rule_line, use_of
from formulas.models import Composition, FormulaVersion, Product
from formulas.rules.limits import label_warnings
from formulas.rules.percent import FormulaLine
from formulas.rules.totals import FormulaCycle, Totals
from formulas.rules.vocabulary import MARKET_NAMES
from labels.models import Label, LabelIssue
from labels.rules.amounts import ProductAmounts
from labels.rules.cautions import Caution, caution_facts, eu_cautions, us_cautions
from labels.rules.declaration import MARKETS, Declaration
from labels.rules.durability import Durability, eu_durability, us_durability
from labels.rules.facts import Fact, each_once, unconfirmed
from labels.rules.fitting import OPEN_SANS, digits_size, size_for, smallest_text_size
from labels.rules.from_totals import IngredientFacts, product_amounts
from labels.rules.names import eu_name, us_name
from labels.rules.panel import panel_sq_mm, surface_sq_mm, us_ingredient_letters, us_type_size
from labels.rules.quantity import NET_QUANTITY, NetQuantity
from labels.rules.requirements import REQUIREMENTS, LabelTexts, Requirement, missing
from labels.shelf import Shelf, versions_with_shelf
from makers.models import Maker


@dataclass(frozen=True, slots=True)
class NameToGive:
    """A substance whose name for the market is missing or can be looked up again."""

    key: str
    name: str
    problem: str


@dataclass(frozen=True, slots=True)
class Sizes:
    """Least sizes on this label, points. net_mm: height of the quantity, None = unknown."""

    small_pt: Decimal
    net_pt: Decimal
    net_mm: Decimal | None
    note: str


@dataclass(frozen=True, slots=True)
class LabelPaper:
    """A label as it would be today. waiting: facts from memory that nobody confirmed."""

    label: Label
    version: FormulaVersion
    amounts: ProductAmounts
    declaration: Declaration
    texts: LabelTexts
    requirements: tuple[Requirement, ...]
    cautions: tuple[Caution, ...]
    facts: tuple[Fact, ...]
    waiting: tuple[Fact, ...]
    sizes: Sizes
    compositions: tuple[Composition, ...]
    names: tuple[NameToGive, ...]
    country: str

    @property
    def missing(self) -> tuple[Requirement, ...]:
        """Requirements that are not satisfied."""
        return missing(self.requirements)

    @property
    def waits(self) -> tuple[str, ...]:
        """What approval waits for, one sentence each."""
        return (*self.points, *fact_point(self.waiting))

    @property
    def points(self) -> tuple[str, ...]:
        """What approval waits for, facts to be confirmed apart."""
        found = []
        if self.version.state != FormulaVersion.State.APPROVED:
            found.append(f"{self.version} is no approved version: approve the formula first.")
        found += [one.message for one in (*self.declaration.stops, *self.declaration.unknowns)]
        found += [
            f"{one.title}: {one.todo}" for one in self.missing if one.key not in ("ingredients", "allergens")
        ]
        return tuple(found)

    @property
    def open_cautions(self) -> tuple[Caution, ...]:
        """Conditional cautions that are neither printed nor judged."""
        state = next((one.state for one in self.requirements if one.key == "cautions"), "")
        if state != "unknown":
            return ()
        return tuple(
            one for one in self.cautions if one.condition and one.key not in self.texts.judged_cautions
        )

    @property
    def printed(self) -> dict[str, str]:
        """Every text that the label prints, by its word."""
        texts, label = self.texts, self.label
        by_key = {one.key: one for one in self.requirements}
        who = by_key.get("responsible") or by_key.get("maker")
        contact = by_key.get("contact")
        contact_text = contact.text if contact else ""
        return {
            "name": texts.product_name,
            "what it is": texts.identity,
            "net quantity": texts.net.text,
            "ingredients": self.declaration.text,
            "directions": label.directions,
            "cautions": label.cautions,
            "more": label.extra,
            "maker": (who.text if who else "").split("; may stand for")[0],
            "contact": "" if who and contact_text and contact_text in who.text else contact_text,
            "origin": label.origin,
            "keeps": keeps_text(texts.durability, label.product),
        }


def fact_point(waiting: Sequence[Fact]) -> tuple[str, ...]:
    """The sentence that approval waits for facts, where it does."""
    count = len(waiting)
    return (f"{count} fact{'s' * (count > 1)} known from memory alone to be confirmed.",) if count else ()


def keeps_text(durability: Durability, product: Product) -> str:
    """How long it keeps, as far as the label says it before the batch is known."""
    if durability.kind == "date" and not durability.text:
        return f"date with each batch, {product.life_months} months from making"
    return durability.text


def assemble(
    maker: Maker,
    labels: Sequence[Label],
    *,
    pinned: dict[int, Composition] | None = None,
    lots: Mapping[str, str] | None = None,
    supposed: Supposed = NOTHING_SUPPOSED,
) -> dict[int, LabelPaper]:
    """The labels as they would be today, by their key; labels without a version or a rule are left out."""
    versions, shelf = versions_with_shelf(maker, labels, pinned=pinned, supposed=supposed)
    found = {}
    for label in labels:
        version = versions.get(label.product.formula_id)
        paper = paper_on(shelf, label, version, lots=lots) if version is not None else None
        if paper is not None:
            found[label.pk] = paper
    return found


def paper_on(
    shelf: Shelf, label: Label, version: FormulaVersion, *, lots: Mapping[str, str] | None = None
) -> LabelPaper | None:
    """One label as it would be today; None without a rule for it, or where a formula contains itself."""
    if label.market not in MARKETS:
        return None
    lines = [as_rule_line(line) for line in version.lines.all()]
    try:
        return label_paper(shelf, label, version, lines, lots=lots)
    except FormulaCycle:
        return None


def assemble_one(label: Label) -> LabelPaper | None:
    """One label as it would be today; None where there is no version or no rule for it."""
    return assemble(label.maker, [label]).get(label.pk)


def amounts_for(
    shelf: Shelf,
    totals: Totals,
    market: str,
    *,
    product_kind: str,
    first_supply: date | None = None,
    lots: Mapping[str, str] | None = None,
) -> ProductAmounts:
    """The amounts that the market's list is made from."""
    return product_amounts(
        totals,
        shelf.facts(market),
        {
            str(row.pk): IngredientFacts(
                row.name,
                row.is_perfume,
                str(row.pk) in shelf.paper.records and shelf.paper.records[str(row.pk)].allergens_stated,
            )
            for row in shelf.paper.ingredients.values()
        },
        product_kind=product_kind,
        labels=lots,
        incidental_reasons=shelf.paper.reasons,
        first_supply=first_supply,
    )


def label_paper(
    shelf: Shelf,
    label: Label,
    version: FormulaVersion,
    lines: Sequence[FormulaLine],
    *,
    lots: Mapping[str, str] | None = None,
) -> LabelPaper:
    """One label. Raises FormulaCycle when a formula contains itself, KeyError for a market without rules."""
    product, market = label.product, label.market
    totals = shelf.totals(lines)
    amounts = amounts_for(
        shelf, totals, market, product_kind=version.formula.kind, first_supply=label.placed_from, lots=lots
    )
    declaration = MARKETS[market](amounts)
    cautions = (
        us_cautions(label.product_groups)
        if market == "US"
        else eu_cautions(label_warnings(totals, use_of(version), on=label.placed_from))
    )
    net = NET_QUANTITY[market](product.net_amount, product.net_unit)
    sizes, size_facts = sizes_of(product, market, net)
    facts = each_once((*declaration.facts_from_memory, *caution_facts(cautions), *size_facts))
    texts = label_texts(shelf, label, declaration, net, cautions)
    requirements = REQUIREMENTS[market](texts)
    if sizes.net_mm is None and net.required:
        requirements = (*requirements, _no_panel())
    return LabelPaper(
        label=label,
        version=version,
        amounts=amounts,
        declaration=declaration,
        texts=texts,
        requirements=requirements,
        cautions=cautions,
        facts=facts,
        waiting=unconfirmed(facts, shelf.confirmed),
        sizes=sizes,
        compositions=tuple(
            shelf.paper.records[key] for key in sorted(_used(totals) & shelf.paper.records.keys())
        ),
        names=names_to_give(amounts, market),
        country=shelf.maker.country,
    )


def _used(totals: Totals) -> set[str]:
    """Keys of the ingredients whose compositions the totals rest on."""
    paths = [part.path for total in (*totals.declared, *totals.within) for part in total.contributions]
    paths += [part.path for part in totals.unknown]
    return {step.ingredient for path in paths for step in path}


def _no_panel() -> Requirement:
    todo = "Enter the container's measures with the product: the panel decides how high the quantity stands."
    return Requirement("panel", "Height of the quantity", "unknown", "", todo, "21 CFR 701.10, 701.13(i)")


def label_texts(
    shelf: Shelf, label: Label, declaration: Declaration, net: NetQuantity, cautions: tuple[Caution, ...]
) -> LabelTexts:
    """All that the label says, as the rules judge it."""
    maker, product, market = shelf.maker, label.product, label.market
    party = shelf.responsible.get(market)
    return LabelTexts(
        product_name=product.name,
        identity=label.identity or product.identity,
        net=net,
        declaration=declaration,
        durability=durability_of(label),
        maker_name=maker.printed_name,
        maker_address=maker.address,
        country=maker.country,
        made_in=maker.country,
        responsible_name=party.name if party else "",
        responsible_address=party.address if party else "",
        origin=label.origin,
        email=maker.reactions_email,
        phone=maker.reactions_phone,
        website=maker.website,
        label_text="\n".join((label.cautions, label.directions, label.extra)),
        cautions=cautions,
        judged_cautions=frozenset(shelf.judged.get(label.pk or 0, set())),
        language=label.language,
        first_supply=label.placed_from,
    )


def durability_of(label: Label, batch: Batch | None = None, best_before: date | None = None) -> Durability:
    """The date or the open jar, for a batch where one is given."""
    if label.market == "US":
        return us_durability()
    return eu_durability(
        label.product.life_months,
        label.product.pao_months,
        batch.made_on if batch else None,
        best_before=best_before or (batch.best_before if batch else None),
        single_use=label.opened == "single use",
        never_opened=label.opened == "never opened",
        no_deterioration=label.opened == "no spoilage",
    )


def sizes_of(product: Product, market: str, net: NetQuantity) -> tuple[Sizes, tuple[Fact, ...]]:
    """The least sizes of small text and of the quantity, and facts behind them to be confirmed."""
    measures = (product.shape, product.width_mm, product.height_mm, product.depth_mm)
    surface = surface_sq_mm(*measures)
    if market == "US":
        letters = us_ingredient_letters(surface)
        small = smallest_text_size("US", letter_mm=letters.height_mm)
        note = f"Letters of the list {letters.height_mm} mm at least, {letters.source}"
        facts = (letters.fact,) if letters.fact else ()
        panel = panel_sq_mm(*measures)
        if panel is None:
            return Sizes(small, small, None, note), facts
        band = us_type_size(panel)
        note += f"; net contents {band.height_mm} mm ({band.fraction} in), {band.source}"
        # Mixed letters are measured on the lower-case "o", 21 CFR 701.13(h).
        return Sizes(small, size_for(OPEN_SANS.x, band.height_mm), band.height_mm, note), facts
    small = smallest_text_size(market, pack_sq_mm=surface)
    note = f"Small text {small} pt at least, a house rule for easily legible letters"
    height = net.figure_height_mm
    if height is None:
        return Sizes(small, small, Decimal(0), note), ()
    return Sizes(
        small, digits_size(height), height, f"{note}; digits of the quantity {height} mm, {net.source}"
    ), ()


def names_to_give(amounts: ProductAmounts, market: str) -> tuple[NameToGive, ...]:
    """Substances of the list whose name is missing or known from memory, by name; missing ones first."""
    name_of = us_name if market == "US" else eu_name
    found: dict[str, NameToGive] = {}
    for amount in amounts.amounts:
        if amount.within or amount.is_perfume or amount.is_flavour:
            continue
        printed = name_of(amount)
        if printed.problem or printed.fact is not None:
            found[amount.substance] = NameToGive(amount.substance, amount.eu_name, printed.problem)
    return tuple(sorted(found.values(), key=lambda one: (not one.problem, one.name)))


def current_issues(maker: Maker, label_ids: Collection[int]) -> dict[int, LabelIssue]:
    """The newest issue of each label, by label; withdrawn labels have none in force."""
    rows = LabelIssue.objects.for_maker(maker).filter(label__in=label_ids)
    rows = rows.exclude(label__state=Label.State.WITHDRAWN).select_related(
        "label", "version", "approved_by", "pdf"
    )
    return {issue.label_id: issue for issue in rows.order_by("number")}


def differences(issue: LabelIssue, now: Mapping[str, str]) -> tuple[str, ...]:
    """The words whose text today, ``now``, isn't the approved one: "ingredients", "net quantity"."""
    approved: dict[str, Any] = issue.snapshot.get("printed", {})
    return tuple(word for word in now if approved.get(word, "") != now[word])


def list_difference(approved: str, now: str) -> str:
    """One sentence on how two lists differ."""
    before, after = _names(approved), _names(now)
    new = [name for name in after if name not in before]
    gone = [name for name in before if name not in after]
    parts = []
    if new:
        parts.append(f"{', '.join(new)} {'is' if len(new) == 1 else 'are'} not on the approved list")
    if gone:
        parts.append(f"{', '.join(gone)} {'is' if len(gone) == 1 else 'are'} on it and no longer in")
    if not parts:
        moved = next((name for name, old in zip(after, before, strict=False) if name != old), "")
        parts.append(f"the order differs from {moved} on")
    return "; ".join(parts)


def _names(listing: str) -> list[str]:
    return listing.partition(": ")[2].split(", ")


def rule_for(market: str) -> Callable[[ProductAmounts], Declaration] | None:
    """The market's list, None where no rules are held."""
    return MARKETS.get(market)


def market_word(market: str) -> str:
    """The market's name in a sentence: "the European Union"."""
    return MARKET_NAMES.get(market, market)


def with_layout(paper: LabelPaper, fits: bool, needed_mm: Decimal, digits_mm: Decimal | None) -> LabelPaper:
    """The paper judged again once it is laid out: height of the digits, room for the texts."""
    measured = digits_mm if paper.label.market != "US" else None
    texts = replace(paper.texts, net_digits_mm=measured)
    requirements = [*REQUIREMENTS[paper.label.market](texts)]
    requirements += [one for one in paper.requirements if one.key == "panel"]
    label = paper.label
    have = f"{_short(label.width_mm)} × {_short(label.height_mm)} mm"
    if fits:
        text = f"all texts on {have}, letters {paper.sizes.small_pt} pt and more"
        requirements.append(Requirement("room", "Room for the texts", "present", text, "", "your layout"))
    else:
        over = f"The texts need {needed_mm} mm of height at the smallest letters; the label is {have}. "
        todo = over + "Make the label larger or say less."
        requirements.append(Requirement("room", "Room for the texts", "missing", "", todo, "your layout"))
    return replace(paper, texts=texts, requirements=tuple(requirements))


def _short(value: Decimal) -> str:
    text = f"{Decimal(value):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
