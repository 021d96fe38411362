"""Best before or months after opening, Reg (EC) 1223/2009 Art. 19(1)(c)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from batches.rules.expiry import add_months

DATE_UP_TO_MONTHS = 30
"""A product that keeps 30 months or less carries a date; only more than 30 lets it go."""

BEST_BEFORE = "best used before the end of"
SOURCE = "Reg (EC) 1223/2009 Art. 19(1)(c), Annex VII"

DurabilityKind = Literal["date", "open jar", "none", "unknown"]


@dataclass(frozen=True, slots=True)
class Durability:
    """What the label says on how long the product keeps.

    kind: "date" (words and month), "open jar" (symbol with months), "none" (nothing is asked for) or
    "unknown" (something is missing, see ``note``). text: what is printed; "" while the batch is not known.
    last_day: the last day it is still good. month_form, day_form: the date in the two lawful forms.
    """

    kind: DurabilityKind
    text: str
    source: str
    note: str = ""
    last_day: date | None = None
    month_form: str = ""
    day_form: str = ""

    @property
    def is_settled(self) -> bool:
        """Nothing is missing: printed, or not asked for."""
        return self.kind == "none" or (self.kind != "unknown" and bool(self.text))


def best_before_month(last_day: date) -> tuple[int, int]:
    """(year, month) whose end is not after ``last_day``: "end of" the month must be within what is proven."""
    ends = (last_day + timedelta(days=1)).day == 1
    month = last_day if ends else last_day.replace(day=1) - timedelta(days=1)
    return month.year, month.month


def eu_durability(
    life_months: int | None,
    pao_months: int | None,
    made_on: date | None = None,
    *,
    best_before: date | None = None,
    single_use: bool = False,
    never_opened: bool = False,
    no_deterioration: bool = False,
) -> Durability:
    """The date or the open jar for the EU and Great Britain.

    life_months: how long it keeps from making; pao_months: after opening. best_before: an earlier last day
    of this batch (its expiry); the earlier of both counts, and it makes a date necessary on its own when it
    is closer than the life. single_use, never_opened, no_deterioration: the three cases in which months
    after opening mean nothing (known from practice).
    """
    if life_months is None:
        note = "How many months it keeps isn't on record. Up to 30 months a date must be printed."
        return Durability("unknown", "", SOURCE, note)
    if life_months <= DATE_UP_TO_MONTHS or _is_shorter(life_months, made_on, best_before):
        return _dated(life_months, made_on, best_before)
    if single_use or never_opened or no_deterioration:
        why = "single use" if single_use else "never opened" if never_opened else "it doesn't spoil"
        note = f"Keeps more than 30 months and months after opening mean nothing here: {why}."
        return Durability("none", "", SOURCE, note)
    if pao_months is None:
        note = "Keeps more than 30 months, so the months after opening are printed; they aren't on record."
        return Durability("unknown", "", SOURCE, note)
    note = "Keeps more than 30 months: the open jar with months stands, no date is needed."
    return Durability("open jar", f"{pao_months}M", SOURCE, note)


def us_durability() -> Durability:
    """The United States ask for no date on a cosmetic."""
    return Durability("none", "", "21 CFR 701, 740", "No date is asked for in the US.")


def _is_shorter(life_months: int, made_on: date | None, best_before: date | None) -> bool:
    """The batch keeps 30 months or less, whatever the product does."""
    if best_before is None or made_on is None:
        return False
    return best_before < add_months(made_on, life_months) and best_before <= add_months(
        made_on, DATE_UP_TO_MONTHS
    )


def _dated(life_months: int, made_on: date | None, best_before: date | None) -> Durability:
    ends = [add_months(made_on, life_months)] if made_on is not None else []
    ends += [best_before] if best_before is not None else []
    if not ends:
        note = f"Keeps {life_months} months: the date comes with the batch."
        return Durability("date", "", SOURCE, note)
    last_day = min(ends)
    year, month = best_before_month(last_day)
    month_form = f"{month:02d}/{year}"
    day_form = f"{last_day:%d/%m/%Y}"
    note = f"Good until {last_day.isoformat()}; the month whose end lies within it is printed."
    return Durability("date", f"{BEST_BEFORE} {month_form}", SOURCE, note, last_day, month_form, day_form)
