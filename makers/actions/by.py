"""Who acts, for which maker, by which clock; and how an action refuses."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime

from django.core.exceptions import PermissionDenied, ValidationError
from django.utils import timezone

from makers.models import Maker, Role, User

WRITERS = (Role.OWNER, Role.WORKER)
OWNERS = (Role.OWNER,)


@dataclass(frozen=True, slots=True)
class By:
    """The acting member. ``clock`` differs from the server's only while the demo is built."""

    maker: Maker
    user: User
    role: str
    device: str = ""
    clock: Callable[[], datetime] = timezone.now
    clock_name: str = "server"

    def now(self) -> datetime:
        """The aware time at which something is written down."""
        return self.clock()

    def today(self) -> date:
        """The maker's local date."""
        return self.now().astimezone(self.maker.zone).date()

    def must_be(self, roles: tuple[str, ...]) -> None:
        """Raise PermissionDenied unless the member's role is one of ``roles``."""
        if self.role not in roles:
            raise PermissionDenied("Your role here is to read.")


class Refused(ValidationError):
    """An action that won't be done, with the sentence that says what to do.

    Made with a sentence, or with a dict of field name to sentence(s). line: which of several that were handed over
    it speaks of, from 0; None for all of them.
    """

    line: int | None = None


def happened(by: By, occurred_at: datetime | None) -> datetime:
    """When something happened: now unless given; a time to come is refused."""
    now = by.now()
    if occurred_at is None:
        return now
    if occurred_at > now:
        local = occurred_at.astimezone(by.maker.zone)
        raise Refused(
            {"occurred_at": f"{local:%Y-%m-%d %H:%M} is still to come. Write down what has happened."}
        )
    return occurred_at
