"""What trials showed: written with the batch, read beside the version, put right by adding."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client

from batches.actions.trials import correct_trial_note, note_trial
from batches.models import Batch, TrialNote
from formulas.actions.formulas import next_version, start_formula
from formulas.models import FormulaVersion
from makers.actions import By, entries_about
from makers.http import address
from makers.models import Document
from tests.batches.making.factories_making import make_making, make_plan, make_version
from tests.batches.pages import act_on, text_of, url
from tests.cast import Cast
from tests.world import PAPER, PICTURE

D = Decimal


def make_trial(by: By, version: FormulaVersion | None = None, **fields: Any) -> Batch:
    """A trial on the bench."""
    return make_making(by, version, purpose="trial", **fields)


def picture(name: str = "dish.png") -> SimpleUploadedFile:
    """A photo."""
    return SimpleUploadedFile(name, PICTURE, "image/png")


def page_of_version(client: Client, by: By, version: FormulaVersion) -> str:
    """The version's page as it is read."""
    where = address(by.maker, "formulas:version", code=version.formula.code, number=version.number)
    return text_of(client.get(where))


def test_a_note_stands_with_the_batch_and_beside_its_version(at_home: Client, by: By) -> None:
    """All that was typed, the photo as a download, and a sentence in the version's journal."""
    version = make_version(by, approve=False)
    trial = make_trial(by, version, code="T-1")
    said = {
        "seen_on": by.today().isoformat(), "at_c": "30", "firmness": "soft", "look": "Beads of oil",
        "feel": "Greasy", "text": "More wax", "upload": picture(),
    }  # fmt: skip
    assert act_on(at_home, by, trial, "trial", **said).status_code == 303

    note = TrialNote.objects.get()
    assert (note.at_c, note.firmness, note.user, note.batch) == (D(30), "soft", by.user, trial)
    assert note.photo is not None
    assert (note.photo.kind, note.photo.about) == (Document.Kind.PHOTO, trial.uuid)
    for text in (
        text_of(at_home.get(url(by, "batch", code="T-1"))),
        page_of_version(at_home, by, version),
    ):
        for words in ("at 30 °C", "too soft", "Beads of oil", "Greasy", "More wax", "dish.png"):
            assert words in text, words
    got = at_home.get(address(by.maker, "house:document", uuid=note.photo.uuid))
    assert got["Content-Disposition"].startswith("attachment")
    assert got.getvalue() == PICTURE
    assert next(one.action for one in entries_about(by.maker, version.uuid)) == "trial.noted"


def test_it_is_read_beside_what_grew_from_it_and_says_of_which(at_home: Client, by: By) -> None:
    """By the next version, by a variant of the one tried; not by an earlier version, not by another formula."""
    first = make_version(by, name="Kelp balm")
    second = next_version(by, formula=first.formula)
    variant = start_formula(
        by, name="Kelp balm, soft", kind="leave-on", form="balm", body_area="body", parent=second
    )
    note_trial(by, batch=make_trial(by, second), seen_on=by.today(), look="Dull as slate")
    third = next_version(by, formula=first.formula)

    assert "of version 2" in page_of_version(at_home, by, third)
    assert "of Kelp balm, version 2" in page_of_version(at_home, by, variant)
    own = page_of_version(at_home, by, second)
    assert "Dull as slate" in own
    assert own.count("of version 2") == 1  # the act of planning a trial of it
    for elsewhere in (first, make_version(by)):
        assert "Dull as slate" not in page_of_version(at_home, by, elsewhere)


def test_a_note_is_put_right_by_a_further_one_once(at_home: Client, by: By) -> None:
    """The photo goes on, the first stays to be read with its batch, and a third corrects the second."""
    trial = make_trial(by, code="T-1")
    note = note_trial(by, batch=trial, seen_on=by.today(), look="Grey", upload=picture())
    where = url(by, "trial-correct", code="T-1", uuid=note.uuid)
    assert "Grey" in at_home.get(where).content.decode()

    data = {"seen_on": by.today().isoformat(), "look": "Green", "entry_key": str(uuid4())}
    answer = at_home.post(where, data)
    assert "Say what was wrong with it." in text_of(answer)
    assert TrialNote.objects.count() == 1

    for _ in range(2):  # a second tap
        assert at_home.post(where, {**data, "why": "by daylight"}).status_code == 303
    after = TrialNote.objects.get(corrects=note)
    assert (after.look, after.why, after.photo) == ("Green", "by daylight", note.photo)
    text = text_of(at_home.get(url(by, "batch", code="T-1")))
    assert "1 note before it" in text
    assert "look: Grey" in text
    assert "Grey" not in page_of_version(at_home, by, trial.version)

    with pytest.raises(ValidationError, match="put right already"):
        correct_trial_note(by, note=note, why="again", seen_on=by.today(), look="Blue")
    correct_trial_note(by, note=after, why="under the lamp", seen_on=by.today(), look="Blue")
    text = text_of(at_home.get(url(by, "batch", code="T-1")))
    assert "2 notes before it" in text


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "Write at least one thing"),
        ({"seen_on": "tomorrow", "look": "x"}, "still to come"),
        ({"seen_on": "2020-01-01", "look": "x"}, "nothing was seen of it before"),
        ({"seen_on": "soon", "look": "x"}, "soon"),
        ({"at_c": "400", "look": "x"}, "100"),
        ({"at_c": "warm", "look": "x"}, "warm"),
        ({"firmness": "like butter", "look": "x"}, "Choose again"),
        ({"look": "x" * 501}, "501 characters"),
    ],
)
def test_what_cannot_be_is_asked_again_and_kept(
    at_home: Client, by: By, typed: dict[str, str], said: str
) -> None:
    """A sentence that says what to do; every other word stays in its field."""
    trial = make_trial(by)
    given = {"seen_on": by.today().isoformat(), "feel": "", "text": "", **typed}
    if given["seen_on"] == "tomorrow":
        typed = {"seen_on": (by.today() + timedelta(1)).isoformat()}
        given |= typed
    answer = act_on(at_home, by, trial, "trial", **given)

    assert answer.status_code in (200, 422)
    assert said in text_of(answer)
    for value in typed.values():
        if value != "like butter":
            assert value in answer.content.decode()
    assert not TrialNote.objects.exists()


def test_a_paper_is_no_photo_and_a_good_one_stays_chosen(at_home: Client, by: By) -> None:
    """A PDF is turned away; a photo is named again beside its field when something else was wrong."""
    trial = make_trial(by)
    today = by.today().isoformat()
    paper = SimpleUploadedFile("dish.pdf", PAPER, "application/pdf")
    assert "That is a PDF" in text_of(act_on(at_home, by, trial, "trial", seen_on=today, upload=paper))

    answer = act_on(at_home, by, trial, "trial", seen_on="soon", upload=picture("mine.png"))
    assert "mine.png" in text_of(answer)
    assert not TrialNote.objects.exists()


def test_only_a_trial_that_was_begun_shows_something(at_home: Client, by: By) -> None:
    """No form for others, and a sentence where one is sent all the same."""
    today = by.today().isoformat()
    for batch, words in (
        (make_making(by), "is not a trial"),
        (make_plan(by, purpose="trial"), "was not begun"),
    ):
        assert "Write down what it showed" not in text_of(at_home.get(url(by, "batch", code=batch.code)))
        with pytest.raises(ValidationError, match=words):
            note_trial(by, batch=batch, seen_on=by.today(), look="x")
        answer = act_on(at_home, by, batch, "trial", seen_on=today, look="Typed all the same")
        assert words in text_of(answer)
    assert not TrialNote.objects.exists()


def test_the_same_note_sent_twice_is_one(by: By) -> None:
    """By its key."""
    trial, key = make_trial(by), uuid4()
    first, second = (
        note_trial(by, batch=trial, seen_on=by.today(), look="x", entry_key=key) for _ in range(2)
    )

    assert first == second
    assert TrialNote.objects.count() == 1


def test_a_reader_and_a_stranger_write_nothing(client: Client, cast: Cast) -> None:
    """403 for the one, 404 for the other."""
    trial = make_trial(cast.owner)
    note = note_trial(cast.owner, batch=trial, seen_on=cast.owner.today(), look="x")
    for by, status in ((cast.reader, 403), (cast.stranger, 404)):
        client.force_login(by.user)
        for where in (
            url(cast.owner, "batch-act", code=trial.code, act="trial"),
            url(cast.owner, "trial-correct", code=trial.code, uuid=note.uuid),
        ):
            answer = client.post(where, {"seen_on": "2026-01-02", "look": "y", "why": "z"})
            assert answer.status_code == status, where
    assert TrialNote.objects.count() == 1


def test_the_database_keeps_every_note_as_it_was(by: By) -> None:
    """Neither changed nor taken out, and none that says nothing."""
    note = note_trial(by, batch=make_trial(by), seen_on=by.today(), look="x")
    rows: Any = TrialNote._base_manager.filter(pk=note.pk)
    acts: tuple[Callable[[], Any], ...] = (
        lambda: rows.update(look="y"),
        lambda: rows._raw_delete("default"),
    )
    for act in acts:
        with pytest.raises(DatabaseError), transaction.atomic():
            act()
    for fields in ({"look": ""}, {"look": "x", "at_c": D(400)}):
        with pytest.raises(DatabaseError), transaction.atomic():
            TrialNote(
                maker=by.maker, batch=note.batch, seen_on=by.today() - timedelta(1), occurred_at=by.now(),
                entered_at=by.now(), user=by.user, **fields,
            ).save()  # fmt: skip

    assert TrialNote.objects.get().look == "x"


def test_a_trial_is_planned_from_the_version_that_it_tries(at_home: Client, by: By) -> None:
    """The plan starts with that version, for trial, though another is approved."""
    first = make_version(by)
    second = next_version(by, formula=first.formula)
    where = f"{url(by, 'plan')}?formula={first.formula.code}&version=2&for=trial"
    assert (
        where.replace("&", "&amp;")
        in at_home.get(
            address(by.maker, "formulas:version", code=first.formula.code, number=2)
        ).content.decode()
    )

    page = at_home.get(where).content.decode()
    assert f'<option value="{second.pk}" selected>' in page
    assert '<option value="trial" selected>' in page
    for odd in ("99", "-1", "²", "x" * 300):
        assert (
            at_home.get(url(by, "plan"), {"formula": first.formula.code, "version": odd}).status_code == 200
        )
