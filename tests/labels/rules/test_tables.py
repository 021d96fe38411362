"""The reference files load, and hold what their sources hold."""

from __future__ import annotations

from itertools import pairwise

import pytest

from labels.rules.tables import (
    DATA,
    digit_heights,
    fragrance_allergens,
    market_countries,
    read_table,
    type_sizes,
    us_names,
    us_warnings,
)


def test_eighty_one_names_of_which_twenty_four_are_older() -> None:
    """Reg (EU) 2023/1545, counted from its annex: 24 older and 57 newer names."""
    rows = fragrance_allergens()

    assert len({row.name for row in rows}) == 81
    assert sum(row.older for row in rows) == 24


def test_no_substance_stands_under_two_names() -> None:
    """A member is summed once."""
    members = [member for row in fragrance_allergens() for member in row.members]

    assert len(members) == len(set(members))


def test_bands_meet_without_a_gap() -> None:
    """Each band of a table begins where the one before ends."""
    assert all(before.up_to == after.over for before, after in pairwise(digit_heights()))
    assert all(before.up_to_sq_in == after.over_sq_in for before, after in pairwise(type_sizes()))


def test_no_us_name_is_empty_where_one_is_permitted() -> None:
    """A permitted name is there to print."""
    assert all(row.name for row in us_names().values() if row.permitted == "yes")


def test_warnings_and_countries_are_held() -> None:
    """Four sentences of 21 CFR 740; 27 member states and three of the Economic Area."""
    assert len(us_warnings()) == 4
    assert len(market_countries("EU")) == 30
    assert market_countries("CA") == frozenset()


@pytest.mark.parametrize("file", sorted(path.name for path in DATA.glob("*.csv")))
def test_every_row_names_source_and_basis(file: str) -> None:
    """No figure without where it comes from and how it is known."""
    rows = read_table(file)

    assert rows
    assert all(row["source"] and row["basis"] for row in rows)
