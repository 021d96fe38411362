"""The reporting clocks of a complaint, with the holidays of the years that they run through."""

from __future__ import annotations

from batches.models import Complaint
from batches.rules.clocks import Case, Clock, clocks
from batches.rules.closed_days import us_federal
from makers.models import Maker


def running_clocks(maker: Maker, complaint: Complaint) -> tuple[Clock, ...]:
    """What each market asks for: where the product is sold, and where the reaction happened.

    Day 0 is the maker's local day on which the complaint came. Without a product the maker's own markets count.
    """
    heard = complaint.received_at.astimezone(maker.zone).date()
    sold_in = complaint.product.markets if complaint.product else maker.markets
    case = Case(heard=(heard,), facts=complaint.facts, sold_in=tuple(sold_in), happened_in=complaint.market)
    return clocks(case, us_holidays=us_federal((heard.year, heard.year + 1)))
