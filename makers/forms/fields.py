"""Form fields that read what makers type and say, beside the field, what stands there and what to do.

Every field keeps what was typed. A refusal of ``makers.rules`` becomes the field's sentence; its suggestions
are in the error's ``params["suggestions"]``.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from makers.forms.keeping import GONE, KeepingFileInput, KeptUpload, Missing, kind_in
from makers.forms.locale import current_locale
from makers.rules.days import read_day
from makers.rules.display import day_iso, plural
from makers.rules.files import MOST_BYTES, FileKind
from makers.rules.reading import (
    MASS_UNITS,
    VOLUME_UNITS,
    Amount,
    Refusal,
    as_typed,
    out_of_bounds,
    quoted,
    read_decimal,
)

CODE_PATTERN = re.compile(r"[A-Za-z0-9._-]{1,20}\Z", re.ASCII)


def refused(refusal: Refusal) -> ValidationError:
    """The refusal as Django carries it."""
    return ValidationError(
        "%(sentence)s",
        code="refused",
        params={"sentence": refusal.sentence, "suggestions": refusal.suggestions},
    )


class NumberInput(forms.TextInput):
    """A text field with a number pad; ``type=number`` would hide from us what was typed."""

    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", "class": "short", **(attrs or {})})


class DecimalTextField(forms.Field):
    """A Decimal, read strictly in the maker's locale. Cleaned value: Decimal, or None when left empty.

    places: most decimals that are kept; more are refused, never rounded. least, most: bounds that still fit;
    above: a bound that doesn't. unit: shown after the field, accepted when typed. locale: set by the form.
    """

    widget: Any = NumberInput

    def __init__(
        self,
        *,
        places: int = 4,
        least: Decimal | int | None = None,
        most: Decimal | int | None = None,
        above: Decimal | int | None = None,
        unit: str = "",
        locale: str = "",
        missing: str = "",
        **kwargs: Any,
    ) -> None:
        self.places = places
        self.least = None if least is None else Decimal(least)
        self.most = None if most is None else Decimal(most)
        self.above = None if above is None else Decimal(above)
        self.unit = unit
        self.locale = locale
        self.missing = missing
        super().__init__(**kwargs)

    @property
    def reads_as(self) -> str:
        """The locale in which this field reads."""
        return self.locale or current_locale()

    def to_python(self, value: Any) -> Decimal | None:
        """Read the text. Raises ValidationError with the sentence of the refusal."""
        if value in self.empty_values or (isinstance(value, str) and not value.strip()):
            return None
        if isinstance(value, (Decimal, int)):
            return Decimal(value)
        found = read_decimal(str(value), self.reads_as, unit=self.unit)
        if isinstance(found, Refusal):
            raise refused(found)
        wrong = out_of_bounds(
            found,
            self.reads_as,
            places=self.places,
            least=self.least,
            most=self.most,
            above=self.above,
            unit=self.unit,
        )
        if wrong is not None:
            raise refused(wrong)
        return found

    def prepare_value(self, value: Any) -> Any:
        """A Decimal as it would be typed; a text as it was typed."""
        return as_typed(value, self.reads_as) if isinstance(value, Decimal) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return self.to_python(initial) != self.to_python(data)
        except ValidationError:
            return True


class PercentTextField(DecimalTextField):
    """Percent from 0 to 100."""

    def __init__(self, *, places: int = 8, **kwargs: Any) -> None:
        super().__init__(places=places, **{"least": 0, "most": 100, "unit": "%", **kwargs})


class GramsTextField(DecimalTextField):
    """Grams, 0 or more, at most ten tonnes."""

    def __init__(self, *, places: int = 4, **kwargs: Any) -> None:
        super().__init__(places=places, **{"least": 0, "most": 10_000_000, "unit": "g", **kwargs})


class CountField(DecimalTextField):
    """A whole number of things. Cleaned value: int, or None when left empty."""

    def __init__(self, *, least: int = 0, most: int = 1_000_000, **kwargs: Any) -> None:
        super().__init__(places=0, least=least, most=most, **kwargs)
        self.widget.attrs["inputmode"] = "numeric"

    def to_python(self, value: Any) -> Any:
        """Read the text as a whole number."""
        found = super().to_python(value)
        return None if found is None else int(found)


class AmountInput(forms.MultiWidget):
    """An amount and its unit side by side."""

    template_name = "parts/amount_input.html"

    def __init__(self, units: Sequence[str]) -> None:
        super().__init__(
            {
                "amount": NumberInput({"aria-label": "Amount"}),
                "unit": forms.Select({"aria-label": "Unit", "class": "unit"}, [(one, one) for one in units]),
            }
        )

    def decompress(self, value: Any) -> list[Any]:
        """An Amount taken apart; nothing for nothing."""
        return [value.amount, value.unit] if isinstance(value, Amount) else [None, None]


class NumberAndUnitField(forms.MultiValueField):
    """A figure, read by the maker's locale, and a unit beside it."""

    @property
    def number(self) -> DecimalTextField:
        """The field of the amount alone."""
        return cast(DecimalTextField, self.fields[0])

    @property
    def locale(self) -> str:
        """The locale in which the amount is read."""
        return self.number.locale

    @locale.setter
    def locale(self, locale: str) -> None:
        self.number.locale = locale


class AmountField(NumberAndUnitField):
    """A quantity as entered. Cleaned value: ``Amount`` (amount, unit; ``.grams``, ``.millilitres``) or None.

    units: which of g, kg, mg, oz, lb, ml, l, fl oz to offer. places, least, above, most: of the amount in the
    unit chosen.
    """

    def __init__(
        self,
        *,
        units: Sequence[str] = tuple(MASS_UNITS),
        places: int = 6,
        least: Decimal | int | None = None,
        above: Decimal | int | None = 0,
        most: Decimal | int | None = 10_000_000,
        missing: str = "",
        **kwargs: Any,
    ) -> None:
        unknown = [one for one in units if one not in MASS_UNITS and one not in VOLUME_UNITS]
        if unknown:
            raise ValueError(f"{unknown} are not among the units that are read")
        self.missing = missing
        number = DecimalTextField(places=places, least=least, above=above, most=most, required=False)
        fields = (number, forms.ChoiceField(choices=[(one, one) for one in units], required=False))
        super().__init__(fields, widget=AmountInput(units), require_all_fields=False, **kwargs)

    def clean(self, value: Any) -> Any:
        """Read amount and unit; an empty amount is no amount, whatever the unit says."""
        parts = list(value or [])
        typed, unit = [*parts, None, None][:2]
        if typed is None or not str(typed).strip():
            if self.required:
                raise ValidationError(self.error_messages["required"], code="required")
            return None
        choice = self.fields[1].clean(unit)
        self.number.unit = choice
        amount = self.number.clean(typed)
        return Amount(amount, choice)

    def prepare_value(self, value: Any) -> Any:
        """An Amount as it would be typed."""
        if isinstance(value, Amount):
            return [self.number.prepare_value(value.amount), value.unit]
        return value

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(initial or None) != bool(self.clean(data)) or initial != self.clean(data)
        except ValidationError:
            return True


class DayField(forms.Field):
    """A day, typed. Cleaned value: ``date`` or None.

    month_end: a month without a day means its last day (dates printed on packs). A day that can be read in
    two ways is refused with both.
    """

    widget: Any = forms.TextInput

    def __init__(self, *, month_end: bool = False, missing: str = "", **kwargs: Any) -> None:
        self.month_end = month_end
        self.missing = missing
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("class", "short")
        self.widget.attrs.setdefault("autocomplete", "off")

    def to_python(self, value: Any) -> date | None:
        """Read the text. Raises ValidationError with the sentence of the refusal."""
        if isinstance(value, date):
            return value
        if value in self.empty_values or not str(value).strip():
            return None
        found = read_day(str(value), month_end=self.month_end)
        if isinstance(found, Refusal):
            raise refused(found)
        return found

    def prepare_value(self, value: Any) -> Any:
        """A date as 2026-11-25; a text as it was typed."""
        return day_iso(value) if isinstance(value, date) else value

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return self.to_python(initial) != self.to_python(data)
        except ValidationError:
            return True


def tidy(text: str, *, lines: bool = False) -> str:
    """NFC, no control or direction characters, blanks single (or lines kept); joiners inside words stay."""
    text = unicodedata.normalize("NFC", text)
    if lines:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(
        mark
        for mark in text
        if (lines and mark in "\n\t")
        or mark.isspace()
        or unicodedata.category(mark) not in {"Cc", "Cs", "Cn", "Co"}
    )
    kept = re.sub("[\u202a-\u202e\u2066-\u2069\ufeff]", "", kept)
    if lines:
        return "\n".join(" ".join(line.split()) for line in kept.split("\n")).strip("\n")
    return " ".join(kept.split())


def visible(text: str) -> bool:
    """True when something of the text can be seen."""
    return any(unicodedata.category(mark)[0] in "LNPS" for mark in text)


class NameField(forms.CharField):
    """A name in any script, on one line. Control and direction characters are taken out."""

    lines = False

    def __init__(self, *, missing: str = "", **kwargs: Any) -> None:
        self.missing = missing
        kwargs.setdefault("max_length", 120)
        super().__init__(**kwargs)
        self.validators = [one for one in self.validators if getattr(one, "code", "") != "max_length"]
        self.widget.attrs.pop("maxlength", None)

    def to_python(self, value: Any) -> str:
        """The tidy text. Raises ValidationError when it is too long or nothing of it can be seen."""
        if value in self.empty_values:
            return ""
        text = tidy(str(value), lines=self.lines)
        if text and not visible(text):
            raise ValidationError("Only invisible characters stand here. Write it out.", code="invisible")
        most = self.max_length
        if most is not None and len(text) > most:
            over = len(text) - most
            raise ValidationError(
                f"{len(text)} characters; {most} fit here. Take out {over} {plural(over, 'character')}.",
                code="max_length",
            )
        return text


class WordsField(NameField):
    """Several lines of text in any script."""

    lines = True
    widget: Any = forms.Textarea(attrs={"rows": 3})

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("max_length", 4000)
        super().__init__(**kwargs)


class CodeField(forms.CharField):
    """A code of the maker's own: letters without accents, figures, point, dash, underline; 1 to 20."""

    def __init__(self, *, missing: str = "", **kwargs: Any) -> None:
        self.missing = missing
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("class", "short")
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("spellcheck", "false")

    def to_python(self, value: Any) -> str:
        """The code. Raises ValidationError with a sentence that names what doesn't fit."""
        if value in self.empty_values or not str(value).strip():
            return ""
        text = str(value).strip()
        if CODE_PATTERN.match(text):
            return text
        if len(text) > 20:
            raise ValidationError(f"{len(text)} characters; a code has 20 at most.", code="length")
        odd = next(mark for mark in text if not CODE_PATTERN.match(mark))
        what = "a space" if odd.isspace() else quoted(odd) if odd.isprintable() else "an invisible character"
        raise ValidationError(
            f"{quoted(text)} has {what} in it. A code takes A to Z, 0 to 9, point, dash and underline.",
            code="pattern",
        )


class PaperField(forms.FileField):
    """A photo or PDF, told by its content. Cleaned value: the upload, with ``.kind`` (``FileKind``) set.

    Its ``content_type`` is the one that was found, never the one the browser claimed. A file that holds up is
    kept when its form comes back (``makers.forms.keeping``).
    """

    widget: Any = KeepingFileInput(attrs={"accept": "application/pdf,image/jpeg,image/png,image/webp"})

    def __init__(self, *, most: int = MOST_BYTES, missing: str = "", **kwargs: Any) -> None:
        self.most = most
        self.missing = missing
        kwargs.setdefault("help_text", f"Photo or PDF, {most // 1_000_000} MB at most.")
        super().__init__(**kwargs)
        self.widget.most = most

    def to_python(self, data: Any) -> Any:
        """The upload with its kind. Raises ValidationError with a sentence that says what the file is."""
        if isinstance(data, Missing):
            raise ValidationError(f"{GONE}{'.' if self.required else ', or go on without it.'}", code="gone")
        if data in self.empty_values or isinstance(data, KeptUpload):
            return data or None
        if not isinstance(data, UploadedFile):
            return super().to_python(data)
        found = kind_in(data, self.most)
        if isinstance(found, Refusal):
            raise refused(found)
        kept: Any = data
        kept.kind = found
        kept.content_type = found.media_type
        return kept

    def bound_data(self, data: Any, initial: Any) -> Any:
        """What was chosen, so that it is shown, and thereby kept, when the form comes back."""
        return initial if data is None else data


def kind_of(upload: Any) -> FileKind:
    """The kind that ``PaperField`` found for an upload."""
    kind: FileKind = upload.kind
    return kind
