"""The demo's labels: confirmed and approved where the facts bear it, and put on the packs as they are filled."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from batches.models import Pack
from labels.actions import apply_label, approve_label, confirm_all, draft_label, judge_caution, print_run
from labels.assembly import assemble_one
from labels.models import Label, LabelIssue
from makers.actions import By
from makers.actions.demo import DemoHouse
from makers.registries import DemoChapter, demo_chapters

CHECKED = "The glossary of common ingredient names and the published texts of the rules, looked up one by one"
LEFT_A_DRAFT = ("scrub", "US")
"""The label on which the facts still wait for the maker."""


def register() -> None:
    """Add the chapter to the demo."""
    demo_chapters.add(DemoChapter("Labels", 20, build))


def build(by: By, kept: dict[str, Any], say: Callable[[str], None]) -> None:
    """A label of each product for the EU and the US. Fills ``kept["issues"]``, by product."""
    house: DemoHouse = kept["house"]
    house.clock.to_day(-426, 13)
    issues: dict[int, list[LabelIssue]] = {}
    drafts = 0
    for key, product in kept["products"].items():
        for market in ("EU", "US"):
            house.clock.forward(900)
            label = draft_label(by, product=product, market=market, **texts_for(key, market))
            if (key, market) == LEFT_A_DRAFT:
                drafts += 1
                continue
            issues.setdefault(product.pk, []).append(approved(by, label))
    kept["issues"] = issues
    house.when_packed.append(lambda pack: put_on(kept, pack))
    say(f"{sum(len(one) for one in issues.values())} approved")
    say(f"{drafts} draft that waits for its facts")


def texts_for(key: str, market: str) -> dict[str, str]:
    """What the workshop writes besides what is known of the product."""
    texts = {"origin": "Made in Ireland"} if market == "US" else {}
    if key == "cream":
        texts["extra"] = "Keep cool."
    return texts


def approved(by: By, label: Label) -> LabelIssue:
    """Confirm what is known from memory, judge what depends on the product, approve."""
    paper = assemble_one(label)
    assert paper is not None  # noqa: S101 - every product of the demo has an approved formula
    if paper.waiting:
        confirm_all(by, label=label, facts=[(fact.key, fact.text) for fact in paper.waiting], basis=CHECKED)
    for caution in paper.open_cautions:
        why = "Looked at for this product: what the sentence speaks of is not in it, or not used that way."
        judge_caution(by, label=label, key=caution.key, why=why)
    return approve_label(by, label=label)


def put_on(kept: dict[str, Any], pack: Pack) -> None:
    """Labels are printed and put on what was just filled."""
    house: DemoHouse = kept["house"]
    for issue in kept["issues"].get(pack.product_id, []):
        house.clock.forward(120)
        spoiled = house.chance.randrange(0, 3)
        if issue.label.market == "EU":
            printed = pack.units + spoiled
            print_run(house.worker, issue=issue, batch=pack.batch, printed=printed, spoiled=spoiled)
        apply_label(house.worker, pack=pack, issue=issue)
