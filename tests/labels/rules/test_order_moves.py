"""Which neighbours of a list could change places: a sweep, held against the plain question asked of each pair.

No outside source: which swaps matter follows from the order of Art. 19(1)(g) and 21 CFR 701.3(f).
"""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.interval import Interval
from labels.rules.amounts import Contribution, DeclaredAmount
from labels.rules.declaration import declare_eu
from labels.rules.entries import FREE, SORTED, Entry, Ordering
from labels.rules.moves import could_swap
from labels.rules.names import eu_name
from tests.labels.rules.examples import amount, point, product

EU = Ordering(
    market="EU",
    heading="Ingredients",
    one_is_sorted=True,
    sorted_rule="by weight",
    free_rule="free",
    colour_rule="last",
    source="Art. 19(1)(g)",
    incidental_source="Art. 19(1)(g)",
    name_of=eu_name,
    is_colour=lambda amount: amount.is_colourant,
)
US = replace(EU, market="US", one_is_sorted=False)
FIGURES = st.one_of(st.none(), st.sampled_from([Decimal(n) / 2 for n in range(9)]))
SOURCES = [Contribution(name, "L-1", point("1")) for name in ("Rose", "Lavender", "Wax")]


@st.composite
def _entries(draw: st.DrawFn) -> Entry:
    low, high = draw(FIGURES), draw(FIGURES)
    if low is not None and high is not None and low > high:
        low, high = high, low
    return Entry(
        printed_name=draw(st.text("abcdef", min_size=6, max_size=6)),
        percent=Interval(low, high, draw(FIGURES)),
        section=draw(st.sampled_from((SORTED, FREE))),
        rule="",
        reason="",
        source="",
        contributions=tuple(draw(st.lists(st.sampled_from(SOURCES), max_size=2))),
        is_allergen=draw(st.booleans()),
    )


def _is_part_of(part: Entry, whole: Entry) -> bool:
    return part.is_allergen and set(part.contributions) <= set(whole.contributions)


def _may_swap(before: Entry, after: Entry, ordering: Ordering) -> bool:
    """The question for one pair, written down as it is meant."""
    least, most = before.percent.low or Decimal(0), after.percent.high
    if most is None:
        outweighs = before.section == SORTED
    else:
        outweighs = most > least and (most > 1 or (most == 1 and ordering.one_is_sorted))
    both_known = before.percent.is_point and after.percent.is_point
    return outweighs and not both_known and not _is_part_of(after, before) and not _is_part_of(before, after)


@pytest.mark.parametrize("ordering", [EU, US], ids=["EU", "US"])
@given(entries=st.lists(_entries(), max_size=12))
def test_the_sweep_finds_what_asking_every_pair_finds(ordering: Ordering, entries: list[Entry]) -> None:
    """The same pairs, the earlier ones of each later one in the order of the list."""
    places = sorted(combinations(range(len(entries)), 2), key=lambda pair: (pair[1], pair[0]))
    asked = [(entries[before], entries[after]) for before, after in places]

    assert could_swap(entries, ordering) == [pair for pair in asked if _may_swap(*pair, ordering)]


def test_an_unknown_upper_end_may_outweigh_all_that_is_sorted() -> None:
    """Unknown is never zero: what nobody knows could be the most of all."""
    unknown = amount("Extract of Something", span=("0.1", None))

    declaration = declare_eu(product(amount("Aqua", "90"), amount("Glycerin", "9.9"), unknown))

    assert declaration.entries[2].could_move == ("May weigh more than Aqua (90 %), Glycerin (9.9 %).",)


def test_an_unknown_lower_end_may_be_nothing() -> None:
    """A share of up to 5 % stands before one of 2 to 3 % and may still be less."""
    unknown = amount("Extract of Something", span=(None, "5"))
    known = amount("Glycerin", span=("2", "3"))

    declaration = declare_eu(product(amount("Aqua", "93"), unknown, known))

    assert declaration.names == ("Aqua", "Extract of Something", "Glycerin")
    assert declaration.entries[2].could_move == ("May weigh more than Extract of Something (up to 5 %).",)


def ranked(name: str, high: str, *places: tuple[str, int | None], low: str = "0") -> DeclaredAmount:
    """A substance up to a share, from ingredients that have it in these places of their order."""
    span = Interval(Decimal(low), Decimal(high))
    brought = tuple(Contribution(source, source, span, "supplier", place) for source, place in places)
    return amount(name, span=(low, high), contributions=brought)


def moves(*amounts: DeclaredAmount) -> list[str]:
    """What the list says of places that could change."""
    notes = declare_eu(product(amount("Aqua", "90"), *amounts)).notes
    return [one.message for one in notes if one.rule == "declaration.order"]


def test_the_order_that_a_supplier_gives_is_no_flip() -> None:
    """Of 4 % in the order 1, 2, 3 the second is at most half and the third at most a third: neither is more than
    the first, whatever the ends of the ranges say."""
    blend = [
        ranked("Phenoxyethanol", "4", ("Blend", 1), low="1.3333"),
        ranked("Benzoic Acid", "2", ("Blend", 2)),
        ranked("Dehydroacetic Acid", "1.3333", ("Blend", 3)),
    ]

    assert moves(*blend) == []


def test_what_another_ingredient_brings_too_may_flip() -> None:
    """More benzoic acid from a second source: then the order of the first says nothing; more of the first does."""
    first, second = ranked("Phenoxyethanol", "4", ("Blend", 1)), ranked("Benzoic Acid", "2", ("Blend", 2))
    from_both = ranked("Benzoic Acid", "2", ("Blend", 2), ("Salt", 1))

    assert len(moves(first, from_both)) == 1
    assert len(moves(ranked("Phenoxyethanol", "4", ("Blend", None)), second)) == 1
    assert moves(ranked("Phenoxyethanol", "4", ("Blend", 1), ("More", None)), second) == []


def test_several_of_one_name_may_together_outweigh_what_stands_before_them() -> None:
    """The second and third of an order may be more than the first."""
    both = ranked("Benzoic Acid", "3.3", ("Blend", 2), ("Blend", 3))

    assert len(moves(ranked("Phenoxyethanol", "4", ("Blend", 1)), both)) == 1


def test_equals_stand_in_their_suppliers_order() -> None:
    """Not by name, and nothing is said of either coming first."""
    declaration = declare_eu(
        product(ranked("Zea Mays Starch", "4", ("Blend", 1)), ranked("Acacia Senegal Gum", "4", ("Blend", 2)))
    )

    assert declaration.names == ("Zea Mays Starch", "Acacia Senegal Gum")
    assert declaration.notes == ()


@pytest.mark.parametrize(
    ("typical", "words"), [(None, "the middle of each range"), ("3", "the usual figures")]
)
def test_a_flip_says_in_one_sentence_what_the_printed_order_goes_by(typical: str | None, words: str) -> None:
    """Usual figures are named only where there are some."""
    usual = None if typical is None else Decimal(typical)
    one = replace(amount("Glycerin", span=("2", "5")), typical=usual)
    other = replace(amount("Sorbitol", span=("1", "5")), typical=usual)

    [said] = moves(one, other)

    assert said == (
        "Sorbitol (1 to 5 %) may outweigh Glycerin (2 to 5 %) within the suppliers' ranges; the order printed goes "
        f"by {words}."
    )
