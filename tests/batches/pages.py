"""Asking for pages of the batches world, and reading them."""

from __future__ import annotations

import re
from html import unescape
from typing import Any

from django.test import Client

from batches.models import Batch
from makers.actions import By
from makers.http import address


def url(by: By, name: str, **kwargs: Any) -> str:
    """An address of the batches world below the maker."""
    return address(by.maker, f"batches:{name}", **kwargs)


def text_of(response: Any) -> str:
    """A page as it is read: tags out, every kind of blank one blank."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", response.content.decode())).split())


def act_on(client: Client, by: By, batch: Batch, name: str, **fields: Any) -> Any:
    """Send one act of a batch's record."""
    data = {f"{name}-{key}" if not key.startswith("point") else key: value for key, value in fields.items()}
    data = {key.replace("point_", "point-"): value for key, value in data.items()}
    return client.post(url(by, "batch-act", code=batch.code, act=name), data)
