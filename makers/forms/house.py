"""Forms of the house: signing in, the guided start, settings, members, scales."""

from __future__ import annotations

from typing import Any
from zoneinfo import available_timezones

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.contrib.auth.password_validation import validate_password

from makers.forms.base import HouseRenderer, MakerForm, MakerModelForm
from makers.forms.fields import GramsTextField, NameField, WordsField
from makers.forms.seen import SeenForm, mark_of
from makers.forms.sentences import speak
from makers.models import Maker, Market, Role, Scale, User
from makers.rules import places
from makers.rules.display import in_mark
from makers.rules.reading import decimal_mark


def zone_choices() -> list[tuple[str, str]]:
    """Every time zone known here, by name."""
    return [
        (zone, zone.replace("_", " "))
        for zone in sorted(available_timezones())
        if "/" in zone or zone == "UTC"
    ]


class SignInForm(AuthenticationForm):
    """E-mail and password, with sentences of the house."""

    default_renderer = HouseRenderer
    use_required_attribute = False
    error_messages = {
        "invalid_login": "That password and e-mail don't go together.",
        "inactive": "This account was closed. An owner of the workshop can open it again.",
    }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.label_suffix = ""
        self.fields["username"].label = "E-mail"
        self.fields["username"].widget = forms.EmailInput(
            attrs={"autocomplete": "username", "autofocus": True}
        )
        speak(self.fields["username"], "Write your e-mail here.")
        speak(self.fields["password"], "Write your password here.")
        self.fields["password"].widget.attrs["autocomplete"] = "current-password"

    def clean_username(self) -> str:
        """E-mails are kept in lower case."""
        return str(self.cleaned_data["username"]).strip().lower()


class CountryForm(MakerForm):
    """The first question of the guided start: the answer fills in the rest."""

    country = forms.ChoiceField(label="Where is your workshop?")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["country"].choices = [("", "Choose a country"), *places.countries()]  # type: ignore[attr-defined]  # a ChoiceField


class SetupForm(MakerForm):
    """The guided start: the first owner and the workshop."""

    your_name = NameField(label="Your name", max_length=120)
    email = forms.EmailField(label="E-mail", widget=forms.EmailInput(attrs={"autocomplete": "username"}))
    password = forms.CharField(
        label="Password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
        help_text="Ten signs or more. It signs releases, so nobody else should know it.",
    )
    trading_name = NameField(label="Name of the workshop", max_length=120)
    legal_name = NameField(
        label="Name on labels",
        max_length=160,
        required=False,
        help_text="If the law asks for another than above.",
    )
    address = WordsField(label="Address on labels", required=False)
    reactions_email = forms.EmailField(
        label="E-mail for reactions", required=False, help_text="US labels need a way to reach you."
    )
    markets = forms.MultipleChoiceField(
        label="Sold to", choices=Market.choices, widget=forms.CheckboxSelectMultiple
    )
    country = forms.ChoiceField(label="Country")
    currency = forms.CharField(label="Currency", max_length=3, min_length=3)
    time_zone = forms.ChoiceField(label="Time zone")
    locale = forms.ChoiceField(label="How you write numbers")
    scale_name = NameField(label="Your scale", max_length=60, initial="Bench scale")
    scale_step = GramsTextField(
        label="It shows steps of",
        above=0,
        least=None,
        help_text="0.1 on most kitchen scales, 0.01 on a small one.",
    )
    scale_most = GramsTextField(label="It carries up to", above=0, least=None)
    second_name = NameField(label="A finer scale", max_length=60, required=False)
    second_step = GramsTextField(label="Its steps", required=False, above=0, least=None)
    second_most = GramsTextField(label="It carries up to ", required=False, above=0, least=None)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["country"].choices = places.countries()
        fields["time_zone"].choices = zone_choices()
        fields["locale"].choices = places.number_styles()
        style = (self.data.get("locale") if self.is_bound else None) or self.initial.get("locale") or "en_IE"
        known = {code for code, _ in places.number_styles()}
        for name in ("scale_step", "scale_most", "second_step", "second_most"):
            fields[name].locale = style if style in known else "en_IE"
        step = fields["scale_step"]
        step.help_text = in_mark(step.help_text, decimal_mark(step.locale))

    def clean_email(self) -> str:
        """An e-mail that has no account yet."""
        email = str(self.cleaned_data["email"]).lower()
        if User.objects.filter(email=email).exists():
            raise forms.ValidationError("That e-mail has an account already. Sign in with it.")
        return email

    def clean_password(self) -> str:
        """A password that the rules let pass."""
        password = str(self.cleaned_data["password"])
        validate_password(
            password, User(email=self.data.get("email", ""), name=self.data.get("your_name", ""))
        )
        return password

    def clean_currency(self) -> str:
        """A currency code in capitals."""
        currency = str(self.cleaned_data["currency"]).upper()
        if not currency.isalpha():
            raise forms.ValidationError("Three letters, like EUR or USD.")
        return currency

    def clean(self) -> dict[str, Any]:
        """Steps smaller than what the scale carries; a second scale whole or not at all."""
        data = super().clean() or self.cleaned_data
        for step, most in (("scale_step", "scale_most"), ("second_step", "second_most")):
            if data.get(step) and data.get(most) and data[step] >= data[most]:
                self.add_error(step, "The step is smaller than the most the scale carries.")
        second = [data.get("second_name"), data.get("second_step"), data.get("second_most")]
        if any(second) and not all(second):
            self.add_error("second_name", "A second scale needs its name, its steps and the most it carries.")
        return data

    def scales(self) -> list[tuple[str, Any, Any]]:
        """(name, step, most) of each scale."""
        data = self.cleaned_data
        found = [(data["scale_name"], data["scale_step"], data["scale_most"])]
        if data.get("second_name"):
            found.append((data["second_name"], data["second_step"], data["second_most"]))
        return found


class SettingsForm(SeenForm, MakerModelForm):
    """What labels, numbers and days go by."""

    markets = forms.MultipleChoiceField(
        label="Sold to", choices=Market.choices, widget=forms.CheckboxSelectMultiple
    )
    country = forms.ChoiceField(label="Country")
    time_zone = forms.ChoiceField(label="Time zone")
    locale = forms.ChoiceField(label="How you write numbers")

    class Meta:
        model = Maker
        fields = (
            "trading_name", "legal_name", "address", "country", "reactions_email", "reactions_phone", "website",
            "markets", "currency", "time_zone", "locale", "works_alone",
        )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields: Any = self.fields
        fields["country"].choices = places.countries()
        fields["time_zone"].choices = zone_choices()
        fields["locale"].choices = places.number_styles()
        fields["works_alone"].label = "One person makes and judges here"
        fields[
            "works_alone"
        ].help_text = "A release then says so. Otherwise another member judges than the one who made."
        fields["website"].assume_scheme = "https"


class ScaleForm(MakerModelForm):
    """A scale."""

    class Meta:
        model = Scale
        fields = ("name", "readability_g", "capacity_g", "repeatability_g")
        labels = {
            "readability_g": "Shows steps of",
            "capacity_g": "Carries up to",
            "repeatability_g": "Repeats within",
        }


class ScaleCheckForm(MakerForm):
    """A test weight put on a scale."""

    weight_g = GramsTextField(label="Test weight", above=0, least=None)
    shown_g = GramsTextField(label="It showed")
    note = NameField(label="Note", max_length=200, required=False)


class MemberForm(MakerForm):
    """A new member."""

    name = NameField(label="Name", max_length=120)
    email = forms.EmailField(label="E-mail")
    role = forms.ChoiceField(label="Role", choices=Role.choices, initial=Role.WORKER)
    password = forms.CharField(
        label="First password",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}, render_value=True),
        help_text="Tell it to them yourself; a known account keeps its own.",
    )

    def clean_password(self) -> str:
        """A password that the rules let pass."""
        password = str(self.cleaned_data["password"])
        validate_password(password)
        return password


class MemberChangeForm(SeenForm, MakerForm):
    """A member's role, or the end of a membership."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    active = forms.BooleanField(label="Is a member", required=False)


class ResponsibleForm(SeenForm, MakerForm):
    """Who answers in a market; made with who answers there now, if anybody does."""

    unseen = frozenset({"market"})

    market = forms.ChoiceField(label="Market", choices=Market.choices)
    name = NameField(label="Name", max_length=160)
    address = WordsField(label="Address")
    contact = NameField(label="Contact", max_length=160, required=False)

    def said(self, name: str, seen: str) -> str:
        """As everywhere; of somebody whom the form didn't show because another market was chosen, who that is."""
        words = super().said(name, seen)
        if name != "name" or not words or seen != mark_of(""):
            return words
        where = Market(self.cleaned_data["market"]).label
        return f"{self.now(name)} answers for {where} now. Send it again to put this in that place."


class PasswordChangeForm(MakerForm):
    """One's own password."""

    old = forms.CharField(
        label="Password now",
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    new = forms.CharField(
        label="New password", strip=False, widget=forms.PasswordInput(attrs={"autocomplete": "new-password"})
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)

    def clean_old(self) -> str:
        """The password in force."""
        old = str(self.cleaned_data["old"])
        if not self.user.check_password(old):
            raise forms.ValidationError("That is not the password in force.")
        return old

    def clean_new(self) -> str:
        """A password that the rules let pass."""
        new = str(self.cleaned_data["new"])
        validate_password(new, self.user)
        return new
