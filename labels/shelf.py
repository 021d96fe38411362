"""What all labels of a maker rest on, loaded once in a number of queries that doesn't depend on how many there are."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field

from formulas.assembly import NOTHING_SUPPOSED, Paper, Supposed, gather
from formulas.models import Composition, FormulaVersion, Substance, SubstanceName
from formulas.rules.catalogue import substance_by_key
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import Totals
from formulas.rules.vocabulary import MEMORY
from labels.models import FactConfirmation, Label
from labels.rules.from_totals import SubstanceFacts
from makers.models import Maker, ResponsibleParty

JUDGED = "judged:"
"""Before the key of a caution that the maker found not to apply."""


@dataclass(slots=True)
class Shelf:
    """What all labels of a maker share, loaded once."""

    maker: Maker
    paper: Paper
    substances: dict[str, Substance]
    names: dict[tuple[str, str], SubstanceName]
    responsible: dict[str, ResponsibleParty]
    confirmed: set[tuple[str, str]]
    judged: dict[int, set[str]]
    totals_kept: dict[tuple[FormulaLine, ...], Totals] = field(default_factory=dict)
    facts_kept: dict[str, dict[str, SubstanceFacts]] = field(default_factory=dict)

    def totals(self, lines: Sequence[FormulaLine]) -> Totals:
        """The substances of some lines, reckoned once for all labels of a version. Raises FormulaCycle."""
        key = tuple(lines)
        if key not in self.totals_kept:
            self.totals_kept[key] = self.paper.totals(resolve(lines))
        return self.totals_kept[key]

    def facts(self, market: str) -> dict[str, SubstanceFacts]:
        """What is on record of each substance for a market, gathered once for all its labels."""
        if market not in self.facts_kept:
            self.facts_kept[market] = substance_facts(self, market)
        return self.facts_kept[market]


def shelf_of(
    maker: Maker,
    ingredient_ids: Collection[int],
    *,
    pinned: dict[int, Composition] | None = None,
    supposed: Supposed = NOTHING_SUPPOSED,
) -> Shelf:
    """Load paper, names and confirmations for these ingredients."""
    return shelf_around(maker, gather(maker, ingredient_ids, pinned=pinned, supposed=supposed))


def shelf_around(maker: Maker, paper: Paper, *, like: Shelf | None = None) -> Shelf:
    """The same around paper that is there already. like: a shelf of this maker, whose names it takes over."""
    substances = {
        part.substance.key: part.substance
        for record in paper.records.values()
        for part in record.constituents.all()
    }
    if like is not None:
        return Shelf(maker, paper, substances, like.names, like.responsible, like.confirmed, like.judged)
    names = {}
    for name in SubstanceName.objects.for_maker(maker).select_related("substance"):
        names[(name.substance.key, name.market)] = name
    judged: dict[int, set[str]] = {}
    confirmed = set()
    for label_id, key, text in FactConfirmation.objects.for_maker(maker).values_list(
        "label_id", "key", "text"
    ):
        if key.startswith(JUDGED):
            judged.setdefault(label_id, set()).add(key.removeprefix(JUDGED))
        else:
            confirmed.add((key, text))
    return Shelf(
        maker=maker,
        paper=paper,
        substances=substances,
        names=names,
        responsible={one.market: one for one in ResponsibleParty.objects.for_maker(maker)},
        confirmed=confirmed,
        judged=judged,
    )


def version_for_label(versions: Iterable[FormulaVersion]) -> FormulaVersion | None:
    """The newest approved version, else the newest that isn't withdrawn."""
    known = sorted(versions, key=lambda one: one.number, reverse=True)
    approved = [one for one in known if one.state == FormulaVersion.State.APPROVED]
    drafts = [one for one in known if one.state == FormulaVersion.State.DRAFT]
    return next(iter([*approved, *drafts, *known]), None)


def versions_of(maker: Maker, formula_ids: Collection[int]) -> dict[int, FormulaVersion]:
    """The version that labels of each formula speak of, lines loaded."""
    found: dict[int, list[FormulaVersion]] = {}
    rows = FormulaVersion.objects.for_maker(maker).filter(formula__in=formula_ids).select_related("formula")
    for version in rows.prefetch_related("lines__ingredient", "lines__leaves"):
        found.setdefault(version.formula_id, []).append(version)
    chosen = {formula: version_for_label(versions) for formula, versions in found.items()}
    return {formula: version for formula, version in chosen.items() if version is not None}


def versions_with_shelf(
    maker: Maker,
    labels: Sequence[Label],
    *,
    pinned: dict[int, Composition] | None = None,
    supposed: Supposed = NOTHING_SUPPOSED,
) -> tuple[dict[int, FormulaVersion], Shelf]:
    """The versions that these labels speak of, by formula, and all that their texts rest on."""
    versions = versions_of(maker, {label.product.formula_id for label in labels})
    ids = {line.ingredient_id for version in versions.values() for line in version.lines.all()}
    return versions, shelf_of(maker, ids, pinned=pinned, supposed=supposed)


def substance_facts(shelf: Shelf, market: str) -> dict[str, SubstanceFacts]:
    """What is on record of each substance, with the maker's own names first."""
    found = {}
    for key, row in shelf.substances.items():
        own_eu = shelf.names.get((key, market)) if market != "US" else None
        own_eu = own_eu or (shelf.names.get((key, "EU")) if market == "GB" else None)
        own_us = shelf.names.get((key, "US"))
        reference = substance_by_key().get(key)
        us_basis = reference.us_name_basis if row.maker_id is None and reference is not None else row.basis
        found[key] = SubstanceFacts(
            eu_name=own_eu.name if own_eu else row.inci_name,
            us_name=own_us.name if own_us else row.us_name,
            cas=row.cas,
            is_colourant=row.is_colourant,
            is_perfume=row.is_perfume,
            is_flavour=row.is_flavour,
            nano=row.is_nano,
            basis=own_eu.basis if own_eu else row.basis,
            us_name_basis=own_us.basis if own_us else (us_basis or MEMORY) if row.us_name else "",
        )
    return found
