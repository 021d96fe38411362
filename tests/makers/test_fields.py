"""Form fields: what was typed stays, and the sentence says what to do."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django import forms
from django.apps import apps
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from hypothesis import given
from hypothesis import strategies as st

from formulas.actions.ingredients import add_supplier
from makers.actions import By
from makers.forms.base import MakerForm, MakerFormSet, MakerModelForm, missing_sentence
from makers.forms.fields import (
    AmountField,
    CodeField,
    CountField,
    DayField,
    GramsTextField,
    NameField,
    PaperField,
    PercentTextField,
    WordsField,
    tidy,
)
from makers.forms.refusals import show_refusal
from makers.models import Maker, Scale
from makers.rules.files import PDF
from makers.rules.reading import Amount

IRISH = Maker(locale="en_IE")
GERMAN = Maker(locale="de_DE")


class MovementForm(MakerForm):
    """A form with one field of each kind."""

    missing = {"why": "Say why; it stays in the ledger."}
    percent = PercentTextField(required=False)
    grams = GramsTextField(required=False)
    count = CountField(required=False)
    amount = AmountField(units=("g", "kg", "oz", "fl oz"), required=False)
    expiry = DayField(month_end=True, required=False)
    code = CodeField(required=False)
    name = NameField(max_length=20)
    why = WordsField()
    paper = PaperField(required=False)


def filled(maker: Maker = IRISH, **data: Any) -> MovementForm:
    """The form with a name and a reason, and ``data`` on top."""
    files = {"paper": data.pop("paper")} if "paper" in data else {}
    return MovementForm({"name": "Shea", "why": "counted", **data}, files, maker=maker)


def sentence(name: str, value: Any, maker: Maker = IRISH) -> str:
    """The sentence beside a field that was refused."""
    form = filled(maker, **{name: value})
    assert name in form.errors, f"{value!r} was taken as {form.cleaned_data.get(name)!r}"
    return str(form.errors[name][0])


def cleaned(maker: Maker = IRISH, **data: Any) -> dict[str, Any]:
    """What a good form gives."""
    form = filled(maker, **data)
    assert form.is_valid(), form.errors
    return form.cleaned_data


def test_numbers_are_read_as_the_maker_writes_them() -> None:
    assert cleaned(percent="4.5")["percent"] == Decimal("4.5")
    assert cleaned(GERMAN, percent="4,5")["percent"] == Decimal("4.5")
    assert "Did you mean 4.5?" in sentence("percent", "4,5")
    assert "Did you mean 4,5?" in sentence("percent", "4.5", GERMAN)


@given(st.decimals(min_value=0, max_value=100, places=8, allow_nan=False))
def test_a_percent_shown_in_a_form_and_sent_back_is_the_same_percent(value: Decimal) -> None:
    for maker in (IRISH, GERMAN):
        shown = MovementForm(initial={"percent": value}, maker=maker)["percent"].value()
        assert cleaned(maker, percent=shown)["percent"] == value


def test_a_percent_over_100_below_0_or_too_fine_is_refused_and_at_100_it_fits() -> None:
    assert cleaned(percent="100")["percent"] == 100
    assert sentence("percent", "100.1") == "100.1\u00a0% is more than 100\u00a0%, the most that fits here."
    assert sentence("percent", "-1") == "−1\u00a0% is below 0\u00a0%, the least that fits here."
    assert "9 decimals" in sentence("percent", "0.000000001")


def test_an_empty_number_is_none_and_never_zero() -> None:
    assert cleaned(percent="  ", grams="", count="")["percent"] is None
    assert cleaned(grams="")["grams"] is None
    assert cleaned(count="")["count"] is None
    assert cleaned(amount_amount="", amount_unit="g")["amount"] is None


def test_a_count_is_whole() -> None:
    assert cleaned(count="1 200")["count"] == 1200
    assert "whole numbers are kept here" in sentence("count", "1.5")


def test_an_amount_keeps_what_was_entered() -> None:
    assert cleaned(amount_amount="1.5", amount_unit="kg")["amount"] == Amount(Decimal("1.5"), "kg")
    assert cleaned(amount_amount="8 oz", amount_unit="oz")["amount"] == Amount(Decimal(8), "oz")
    assert cleaned(amount_amount="2 fl oz", amount_unit="fl oz")["amount"] == Amount(Decimal(2), "fl oz")


def test_an_amount_whose_unit_was_typed_differently_is_refused() -> None:
    form = filled(amount_amount="12 kg", amount_unit="g")
    assert str(form.errors["amount"][0]) == "“12 kg” is in kg; this field is in g. That would be 12000 g."
    assert 'value="12 kg"' in str(form["amount"])


def test_two_forms_do_not_share_what_they_read() -> None:
    """Fields are copied per form: the locale of one maker can't leak into another's form."""
    german, irish = (
        filled(GERMAN, amount_amount="1,5", amount_unit="g"),
        filled(amount_amount="1.5", amount_unit="kg"),
    )
    assert irish.is_valid()
    assert german.is_valid()
    assert german.cleaned_data["amount"] == Amount(Decimal("1.5"), "g")


def test_a_day_is_read_or_refused_with_both_readings() -> None:
    assert cleaned(expiry="05/2028")["expiry"] == date(2028, 5, 31)
    assert "2026-05-04 or 2026-04-05" in sentence("expiry", "04/05/2026")


@pytest.mark.parametrize(
    ("code", "words"),
    [
        ("26 L079", "has a space in it"),
        ("26/L079", "has “/” in it"),
        ("é", "has “é” in it"),
        ("x" * 21, "21 characters; a code has 20 at most."),
    ],
)
def test_a_code_takes_what_a_scan_can_carry(code: str, words: str) -> None:
    assert words in sentence("code", code)


@pytest.mark.parametrize(
    "name", ["Seán Ó Faoláin", "Żółć", "Ольга", "渡辺", "نسا كويل", "O'Brien-Smith", "க்ஷ"]
)
def test_a_name_in_any_script_stays_as_it_is(name: str) -> None:
    assert cleaned(name=name)["name"] == name


def test_a_name_loses_control_and_direction_characters_and_keeps_its_words() -> None:
    assert tidy("Shea\u202e\x00 \t butter\u200b") == "Shea butter\u200b"
    assert cleaned(name=" Shea\x07  butter ")["name"] == "Shea butter"
    assert sentence("name", "\u200b\u200d") == "Only invisible characters stand here. Write it out."
    assert sentence("name", "x" * 22) == "22 characters; 20 fit here. Take out 2 characters."


@pytest.mark.parametrize(
    ("label", "sentence"),
    [
        ("Net quantity", "Write the net quantity here."),
        ("INCI name", "Write the INCI name here."),
        ("E-mail", "Write the E-mail here."),
        ("Why", "“Why” is empty. Write it here."),
        ("It carries up to", "“It carries up to” is empty. Write it here."),
        ("Fill each pack with", "“Fill each pack with” is empty. Write it here."),
        ("Your name", "“Your name” is empty. Write it here."),
    ],
)
def test_a_missing_answer_is_asked_for_in_a_whole_sentence(label: str, sentence: str) -> None:
    """A label that is no name of a thing is quoted: "write the why" is no English."""
    assert missing_sentence(forms.CharField(), label) == sentence


def test_a_missing_choice_and_a_missing_file_are_asked_for_as_what_they_are() -> None:
    assert missing_sentence(forms.ChoiceField(), "Container") == "Choose the container."
    assert missing_sentence(forms.ChoiceField(), "On the skin") == "“On the skin” is empty. Choose one."
    assert missing_sentence(forms.FileField(), "The sheet itself") == "Choose a file."


def test_several_lines_stay_lines() -> None:
    assert cleaned(why="one\r\n two  words \n")["why"] == "one\ntwo words"


def test_a_missing_answer_has_the_forms_own_sentence() -> None:
    form = MovementForm({}, maker=IRISH)
    assert form.errors["why"] == ["Say why; it stays in the ledger."]
    assert form.errors["name"] == ["Write the name here."]
    assert form.tally == (
        "Nothing is written down yet: Name and Why need a hand. What you typed is still here."
    )


def test_a_paper_is_known_by_its_content() -> None:
    good = SimpleUploadedFile("certificate.png", b"%PDF-1.7 ...", content_type="text/html")
    kept = cleaned(paper=good)["paper"]
    assert kept.kind == PDF
    assert kept.content_type == "application/pdf"
    assert kept.read(5) == b"%PDF-"
    bad = SimpleUploadedFile("certificate.pdf", b"<html>", content_type="application/pdf")
    assert sentence("paper", bad) == "This is a web page. Keep certificates as PDF or photo, 10 MB at most."


def test_what_was_typed_stays_and_its_sentence_belongs_to_the_field() -> None:
    text = str(filled(percent="1,5O"))
    assert 'value="1,5O"' in text
    assert 'aria-invalid="true"' in text
    assert 'aria-describedby="id_percent_error"' in text
    assert 'id="id_percent_error"' in text
    assert "ends in the letter O" in text


def test_nothing_typed_becomes_markup() -> None:
    text = str(filled(percent="<script>alert(1)</script>", name='"><img src=x>'))
    assert "<script" not in text
    assert "<img" not in text


def test_no_field_is_left_to_the_browsers_own_checks() -> None:
    text = str(MovementForm(maker=IRISH))
    assert " required" not in text
    assert 'type="number"' not in text
    assert "style=" not in text


def test_rows_of_forms_know_the_maker() -> None:
    rows: Any = forms.formset_factory(MovementForm, formset=MakerFormSet, extra=1)
    data = {"form-TOTAL_FORMS": "1", "form-INITIAL_FORMS": "0"}
    filled_rows = rows({**data, "form-0-name": "a", "form-0-why": "b", "form-0-percent": "4,5"}, maker=GERMAN)
    assert filled_rows.is_valid(), filled_rows.errors
    assert filled_rows.forms[0].cleaned_data["percent"] == Decimal("4.5")
    assert 'class="row-fields"' in str(filled_rows)


def test_a_model_form_reads_exact_columns_with_the_makers_fields() -> None:
    class ScaleForm(MakerModelForm):
        class Meta:
            model = Scale
            fields = ("name", "readability_g", "capacity_g")

    form = ScaleForm(maker=GERMAN)
    assert isinstance(form.fields["readability_g"], GramsTextField)
    assert isinstance(form.fields["name"], NameField)
    assert form.fields["readability_g"].clean("0,1") == Decimal("0.1")


def test_what_a_record_says_of_an_empty_field_is_said_in_the_forms_words() -> None:
    """A record's own sentence names a column; the form's says what to do."""
    form = filled()
    assert form.is_valid()
    show_refusal(
        form, ValidationError({"reason": [ValidationError("Blank.", code="blank")]}, None), {"reason": "why"}
    )

    assert form.errors == {"why": ["Say why; it stays in the ledger."]}


MADE_HERE = {"code", "number", "entry_key", "edit", "series", "key"}
"""Columns that no form fills in: codes and numbers are given here, keys made by the page."""


def test_every_name_that_is_taken_says_so_in_words_of_the_house() -> None:
    """Django's own sentence speaks of a Maker and gives no advice: it never reaches a page.

    What a constraint says of one field carries that field in its code, so that it stands beside it.
    """
    silent, astray = [], []
    for model in apps.get_models():
        columns = {column.name for column in model._meta.get_fields()}
        if model.__module__.split(".")[0] not in ("makers", "formulas", "batches", "labels"):
            continue
        for one in model._meta.constraints:
            if not isinstance(one, models.UniqueConstraint) or set(one.fields) & MADE_HERE:
                continue
            if one.violation_error_message == one.default_violation_error_message:
                silent.append(one.name)
            code = str(one.violation_error_code or "")
            if "name" in one.fields and code != "name_taken":
                astray.append(one.name)
            if code and code.removesuffix("_taken") not in columns:
                astray.append(one.name)

    # one line each: a phase's letter and a maker's one cost basis are no choice of a form
    assert set(silent) <= {"phase_letter_once", "costbasis_once"}
    assert astray == []


@pytest.mark.django_db
def test_a_name_that_is_taken_stands_beside_the_name(by: By) -> None:
    """With what to do, and not at the head of the form; what speaks of no field stays at the head."""

    class NamedForm(MakerForm):
        title = NameField(label="Name")

    add_supplier(by, name="Tern Oils")
    form = NamedForm({"title": "Tern Oils"}, maker=by.maker)
    assert form.is_valid()
    with pytest.raises(ValidationError) as refusal:
        add_supplier(by, name="Tern Oils")
    show_refusal(form, refusal.value, {"name": "title"})

    assert form.errors == {
        "title": [
            "There is a supplier of that name already. Give this one another name, or use that one.",
        ]
    }
    show_refusal(form, ValidationError({"__all__": ["Nothing came."]}))
    assert form.non_field_errors() == ["Nothing came."]
