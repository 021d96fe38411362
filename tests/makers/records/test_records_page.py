"""The page Export and backup."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path
from typing import Any

import pytest
from django.test import Client
from django.test.utils import CaptureQueriesContext

from formulas.models import Supplier
from makers import guards
from makers.http import address
from makers.models import JournalEntry, JournalHead, Scale
from tests.cast import Cast, make_cast, make_scale

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(settings: Any, tmp_path: Path) -> Cast:
    """The cast, with a scale and a first entry."""
    settings.MEDIA_ROOT = tmp_path / "files"
    made = make_cast()
    make_scale(made.maker)
    return made


def signed_in(by: Any) -> Client:
    """A browser of this member."""
    client = Client()
    client.force_login(by.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def streamed(response: Any) -> Any:
    """The parts of a streamed answer."""
    return response.streaming_content


def take_out(cast: Cast) -> None:
    """Download all records, to the last byte."""
    response = signed_in(cast.owner).post(address(cast.maker, "house:export-zip"))
    assert b"".join(streamed(response))


def test_the_page_says_what_there_is_and_how_to_keep_it(cast: Cast) -> None:
    """Counts of tables, the download for an owner, and the commands."""
    page = signed_in(cast.owner).get(address(cast.maker, "house:export")).content.decode()

    assert "Download all records" in page
    assert "python3 manage.py backup copy.zip" in page
    assert "Scales</th>" in page
    assert "Nobody has taken the records out yet" in page


def test_the_download_is_whole_and_written_down(cast: Cast) -> None:
    """A zip of this maker, never stored on the way, and an entry in the journal."""
    response = signed_in(cast.owner).post(address(cast.maker, "house:export-zip"))
    data = b"".join(streamed(response))

    assert response["Content-Type"] == "application/zip"
    assert response["Cache-Control"] == "no-store"
    assert cast.maker.slug in response["Content-Disposition"]
    with zipfile.ZipFile(io.BytesIO(data)) as found:
        assert found.testzip() is None
        assert "schema.json" in found.namelist()
    entry = JournalEntry.objects.get(maker=cast.maker, action="records.exported")
    page = signed_in(cast.worker).get(address(cast.maker, "house:export")).content.decode()
    assert f"by {entry.user_label}" in page


def test_only_an_owner_downloads(cast: Cast) -> None:
    """A worker and a reader see the page; a stranger sees nothing; nobody downloads by following a link."""
    zipped = address(cast.maker, "house:export-zip")
    for by in (cast.worker, cast.reader):
        page = signed_in(by).get(address(cast.maker, "house:export"))
        assert page.status_code == 200
        assert b"Download all records" not in page.content
        assert signed_in(by).post(zipped).status_code == 403
    for name in ("export", "check"):
        assert signed_in(cast.stranger).get(address(cast.maker, f"house:{name}")).status_code == 404
    assert signed_in(cast.stranger).post(zipped).status_code == 404
    assert signed_in(cast.owner).get(zipped)["Location"] == address(cast.maker, "house:export")
    assert not JournalEntry.objects.filter(maker=cast.maker).exists()


def test_the_menu_leads_here_for_those_who_write(cast: Cast) -> None:
    """Readers don't have it in their menu."""
    today = address(cast.maker, "house:today")
    link = address(cast.maker, "house:export")

    assert link in signed_in(cast.worker).get(today).content.decode()
    assert f'"{link}"' not in signed_in(cast.reader).get(today).content.decode()


def test_a_check_that_finds_nothing_says_so(cast: Cast) -> None:
    """In a sentence with the number of entries."""
    take_out(cast)
    page = signed_in(cast.owner).get(address(cast.maker, "house:check")).content.decode()

    assert "Everything is as it was written" in page
    assert JournalHead.objects.get(maker=cast.maker).digest in page


def test_a_check_names_what_was_changed(cast: Cast) -> None:
    """The first bad entry, and that nothing was touched."""
    take_out(cast)
    with guards.lifted():
        JournalEntry._base_manager.filter(maker=cast.maker, number=1).update(why="another")

    page = signed_in(cast.owner).get(address(cast.maker, "house:check")).content.decode()

    assert "not as written" in page
    assert "journal entry" in page
    assert "Its columns say something else than its text." in page


def test_both_pages_ask_the_same_number_of_questions_for_more_rows(cast: Cast) -> None:
    """Counts are counted by the database, and checks go through whole tables."""
    client = signed_in(cast.owner)
    for name in ("export", "check"):
        url = address(cast.maker, f"house:{name}")
        client.get(url)
        with CaptureQueriesContext(connection_of()) as few:
            client.get(url)
        for number in range(30):
            Supplier.objects.create(maker=cast.maker, name=f"{name} {number}")
            Scale.objects.create(maker=cast.maker, name=f"{name} {number}", readability_g=1, capacity_g=9)
        with CaptureQueriesContext(connection_of()) as many:
            client.get(url)
        # A table that had no row before shows up as one more line, not as one more question.
        assert len(many) == len(few)


def connection_of() -> Any:
    """The default connection."""
    from django.db import connection

    return connection
