"""The formula desk on screen: what was typed stays, numbers by the maker's locale, older forms, who may."""

from __future__ import annotations

import html
import re
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client

from formulas.actions.formulas import save_version, start_formula, stored_phases
from formulas.actions.products import add_product
from formulas.models import Formula, FormulaVersion, Product
from makers.actions import By
from tests.cast import Cast, make_maker, make_member
from tests.formulas.factories_ingredients import make_ingredient
from tests.formulas.pages import page, text_of, url
from tests.formulas.sent import inputs_of, sent_back

D = Decimal
DESK = "formulas/F-001/"


@pytest.fixture
def draft(by: By) -> FormulaVersion:
    """A draft of 60 % oil and the rest wax."""
    version = start_formula(by, name="Reed balm", kind="leave-on", form="balm", body_area="body")
    lines = [
        {"ingredient": make_ingredient(by, "Plum kernel oil"), "percent": D(60)},
        {"ingredient": make_ingredient(by, "Rice wax"), "kind": "to_100"},
    ]
    phases = [{"letter": "A", "name": "Melt", "lines": lines}]
    return save_version(by, version=version, phases=phases, edit=version.edit)


def typed(client: Client, by: By, **changes: str) -> Any:
    """Send the desk's form with changes; "line-0-percent" is written line_0_percent."""
    data = sent_back(client, url(by, DESK))
    for name, value in changes.items():
        data[name.replace("_", "-") if name.startswith("line") else name] = [value]
    return client.post(url(by, DESK), {**data, "do": ["save"]})


def percents(version: FormulaVersion) -> list[Decimal | None]:
    """The percents on record."""
    return [one.percent for one in version.lines.all()]


def test_the_form_as_it_came_changes_no_figure(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Saved without a touch, the lines are what they were."""
    response = typed(at_home, by)

    assert response.status_code == 303
    assert percents(draft) == [D(60), None]


def test_a_new_percent_is_saved(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """And the rest to 100 follows by itself."""
    typed(at_home, by, line_0_percent="62.5")

    assert percents(draft) == [D("62.5"), None]
    assert "37.5" in page(at_home, by, DESK)


@pytest.mark.parametrize(
    "wrong", ["101", "-3", "0", "sixty", "1,5", "1.5.5", "1e3", "NaN", "Infinity", "<b>9</b>", "6 0 x"]
)
def test_what_was_typed_stays_where_it_can_not_be_read(
    at_home: Client, by: By, draft: FormulaVersion, wrong: str
) -> None:
    """The page comes back with every field as typed and a sentence beside the one."""
    response = typed(at_home, by, line_0_percent=wrong, line_1_purpose="thickens, slowly")
    shown = text_of(response)

    assert response.status_code == 200
    assert f'value="{html.escape(wrong)}"' in shown
    assert 'value="thickens, slowly"' in shown
    assert 'aria-invalid="true"' in shown
    assert percents(draft) == [D(60), None]


def test_an_unknown_name_is_answered_with_what_to_do(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Not an ingredient: add it, or take one from the list."""
    shown = text_of(typed(at_home, by, line_0_ingredient="Moon oil"))

    assert "There is no ingredient called “Moon oil”" in shown
    assert 'value="Moon oil"' in shown


def test_a_second_to_100_line_is_refused_and_kept(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """The sentence says which rule; the row stays as chosen."""
    response = typed(at_home, by, line_0_kind="to_100", line_0_percent="")
    shown = text_of(response)

    assert response.status_code == 200
    assert "only one can take what is left" in shown
    assert percents(draft) == [D(60), None]


def test_an_older_form_is_told_and_keeps_its_words(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Two windows: the second save comes back with what was typed there."""
    data = sent_back(at_home, url(by, DESK))
    typed(at_home, by, line_0_percent="61")

    response = at_home.post(url(by, DESK), {**data, "line-0-percent": ["77.7"], "do": ["save"]})
    shown = text_of(response)

    assert response.status_code == 200
    assert "changed in another window" in shown
    assert 'value="77.7"' in shown
    assert "61 % there now, 77.7 % here." in shown
    assert percents(draft) == [D(61), None]

    again = inputs_of(response.content.decode())
    assert at_home.post(url(by, DESK), {**again, "do": ["save"]}).status_code in (302, 303)
    assert percents(draft) == [D("77.7"), None]


def test_older_steps_are_told_and_can_be_saved_again(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """The second window sees what the first one wrote, and holds when it is sent again."""
    where = url(by, DESK + "1/steps/")
    data = sent_back(at_home, where)
    at_home.post(where, {**data, "step-0-text": ["Melt slowly."]})

    response = at_home.post(where, {**data, "step-0-text": ["Melt fast."]})
    shown = text_of(response)
    assert response.status_code == 200
    assert "Step 1 there now: “Melt slowly.”." in shown
    assert "Melt fast." in shown

    again = inputs_of(response.content.decode())
    assert at_home.post(where, again).status_code in (302, 303)
    assert [step.text for step in draft.steps.all()] == ["Melt fast."]


@pytest.mark.parametrize(
    ("locale", "written", "read"),
    [
        ("de_DE", "1,5", "1.5"),
        ("de_DE", "62,50", "62.5"),
        ("fr_FR", "1,5", "1.5"),
        ("en_IE", "1.5", "1.5"),
        ("en_IE", "1,5", None),
        ("en_IE", "62,50", None),
    ],
)
def test_the_decimal_sign_is_the_makers_own(
    client: Client, db: None, locale: str, written: str, read: str | None
) -> None:
    """1,5 is one and a half where a comma is the decimal sign; elsewhere it is asked about, never 15."""
    by = make_member(make_maker(country="DE", locale=locale))
    client.force_login(by.user)
    version = start_formula(by, name="Reed balm", kind="leave-on", form="balm", body_area="body")
    oil = make_ingredient(by, "Plum kernel oil")
    save_version(
        by,
        version=version,
        phases=[{"letter": "A", "lines": [{"ingredient": oil, "percent": D(60)}]}],
        edit=version.edit,
    )

    response = typed(client, by, line_0_percent=written)

    if read is None:
        assert response.status_code == 200
        assert percents(version) == [D(60)]
        assert f'value="{written}"' in text_of(response)
        assert 'aria-invalid="true"' in text_of(response)
    else:
        assert response.status_code == 303
        assert percents(version) == [D(read)]


def test_a_figure_goes_out_and_comes_back_in_a_comma_locale(client: Client, db: None) -> None:
    """1,25 shown in the field of a German maker is 1.25 again when saved as it came."""
    by = make_member(make_maker(country="DE", locale="de_DE"))
    client.force_login(by.user)
    version = start_formula(by, name="Reed balm", kind="leave-on", form="balm", body_area="body")
    oil = make_ingredient(by, "Plum kernel oil")
    lines = [{"ingredient": oil, "percent": D("1.25")}]
    save_version(by, version=version, phases=[{"letter": "A", "lines": lines}], edit=version.edit)

    response = typed(client, by)

    assert response.status_code == 303
    assert percents(version) == [D("1.25")]


def test_a_formula_of_200_lines_has_a_page(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """The desk, its steps and its approval answer, and the form saves as it came."""
    names = ["Масло", "シアバター", "زيت", "<i>Öl</i>"]
    lines = [
        {"ingredient": make_ingredient(by, f"{names[one % 4]} {one}"), "percent": D("0.5")}
        for one in range(200)
    ]
    draft.refresh_from_db()
    save_version(by, version=draft, phases=[{"letter": "A", "lines": lines}], edit=draft.edit)

    shown = page(at_home, by, DESK)
    response = typed(at_home, by)

    assert "シアバター 1" in shown
    assert "<i>Öl</i>" not in shown
    assert response.status_code == 303
    assert draft.lines.count() == 200
    assert page(at_home, by, "formulas/F-001/1/steps/")
    assert page(at_home, by, "formulas/F-001/1/approve/")


def test_working_out_again_writes_nothing(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """The total follows what is typed; nothing is saved."""
    data = sent_back(at_home, url(by, DESK))

    shown = text_of(at_home.post(url(by, DESK), {**data, "line-0-percent": ["70"], "do": ["work out"]}))

    assert 'value="70"' in shown
    assert percents(draft) == [D(60), None]


def test_the_fragment_is_the_desk_alone(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """htmx gets the same desk without the page around it."""
    response = at_home.get(url(by, DESK), headers={"HX-Request": "true"})

    assert "<html" not in text_of(response)
    assert "Plum kernel oil" in text_of(response)


def test_approval_keeps_reasons_that_were_given(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """One of two reasons is missing: the page comes back with the other still in its field."""
    response = at_home.post(
        url(by, DESK + "1/approve/"), {"reason-0": "asked the supplier", "edit": draft.edit}
    )
    shown = text_of(response)

    assert response.status_code == 200
    assert "Without a reason this can" in shown
    assert "asked the supplier" in shown


def test_approving_an_older_page_is_refused(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """What was reviewed is what is approved."""
    draft.refresh_from_db()
    reasons = {f"reason-{index}": "fine" for index in range(9)}

    shown = text_of(at_home.post(url(by, DESK + "1/approve/"), {**reasons, "edit": draft.edit - 1}))

    draft.refresh_from_db()
    assert "changed in another window" in shown
    assert draft.state == "draft"


def test_approving_with_reasons_fixes_the_version(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """From then on the desk shows no field."""
    draft.refresh_from_db()
    reasons = {f"reason-{index}": "fine" for index in range(9)}

    response = at_home.post(url(by, DESK + "1/approve/"), {**reasons, "edit": draft.edit})

    draft.refresh_from_db()
    assert response.status_code == 303
    assert draft.state == "approved"
    assert "line-0-percent" not in page(at_home, by, DESK)


@pytest.mark.parametrize("path", ["formulas/", DESK, DESK + "1/", DESK + "1/steps/", DESK + "1/approve/"])
def test_who_may_look(client: Client, cast: Cast, draft: FormulaVersion, path: str) -> None:
    """A stranger finds nothing; a reader looks and finds no field to write in."""
    client.force_login(cast.stranger.user)
    assert client.get(url(cast.owner, path)).status_code == 404

    client.force_login(cast.reader.user)
    assert client.get(url(cast.owner, path)).status_code == 200
    assert client.post(url(cast.owner, path), {"do": "save"}).status_code == 403


def test_a_start_without_a_name_keeps_the_rest(at_home: Client, by: By) -> None:
    """The note stays, the sentence says what to write."""
    data = {"name": " ", "form": "balm", "kind": "leave-on", "body_area": "hands", "note": "after rain"}

    shown = text_of(at_home.post(url(by, "formulas/start/"), data))

    assert "Write the name here." in shown
    assert "after rain" in shown
    assert not Formula.objects.exists()


@pytest.mark.parametrize(
    ("written", "kept"), [("30,5", None), ("30.5", "30.5"), ("29.9", None), ("0", None), ("-1", None)]
)
def test_a_product_takes_its_fill_as_written(
    at_home: Client, by: By, draft: FormulaVersion, written: str, kept: str | None
) -> None:
    """What can't be read, or is less than the net quantity, comes back as typed."""
    path = "formulas/F-001/products/add/"
    data = sent_back(at_home, url(by, path))
    data |= {"name": ["Reed balm 30 g"], "net_amount": ["30"], "net_unit": ["g"], "fill_g": [written]}
    data |= {"shape": ["cylinder"]}

    response = at_home.post(url(by, path), data)

    if kept is None:
        assert response.status_code == 200
        assert f'value="{written}"' in text_of(response)
        assert not Product.objects.exists()
    else:
        assert Product.objects.get().fill_g == D(kept)


def test_a_product_may_be_sold_nowhere_yet(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Markets are chosen when it is sold: until then its page says so."""
    path = "formulas/F-001/products/add/"
    data = sent_back(at_home, url(by, path))
    data |= {"name": ["Reed balm"], "net_amount": ["30"], "net_unit": ["g"], "fill_g": ["30"]}
    data |= {"shape": ["cylinder"], "markets": []}

    assert at_home.post(url(by, path), data).status_code == 303
    assert "nowhere yet" in page(at_home, by, f"products/{Product.objects.get().code}/")


def test_the_heat_that_a_product_bears_is_fixed_later(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """It is learnt in the first summer: the change is written down and shown."""
    product = add_product(
        by,
        formula=draft.formula,
        name="Reed pot",
        net_amount=D(50),
        net_unit="g",
        fill_g=D(50),
        markets=["EU"],
    )
    path = url(by, f"products/{product.code}/")
    data = {**sent_back(at_home, f"{path}change/"), "not_above_c": ["28"]}

    response = at_home.post(f"{path}change/", data)

    product.refresh_from_db()
    assert (response.status_code, product.not_above_c) == (303, D(28))
    assert "not sold or sent above 28 °C" in text_of(at_home.get(path))


@pytest.mark.parametrize("path", ["formulas/read/", "formulas/start/", f"{DESK}change/"])
def test_a_page_about_formulas_marks_its_place(
    at_home: Client, by: By, draft: FormulaVersion, path: str
) -> None:
    """The navigation says that one is among the formulas."""
    shown = at_home.get(url(by, path)).content.decode()

    assert 'aria-current="page">Formulas</a>' in shown


def test_a_premix_is_opened_on_the_desk(at_home: Client, by: By) -> None:
    """What was bought, with its percent of the product and the way it comes in."""
    oil, wax = make_ingredient(by, "Plum kernel oil"), make_ingredient(by, "Rice wax")
    inner = start_formula(by, name="Wax in oil", kind="leave-on", form="premix")
    half: list[dict[str, Any]] = [
        {"ingredient": oil, "percent": D(50)},
        {"ingredient": wax, "kind": "to_100"},
    ]
    save_version(by, version=inner, phases=[{"letter": "A", "name": "", "lines": half}], edit=inner.edit)
    premix = make_ingredient(by, "Wax premix", made_from=inner.formula)
    outer = start_formula(by, name="Reed balm", kind="leave-on", form="balm")
    lines: list[dict[str, Any]] = [
        {"ingredient": premix, "percent": D(30)},
        {"ingredient": oil, "kind": "to_100"},
    ]
    save_version(by, version=outer, phases=[{"letter": "A", "name": "", "lines": lines}], edit=outer.edit)

    shown = page(at_home, by, f"formulas/{outer.formula.code}/")

    assert "2 bought ingredients, premixes and infusions opened" in shown
    table = shown[shown.index("Every bought ingredient") :]
    oil_at, wax_at = table.index("Plum kernel oil"), table.index("Rice wax")
    assert "85.00" in table[oil_at:wax_at]
    assert "15.00" in table[wax_at:]
    assert "through Wax premix" in table


def test_making_room_says_what_the_line_to_100_gave(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Oil from 60 to 70: the wax goes from 40 to 30, and the sentence names both."""
    data = sent_back(at_home, url(by, DESK)) | {"room-line": ["0"], "room-to": ["70"], "do": ["room"]}

    shown = re.sub("</?b>", "", text_of(at_home.post(url(by, DESK), data)))

    assert "Plum kernel oil takes 70 %. Every other line shrank in the same proportion;" in shown
    assert "Rice wax, “to 100”, went from 40 % to 30 %. Save to keep it." in shown
    assert percents(draft) == [D(60), None]


def test_undo_says_what_it_takes_back(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """Steps, pH, names of phases and order count as percents do; afterwards the page says it again."""
    phases = stored_phases(draft)
    version = save_version(
        by, version=draft, phases=phases, steps=[{"text": "Melt to 75 °C"}, {"text": "Pour"}]
    )
    assert "Undo: 2 steps put in" in page(at_home, by, DESK)
    version = save_version(
        by, version=version, phases=phases, steps=[{"text": "Melt to 80 °C"}, {"text": "Pour"}]
    )
    assert "Undo: step “Melt to 80 °C” changed" in page(at_home, by, DESK)
    version = save_version(by, version=version, phases=phases, steps=[{"text": "Pour"}], ph=(D(5), None))
    assert "Undo: step “Melt to 80 °C” taken out and the pH it is made to" in page(at_home, by, DESK)
    phases[0] = {**phases[0], "name": "Warm"}
    version = save_version(by, version=version, phases=phases)
    assert "Undo: the names of phases" in page(at_home, by, DESK)
    phases[0] = {**phases[0], "lines": phases[0]["lines"][::-1]}
    save_version(by, version=version, phases=phases)
    assert "Undo: the order or words of lines" in page(at_home, by, DESK)
    typed(at_home, by)
    assert "Undo: a save that changed nothing" in page(at_home, by, DESK)
    typed(at_home, by, line_1_percent="61")

    data = sent_back(at_home, url(by, DESK)) | {"do": ["undo"]}
    at_home.post(url(by, DESK), data)
    shown = re.sub("</?b>", "", page(at_home, by, DESK))

    assert "Taken back: Plum kernel oil 60 to 61. It stands as before the last save." in shown


@pytest.mark.parametrize("headers", [{}, {"HX-Request": "true"}], ids=["page", "fragment"])
@pytest.mark.parametrize("deep", [False, True], ids=["itself", "through another"])
def test_a_formula_that_would_contain_itself_is_told_while_it_is_typed(
    at_home: Client, by: By, draft: FormulaVersion, headers: dict[str, str], deep: bool
) -> None:
    """Beside the line, and no figure is taken for one."""
    premix = make_ingredient(by, "Reed premix", made_from=draft.formula)
    if deep:
        inner = start_formula(by, name="Reed cream", kind="leave-on", form="premix")
        phases = [{"letter": "A", "name": "", "lines": [{"ingredient": premix, "percent": D(100)}]}]
        save_version(by, version=inner, phases=phases)
        premix = make_ingredient(by, "Cream premix", made_from=inner.formula)
    data = sent_back(at_home, url(by, DESK))
    data |= {"line-0-ingredient": [premix.name], "do": ["reckon"]}

    shown = text_of(at_home.post(url(by, DESK), data, headers=headers))

    said = f"Reed balm would contain itself: {premix.name} is made from it"
    assert said in shown[shown.index('id="more-line-0"') : shown.index('id="row-line-1"')]
    assert "unknown until every line has its ingredient" in shown
    assert said in text_of(at_home.post(url(by, DESK), {**data, "do": ["save"]}, headers=headers))
    assert percents(draft) == [D(60), None]


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (
            "room",
            ["Choose the line that is to take another percent.", "Write the percent that it is to take."],
        ),
        ("exchange", ["Choose the ingredient that goes.", "Write the ingredient that comes in its place."]),
    ],
)
def test_an_empty_tool_says_what_to_fill_in(
    at_home: Client, by: By, draft: FormulaVersion, act: str, said: list[str]
) -> None:
    """Beside each of its fields."""
    data = sent_back(at_home, url(by, DESK))
    data = {name: value for name, value in data.items() if not name.startswith(act)} | {"do": [act]}

    shown = text_of(at_home.post(url(by, DESK), data))

    assert [sentence for sentence in said if sentence not in shown] == []


def test_a_phase_of_four_letters_is_told_what_fits(at_home: Client, by: By, draft: FormulaVersion) -> None:
    """It stays as typed: no browser cuts it."""
    shown = text_of(typed(at_home, by, line_0_phase="ABCD"))

    assert "4 characters; 3 fit here. Shorten it." in shown
    assert re.search('name="line-0-phase" value="ABCD"(?![^>]*maxlength)', shown)
