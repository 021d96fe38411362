"""Doors that lead in: home, health, signing in and out, the guided start, one's own account."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login, update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.contrib.auth.views import LoginView, LogoutView
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_GET, require_http_methods, require_safe

from makers.actions.house import open_maker
from makers.forms import cutoff
from makers.forms.house import CountryForm, PasswordChangeForm, SetupForm, SignInForm
from makers.forms.refusals import show_refusal
from makers.models import Maker, Membership, User
from makers.rules import places

BACKEND = "django.contrib.auth.backends.ModelBackend"


@require_safe
def health(request: HttpRequest) -> HttpResponse:
    """Answer 200 while the application runs and reaches its database."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return HttpResponse("well\n", content_type="text/plain")


@require_GET
def home(request: HttpRequest) -> HttpResponse:
    """Lead to Today, to a choice of workshops, to the guided start, or to signing in."""
    if not request.user.is_authenticated:
        return redirect("setup" if not Maker.objects.exists() else "sign-in")
    memberships = list(
        Membership.objects.filter(user=request.user, active=True)
        .select_related("maker")
        .order_by("maker__trading_name")
    )
    if len(memberships) == 1:
        return redirect("house:today", maker=memberships[0].maker.slug)
    return render(request, "makers/workshops.html", {"memberships": memberships})


def email_tried(request: HttpRequest, credentials: dict[str, Any] | None) -> str:
    """The e-mail whose wrong tries are counted, in any case of letters. The sign-in form calls it username."""
    asked = credentials or request.POST
    return str(asked.get("username") or asked.get("email") or "").strip().casefold()


class SignIn(LoginView):
    """Signing in; wrong tries are counted in the database and locked out after five."""

    template_name = "makers/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The demo says how to get in; who was sent here with a form is told what became of it."""
        demo = Maker.objects.filter(is_demo=True).exists()
        found = super().get_context_data(**kwargs, is_demo=demo, is_new=not Maker.objects.exists())
        came = cutoff.match_of(str(found.get("next") or ""))
        if came is not None and came.view_name == "house:typed":
            return {**found, "ran_out": True, "cut": cutoff.find(self.request)}
        return found


class SignOut(LogoutView):
    """Signing out, by POST."""

    next_page = settings.LOGOUT_REDIRECT_URL

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> Any:
        """Sign out; a form that waited for this browser goes too."""
        if cut := cutoff.find(request):
            cutoff.drop(cut)
        return super().post(request, *args, **kwargs)


@require_http_methods(["GET", "POST"])
def setup(request: HttpRequest) -> HttpResponse:
    """The guided start of an empty database: country first, then the first owner and the workshop."""
    if Maker.objects.exists():
        return redirect("home")
    if request.method == "POST":
        form = SetupForm(request.POST, maker=None)
        if form.is_valid():
            try:
                user = begin(form)
            except ValidationError as refusal:
                show_refusal(form, refusal)
            else:
                login(request, user, backend=BACKEND)
                messages.success(request, "Your book is open. The list below says what comes next.")
                return redirect("home")
        return render(request, "makers/setup.html", {"form": form, "step": 2})
    asked = CountryForm(request.GET or None, maker=None)
    if not request.GET or not asked.is_valid():
        return render(request, "makers/setup.html", {"form": asked, "step": 1})
    country = asked.cleaned_data["country"]
    return render(
        request, "makers/setup.html", {"form": SetupForm(initial=usual(country), maker=None), "step": 2}
    )


def usual(country: str) -> dict[str, Any]:
    """What is usual in a country, as a start to change."""
    return {
        "country": country,
        "currency": places.usual_currency(country),
        "time_zone": places.usual_zone(country),
        "locale": places.usual_style(country),
        "markets": places.usual_markets(country),
    }


@transaction.atomic
def begin(form: SetupForm) -> User:
    """Make the first owner and the workshop."""
    if Maker.objects.exists():
        raise ValidationError("Somebody else opened a book here a moment ago. Sign in instead.")
    data = form.cleaned_data
    user = User.objects.create_user(data["email"], data["password"], name=data["your_name"])
    open_maker(
        user=user,
        trading_name=data["trading_name"],
        legal_name=data["legal_name"],
        address=data["address"],
        reactions_email=data["reactions_email"],
        country=data["country"],
        currency=data["currency"],
        time_zone=data["time_zone"],
        locale=data["locale"],
        markets=data["markets"],
        scales=form.scales(),
    )
    return user


@login_required
@require_http_methods(["GET", "POST"])
def account(request: HttpRequest) -> HttpResponse:
    """One's own password."""
    user = request.user
    assert isinstance(user, User)  # noqa: S101 - login_required saw to it
    form = PasswordChangeForm(request.POST or None, maker=None, user=user)
    if request.method == "POST" and form.is_valid():
        user.set_password(form.cleaned_data["new"])
        user.save(update_fields=["password"])
        update_session_auth_hash(request, user)
        messages.success(request, "Your new password is in force.")
        return redirect("account")
    return render(request, "makers/account.html", {"form": form})
