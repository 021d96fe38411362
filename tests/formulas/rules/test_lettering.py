"""Letters that count on after Z, as the columns of a spreadsheet do (common practice, no source)."""

from __future__ import annotations

import pytest

from formulas.rules.lettering import letter, phase_order


@pytest.mark.parametrize(
    ("place", "letters"),
    [(0, "A"), (25, "Z"), (26, "AA"), (27, "AB"), (51, "AZ"), (52, "BA"), (701, "ZZ"), (702, "AAA")],
)
def test_letters_go_on_after_z(place: int, letters: str) -> None:
    """No two places share a letter."""
    assert letter(place) == letters


def test_phases_stand_by_their_letters_then_figures() -> None:
    """AA comes after Z, and A2 stays beside A."""
    assert sorted(["AA", "B", "Z", "A2", "AB", "A"], key=phase_order) == ["A", "A2", "B", "Z", "AA", "AB"]
