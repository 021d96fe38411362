"""Going back among saved states, making room for a line, and two formulas side by side."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.compare import compare_findings, compare_shares, first_parting, in_short
from formulas.rules.findings import Finding
from formulas.rules.history import Place, Saved, place_of
from formulas.rules.percent import FormulaLine, grams, resolve
from formulas.rules.room import make_room, places_of
from formulas.rules.totals import substance_totals
from tests.formulas.rules.strategies import complete_formulas, point_compositions

D = Decimal


def line(key: str, percent: str = "", kind: str = "percent", **more: str) -> FormulaLine:
    """A line of a percent, or of another kind."""
    figures = {name: D(value) for name, value in more.items()}
    return FormulaLine(key, key, key, D(percent) if percent else None, kind, **figures)  # type: ignore[arg-type]


# -- going back and forth


def test_nothing_saved_is_nowhere() -> None:
    """No state before and none after."""
    assert place_of([]) == Place(None, None, None)


def test_back_twice_forth_once_then_something_new() -> None:
    """A new state takes the place of those that were gone back from."""
    saves = [Saved(0), Saved(1), Saved(2), Saved(3, restores=1), Saved(4, restores=0)]
    assert place_of(saves) == Place(0, None, 1)
    saves.append(Saved(5, restores=1))
    assert place_of(saves) == Place(1, 0, 2)
    saves.append(Saved(6))
    assert place_of(saves) == Place(6, 1, None)


@given(acts=st.lists(st.sampled_from(["save", "undo", "redo"]), max_size=40))
def test_undo_and_redo_are_what_two_stacks_make_of_them(acts: list[str]) -> None:
    """Against the textbook way of keeping two stacks; a step back and forth again changes nothing."""
    saves, done = [Saved(0)], [0]
    undone: list[int] = []
    for act in acts:
        place = place_of(saves)
        edit = saves[-1].edit + 1
        if act == "save":
            saves.append(Saved(edit))
            done.append(edit)
            undone.clear()
        elif act == "undo" and place.before is not None:
            saves.append(Saved(edit, restores=place.before))
            undone.append(done.pop())
        elif act == "redo" and place.after is not None:
            saves.append(Saved(edit, restores=place.after))
            done.append(undone.pop())
        found = place_of(saves)
        assert found.at == done[-1]
        assert found.before == (done[-2] if len(done) > 1 else None)
        assert found.after == (undone[-1] if undone else None)


# -- making room


def test_the_others_keep_their_proportions() -> None:
    """60 and 30 beside 10: at 25 for the last, 75 is shared 2 to 1."""
    lines = [line("butter", "60"), line("oil", "30"), line("wax", "10")]

    assert make_room(lines, "wax", D(25)).percents == {"butter": D(50), "oil": D(25), "wax": D(25)}


def test_what_can_not_be_shared_evenly_goes_to_the_largest_remainders() -> None:
    """95 in three parts at 0.01 %: two of 31.67 and one of 31.66."""
    lines = [line("a", "30"), line("b", "30"), line("c", "30"), line("d", "10")]

    found = make_room(lines, "d", D(5)).percents

    assert [found[key] for key in "abc"] == [D("31.67"), D("31.67"), D("31.66")]


def test_the_line_to_100_gives_its_part() -> None:
    """By hand: 93 for what took 98, so each at 93/98: water 67.9 to 64.44, preservative 0.8 to 0.76, all 100."""
    lines = [
        line("water", kind="to_100"),
        line("oil", "20"),
        line("emulsifier", "6"),
        line("preservative", "0.8"),
        line("chamomile", "2"),
        line("glycerine", "3.3"),
        line("acid", kind="adjust", adjust_low="0", adjust_high="1"),
    ]

    found = make_room(lines, "chamomile", D(7))

    assert found.percents == {
        "oil": D("18.98"),
        "emulsifier": D("5.69"),
        "preservative": D("0.76"),
        "chamomile": D(7),
        "glycerine": D("3.13"),
    }
    assert found.rest == ("water", D("67.9"), D("64.44"))
    assert found.shrank


def test_a_line_that_takes_less_lets_the_others_grow() -> None:
    """The line to 100 alone may be what makes room, too."""
    lines = [line("water", kind="to_100"), line("wax", "10")]

    found = make_room(lines, "wax", D(5))

    assert (found.percents, found.shrank, found.rest) == ({"wax": D(5)}, False, ("water", D(90), D(95)))


def test_the_line_to_100_itself_may_be_the_one() -> None:
    """The others leave what it is to take."""
    lines = [line("water", kind="to_100"), line("oil", "20"), line("wax", "10")]

    assert make_room(lines, "water", D(40)).percents == {"oil": D(40), "wax": D(20)}


@pytest.mark.parametrize(
    ("lines", "key", "percent", "said"),
    [
        ([line("a", "100")], "a", "50", "no other line"),
        ([line("a", "50"), line("b", "50")], "a", "100", "leaves nothing"),
        ([line("a", "50"), line("b", "50")], "a", "0", "leaves nothing"),
        ([line("a", "50"), line("b")], "a", "10", "above 0 first"),
        ([line("a", "50"), line("b", kind="adjust")], "b", "10", "takes a percent"),
        ([line("w", kind="to_100"), line("a", "60"), line("b", "40")], "a", "50", "Nothing is left for w"),
        ([line("a", "99.99999999"), line("b", "0.00000001")], "a", "99.999999995", "come to nothing"),
    ],
)
def test_where_no_room_can_be_made_it_says_why(
    lines: list[FormulaLine], key: str, percent: str, said: str
) -> None:
    """In words for the maker."""
    with pytest.raises(ValueError, match=said):
        make_room(lines, key, D(percent))


@given(lines=complete_formulas(), data=st.data(), percent=st.decimals("0.01", "60", places=2))
def test_after_making_room_the_whole_makes_100(
    lines: list[FormulaLine], data: st.DataObject, percent: Decimal
) -> None:
    """Exactly, with the line at its figure and each other within one step of its proportion."""
    chosen = data.draw(st.sampled_from(lines))
    weights = {one.key: one.percent or D(0) for one in resolve(lines).lines if one.key != chosen.key}
    try:
        made = make_room(lines, chosen.key, percent).percents
    except ValueError:
        return
    after = [FormulaLine(one.key, one.ingredient, one.name, made.get(one.key), one.kind) for one in lines]
    resolved = resolve(after)
    shares = {one.key: one.percent for one in resolved.lines}

    assert resolved.is_complete
    assert shares[chosen.key] == percent
    found = {key: shares[key] or D(0) for key in weights}
    whole = sum(weights.values())
    step = Fraction(1, 10 ** max(2, *(places_of(one) for one in found.values())))
    for key, weight in weights.items():
        assert found[key] > 0
        assert abs(Fraction(found[key]) - Fraction(100 - percent) * Fraction(weight) / Fraction(whole)) < step


# -- percent to grams and back; order


@given(
    lines=complete_formulas(),
    total=st.decimals("1", "50000", places=1),
    step=st.sampled_from(["1", "0.1", "0.01", "0.001"]),
)
def test_percent_to_grams_to_percent_is_the_identity_within_a_step(
    lines: list[FormulaLine], total: Decimal, step: str
) -> None:
    """Grams of the plan, read back as percent of it, miss the line by less than one step of the scale."""
    plan = grams(lines, total, D(step))
    percents = {one.key: one.percent for one in resolve(lines).lines}
    for one in plan.lines:
        back = Fraction(one.low_g) * 100 / Fraction(plan.total_g)
        assert abs(back - Fraction(percents[one.key] or D(0))) < Fraction(step) * 100 / Fraction(plan.total_g)


@given(lines=complete_formulas(), data=st.data())
def test_the_order_of_lines_never_changes_totals(lines: list[FormulaLine], data: st.DataObject) -> None:
    """Shuffled lines make the same sum, the same shares and the same percent of each substance."""
    shuffled = data.draw(st.permutations(lines))
    compositions = {name: data.draw(point_compositions(name)) for name in ("a", "b", "c", "d")}
    first, second = resolve(lines), resolve(shuffled)

    assert first.total == second.total
    assert {one.key: one.share for one in first.lines} == {one.key: one.share for one in second.lines}
    totals = [substance_totals(one.lines, compositions) for one in (first, second)]
    amounts = [{(part.substance, part.kind): part.amount for part in one.declared} for one in totals]
    assert amounts[0] == amounts[1]
    assert sorted(str(one.percent) for one in totals[0].unknown) == sorted(
        str(one.percent) for one in totals[1].unknown
    )


# -- side by side


def test_what_changed_in_percent() -> None:
    """New, gone, changed and same; two lines of one ingredient count together."""
    left = resolve([line("oil", "60"), line("wax", "30"), line("shea", "10")])
    right = resolve(
        [line("oil", "30"), FormulaLine("oil-2", "oil", "oil", D(35)), line("wax", "30"), line("clay", "5")]
    )

    found = {one.ingredient: (one.change, one.difference) for one in compare_shares(left, right)}

    assert found == {
        "oil": ("changed", D(5)),
        "wax": ("same", D(0)),
        "clay": ("new", D(5)),
        "shea": ("gone", D(-10)),
    }


def test_a_range_has_no_single_difference() -> None:
    """Acid as needed, now up to 1 %: changed, by nothing that is one figure."""
    left = resolve([line("acid", kind="adjust", adjust_low="0", adjust_high="0.5")])
    right = resolve([line("acid", kind="adjust", adjust_low="0", adjust_high="1")])

    (found,) = compare_shares(left, right)

    assert (found.change, found.difference, found.as_needed) == ("changed", None, True)


@given(lines=complete_formulas())
def test_a_formula_beside_itself_shows_no_change(lines: list[FormulaLine]) -> None:
    """Whatever it holds."""
    formula = resolve(lines)

    assert {one.change for one in compare_shares(formula, formula)} == {"same"}
    assert in_short(formula, formula) == ""


def test_in_short_names_what_was_touched_and_not_what_follows() -> None:
    """The line "to 100" moved because the oil did."""
    left = resolve([line("water", kind="to_100"), line("oil", "20"), line("wax", "5")])
    right = resolve([line("water", kind="to_100"), line("oil", "21.5"), line("wax", "4")])

    assert in_short(left, right) == "oil 20 to 21.5 and 1 more"
    assert (
        in_short(resolve([line("oil", "20")]), resolve([line("oil", "20"), line("wax", "5")])) == "wax put in"
    )
    assert (
        in_short(resolve([line("oil", "20"), line("wax", "5")]), resolve([line("oil", "20")]))
        == "wax taken out"
    )


def test_findings_new_gone_and_in_other_words() -> None:
    """What both say alike is left out."""
    both = Finding("a", "note", "oil", "Same.")
    old, now = (
        Finding("b", "stop", "wax", "1.2 % is too much."),
        Finding("b", "stop", "wax", "1.4 % is too much."),
    )
    gone, new = Finding("c", "caution", "oil", "Was."), Finding("d", "unknown", "oil", "Is.")

    found = compare_findings([both, old, gone], [both, now, new])

    assert [(one.change, one.left, one.right) for one in found] == [
        ("new", None, new),
        ("changed", old, now),
        ("gone", gone, None),
    ]


@pytest.mark.parametrize(
    ("left", "right", "place"), [("abc", "abc", None), ("abc", "acb", 2), ("ab", "abc", 3), ("", "", None)]
)
def test_where_two_lists_part(left: str, right: str, place: int | None) -> None:
    """The first place that differs, from 1."""
    assert first_parting(list(left), list(right)) == place
