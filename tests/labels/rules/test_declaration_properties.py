"""What holds for every list: order of input is nothing, and nothing is lost."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.interval import add
from labels.rules.amounts import DeclaredAmount
from labels.rules.declaration import MARKETS
from labels.rules.entries import COLOURS, SORTED, order_figure
from tests.labels.rules.examples import amount, product

NAMES = ["Aqua", "Glycerin", "Cera Alba", "Linalool", "Geranial", "Neral", "Lavandula Angustifolia Oil"]
NAMES += ["CI 77491", "CI 77492", "CI 77019", "Benzyl Alcohol", "Panthenol", "Citrus Limon Peel Oil"]


@st.composite
def _amounts(draw: st.DrawFn) -> DeclaredAmount:
    ends = sorted(draw(st.tuples(*[st.decimals("0.0001", "30", places=4)] * 2)))
    name = draw(st.sampled_from(NAMES))
    return amount(
        name,
        span=(str(ends[0]), str(ends[1])),
        within=draw(st.booleans()),
        is_perfume=draw(st.booleans()),
        is_colourant=name.startswith("CI"),
    )


LISTS = st.lists(_amounts(), min_size=1, max_size=14)


@pytest.mark.parametrize("market", sorted(MARKETS))
@given(data=st.data())
def test_order_of_input_never_changes_the_list(market: str, data: st.DataObject) -> None:
    """The same amounts in any order give the same declaration, to the last reason."""
    parts = data.draw(LISTS)
    shuffled = data.draw(st.permutations(parts))

    assert MARKETS[market](product(*shuffled)) == MARKETS[market](product(*parts))


@pytest.mark.parametrize("market", sorted(MARKETS))
@given(parts=LISTS)
def test_nothing_is_lost(market: str, parts: list[DeclaredAmount]) -> None:
    """Entries that aren't allergens, with what is left out, hold all of the declared amounts."""
    declaration = MARKETS[market](product(*parts))
    listed = [entry.percent for entry in declaration.entries if not entry.is_allergen]
    listed += [left.percent for left in declaration.left_out if left.rule != "allergen at or below"]

    assert add(listed) == add(part.percent for part in parts if not part.within)


@pytest.mark.parametrize("market", sorted(MARKETS))
@given(parts=LISTS)
def test_sorted_part_descends_and_names_stand_once(market: str, parts: list[DeclaredAmount]) -> None:
    """No name twice; the sorted part never rises; colours are the last."""
    entries = MARKETS[market](product(*parts)).entries
    shares = [order_figure(entry.percent) or Decimal(0) for entry in entries if entry.section == SORTED]
    colours = [entry.section == COLOURS for entry in entries]

    assert len({entry.printed_name for entry in entries}) == len(entries)
    assert shares == sorted(shares, reverse=True)
    assert colours == sorted(colours)
