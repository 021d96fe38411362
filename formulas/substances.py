"""Substances as a maker names them, and which of the maker's formulas hold one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from formulas.assembly import Paper, as_rule_line, gather
from formulas.models import FormulaVersion, Line, Product, Substance, SubstanceName
from formulas.rules.catalogue import catalogue, catalogue_compositions, substance_by_key
from formulas.rules.holdings import Holding, holding, reaching
from formulas.rules.identify import Substances, as_known
from formulas.rules.percent import FormulaLine, resolve
from formulas.rules.totals import FormulaCycle
from makers.models import Maker


def known_substances(maker: Maker) -> dict[str, Substance]:
    """Substances by key; the maker's own go before the shared ones. One query."""
    rows = list(Substance.objects.known_to(maker))
    rows.sort(key=lambda row: row.maker_id is not None)
    return {row.key: row for row in rows}


def names_of(maker: Maker, rows: Iterable[Substance]) -> Substances:
    """All names that mean a substance: INCI, US, as the maker prints it, as the catalogue calls it."""
    own: dict[str, list[str]] = {}
    printed = SubstanceName.objects.for_maker(maker).values_list("substance__key", "name")
    for key, name in printed:
        own.setdefault(key, []).append(name)
    for material in catalogue():
        known = catalogue_compositions().get(material.key)
        declared = [part for part in known.constituents if part.kind == "declared"] if known else []
        if len(declared) == 1:
            own.setdefault(declared[0].substance, []).append(material.name)
    shared = substance_by_key()
    return as_known(
        (
            row.key,
            row.inci_name,
            row.cas,
            (row.us_name, *own.get(row.key, ()), shared[row.key].allergen_label if row.key in shared else ""),
        )
        for row in rows
    )


@dataclass(frozen=True, slots=True)
class FormulaHolding:
    """One version of a formula and what it holds of the substance. cycle: its formula contains itself."""

    version: FormulaVersion
    holding: Holding
    products: list[Product] = field(default_factory=list)

    @property
    def ways(self) -> list[str]:
        """The ingredients passed through on each way in, outermost first."""
        return list(dict.fromkeys(" → ".join(step.said for step in way.path) for way in self.holding.ways))


@dataclass(frozen=True, slots=True)
class Holdings:
    """Every formula looked at, those that hold most first, then those of which it can't be told."""

    rows: list[FormulaHolding]
    looked_at: int
    cycles: list[FormulaVersion]

    @property
    def holding(self) -> list[FormulaHolding]:
        """Those that hold some, or may."""
        return [row for row in self.rows if row.holding.answer in ("yes", "may")]

    @property
    def unknown(self) -> list[FormulaHolding]:
        """Those of which it can't be told."""
        return [row for row in self.rows if row.holding.answer == "unknown"]


def newest_versions(maker: Maker) -> list[FormulaVersion]:
    """Of each formula the newest approved version, and the newest draft where it is newer. One query."""
    found: dict[int, list[FormulaVersion]] = {}
    rows = FormulaVersion.objects.for_maker(maker).exclude(state=FormulaVersion.State.WITHDRAWN)
    for version in rows.select_related("formula").order_by("formula__name", "formula_id", "-number"):
        kept = found.setdefault(version.formula_id, [])
        if not any(one.state in (version.state, FormulaVersion.State.APPROVED) for one in kept):
            kept.append(version)
    return [version for versions in found.values() for version in versions]


def holdings_of(maker: Maker, substance: Substance) -> Holdings:
    """Which formulas hold a substance, through nesting. Queries depend on the depth of nesting alone."""
    versions = newest_versions(maker)
    lines: dict[int, list[FormulaLine]] = {}
    for line in (
        Line.objects.filter(version__in=versions).select_related("ingredient", "leaves").order_by("id")
    ):
        lines.setdefault(line.version_id, []).append(as_rule_line(line))
    used = {line.ingredient for rows in lines.values() for line in rows}
    paper = gather(maker, {int(key) for key in used})
    products: dict[int, list[Product]] = {}
    for product in Product.objects.for_maker(maker).filter(active=True).order_by("name"):
        products.setdefault(product.formula_id, []).append(product)
    unstated = silent_perfumes(paper) if is_allergen(substance) else frozenset()
    asked = reaching(substance.key, paper.compositions, paper.nested, used, unstated=unstated)
    rows: list[FormulaHolding] = []
    cycles = []
    for version in versions:
        own = lines.get(version.pk, [])
        resolved = resolve(own)
        if not (any(line.ingredient in asked for line in own) or not resolved.is_complete):
            continue
        try:
            found = holding(resolved, paper.compositions, paper.nested, substance.key, unstated=unstated)
        except FormulaCycle:
            cycles.append(version)
            continue
        if found.answer != "no":
            rows.append(FormulaHolding(version, found, products.get(version.formula_id, [])))
    return Holdings(sorted(rows, key=_most_first), len(versions), cycles)


def _most_first(row: FormulaHolding) -> tuple[bool, object, str]:
    amount = row.holding.amount
    most = (amount.high if amount.high is not None else amount.low) if amount else None
    return most is None, -(most or 0), row.version.formula.name


def is_allergen(substance: Substance) -> bool:
    """Whether suppliers of perfume are asked for it: a fragrance material or on the EU list of allergens."""
    known = substance_by_key().get(substance.key)
    return substance.is_perfume or bool(known and known.allergen_label)


def silent_perfumes(paper: Paper) -> frozenset[str]:
    """Keys of perfumes whose composition states no allergens."""
    return frozenset(
        str(row.pk)
        for row in paper.ingredients.values()
        if row.is_perfume
        and str(row.pk) in paper.compositions
        and not paper.compositions[str(row.pk)].within_stated
    )
