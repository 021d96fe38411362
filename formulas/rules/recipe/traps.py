"""Words beside an amount that make it something else than how much goes in, and what a line says beside its recipe."""

from __future__ import annotations

import re

from formulas.rules.recipe.numbers import NUMBER

_PART = (
    r"(?:oils|fats|butters|waxes|liquids?|powders|base|above|rest|remainder|(?:the\s+)?(?:oil|water|fat|wax|aqueous|"
    r"first|second|third|hot|cold|cool\s*down)\s+(?:phase|part)|phase(?:\s+\w+)?)"
)

ASKED: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(
            r"(?i)\bper\b(?!\s*cent)|\bppo\b|/\s*(?:kg|g|lb|oz|l|ml|cups?|lit(?:re|er)s?)\b(?!\s*\d)|\bfor\s+every\b"
        ),
        "So much for each of something else: how much is it here?",
    ),
    (
        re.compile(rf"(?i)(?:%|percent|per cent)\s*of\s+(?:the\s+|all\s+(?:the\s+)?|total\s+)?{_PART}\b"),
        "A percent of a part, not of the whole: how much is it of the whole?",
    ),
    (
        re.compile(
            rf"(?i)\d\s*[x×*]\s*[\d.]|(?<=[\w%.)])\s+[x×*]\s*\d|\beach\b|\bapiece\b|\btimes\b|\btwice\b|\bthrice\b|"
            rf"\b(?:double|triple)d?\b(?=.*\d)|\bdozen\b|\b{NUMBER}\s*(?:pairs|lots|sets)\s+of\b"
        ),
        "So many of something: what do they weigh together?",
    ),
    (
        re.compile(
            r"(?i)[<>≤≥±]|\+\s*/\s*-|"
            r"\b(?:up\s+to|at\s+most|at\s+least|max(?:imum)?|min(?:imum)?|less\s+than|(?:no|not)\s+more\s+than|more\s+than|"
            r"under|over|below|above|almost|nearly|just\s+under|just\s+over)\b\.?:?\s*(?:of\s+)?[\d.,]|"
            r"\bor\s+(?:more|less|so)\b|\d\s*[^\s\d]{0,10}\s+(?:max(?:imum)?|min(?:imum)?|at\s+(?:most|least))\b"
        ),
        "That is a limit, not an amount. How much goes in?",
    ),
    (
        re.compile(r"(?i)\bv\s*/\s*v\b|\bw\s*/\s*v\b|%\s*\(?\s*(?:abv|by\s+vol|vol)|\bvol(?:ume|\.)?\s*%"),
        "Percent by volume: what does it weigh?",
    ),
    (
        re.compile(r"(?i)(?:\+|\bplus|\band)\s+(?:some\s+|a\s+(?:little|bit)\s+)?(?:extra|more)\b"),
        "And some more, it says. How much goes in?",
    ),
    (
        re.compile(rf"(?i)\b(?:minus|less|without)\s+(?={NUMBER})|(?:^|\s)\u2212\s*\d"),
        "Something is taken off. How much is left to go in?",
    ),
)
"""What an amount may not be read beside, and what to ask instead."""

HEAPED = re.compile(r"(?i)\b(?:heap(?:ed|ing)|rounded|generous|scant|big|large|small|packed|overflowing)\b")
"""Spoons and cups that aren't level."""

TO_100 = re.compile(
    r"(?i)(?:\bq\.?\s?s\.?(?:\s*(?:to|ad))?\s*100\s*%?(?!\s*\w)|\b(?:up\s)?(?:to|ad)\s*100\s*%|\b(?:up\s)?(?:to|ad)\s*100$"
    r"|\bbalance\b|\bremainder\b)"
)
"""Takes what is left."""

TO_WHOLE = re.compile(
    r"(?i)(?:\bq\.?\s?s\.?\s*)?(?<!\bup\s)\b(?:to|ad)(?:\s+make(?:\s+up)?)?(?:\s+a)?(?:\s+total\s+of)?\s+$|"
    r"\bmak(?:e|ing)(?:\s+up)?(?:\s+to)?(?:\s+a)?(?:\s+total\s+of)?\s+$"
)
"""Before an amount: it is that of the whole, and the line takes what is left to it."""

AS_NEEDED = re.compile(r"(?i)(?<!\w)q\.?\s?s\.?(?!\w)")

BY_MASS = re.compile(
    r"(?i)\s*\(?\bw\s*/\s*w\b\)?|\bwt\.?\s*(?=%)|(?<=%)\s*\(?(?:by\s+(?:weight|mass)|wt\.?(?!\w))\)?"
)
"""Words that say percent by mass, which every percent here is."""

ABOUT = re.compile(r"(?i)(?:\babout\b|\bapprox(?:imately|\.)?|\bca\.|\bcirca\b|\broughly\b|~)")

WHOLE = re.compile(
    r"(?i)^(?:(?:sub-?\s?|grand\s)?(?:total|sum)|yields?|makes|serves|(?:recipe|batch)(?:\s+(?:size|weight|makes|for))?"
    r"|for(?=\s+\d)|(?:final|net|finished)\s+(?:weight|mass|amount|quantity))\b(?!\s+of\b)"
)
"""Lines that tell the size of the whole, not of a part."""

LINK = re.compile(
    r"(?i)\(?<a\s[^>]*>[^<]*(?:</a>)?\)?|(?:^|(?<=\W))(?:https?://|www\.)\S+(?:\s+\d\S*\s*\w{1,2}$)?"
)
"""An address, which may hold figures."""

_SO_MANY = rf"(?:about\s+|~\s*)?{NUMBER}(?:\s*(?:-|to)\s*{NUMBER})?\s*"
_DEGREES = rf"{_SO_MANY}(?:[°º˚]\s*[CFcf]?\b|degrees?\b(?:\s+(?:celsius|fahrenheit|C|F)\b)?)"
_WARM = rf"{_SO_MANY}[CF]\b"
_WHILE = rf"{_SO_MANY}(?:min(?:ute)?s?|hours?|hrs?|days?|weeks?|sec(?:ond)?s?)\b"
_TO = (
    r"(?:heated\s+to|cooled\s+to|warmed\s+to|melted\s+at|melt\s+at|at|to|until|below|under|above|over|@|<|>)"
)
ASIDE = re.compile(
    rf"(?i:[,;(\[-]*\s*(?:{_TO}\s*)?)(?:(?i:{_DEGREES})|(?<=[(\[]){_WARM}(?=\s*[)\]])|(?<=at\s){_WARM}|(?<=to\s){_WARM}|"
    rf"(?<=below\s){_WARM}|(?<=under\s){_WARM}|(?<=@\s){_WARM}|(?<=@){_WARM})\.?\s*[)\]]?|(?i:\s*[,;(\[]*\s*for\s+{_WHILE}\s*[)\]]?)"
)
"""A temperature or a time within a line: said of the step, not of the amount."""

ONLY_ASIDE = re.compile(
    rf"(?i)^\W*(?:(?:heat|cool|warm)\s+)?(?:{_TO}\s*)?(?:(?:{_DEGREES})|(?:{_WARM})|(?:{_WHILE}))\W*$|"
    r"^\W*(?:adjust\s+(?:the\s+)?|final\s+|target\s+|check\s+(?:the\s+)?)?ph\b(?!.*\b(?:g|ml|drops?)\b)(?!.*%).*"
)
"""A line of nothing but a temperature, a time or a pH."""

NUMBERED = re.compile(
    r"(?i)(?:\b(?:polysorbate|carbomer|peg|ppg|ceteareth|steareth|laureth|oleth|ceteth|poloxamer|polyquaternium|"
    r"quaternium|dimethicone|cyclopentasiloxane|ci|c\.\s?i\.|red|blue|yellow|green|orange|violet|black|vitamin\s+[a-k]|"
    r"omega|no\.?|number)\s*-?\s*)$"
)
"""Before a number that belongs to a name: Polysorbate 80, CI 77491, vitamin B 5, as trade and law write them."""
