"""A label laid out: what is judged, what is drawn, and what is drawn as missing."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from labels.assembly import LabelPaper, with_layout
from labels.layout import Block, Layout, blocks_of, lay_out

PLACES = {
    "responsible": "maker",
    "maker": "maker",
    "contact": "contact",
    "quantity": "net quantity",
    "durability": "keeps",
    "cautions": "cautions",
    "function": "what it is",
    "identity": "what it is",
    "ingredients": "ingredients",
    "origin": "origin",
}
"""Where on the label a required statement belongs."""


@dataclass(frozen=True, slots=True)
class Proof:
    """A label as it is today, laid out in its own size."""

    paper: LabelPaper
    blocks: tuple[Block, ...]
    layout: Layout

    @property
    def waits(self) -> tuple[str, ...]:
        """What approval waits for, the printing's own reasons too."""
        refusal = self.layout.refusal() if self.layout.unknown_signs or self.layout.overflow else ""
        return (*self.paper.waits, *((refusal,) if refusal else ()))


def jar_text(paper: LabelPaper) -> str:
    """The months beside the open jar, "" where none is printed."""
    return paper.texts.durability.text if paper.texts.durability.kind == "open jar" else ""


def blocks_for(paper: LabelPaper) -> tuple[Block, ...]:
    """The texts of a label with its gaps."""
    gaps = {
        PLACES[one.key]: f"{one.title.lower()} missing here" for one in paper.missing if one.key in PLACES
    }
    return blocks_of(paper.printed, paper.sizes.small_pt, paper.sizes.net_pt, gaps, jar_text(paper))


def proof_of(paper: LabelPaper) -> Proof:
    """Lay a label out and judge it again by what was measured."""
    blocks = blocks_for(paper)
    layout = lay_out(blocks, Decimal(paper.label.width_mm), Decimal(paper.label.height_mm))
    digits = layout.digits_mm if paper.texts.net.required else None
    return Proof(with_layout(paper, layout.fits, layout.needed, digits), blocks, layout)


def height_that_fits(paper: LabelPaper, width: Decimal, least: Decimal = Decimal(40)) -> Decimal:
    """The lowest label, in steps of 5 mm, that holds the texts at this width; at most 500 mm."""
    tight = lay_out(blocks_for(paper), width, least)
    if tight.fits:
        return least
    steps = int(tight.needed // 5) + (1 if tight.needed % 5 else 0)
    return min(Decimal(500), max(least, Decimal(steps * 5)))
