"""Numbers: one home for constants, the two Decimal contexts and sharing without a remainder."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import (
    ROUND_CEILING,
    ROUND_FLOOR,
    ROUND_HALF_EVEN,
    Context,
    Decimal,
    DivisionByZero,
    Inexact,
    InvalidOperation,
    Overflow,
)

ZERO = Decimal(0)
ONE = Decimal(1)
HUNDRED = Decimal(100)

EXACT = Context(
    prec=600,
    rounding=ROUND_HALF_EVEN,
    traps=[Inexact, InvalidOperation, DivisionByZero, Overflow],
)
"""For sums and products: enough digits for formulas nested dozens deep; a lost digit raises."""

EXACT_QUANTIZE = Context(prec=600, traps=[InvalidOperation, DivisionByZero, Overflow])
"""For rounding that is meant."""

RATIO_DOWN = Context(prec=50, rounding=ROUND_FLOOR, traps=[InvalidOperation, DivisionByZero, Overflow])
RATIO_UP = Context(prec=50, rounding=ROUND_CEILING, traps=[InvalidOperation, DivisionByZero, Overflow])
"""For ratios that feed a bound: rounded outwards, so that a bound is never too tight."""


def exact_sum(values: Iterable[Decimal]) -> Decimal:
    """The sum with no digit lost; raises ``decimal.Inexact`` rather than round."""
    total = ZERO
    for value in values:
        total = EXACT.add(total, value)
    return total


def exact_product(*values: Decimal) -> Decimal:
    """The product with no digit lost; raises ``decimal.Inexact`` rather than round."""
    product = ONE
    for value in values:
        product = EXACT.multiply(product, value)
    return product


def difference(left: Decimal, right: Decimal) -> Decimal:
    """``left - right`` with no digit lost."""
    return EXACT.subtract(left, right)


def percent_of(percent: Decimal, of_percent: Decimal) -> Decimal:
    """``percent`` % of ``of_percent`` %, as percent of the whole, with no digit lost."""
    return EXACT.scaleb(exact_product(percent, of_percent), -2)


def round_down(value: Decimal, places: int) -> Decimal:
    """The largest figure with ``places`` decimals that is not above ``value``."""
    return value.quantize(ONE.scaleb(-places), rounding=ROUND_FLOOR, context=EXACT_QUANTIZE)


def round_up(value: Decimal, places: int) -> Decimal:
    """The smallest figure with ``places`` decimals that is not below ``value``."""
    return value.quantize(ONE.scaleb(-places), rounding=ROUND_CEILING, context=EXACT_QUANTIZE)


def round_up_to_step(value: Decimal, step: Decimal) -> Decimal:
    """The smallest multiple of ``step`` that is not below ``value``. Raises ValueError for a step <= 0."""
    if step <= ZERO:
        raise ValueError("a step is above 0")
    top, bottom = _whole(value, step)
    return exact_product(Decimal(-(-top // bottom)), step)


def share_by_largest_remainder(total: Decimal, weights: Sequence[Decimal], step: Decimal) -> list[Decimal]:
    """``total`` shared in proportion to ``weights``: multiples of ``step`` that add up to it exactly.

    Same order as ``weights``. What is left after rounding down goes to the largest remainders, then to
    the earlier weight. Raises ValueError when ``total`` is negative or no multiple of ``step``, when a
    weight is negative or when no weight is above 0.
    """
    if step <= ZERO:
        raise ValueError("a step is above 0")
    top, bottom = _whole(total, step)
    units, rest = divmod(top, bottom)
    if total < ZERO or rest:
        raise ValueError(f"{total} is no multiple of {step}")
    if any(weight < ZERO for weight in weights):
        raise ValueError("a weight is 0 or more")
    parts = _as_integers(weights)
    whole = sum(parts)
    if not whole:
        raise ValueError("at least one weight is above 0")
    shares = [units * part // whole for part in parts]
    remainders = [units * part % whole for part in parts]
    by_remainder = sorted(range(len(parts)), key=lambda index: (-remainders[index], index))
    for index in by_remainder[: units - sum(shares)]:
        shares[index] += 1
    grams = [exact_product(Decimal(share), step) for share in shares]
    if exact_sum(grams) != total:
        raise ValueError("shares that do not add up to the total")
    return grams


def figure(value: Decimal, *, up: bool | None = None, places: int = 4) -> str:
    """A figure to read: exact where it has at most ``places`` decimals, else rounded, no idle zeros.

    up: True rounds up, False down, None to nearest. A figure that would round to 0 keeps its first
    two digits instead.
    """
    exponent = value.normalize(EXACT_QUANTIZE).as_tuple().exponent
    if isinstance(exponent, int) and -exponent > places:
        rounding = ROUND_HALF_EVEN if up is None else ROUND_CEILING if up else ROUND_FLOOR
        small = max(places, 1 - value.adjusted()) if value else places
        value = value.quantize(ONE.scaleb(-small), rounding=rounding, context=EXACT_QUANTIZE)
    text = f"{value:f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return text if text not in {"-0", ""} else "0"


def _as_integers(values: Sequence[Decimal]) -> list[int]:
    """The values times one power of ten, as whole numbers."""
    fractions = [value.as_integer_ratio() for value in values]
    common = 1
    for _, bottom in fractions:
        if common % bottom:
            common *= bottom
    return [top * (common // bottom) for top, bottom in fractions]


def _whole(value: Decimal, step: Decimal) -> tuple[int, int]:
    """``value / step`` as a fraction of whole numbers."""
    top, bottom = value.as_integer_ratio()
    step_top, step_bottom = step.as_integer_ratio()
    return top * step_bottom, bottom * step_top
