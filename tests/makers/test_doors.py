"""Signing in: wrong tries are counted by account and address, and wait a quarter of an hour."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client

from tests.cast import PASSWORD, Cast

pytestmark = pytest.mark.django_db
WRONG = "not-" + PASSWORD
START = datetime(2026, 6, 1, 9, 0, tzinfo=UTC)


def try_in(client: Client, email: str, password: str = WRONG) -> Any:
    """Send the form."""
    return client.post("/sign-in/", {"username": email, "password": password})


def test_five_wrong_tries_shut_the_account_and_no_other(client: Client, cast: Cast) -> None:
    """Also against the right password, and in any case of letters; the tries of one are not those of another."""
    owner, worker = cast.owner.user.email, cast.worker.user.email
    with time_machine.travel(START, tick=False) as clock:
        tries = [try_in(client, email) for email in (owner, owner.upper(), owner, owner.title(), owner)]
        shut = try_in(client, owner, PASSWORD)
        other = try_in(client, worker)
        clock.shift(timedelta(minutes=14))
        still = try_in(client, owner, PASSWORD)
        clock.shift(timedelta(minutes=16))
        again = try_in(client, owner, PASSWORD)

    assert [answer.status_code for answer in tries] == [200, 200, 200, 200, 429]
    assert shut.status_code == still.status_code == 429
    assert "Wait a quarter of an hour" in shut.content.decode()
    assert owner in shut.content.decode()
    assert other.status_code == 200
    assert again.status_code == 302


def test_the_right_password_forgets_the_wrong_tries(client: Client, cast: Cast) -> None:
    """Four and four with a good one between shut nothing."""
    owner = cast.owner.user.email

    for _ in range(2):
        assert [try_in(client, owner).status_code for _ in range(4)] == [200] * 4
        assert try_in(client, owner, PASSWORD).status_code == 302
        client.logout()


def test_health_answers_a_question_for_the_head_alone(client: Client) -> None:
    """As monitors ask it."""
    assert client.head("/health/").status_code == 200
    assert client.post("/health/").status_code == 405
