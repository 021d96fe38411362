"""What the tests of labels share beside the cast."""

from __future__ import annotations

import pytest

from labels.actions.printing import open_with_a_sheet
from labels.models import SheetLayout
from tests.cast import Cast


@pytest.fixture
def sheet(cast: Cast) -> SheetLayout:
    """The usual sheet, as a new maker has it."""
    open_with_a_sheet(cast.owner)
    return SheetLayout.objects.get(maker=cast.maker)
