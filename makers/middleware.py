"""The current maker: taken from the address, checked against the user's memberships."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import BadRequest, PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone

from makers.actions.by import By
from makers.forms import cutoff, keeping, locale
from makers.http import moved_on, wants_fragment
from makers.models import Maker, Membership, OldSlug, Role

SAFE = {"GET", "HEAD", "OPTIONS"}
ZERO = "\x00"
NOT_TAKEN, FAULT = 405, 500


class MakerMiddleware:
    """For every address below a maker: 404 unless the user is a member, 403 for a reader who writes."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        try:
            response = self.get_response(request)
            if request.method == "POST" and hasattr(request, "maker") and response.status_code < FAULT:
                cutoff.arrived(request)
            return not_taken(request, response) if response.status_code == NOT_TAKEN else response
        finally:
            timezone.deactivate()
            locale.deactivate()
            keeping.deactivate()

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: dict[str, Any]
    ) -> HttpResponse | None:
        """Set ``request.maker``, ``request.membership`` and ``request.by``; views don't get the slug."""
        if "maker" not in kwargs:
            return None
        slug = kwargs.pop("maker")
        refuse_zero_bytes(request, kwargs)
        if not request.user.is_authenticated:
            return to_the_door(request, slug)
        membership = (
            Membership.objects.filter(user=request.user, active=True, maker__slug=slug)
            .select_related("maker", "user")
            .first()
        )
        if membership is None:
            return self.moved(request, slug)
        maker: Maker = membership.maker
        if request.method not in SAFE and membership.role == Role.READER:
            raise PermissionDenied("Your role here is to read.")
        request.maker = maker  # type: ignore[attr-defined]  # see makers.http.MakerRequest
        request.membership = membership  # type: ignore[attr-defined]  # see makers.http.MakerRequest
        request.by = By(  # type: ignore[attr-defined]  # see makers.http.MakerRequest
            maker=maker, user=membership.user, role=membership.role, device=device_of(request)
        )
        timezone.activate(ZoneInfo(maker.time_zone))
        locale.activate(maker.locale)
        keeping.activate(maker.uuid, membership.user.uuid)
        return None

    def moved(self, request: HttpRequest, slug: str) -> HttpResponse:
        """Lead an old address to the new one, for members alone; everything else isn't there."""
        old = OldSlug.objects.filter(slug=slug).select_related("maker").first()
        member = (
            old and Membership.objects.filter(user=request.user.pk, active=True, maker=old.maker).exists()
        )
        if old is None or not member or request.method not in SAFE:
            raise Http404
        path = request.get_full_path().replace(f"/{slug}/", f"/{old.maker.slug}/", 1)
        return HttpResponseRedirect(path)


def to_the_door(request: HttpRequest, slug: str) -> HttpResponse:
    """Lead whoever isn't signed in to the sign-in; the text of a form is kept and shown again behind it.

    What a script sends stays on its page, which is told.
    """
    if request.headers.get("Accept", "").startswith("application/json"):
        return JsonResponse({"written": False, "signed_out": True}, status=401)
    is_fragment = wants_fragment(request)
    if is_fragment and request.method not in SAFE:
        return HttpResponse("Nobody is signed in here any more.", status=403, content_type="text/plain")
    door, kept = reverse(settings.LOGIN_URL), None
    back = request.get_full_path()
    if is_fragment:
        back = cast(Any, request).htmx.current_url_abs_path or back
    elif request.method == "POST":
        kept = cutoff.keep(request, slug)
        back = reverse("house:typed", kwargs={"maker": slug})
    target = f"{door}?{urlencode({'next': back})}"
    response = moved_on(target, request) if is_fragment else HttpResponseRedirect(target)
    if kept is not None:
        cutoff.hand_over(response, kept)
    return response


def not_taken(request: HttpRequest, response: HttpResponse) -> HttpResponse:
    """Instead of an empty page at an address that only takes forms: on to the page above it, or a page of ours."""
    above = cutoff.nearest_page(request.path) if hasattr(request, "maker") else ""
    if above and request.method in ("GET", "HEAD"):
        messages.info(request, "Nothing was written down: that address only takes what a form sends.")
        return HttpResponseRedirect(above)
    page = render(request, "405.html", {"above": above}, status=NOT_TAKEN)
    page["Allow"] = response.get("Allow", "")
    return page


def refuse_zero_bytes(request: HttpRequest, kwargs: dict[str, Any]) -> None:
    """Turn away what no keyboard types and PostgreSQL does not store: 404 in an address, 400 in a form."""
    asked = [str(value) for value in kwargs.values()]
    asked += [value for _, values in request.GET.lists() for value in values]
    if any(ZERO in value for value in asked):
        raise Http404
    if any(ZERO in value for _, values in request.POST.lists() for value in values):
        raise BadRequest("A sign in this form can't be stored. Type it again.")


def device_of(request: HttpRequest) -> str:
    """A short word for the device, for the journal."""
    agent = request.headers.get("User-Agent", "")
    if "Mobi" in agent or "Android" in agent:
        return "phone"
    return "computer" if agent else ""
