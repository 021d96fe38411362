"""Can I weigh it: how far off may each line be on the chosen scale, and how small may the batch be?"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from formulas.rules.findings import Finding
from formulas.rules.number import ZERO, figure, percent_of
from formulas.rules.percent import ResolvedLine
from formulas.rules.review.asked import Asked
from formulas.rules.review.parts import joined
from formulas.rules.weighing import deviation, least_batch, least_weight, percent_error

NOTED = Decimal(1)
"""% error of a line from which the review says so; ours. USP <41> asks 0.10 % of pharmacopoeial work."""
TOO_FAR = Decimal(5)
"""% error of a line from which it is a caution; ours, no source."""
MOST_NAMED = 3


def is_weighed(asked: Asked) -> bool:
    """A batch and a scale are chosen."""
    return asked.formula.scale is not None and (asked.formula.mass_g or ZERO) > ZERO


def check_weighing(asked: Asked) -> Sequence[Finding]:
    """The lines that the scale weighs worst, and the batch at which it would do; quiet without mass or scale."""
    mass, scale = asked.formula.mass_g, asked.formula.scale
    if mass is None or scale is None or mass <= ZERO:
        return ()
    s = deviation(scale.readability_g, scale.repeatability_g)
    far: list[tuple[Decimal, ResolvedLine, Decimal]] = []
    for line in asked.resolved.lines:
        share = line.share.expected if line.share is not None else None
        if share is not None and share > ZERO:
            net = percent_of(share, mass)
            error = percent_error(s, net)
            if error > NOTED:
                far.append((error, line, net))
    found = [] if not far else [_worst(sorted(far, key=lambda one: -one[0]), s, scale.name)]
    if scale.capacity_g is not None and mass > scale.capacity_g:
        message = f"{figure(mass)} g is more than {scale.name} bears ({figure(scale.capacity_g)} g)."
        cure = "Weigh it in parts, or on a larger scale."
        found.append(Finding("weighing.capacity", "note", scale.name, message, cure=cure))
    return tuple(found)


def _worst(far: list[tuple[Decimal, ResolvedLine, Decimal]], s: Decimal, scale: str) -> Finding:
    named = joined(
        f"{line.name} ({figure(net, places=3)} g) up to {figure(error, up=True, places=1)} %"
        for error, line, net in far[:MOST_NAMED]
    )
    more = len(far) - MOST_NAMED
    rest = f"; {more} more above {figure(NOTED)} %" if more > 0 else ""
    message = f"Off on {scale}: {named}{rest}; its least weight by USP <41> is"
    message += f" {figure(least_weight(s), up=True, places=2)} g."
    least = min(line.share.expected or ZERO for _, line, _ in far if line.share is not None)
    grams = [figure(least_batch(s, least, each), up=True, places=0) for each in (TOO_FAR, NOTED)]
    cure = (
        f"A batch of {grams[0]} g or more keeps every line within {figure(TOO_FAR)} %, of {grams[1]} g within"
    )
    cure += f" {figure(NOTED)} %; or use a finer scale, or a premix."
    return Finding(
        "weighing.error",
        "caution" if far[0][0] > TOO_FAR else "note",
        scale,
        message,
        "USP <41>: 2 s of the net weight, s at least 0.41 of the scale's step",
        cure,
        "read",
        tuple(line.key for _, line, _ in far),
    )
