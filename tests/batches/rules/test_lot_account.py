"""A lot's account (derived from 21 CFR 211.184(c): the use of each lot is reconciled)."""

from __future__ import annotations

from decimal import Decimal

from batches.rules.lot_account import Move, account


def moves(*pairs: tuple[str, str]) -> list[Move]:
    """Ledger lines from kind and amount."""
    return [Move(kind, Decimal(amount)) for kind, amount in pairs]


def test_an_account_that_closes_is_accounted_in_full() -> None:
    """3320 made, 900 + 1260 used, 40 sampled, 1120 here: 100 % (worked by hand)."""
    sums = account(
        moves(
            ("made", "3320"), ("sampled", "-40"), ("weighed", "-900"), ("weighed", "-1260"), ("counted", "0")
        )
    )

    assert (Decimal(2160), Decimal(40), Decimal(1120)) == (sums.used, sums.sampled, sums.here)
    assert sums.accounted_percent == 100


def test_a_line_taken_back_is_netted_within_its_kind() -> None:
    """910 weighed, taken back, 900 weighed: 900 used."""
    sums = account(moves(("received", "1000"), ("weighed", "-910"), ("weighed", "910"), ("weighed", "-900")))

    assert (Decimal(900), Decimal(100)) == (sums.used, sums.here)


def test_what_a_count_found_missing_is_not_accounted_for() -> None:
    """1000 in, a count finds 950: 95 % are accounted for."""
    sums = account(moves(("received", "1000"), ("counted", "-50")))

    assert (Decimal(-50), Decimal(95)) == (sums.counted, sums.accounted_percent)


def test_an_empty_ledger_has_no_share() -> None:
    """Nothing came in: there is nothing to take a share of, which is not 0 %."""
    assert account([]).accounted_percent is None
