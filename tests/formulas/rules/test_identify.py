"""Which substance a name means. CAS numbers: the glossary of common ingredient names, Decision (EU) 2022/677."""

from __future__ import annotations

import pytest

from formulas.rules.identify import Substances, as_known, cas_numbers, has_check_digit

KNOWN: Substances = as_known(
    (
        ("aqua", "Aqua", "7732-18-5", ("Water",)),
        ("glycerin", "Glycerin", "56-81-5", ()),
        ("parfum", "Parfum", "", ("Fragrance",)),
        ("butyrospermum-parkii-butter", "Butyrospermum Parkii Butter", "194043-92-0", ("shea butter",)),
        ("tocopherol", "Tocopherol", "59-02-9; 10191-41-0", ()),
        ("tocopheryl-acetate", "Tocopheryl Acetate", "7695-91-2; 58-95-7", ()),
        ("caprylic-capric-triglyceride", "Caprylic/Capric Triglyceride", "73398-61-5; 65381-09-1", ()),
        ("coconut-oil", "Cocos Nucifera Oil", "8001-31-8", ()),
        ("hydrogenated-coconut-oil", "Hydrogenated Coconut Oil", "8001-31-8", ()),
        ("ci-77891", "CI 77891", "13463-67-7", ("Titanium Dioxide",)),
    )
)


@pytest.mark.parametrize(
    ("name", "cas", "key"),
    [
        ("GLYCERIN*", "", "glycerin"),
        ("Water (Aqua)", "", "aqua"),
        ("Aqua/Water/Eau", "", "aqua"),
        ("Parfum (Fragrance)", "", "parfum"),
        ("Butyrospermum Parkii (Shea) Butter", "", "butyrospermum-parkii-butter"),
        ("Shea Butter", "", "butyrospermum-parkii-butter"),
        ("Caprylic/Capric Triglyceride", "", "caprylic-capric-triglyceride"),
        ("Titanium dioxide (CI 77891)", "", "ci-77891"),
        ("C.I. 77891", "", "ci-77891"),
        ("", "000056-81-5", "glycerin"),
        ("Glycerin", "56-81-5", "glycerin"),
        ("Tocopherol", "10191-41-0", "tocopherol"),
        ("Glycerine", "", "glycerin"),
    ],
)
def test_what_is_sure(name: str, cas: str, key: str) -> None:
    """Other case, brackets, three languages, footnote marks, label names, a number alone."""
    found = KNOWN.find(name, cas)

    assert found.sure is not None, found
    assert found.sure.key == key


@pytest.mark.parametrize(
    ("name", "cas", "offered", "words"),
    [
        ("Glycerin", "7732-18-5", {"glycerin", "aqua"}, "The name says Glycerin"),
        ("Vitamin acetate", "7695-91-2", {"tocopheryl-acetate"}, "stands for Tocopheryl Acetate"),
        ("", "8001-31-8", {"coconut-oil", "hydrogenated-coconut-oil"}, "Cocos Nucifera Oil or"),
        ("Tocopherol/Sea silk", "", {"tocopherol"}, "Only a part"),
        ("Aqua/Glycerin", "", {"aqua", "glycerin"}, "Only a part"),
        ("Glycerin (Aqua)", "", {"glycerin", "aqua"}, "Two substances"),
        ("Tocopheryl Acetat", "", {"tocopheryl-acetate"}, ""),
        ("Sea silk", "", set(), ""),
    ],
)
def test_what_is_asked(name: str, cas: str, offered: set[str], words: str) -> None:
    """A name and a number that disagree, a number of two, half a name, a slip: offered, never taken."""
    found = KNOWN.find(name, cas)

    assert found.sure is None
    assert {one.key for one in found.offers} >= offered
    assert words in found.says


def test_a_cas_number_with_a_wrong_digit_says_so() -> None:
    """56-81-5 is glycerin: 1x1 + 8x2 + 6x3 + 5x4 = 55, so 5; a 6 is a slip (CAS, check digit verification)."""
    assert has_check_digit("56-81-5")
    assert not has_check_digit("56-81-6")
    found = KNOWN.find("Glycerin", "56-81-6")
    assert found.sure is not None
    assert "last digit" in found.says
    assert cas_numbers("CAS: 59-02-9 / 10191-41-0; EC 200-412-2x") == ["59-02-9", "10191-41-0"]


def test_searching_offers_what_has_the_words_in_it() -> None:
    """A part of a name, another name, a number."""
    assert [one.key for one in KNOWN.search("tocophero", 9)] == ["tocopherol"]
    assert {one.key for one in KNOWN.search("toco", 9)} == {"tocopherol", "tocopheryl-acetate"}
    assert [one.key for one in KNOWN.search("shea", 9)] == ["butyrospermum-parkii-butter"]
    assert [one.key for one in KNOWN.search("13463-67-7", 9)] == ["ci-77891"]
    assert KNOWN.search("%&", 9) == []


LABELLED = as_known(
    (
        ("citral", "Citral", "5392-40-5", ("", "Citral")),
        ("geranial", "Geranial", "141-27-5", ("", "Citral")),
        ("neral", "Neral", "106-26-3", ("", "Citral")),
        ("titanium-dioxide", "Titanium Dioxide", "1317-80-2", ("Titanium Dioxide",)),
        ("ci-77891", "CI 77891", "13463-67-7", ("Titanium Dioxide",)),
    )
)
"""Two of them stand on a label under the name of a third."""


@pytest.mark.parametrize(
    ("name", "cas", "key"),
    [
        ("Citral", "", "citral"),
        ("CITRAL*", "", "citral"),
        ("Citral", "5392-40-5", "citral"),
        ("Citral", "106-26-3", "neral"),
        ("Titanium dioxide", "", "titanium-dioxide"),
        ("Titanium dioxide (CI 77891)", "", "ci-77891"),
    ],
)
def test_an_inci_name_is_that_of_its_own_substance_first(name: str, cas: str, key: str) -> None:
    """Unless the number or the bracket beside it says which of those that go by it."""
    found = LABELLED.find(name, cas)

    assert found.sure is not None, found
    assert found.sure.key == key
