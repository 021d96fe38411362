"""The printed ingredient list of a product, one pure function for each market.

Nothing here reads records: amounts go in, a list whose every name carries its reasons comes out. A market
without a function in MARKETS has no rules here yet, and no list is made for it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from types import MappingProxyType

from formulas.rules.findings import Finding
from formulas.rules.vocabulary import RINSE_OFF
from labels.rules.allergens import (
    OLD_STATE_PLACED_TO,
    OLD_STATE_SUPPLIED_TO,
    AllergenFigure,
    allergen_figures,
    newer_list_applies,
    plant_hints,
)
from labels.rules.amounts import ProductAmounts
from labels.rules.entries import (
    ALLERGENS,
    Declaration,
    Entry,
    Omission,
    Ordering,
    percent_text,
    with_also,
)
from labels.rules.listing import declare
from labels.rules.names import eu_name, is_eu_colourant, us_name

__all__ = ["MARKETS", "Declaration", "Entry", "Omission", "declare_eu", "declare_gb", "declare_us"]

ART_19 = "Reg (EC) 1223/2009 Art. 19(1)(g)"
GB_LIST = "UK cosmetics regulation, Annex III; no act that takes over the EU list of 2023 was found"

_EU_ORDER = Ordering(
    market="EU",
    heading="Ingredients",
    one_is_sorted=True,
    sorted_rule="1 % and above, by weight at the time of addition",
    free_rule="below 1 % in any order, after the rest; kept descending",
    colour_rule="colours stand after all others, in any order; kept descending",
    source=ART_19,
    incidental_source="Reg (EC) 1223/2009 Art. 19(1)(g)(i), (ii)",
    name_of=eu_name,
    is_colour=is_eu_colourant,
)

_US_ORDER = Ordering(
    market="US",
    heading="Ingredients",
    one_is_sorted=False,
    sorted_rule="above 1 %, in descending order of predominance",
    free_rule="1 % or less in any order, after the rest; kept descending",
    colour_rule="color additives stand after all others, in any order; kept descending",
    source="21 CFR 701.3(f)",
    incidental_source="21 CFR 701.3(l)",
    name_of=us_name,
    is_colour=lambda amount: amount.is_colourant,
)


def declare_eu(product: ProductAmounts) -> Declaration:
    """The list for the European Union, Reg (EC) 1223/2009 Art. 19(1)(g) and Annex III.

    Descending by weight down to and with 1 %, then below 1 % (kept descending), then named perfume
    allergens, then colours by CI number. Perfume and flavour are one entry each. Mica and tin oxide are
    ordinary ingredients. Allergens: 81 names for packs first supplied after 31 July 2026 or at a time not
    said, the 24 older names before; tested at the upper end of each range. Order of input has no effect.
    """
    return _with_allergens(product, _EU_ORDER, newer=newer_list_applies(product.first_supply))


def declare_gb(product: ProductAmounts) -> Declaration:
    """The list for Great Britain: the order of the EU, and the 24 older allergen names on any date."""
    return _with_allergens(product, _EU_ORDER.for_market("GB"), newer=False)


def declare_us(product: ProductAmounts) -> Declaration:
    """The list for the United States by the grouping of 21 CFR 701.3(f).

    Above 1 % descending, exactly 1 % and below in any order (kept descending), colour additives last;
    equal US names are summed (Iron Oxides), fragrance and flavor are one word each, incidental ingredients
    fall away with their reason. Perfume allergens are part of Fragrance: no rule asks for them so far.
    """
    declaration = declare(product, _US_ORDER, tuple(part for part in product.amounts if not part.within))
    note = Finding(
        "declaration.us-allergens",
        "note",
        "Fragrance",
        "Perfume allergens aren't named: the US rule that would ask for it isn't in force as far as known.",
        source="FD&C Act 609(b); RIN 0910-AI90",
    )
    has_fragrance = any(part.is_perfume for part in product.amounts)
    return declaration.adding(notes=(note,) if has_fragrance else ())


MARKETS: Mapping[str, Callable[[ProductAmounts], Declaration]] = MappingProxyType(
    {"EU": declare_eu, "GB": declare_gb, "US": declare_us}
)
"""The list by market. Canada, Australia and New Zealand have no rules here yet."""


def _with_allergens(product: ProductAmounts, ordering: Ordering, *, newer: bool) -> Declaration:
    figures = allergen_figures(product.amounts, product.product_kind, newer=newer)
    named = [figure for figure in figures if figure.verdict == "named"]
    main = declare(
        product,
        ordering,
        product.amounts,
        extra=tuple(_allergen_entry(figure) for figure in named),
    )
    main = with_also(main, {figure.name.casefold(): _also(figure) for figure in named})
    left_out = tuple(_left_out(figure) for figure in figures if figure.verdict == "not named")
    unknowns = [_unknown_allergen(figure) for figure in figures if figure.verdict == "unknown"]
    unknowns += _unstated(product)
    notes = [*_list_notes(product, ordering.market, figures, newer), *_match_notes(product, figures, newer)]
    return main.adding(left_out=left_out, unknowns=tuple(unknowns), notes=tuple(notes))


def _allergen_entry(figure: AllergenFigure) -> Entry:
    rule = "perfume allergen, after Parfum by custom"
    return Entry(
        printed_name=figure.name,
        percent=figure.percent,
        section=ALLERGENS,
        rule=rule,
        reason=_over(figure),
        source=figure.source,
        contributions=figure.contributions,
        members=figure.members,
        is_allergen=True,
    )


def _over(figure: AllergenFigure) -> str:
    share, most = percent_text(figure.percent), percent_text(figure.threshold)
    of_whom = f", {' and '.join(figure.members)} together" if len(figure.members) > 1 else ""
    return f"{share} in the product{of_whom}: named above {most}, tested at the upper end."


def _also(figure: AllergenFigure) -> str:
    return f"Also on the list of perfume allergens ({_over(figure)}) It is here already, so it's named once."


def _left_out(figure: AllergenFigure) -> Omission:
    reason = f"named only above {percent_text(figure.threshold)}"
    return Omission(
        figure.name, figure.percent, "allergen at or below", reason, figure.source, figure.contributions
    )


def _unknown_allergen(figure: AllergenFigure) -> Finding:
    brought = ", ".join(dict.fromkeys(part.ingredient for part in figure.contributions)) or figure.name
    return Finding(
        "declaration.allergen-amount",
        "unknown",
        figure.name,
        f"How much {figure.name} is in {brought} is unknown; above {percent_text(figure.threshold)} of the "
        "product it must be named.",
        source=figure.source,
        cure="Ask the supplier for the highest share.",
    )


def _unstated(product: ProductAmounts) -> list[Finding]:
    missing = {(part.ingredient, part.label): part for part in product.scented if not part.allergens_stated}
    return [
        Finding(
            "declaration.allergens-unstated",
            "unknown",
            ingredient,
            f"{ingredient} ({percent_text(part.percent)}) is scented, and what allergens it holds isn't on "
            "record: unknown is not none.",
            source="Reg (EC) 1223/2009 Annex III",
            cure="Enter the allergens from the supplier's sheet, or that it has none.",
        )
        for (ingredient, _), part in sorted(missing.items())
    ]


def _list_notes(
    product: ProductAmounts, market: str, figures: tuple[AllergenFigure, ...], newer: bool
) -> list[Finding]:
    if not figures and not product.scented:
        return []
    count = sum(figure.verdict == "named" for figure in figures)
    limit = "0.01 %" if product.product_kind == RINSE_OFF else "0.001 %"
    if market == "GB":
        text = f"{count} named, from the 24 names held for Great Britain, above {limit}."
        return [Finding("declaration.allergen-list", "note", "Perfume allergens", text, source=GB_LIST)]
    source = "Reg (EU) 2023/1545"
    if newer:
        text = f"{count} named, from the 81 names for packs first supplied after {_day(OLD_STATE_PLACED_TO)}"
        text += f", above {limit}."
        if product.first_supply is None:
            text += " No day of first supply is on record, so the longer list is used."
    else:
        text = f"{count} named, from the 24 older names: first supplied by {_day(OLD_STATE_PLACED_TO)}, so "
        text += f"the older list may stand until {_day(OLD_STATE_SUPPLIED_TO)}."
    return [Finding("declaration.allergen-list", "note", "Perfume allergens", text, source=source)]


def _match_notes(product: ProductAmounts, figures: tuple[AllergenFigure, ...], newer: bool) -> list[Finding]:
    found = [
        Finding(
            "declaration.allergen-by-number",
            "note",
            figure.name,
            f"{name} counts as {figure.name} by its CAS number; the list has another spelling.",
            source=figure.source,
        )
        for figure in figures
        for name in figure.by_number
    ]
    for hint in plant_hints(product.amounts, newer=newer):
        names = " or ".join(hint.candidates)
        found.append(
            Finding(
                "declaration.allergen-hint",
                "caution",
                hint.name,
                f"{hint.name} shares its CAS number with {names} on the list of perfume allergens, not its "
                "name, and isn't counted as such.",
                source="Reg (EU) 2023/1545",
                cure="Look whether it should be: if so, enter it under the name of the list.",
            )
        )
    own = {amount.eu_name for amount in product.amounts if not amount.is_perfume and not amount.within}
    for figure in figures:
        for name in sorted(own & set(figure.members) - {figure.name}):
            if figure.verdict == "named":
                text = f"{name} stands under its own name and as {figure.name}: whether one would do is not "
                text += "settled. Mark its line as perfume if scent is its purpose."
                found.append(
                    Finding("declaration.own-name", "note", name, text, source=figure.source, basis="memory")
                )
    return found


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"
