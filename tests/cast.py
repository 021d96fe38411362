"""The small fixed cast of the tests: a maker with an owner, a worker and a reader; a stranger with another maker.

Factories build the smallest valid records; a test that needs more says so itself.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from decimal import Decimal

from makers.actions.by import By
from makers.models import JournalHead, Maker, Membership, Role, Scale, User

PASSWORD = "marsh-samphire-19"
_numbers = itertools.count(1)


def make_user(name: str = "Nessa Quill") -> User:
    """A user with the cast's password."""
    return User.objects.create_user(f"user{next(_numbers)}@example.org", PASSWORD, name=name)


def make_maker(name: str = "", *, country: str = "IE", locale: str = "en_IE", **fields: object) -> Maker:
    """A maker with its journal head."""
    number = next(_numbers)
    maker = Maker.objects.create(
        slug=f"maker-{number}",
        trading_name=name or f"Saltmarsh Bench {number}",
        legal_name="Saltmarsh Bench Ltd",
        address="2 Tidegate Row\nEelmere",
        country=country,
        locale=locale,
        time_zone="Europe/Dublin",
        currency="EUR",
        markets=["EU", "US"],
        reactions_email="reactions@example.org",
        **fields,
    )
    JournalHead.objects.create(maker=maker)
    return maker


def make_member(maker: Maker, role: str = Role.OWNER, name: str = "Nessa Quill") -> By:
    """A member of a maker, ready to act."""
    user = make_user(name)
    Membership.objects.create(maker=maker, user=user, role=role)
    return By(maker=maker, user=user, role=role)


def make_scale(maker: Maker, step: str = "0.1", capacity: str = "6000", name: str = "") -> Scale:
    """A scale with a step and a capacity in grams."""
    return Scale.objects.create(
        maker=maker,
        name=name or f"Scale {step} g",
        readability_g=Decimal(step),
        capacity_g=Decimal(capacity),
    )


@dataclass(frozen=True)
class Cast:
    """Who stands on the stage."""

    maker: Maker
    owner: By
    worker: By
    reader: By
    stranger: By


def make_cast() -> Cast:
    """The maker with three members, and a stranger who owns another maker."""
    maker = make_maker("Cordgrass Workshop")
    return Cast(
        maker=maker,
        owner=make_member(maker, Role.OWNER, "Nessa Quill"),
        worker=make_member(maker, Role.WORKER, "Tam Reed"),
        reader=make_member(maker, Role.READER, "Orla Finch"),
        stranger=make_member(make_maker("Other House"), Role.OWNER, "Una Stranger"),
    )
