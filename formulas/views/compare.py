"""Two versions side by side: what changed in percent, in the lists on labels, in findings, in cost."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.http import Http404, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from formulas.actions.formulas import Reviewed, lists_of, review_version, said_of
from formulas.costs import load_prices
from formulas.forms.formulas import CompareForm
from formulas.models import FormulaVersion
from formulas.rules.compare import compare_findings, compare_shares, first_parting
from formulas.rules.cost import PricePerGram, as_decimal
from formulas.rules.findings import Finding
from makers.http import MakerRequest

KILOGRAM = Decimal(1000)


@dataclass(slots=True)
class Side:
    """One of the two."""

    version: FormulaVersion
    reviewed: Reviewed

    @property
    def lists(self) -> dict[str, list[str]]:
        """The names on each market's list, by the words for the label."""
        return lists_of(self.reviewed)

    @property
    def said(self) -> list[Finding]:
        """The findings but for the lists, which are compared name by name."""
        return said_of(self.reviewed)


@require_GET
def compare_page(request: MakerRequest) -> HttpResponse:
    """Any two versions of the maker's formulas, chosen by two selects."""
    versions = list(
        FormulaVersion.objects.for_maker(request.maker)
        .select_related("formula")
        .order_by("formula__name", "formula_id", "-number")
    )
    known = {key_of(one): one for one in versions}
    given = request.GET if request.GET.keys() & {"left", "right"} else None
    form = CompareForm(given, choices=choices_of(versions), maker=request.maker)
    context: dict[str, Any] = {"form": form, "any": len(versions) > 1}
    if form.is_bound and form.is_valid():
        chosen = [known.get(form.cleaned_data[name]) for name in ("left", "right")]
        sides = [
            Side(one, review_version(request.maker, one, on=request.by.today())) for one in chosen if one
        ]
        if len(sides) != len(chosen):
            raise Http404
        context |= compared(request, *sides)
    return render(request, "formulas/compare.html", context)


def key_of(version: FormulaVersion) -> str:
    """How a version is named in the address."""
    return f"{version.formula.code}.{version.number}"


def choices_of(versions: Iterable[FormulaVersion]) -> list[tuple[str, list[tuple[str, str]]]]:
    """The versions as a select takes them, by formula."""
    groups: dict[int, tuple[str, list[tuple[str, str]]]] = {}
    for one in versions:
        group = groups.setdefault(one.formula_id, (one.formula.name, []))
        words = f"{one.formula.name}, version {one.number}, {one.get_state_display().lower()}"
        group[1].append((key_of(one), words))
    return list(groups.values())


def compared(request: MakerRequest, left: Side, right: Side) -> dict[str, Any]:
    """Everything that the page says of the two."""
    shares = compare_shares(left.reviewed.resolved, right.reviewed.resolved)
    findings = compare_findings(left.said, right.said)
    return {
        "left": left,
        "right": right,
        "is_same": left.version == right.version,
        "changed": [one for one in shares if one.change != "same"],
        "same": [one for one in shares if one.change == "same"],
        "lists": list_rows(left, right),
        "new": [one.right for one in findings if one.change == "new"],
        "gone": [one.left for one in findings if one.change == "gone"],
        "other": [one for one in findings if one.change == "changed"],
        "cost": cost_row(request, left, right),
    }


def list_rows(left: Side, right: Side) -> list[dict[str, Any]]:
    """Both lists of each market, and where they part; names from there on are marked."""
    before, after = left.lists, right.lists
    rows = []
    for subject in dict.fromkeys((*before, *after)):
        one, other = before.get(subject, []), after.get(subject, [])
        place = first_parting(one, other)
        rows.append(
            {
                "subject": subject,
                "place": place,
                "left": names_marked(one, other),
                "right": names_marked(other, one),
                "left_at": one[place - 1] if place and place <= len(one) else "",
                "right_at": other[place - 1] if place and place <= len(other) else "",
            }
        )
    return rows


def names_marked(names: list[str], others: list[str]) -> list[dict[str, Any]]:
    """Names in order, each with whether the other list has it in another place or not at all."""
    return [
        {"name": name, "moved": index >= len(others) or others[index] != name}
        for index, name in enumerate(names)
    ]


def cost_row(request: MakerRequest, left: Side, right: Side) -> dict[str, Any]:
    """Materials of a kilogram of each, at today's prices; what has no price is named."""
    wanted = {int(line.ingredient) for side in (left, right) for line in side.reviewed.resolved.lines}
    prices = load_prices(request.maker, wanted, request.by.today()).per_gram(wanted)
    one, other = kilogram(left, prices), kilogram(right, prices)
    whole = one.whole and other.whole
    return {
        "left": one,
        "right": other,
        "difference": as_decimal(other.amount - one.amount) if whole else None,
        "lacking": list(dict.fromkeys((*one.lacking, *other.lacking))),
    }


@dataclass(frozen=True, slots=True)
class Kilogram:
    """What the materials of a kilogram cost. amount: of those with a price. whole: nothing lacks one."""

    amount: Fraction
    lacking: tuple[str, ...]
    is_complete: bool

    @property
    def whole(self) -> bool:
        """The figure is the whole cost."""
        return not self.lacking and self.is_complete

    @property
    def shown(self) -> Decimal:
        """The figure to show."""
        return as_decimal(self.amount)


def kilogram(side: Side, prices: dict[int, PricePerGram]) -> Kilogram:
    """Materials of a kilogram of one side; lines as needed stand outside."""
    amount, lacking = Fraction(0), []
    for line in side.reviewed.resolved.lines:
        if line.kind == "adjust":
            continue
        price = prices.get(int(line.ingredient))
        if price is None or price.exact is None or line.percent is None:
            lacking.append(
                price.why if price is not None and line.percent is not None else f"{line.name}: no percent."
            )
            continue
        amount += Fraction(line.percent) * price.exact * Fraction(KILOGRAM) / 100
    return Kilogram(amount, tuple(lacking), side.reviewed.resolved.is_complete)
