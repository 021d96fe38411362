"""Fetching a label through its maker."""

from __future__ import annotations

from django.http import Http404
from django.shortcuts import get_object_or_404

from labels.models import Label
from makers.http import MakerRequest, address


def fetch_label(request: MakerRequest, code: str, key: str) -> Label:
    """The maker's label by product code and "EU-en"; 404 otherwise."""
    market, _, language = key.partition("-")
    if not language:
        raise Http404
    rows = Label.objects.for_maker(request.maker).select_related("product__formula", "maker")
    found: Label = get_object_or_404(rows, product__code=code, market=market, language=language)
    return found


def url_of(label: Label, view: str = "label", **more: str) -> str:
    """An address of a label."""
    return address(label.maker, f"labels:{view}", code=label.product.code, key=label.address_key, **more)
