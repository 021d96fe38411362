"""Numbers as recipes write them: 1 1/2, ½, 3,5, 2-3, half. What can be read in two ways is not read."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from fractions import Fraction

NUMBER = r"(?:\d+\ \d+/\d+|\d+-\d+/\d+|\d+/\d+|\d(?:[\d.,']*\d)?|[.,]\d+)"
SPAN = (
    rf"(?<![\w.,'])(?<!\d[/-])(?P<first>{NUMBER})(?:\s*(?:-|\bto\b|\bor\b)\s*(?P<second>{NUMBER}))?(?![\d/])"
)

SPOKEN = {
    "a half": "1/2", "half a": "1/2", "half an": "1/2", "half": "1/2", "a quarter": "1/4", "quarter": "1/4",
    "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8",
    "nine": "9", "ten": "10", "eleven": "11", "twelve": "12", "a": "1", "an": "1",
}  # fmt: skip

LONGEST = 20
"""Characters of the longest number that is read."""
_SEEN = "\u200c\u200d"
"""Joiners, which change how a name is written."""
_DASHES = dict.fromkeys(map(ord, "\u2010\u2011\u2012\u2013\u2014\u2212"), "-")
_WRITTEN_SO: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"(?<=\d)[·‧∙⋅](?=\d(?!\d))"), "."),
    (re.compile(r"(?i)\bthree[ -]quarters?\b"), "3/4"),
    (re.compile(r"(?i)(?<=\d/\d) of an?(?=\s[^\W\d])"), ""),
    *(
        (re.compile(rf"(?i)(?<![\w.,/]){word} and (?:a |one )?{part}\b"), f"{figure} {share}")
        for word, figure in (
            ("one", 1),
            ("two", 2),
            ("three", 3),
            ("four", 4),
            *((str(n), n) for n in range(1, 10)),
        )
        for part, share in (("half", "1/2"), ("quarter", "1/4"))
    ),
    (re.compile(r"(?<=\d)[´`ʹʼ′](?=\d)"), "'"),
    (re.compile(r"(?<=[^\d\s]),(?=\d)"), ", "),
    (re.compile(r"(?<=\d)(?:\.{2,3}|…|~|\s*÷\s*)(?=\d)"), "-"),
    (
        re.compile(r"(?<![\d.,/])(\d{1,2})\s*(?:\band\b|\bund\b|\bet\b|&|\+)\s*(\d{1,2}/\d{1,2})(?![\d/.,])"),
        r"\1 \2",
    ),
)
"""Marks within numbers, each with the plain way: 1·5, 1´200, shea,30 g, 2…3, 1 and 1/2."""
_SPOKEN = re.compile(rf"(?i)^(?:{'|'.join(sorted(SPOKEN, key=len, reverse=True))})\s+(?=\w)")


@dataclass(frozen=True, slots=True)
class Count:
    """How many; low and high differ where the recipe gives a range."""

    low: Fraction
    high: Fraction

    @property
    def is_whole(self) -> bool:
        """One whole number."""
        return self.low == self.high and self.low.denominator == 1


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why a number is not read, and what it may mean."""

    sentence: str


def plain(text: str) -> str:
    """One line with fractions as n/d, one kind of dash, space and digit, and a spoken number in figures.

    "1½" becomes "1 1/2", "one cup" becomes "1 cup". Marks that can't be seen go.
    """
    marks = []
    text = re.sub(r"(?<=\d)\u200b+(?=\d)", " ", re.sub(r"(?<=\d)\u00ad(?=\d)", "-", text))
    for mark in text.translate(_DASHES):
        if unicodedata.category(mark) == "No" and "FRACTION" in unicodedata.name(mark, ""):
            marks.append(" " + unicodedata.normalize("NFKC", mark).replace("\u2044", "/") + " ")
        elif mark.isdecimal():
            marks.append(str(unicodedata.decimal(mark)))
        elif "\uff01" <= mark <= "\uff5e":
            marks.append(unicodedata.normalize("NFKC", mark))
        elif unicodedata.category(mark) not in {"Cf", "Cc"} or mark in _SEEN or mark.isspace():
            marks.append("/" if mark in "\u2044\u2215" else "'" if mark == "\u2019" else mark)
    line = " ".join(unicodedata.normalize("NFC", "".join(marks)).split())
    for pattern, so in _WRITTEN_SO:
        line = pattern.sub(so, line)
    spoken = _SPOKEN.match(line)
    if spoken is None:
        return line
    return f"{SPOKEN[' '.join(spoken.group(0).lower().split())]} {line[spoken.end() :]}"


def read_count(first: str, second: str | None, between: str = "-") -> Count | Doubt:
    """A number, or a range of two. "1-1/2" is one and a half; a range that falls is asked."""
    low = read_number(first)
    if isinstance(low, Doubt) or second is None:
        return low if isinstance(low, Doubt) else Count(low, low)
    high = read_number(second)
    if isinstance(high, Doubt):
        return high
    if between.strip() == "or":
        return Doubt(f"“{first} or {second}”: which of the two?")
    if high <= low:
        return Doubt(f"“{first} - {second}” falls: which of the two is it?")
    return Count(low, high)


def read_number(text: str) -> Fraction | Doubt:
    """One number. A mark that may part thousands or decimals is asked, and a number longer than any amount is."""
    if len(text) > LONGEST:
        return Doubt(f"“{text[:LONGEST]}…” is no amount.")
    mixed = re.fullmatch(r"(\d+)[ -](\d+)/(\d+)", text)
    if mixed or "/" in text:
        whole, over, under = mixed.groups() if mixed else ("0", *text.split("/"))
        if int(under) == 0 or (mixed and int(over) >= int(under)):
            return Doubt(f"“{text}” is no number as it stands.")
        if not mixed and len(over) > 1:
            return Doubt(f"“{text}” may be {over[:-1]} {over[-1]}/{under}. How much is it?")
        return int(whole) + Fraction(int(over), int(under))
    if re.fullmatch(r"[1-9]\d{0,2}(?:'\d{3}){2,}", text):
        return Fraction(text.replace("'", ""))
    if re.fullmatch(r"\d{1,3}'\d{3}", text):
        whole, parts = text.split("'")
        return Doubt(f"“{text}” may be {whole}{parts} or {whole}.{parts}. Which?")
    if "'" in text:
        return Doubt(f"“{text}” is no number as it stands.")
    marks = [mark for mark in text if mark in ".,"]
    if len(marks) == 1:
        return _one_mark(text, marks[0])
    if marks:
        return _more_marks(text, marks)
    return Fraction(text)


def _one_mark(text: str, mark: str) -> Fraction | Doubt:
    before, after = text.split(mark)
    if len(after) == 3 and before not in {"", "0"} and not before.startswith("0"):
        return Doubt(f"“{text}” may be {before}{after} or {before}.{after}. Which?")
    return Fraction(f"{before or '0'}.{after}")


def _more_marks(text: str, marks: list[str]) -> Fraction | Doubt:
    last = marks[-1]
    other = "," if last == "." else "."
    whole, after = text.rsplit(last, 1)
    groups = whole.split(other)
    if last in whole:  # every mark is of one kind, or they are mixed: only thousands can be so
        groups, after = text.split(last), ""
    good = len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])
    if not good or not all(group.isdigit() for group in groups):
        return Doubt(f"“{text}” is no number as it stands.")
    return Fraction("".join(groups) + (f".{after}" if after else ""))
