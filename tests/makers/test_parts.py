"""The parts of every page: marks, states, findings, heads of tables."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.template import Context, RequestContext, Template
from django.template.loader import get_template, render_to_string
from django.test import RequestFactory

from formulas.rules.findings import Finding
from makers.forms import locale
from makers.rules.marks import MARKS, STATES

TEMPLATES = Path(__file__).resolve().parents[2] / "makers" / "templates"
ROOT = TEMPLATES.parents[1]
PAGES = sorted(
    path
    for app in ("makers", "formulas", "batches", "labels")
    for path in (ROOT / app / "templates").rglob("*.html")
)

STOP = Finding(
    "eu.annex", "stop", "Benzyl alcohol", "Comes to 1.04 % of 26-L079.", "Annex V no. 34", "Use less."
)
NOTE = Finding("order", "note", "Glycerin", "Stands <equal>.", basis="memory")


def shown(source: str, **values: Any) -> str:
    """A template's text, with the filters loaded."""
    return Template("{% load stillroom %}" + source).render(Context(values))


def test_every_mark_of_a_state_is_in_the_sprite_and_none_is_idle() -> None:
    drawn = set(re.findall(r'id="m-([a-z]+)"', render_to_string("parts/sprite.html")))
    assert drawn == MARKS


@pytest.mark.parametrize("state", sorted(STATES))
def test_a_state_is_a_word_and_a_mark(state: str) -> None:
    text = shown("{% status state %}", state=state)
    assert STATES[state].word in text
    assert f"#m-{STATES[state].mark}" in text


def test_a_state_that_does_not_exist_stops_the_page() -> None:
    with pytest.raises(KeyError):
        shown('{% status "fine" %}')


def test_a_states_word_can_say_more() -> None:
    assert "12 days" in shown('{% status "expiring" "12 days" %}')


def test_nothing_is_an_empty_cell_and_not_known_is_a_word() -> None:
    assert shown("{{ x|grams }}{{ x|percent }}{{ x|day }}{{ x|money }}{{ x|padded }}", x=None) == ""
    assert "Unknown" in shown("{{ x|grams|or_unknown }}", x=None)
    assert shown("{{ x|grams|or_unknown }}", x=Decimal(0)) == "0.0"


def test_figures_carry_their_unit_unbroken() -> None:
    assert shown('{{ x|grams|with_unit:"g" }}', x=Decimal(2400)) == "2\u202f400.0\u00a0g"
    assert shown("{{ x|grams_left }}", x=Decimal("49.99")) == "49.9"
    assert shown("{{ x|difference }}", x=Decimal("-0.3")) == "−0.3"
    assert shown('{{ 2|units:"batch,batches" }}') == "2\u00a0batches"


def test_points_stand_in_one_line() -> None:
    assert shown("{{ x|padded:2 }}", x=Decimal("3.5")) == ('3.5<span class="pad" aria-hidden="true">0</span>')


def test_figures_follow_the_makers_locale() -> None:
    locale.activate("de_DE")
    try:
        assert shown("{{ x|grams }}", x=Decimal("2400.5")) == "2\u202f400,5"
    finally:
        locale.deactivate()
    assert shown("{{ x|grams }}", x=Decimal("2400.5")) == "2\u202f400.5"


def test_a_float_is_refused() -> None:
    with pytest.raises(TypeError, match="never float"):
        shown("{{ x|grams }}", x=0.1)


def test_moments_and_days_are_elements_and_words() -> None:
    at = datetime(2026, 11, 25, 14, 32, tzinfo=UTC)
    text = shown("{{ at|moment:today }}", at=at, today=date(2026, 11, 25))
    assert text == '<time datetime="2026-11-25T14:32+00:00">Today 14:32</time>'
    assert shown("{{ at|day_fact }}", at=at) == "25\u00a0Nov\u00a02026"


def test_a_sentence_has_its_figures_bold_and_its_codes_unbroken() -> None:
    text = shown("{{ x|sentence }}", x="<b>26-L079</b> holds 1.04 %")
    assert text == '&lt;b&gt;<span class="no-break">26-L079</span>&lt;/b&gt; holds <b>1.04\u00a0%</b>'


def test_a_sentence_has_the_decimal_mark_of_the_maker_at_hand() -> None:
    """No figure on a page with commas may be read as a thousand: 1.000 % is not 1000 %."""
    locale.activate("de_DE")
    try:
        assert shown("{{ x|sentence }}", x="holds 1.000 %, 0.4 over") == "holds <b>1,000\u00a0%</b>, 0,4 over"
    finally:
        locale.deactivate()


def test_findings_show_tally_rule_and_cure_and_can_be_linked_to() -> None:
    text = render_to_string(
        "parts/findings.html", {"findings": [STOP, NOTE], "passed": ["Sum is exactly 100 %"]}
    )
    assert "1\u00a0stop" in text
    assert "Annex V no. 34" in text
    assert "Use less." in text
    assert "&lt;equal&gt;" in text
    assert "Known from memory" in text
    assert "1\u00a0question passed" in text
    flag = shown("{% line_flag finding %}", finding=STOP)
    target = re.search(r'href="#([^"]+)"', flag)
    assert target is not None
    assert f'id="{target[1]}"' in text


def test_a_head_sorts_both_ways_and_keeps_the_filter() -> None:
    request = RequestFactory().get("/", {"q": "oil & wax", "sort": "name", "after": "x"})
    source = Template('{% load stillroom %}{% sort_head "name" "Name" %}{% sort_head "hand" "On hand" "n" %}')
    text = source.render(RequestContext(request, {}))
    assert 'aria-sort="ascending"><a href="?q=oil+%26+wax&amp;sort=-name"' in text
    assert 'class="n"><a href="?q=oil+%26+wax&amp;sort=hand"' in text
    assert "after" not in text


def test_a_page_link_keeps_the_rest_of_the_address() -> None:
    request = RequestFactory().get("/", {"q": "oil", "after": "x"})
    source = Template('{% load stillroom %}{% query after="26-L079" %} {% query after=None %}')
    assert source.render(RequestContext(request, {})).split() == ["?q=oil&amp;after=26-L079", "?q=oil"]


def test_a_bar_is_never_wider_than_its_whole() -> None:
    assert 'class="bar-done" width="64.3"' in shown("{% bar 9 14 %}")
    assert 'class="bar-done" width="100.0"' in shown("{% bar 20 14 %}")
    assert 'class="bar-done" width="0.0"' in shown("{% bar 1 0 %}")


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_no_page_has_style_script_or_a_foreign_host_in_its_markup(path: Path) -> None:
    """The content security policy would refuse them without a word to the maker."""
    text = re.sub(r"\{#.*?#\}|\{% comment %\}.*?\{% endcomment %\}", "", path.read_text(), flags=re.DOTALL)
    assert not re.search(r"\sstyle\s*=|<style|\son[a-z]+\s*=|javascript:|hx-on|js:", text)
    assert not re.search(r"<script(?![^>]*\ssrc=)", text)
    assert not re.search(r'(?:src|href|action)="(?:https?:)?//', text)


@pytest.mark.parametrize("path", sorted((TEMPLATES / "parts").glob("*.html")), ids=lambda path: path.name)
def test_every_part_says_what_it_takes_and_can_be_read(path: Path) -> None:
    get_template(f"parts/{path.name}")
    assert path.read_text().startswith("{#")


@pytest.mark.parametrize(
    "name", ["404.html", "403.html", "403_csrf.html", "500.html", "makers/locked_out.html"]
)
def test_pages_for_trouble_need_nothing_from_the_request(name: str) -> None:
    text = render_to_string(name)
    assert '<main class="book" id="main"' in text
    assert "<h1>" in text
    assert not re.search(r"\b(please|oops|invalid|error)\b", text, re.IGNORECASE)


def test_the_frame_shows_places_search_and_person() -> None:
    values = {
        "maker": SimpleNamespace(trading_name="Cordgrass Workshop", address="The Sail Loft\nEelmere Quay"),
        "places": [SimpleNamespace(title="Today", url="/c/", current=True)],
        "current_place": SimpleNamespace(title="Today"),
        "search_url": "/c/find/",
        "menu": [("Workshop settings", "/c/settings/")],
        "sign_out_url": "/sign-out/",
        "user": SimpleNamespace(short_name="Nessa"),
        "today": date(2026, 11, 25),
    }
    request = RequestFactory().get("/c/", {"q": '"><b>'})
    text = render_to_string("base.html", values, request=request)
    assert 'href="/c/" aria-current="page">Today</a>' in text
    assert 'action="/c/find/"' in text
    assert "The Sail Loft, Eelmere Quay" in text
    assert "Wednesday 25\u00a0November 2026" in text
    assert text.count('<form method="post" action="/sign-out/">') == 2
    assert '"><b>' not in text


def test_a_grave_act_is_folded_says_its_figures_and_carries_its_token() -> None:
    text = render_to_string(
        "parts/grave_act.html",
        {
            "summary": "Reject for good",
            "text": "1 120.0 g go to waste.",
            "form": "",
            "action": "/c/lots/26-L079/reject/",
            "act": "Sign as Nessa Quill",
            "csrf_token": "token",
        },
    )
    assert "<details" in text
    assert "open" not in text.split("<summary", maxsplit=1)[0]
    assert 'name="csrfmiddlewaretoken" value="token"' in text
    assert "Sign as Nessa Quill" in text
