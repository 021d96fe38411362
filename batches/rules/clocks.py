"""By which day a case is to be reported, market by market; ``serious`` says whether it is to be.

Day 0 is the day on which anybody in the firm first heard of it, never the day it was judged. Holidays come
in as sets of days (see ``closed_days``). A due day is kept with the id of its rule, so that it can be
reckoned again.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from batches.rules.expiry import add_months
from batches.rules.serious import Verdict, definition_of, judge_by

ONE_DAY = timedelta(days=1)
SATURDAY = 5

Duty = Literal["required", "not required", "voluntary", "check", "unknown"]


@dataclass(frozen=True, slots=True)
class Clock:
    """What one market asks for after a case.

    due: the last day, None where no day runs. at_once: the law says "without delay", the day is only
    guidance. duty "unknown": a fact was not asked; due is then the day that would hold. assumes: what the
    day rests on.
    """

    market: str
    duty: Duty
    rule: str
    due: date | None
    at_once: bool
    text: str
    assumes: str
    source: str
    basis: str

    def days_left(self, today: date) -> int | None:
        """Days from ``today``, the maker's own day, to the last day: 0 on it, below 0 after it."""
        return None if self.due is None else (self.due - today).days


def add_business_days(day: date, count: int, closed: Collection[date]) -> date:
    """``count`` days after ``day``, counting Monday to Friday without ``closed``. Day 0 is not counted."""
    found = day
    while count > 0:
        found += ONE_DAY
        if is_business_day(found, closed):
            count -= 1
    return found


def roll_forward(day: date, closed: Collection[date]) -> date:
    """The day itself, or the next business day after it."""
    while not is_business_day(day, closed):
        day += ONE_DAY
    return day


def is_business_day(day: date, closed: Collection[date]) -> bool:
    """Monday to Friday and not closed."""
    return day.weekday() < SATURDAY and day not in closed


def us_serious_due(received: date, federal_holidays: Collection[date]) -> date:
    """15 business days after receipt. 21 U.S.C. 364a(b), read second hand; the holiday rule from memory."""
    return add_business_days(received, 15, federal_holidays)


def us_follow_up_due(
    *, first_report: date, new_information: date, federal_holidays: Collection[date]
) -> date | None:
    """15 business days after new medical information, for a year from the first report; None after that year.

    21 U.S.C. 364a(b), read second hand.
    """
    if new_information > add_months(first_report, 12):
        return None
    return us_serious_due(new_information, federal_holidays)


def eu_serious_limit(aware: date) -> date:
    """20 calendar days, weekends and all: the outer limit of the guidelines to Reg. 1223/2009 Art. 23(1)."""
    return aware + timedelta(days=20)


def au_injury_due(aware: date, closed: Collection[date] = ()) -> date:
    """Two days, rolled from a weekend or holiday to the next business day. Australian Consumer Law s 131,
    read.

    Without the State's holidays nothing is rolled for them: the earlier day is the safe one.
    """
    return roll_forward(aware + timedelta(days=2), closed)


def nz_recall_due(recalled: date, closed: Collection[date] = ()) -> date:
    """Two working days after recalling. Fair Trading Act 1986 s 31A(2), read."""
    return add_business_days(recalled, 2, closed)


def au_recall_due(recalled: date, closed: Collection[date] = ()) -> date:
    """Two days after the recall, rolled forward. Australian Consumer Law s 128, read."""
    return roll_forward(recalled + timedelta(days=2), closed)


@dataclass(frozen=True, slots=True)
class Case:
    """What is known of a case. facts: name to "yes", "no" or "not asked" (names of ``serious``).

    heard: every day on which somebody in the firm heard of it; the earliest counts. sold_in: markets of the
    product. happened_in: market where it happened, "" when not known.
    """

    heard: tuple[date, ...]
    facts: Mapping[str, str]
    sold_in: tuple[str, ...]
    happened_in: str = ""

    @property
    def aware(self) -> date:
        """The earliest of the days; raises ValueError when there is none."""
        return min(self.heard)


def clocks(
    case: Case, *, us_holidays: Collection[date] = (), au_holidays: Collection[date] = ()
) -> tuple[Clock, ...]:
    """One clock for each market where the product is sold or the case happened, required ones first, by day.

    Markets: US, EU, GB, AU, CA, NZ; another code gives no clock. Northern Ireland is EU.
    """
    markets = dict.fromkeys([*case.sold_in, *([case.happened_in] if case.happened_in else [])])
    found = [
        clock for market in markets if (clock := _clock(market, case, us_holidays, au_holidays)) is not None
    ]
    order = {"required": 0, "unknown": 1, "check": 2, "voluntary": 3, "not required": 4}
    return tuple(sorted(found, key=lambda one: (order[one.duty], one.due or date.max, one.market)))


def _clock(
    market: str, case: Case, us_holidays: Collection[date], au_holidays: Collection[date]
) -> Clock | None:
    if market == "US":
        return _us(case, us_holidays)
    if market in ("EU", "GB"):
        return _europe(market, case)
    if market == "AU":
        return _au(case, au_holidays)
    if market in ("CA", "NZ"):
        return _voluntary(market)
    return None


def _us(case: Case, holidays: Collection[date]) -> Clock:
    judged = judge_by(definition_of("US"), case.facts)
    due = us_serious_due(case.aware, holidays)
    abroad = bool(case.happened_in) and case.happened_in != "US"
    duty = _duty(judged.verdict)
    text = _sentence(duty, f"Tell FDA by {due:%Y-%m-%d}, with a copy of the label.", judged.text)
    if abroad and duty in ("required", "unknown"):
        duty = "check"
        text = "It happened abroad; the statute speaks of use in the United States. Check whether to report."
    return Clock(
        "US", duty, "us-serious-15-business-days", None if duty == "not required" else due, False, text,
        _closed_words("federal holidays", case.aware, due, holidays),
        "FD&C Act s. 605(b), 21 U.S.C. 364a", "15 business days read second hand; holidays from memory",
    )  # fmt: skip


def _europe(market: str, case: Case) -> Clock:
    judged = judge_by(definition_of(market), case.facts)
    due = eu_serious_limit(case.aware)
    whom = (
        "the authority of the country where it happened"
        if market == "EU"
        else "the Secretary of State (OPSS)"
    )
    duty = _duty(judged.verdict)
    text = _sentence(duty, f"Tell {whom} without delay, by {due:%Y-%m-%d} at the latest.", judged.text)
    if duty in ("required", "unknown") and case.happened_in not in ("", market):
        duty = "check"
        text = f"It did not happen in {market}, and the report goes by the place of the event. Check."
    return Clock(
        market, duty, f"{market.lower()}-serious-20-days",
        None if duty == "not required" else due, True, text,
        "20 calendar days from first hearing of it, not moved for weekends.",
        "Reg (EC) 1223/2009 Art. 23(1) and the reporting guidelines",
        f"without delay: read; 20 days: {'read' if market == 'EU' else 'from memory'}",
    )  # fmt: skip


def _au(case: Case, holidays: Collection[date]) -> Clock:
    judged = judge_by(definition_of("AU"), case.facts)
    due = au_injury_due(case.aware, holidays)
    duty = _duty(judged.verdict)
    text = _sentence(duty, f"Report to the ACCC by {due:%Y-%m-%d}, end of day.", judged.text)
    return Clock(
        "AU", duty, "au-injury-2-days", None if duty == "not required" else due, False, text,
        _closed_words("holidays of the State", case.aware, due, holidays),
        "Australian Consumer Law s 131", "read",
    )  # fmt: skip


def _voluntary(market: str) -> Clock:
    whom = {"CA": "Health Canada", "NZ": "EPA or MBIE"}[market]
    return Clock(
        market, "voluntary", f"{market.lower()}-voluntary", None, False,
        f"No law sets a day. Keep the record; {whom} can be told.", "",
        "Canada Consumer Product Safety Act, Schedule 1" if market == "CA" else "none found",
        "read" if market == "CA" else "from memory",
    )  # fmt: skip


def _duty(verdict: Verdict) -> Duty:
    duties: dict[Verdict, Duty] = {"serious": "required", "not serious": "not required", "unknown": "unknown"}
    return duties[verdict]


def _sentence(duty: Duty, todo: str, judged: str) -> str:
    if duty == "required":
        return todo
    return f"{judged} If it is: {todo[0].lower()}{todo[1:]}" if duty == "unknown" else judged


def _closed_words(name: str, start: date, end: date, closed: Iterable[date]) -> str:
    between = sorted(day for day in closed if start < day <= end and day.weekday() < SATURDAY)
    if not closed:
        return f"No {name} are taken into account."
    if not between:
        return f"No {name} fall in between."
    return f"Skips the {name} {', '.join(day.isoformat() for day in between)}."
