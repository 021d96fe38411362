"""How long it sets in the room."""

from __future__ import annotations

from decimal import Decimal

import pytest

from batches.rules.setting import setting_words


@pytest.mark.parametrize(
    ("room", "form", "says"),
    [("18", "bar", "overnight"), ("15.5", "balm", "overnight"), ("27", "bar", "lingers"), ("31", "balm", "lingers"),
     ("18.1", "bar", ""), ("26.9", "balm", ""), ("18", "cream", ""), ("27", "scrub", "")],
)  # fmt: skip
def test_at_18_degrees_it_sets_overnight_and_at_27_it_lingers(room: str, form: str, says: str) -> None:
    """Common practice, no source; between the two nothing is said, nor of what doesn't set by cooling."""
    words = setting_words(Decimal(room), form)

    assert says in words
    assert bool(words) == bool(says)
