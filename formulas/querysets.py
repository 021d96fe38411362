"""The words for asking about ingredients."""

from __future__ import annotations

from collections.abc import Collection
from typing import TYPE_CHECKING, Self

from django.db.models import Q

from makers.models import MakerQuerySet

if TYPE_CHECKING:
    from formulas.models import Supplier


class IngredientQuerySet(MakerQuerySet):
    """What a maker asks of the list of ingredients."""

    def in_use(self) -> Self:
        """Those that are not put away."""
        return self.filter(active=True)

    def put_away(self) -> Self:
        """Those that are not used any more."""
        return self.filter(active=False)

    def with_role(self, role: str) -> Self:
        """Those that do this, among other things."""
        return self.filter(roles__icontains=f'"{role}"')

    def sold_by(self, supplier: Supplier) -> Self:
        """Those of which this supplier sells an article."""
        return self.filter(sources__supplier=supplier).distinct()

    def of_unknown_composition(self) -> Self:
        """Bought ones of which nobody has written down what is in them."""
        return self.filter(compositions__isnull=True, made_from__isnull=True)

    def found_by(self, words: str) -> Self:
        """Those with the words in a name, in the code, or in the INCI name of something in them."""
        inside = self.model._default_manager.filter(
            compositions__constituents__substance__inci_name__icontains=words
        )
        named = Q(name__icontains=words) | Q(common_name__icontains=words) | Q(code__iexact=words)
        return self.filter(named | Q(pk__in=inside.values("pk")))

    def among(self, keys: Collection[int]) -> Self:
        """Those with these keys."""
        return self.filter(pk__in=keys)
