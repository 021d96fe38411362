"""Words beside an amount that make it something else than how much goes in, and what a line says beside its recipe."""

from __future__ import annotations

import re

from formulas.rules.recipe.numbers import NUMBER
from formulas.rules.recipe.tongues import LOOKS_LIKE

_PART = (
    r"(?:oils|fats|butters|waxes|liquids?|powders|base|above|rest|remainder|(?:the\s+)?(?:oil|water|fat|wax|aqueous|"
    r"first|second|third|hot|cold|cool\s*down)\s+(?:phase|part)|phase(?:\s+\w+)?)"
)

PER_EACH = "So much for each of something else: how much is it here?"
OF_A_PART = "A percent of a part, not of the whole: how much is it of the whole?"
SO_MANY_OF = "So many of something, or of several: what do they weigh together?"
LIMITED = "That is a limit, not an amount. How much goes in?"

ASKED: tuple[tuple[re.Pattern[str], str], ...] = (
    (
        re.compile(
            r"(?i)\bper\b(?!\s*cent)|\bppo\b|/\s*(?:kg|g|lb|oz|l|ml|cups?|lit(?:re|er)s?)\b(?!\s*\d)|\bfor\s+every\b"
        ),
        PER_EACH,
    ),
    (
        re.compile(
            r"(?i)(?:%|percent|per cent)\s*[(\[]?\s*(?:of|on)\s+(?:(?:the|your|my|our|all|total|whole)\s+|"
            rf"(?:weight|mass|wt)\s+of\s+)*(?:{_PART}\b|oils?\s+(?:weight|phase|amount)\b|oil\b(?!\s+of\b))|"
            r"(?:%|percent|per cent).*\b(?:fettphase|ölphase|wasserphase|phase\s+(?:grasse|huileuse|aqueuse)|"
            r"fase\s+(?:grasa|oleosa|acuosa|grassa|acquosa))\b"
        ),
        OF_A_PART,
    ),
    (
        re.compile(
            r"(?i)(?<=[\w%.)])\s*[×*]\s*\d|\d\s*(?:k?g|ml|oz)?\s*x\s*[\d.]|[(\[]\s*x\s*\d|\b\d+\s?[x×](?=\s|\W|$)|"
            rf"(?<=[\w%.)])\s+[x×*]\s*\d|\d\s*@\s*\d|\bà\s*\d|\beach\b|\bapiece\b|\btimes\b|\btwice\b|\bthrice\b|"
            rf"\b(?:double|triple)d?\b(?=.*\d)|\bdozen\b|\b{NUMBER}\s*(?:pairs|lots|sets)\s+of\b"
        ),
        SO_MANY_OF,
    ),
    (
        re.compile(
            r"(?i)[<>≤≥±]|\+\s*/\s*-|"
            r"\b(?:up\s+to|at\s+most|at\s+least|max(?:imum)?|min(?:imum)?|less\s+than|(?:no|not)\s+more\s+than|more\s+than|"
            r"under|over|below|above|almost|nearly|just\s+under|just\s+over)\b\.?:?\s*(?:of\s+)?[\d.,]|"
            r"\bmax(?:imum)?\b|\bminimum\b|\(\s*min\.?\s*\)|\bor\s+(?:more|less|so)\b|\d\s*[^\s\d]{0,10}\s+(?:max(?:imum)?|min(?:imum)?|at\s+(?:most|least))\b"
        ),
        LIMITED,
    ),
    (re.compile(r"[⩽⩾≦≧]|\d\s?[^\W\d_]{0,4}\+(?=\s|$)"), LIMITED),
    (
        re.compile(r"(?i)\bv\s*/\s*v\b|\bw\s*/\s*v\b|%\s*\(?\s*(?:abv|by\s+vol|vol)|\bvol(?:ume|\.)?\s*%"),
        "Percent by volume: what does it weigh?",
    ),
    (
        re.compile(r"(?i)\btroy\b|\bapoth\w*"),
        "An ounce of another kind. What does it weigh?",
    ),
    (
        re.compile(r"(?i)\b(?:ci|c\.\s?i\.)\s*\d{5}\s*(?:m?g|kg|%)(?!.*\d)"),
        "That is the colour's number. How much goes in?",
    ),
    (
        re.compile(r"(?<!\w)\d+\s+[.,]\d|\d\s+/\s*\d|\d\s*/\s+\d"),
        "That may be one number or two. How much is it?",
    ),
    (
        re.compile(r"(?i)(?:\+|\bplus|\band)\s+(?:some\s+|a\s+(?:little|bit)\s+)?(?:extra|more)\b"),
        "And some more, it says. How much goes in?",
    ),
    (
        re.compile(
            rf"(?i)\b(?:minus|weniger|moins|menos|meno)\b|\b(?:less|without)\s+(?={NUMBER})|(?:^|\s)\u2212\s*\d"
        ),
        "Something is taken off. How much is left to go in?",
    ),
    (LOOKS_LIKE, "A letter or a mark stands where a figure may belong. How much is it?"),
    (
        re.compile(r"(?i)(?<![\d%])\s(?:to|auf|tot|hasta|ad|bis)\s+(?!100)\d[\d.,]*\s*%"),
        "Up to so many percent of the whole, or so many percent of it? How much goes in?",
    ),
    (
        re.compile(r"(?i)(?:%|percent)\s*(?:active|aktiv|actif|activo|attivo)(?!\w)"),
        "So much of what is active in it: how much of the whole goes in?",
    ),
    (
        re.compile(r"\d\s?[^\W\d_]{0,5}\s?\?|√"),
        "The line itself is unsure. How much goes in?",
    ),
    (
        re.compile(r"(?i)(?<!\w)(?:rest|remaining)(?!\w)"),
        "Does it take the rest as well? Give each a line of its own.",
    ),
    (
        re.compile(r"(?i)\b(?:quarts?|grains?)\s+d(?:[eiu]\b|')"),
        "A quarter, or so many grains of it: what does it weigh?",
    ),
    (re.compile(r"\bWAS\b"), "So much of what is active in it: how much of the whole goes in?"),
    (re.compile(r"\+\s*\d[\d.,]*\s*(?:%|percent)"), "And so many percent more. How much goes in?"),
)
"""What an amount may not be read beside, and what to ask instead. Other tongues' words stand in ``tongues``."""

HEAPED = re.compile(r"(?i)\b(?:heap(?:ed|ing)|rounded|generous|scant|big|large|small|packed|overflowing)\b")
"""Spoons and cups that aren't level."""

_AS_MUCH = r"\b(?:q\.?\s?(?:s\.?(?:\s?p\.?)?|b\.?)|c\.?\s?[sb]\.?\s?p\.?)"
_UP_TO = r"\b(?:(?:up\s)?to|ad\.?|auf|tot|hasta|jusqu'?\s?à|fino\s+a)"
_HUNDRED = r"100(?:[.,]0+)?"
TO_100 = re.compile(
    rf"(?i)(?:{_AS_MUCH}(?:\s*(?:to|ad\.?|à|a|auf))?\s*{_HUNDRED}(?![\d.,])\s*%?(?!\s*\w)|{_UP_TO}\s*{_HUNDRED}\s*(?:%|$)|"
    r"\bbalance\b|\bremainder\b)"
)
"""Takes what is left."""

BALANCED = re.compile(r"(?i)balance|remainder")
BALANCED_LINE = re.compile(
    r"(?i)^(?:the\s+)?(?:balance|remainder)(?:\s+of)?\W+(?!the\b|de\b|scales?\b|[ée]lectron|digital)|\W(?:the\s+)?(?:balance|remainder)\W*$"
)
"""Where such a word says that a line takes the rest: in front of the name, or behind it."""

TO_WHOLE = re.compile(
    rf"(?i){_AS_MUCH}\s*(?:(?:to|ad\.?|à|a|auf)\s+)?$|\b(?:auf|tot|hasta|jusqu'?\s?à|fino\s+a|ad\.)\s+$|"
    r"(?:\bq\.?\s?s\.?\s*)?(?<!\bup\s)\b(?:to|ad)(?:\s+make(?:\s+up)?)?(?:\s+a)?(?:\s+total\s+of)?\s+$|"
    r"\bmak(?:e|ing)(?:\s+up)?(?:\s+to)?(?:\s+a)?(?:\s+total\s+of)?\s+$"
)
"""Before an amount: it is that of the whole, and the line takes what is left to it."""

AS_NEEDED = re.compile(r"(?i)(?<!\w)(?:q\.?\s?(?:s\.?(?:\s?p\.?)?|b\.?)|c\.?\s?[sb]\.?\s?p\.?)(?!\w)")

BY_MASS = re.compile(
    r"(?i)\s*\(?\bw\s*/\s*w\b\)?|\s*\(?\bby\s+(?:weight|mass)\b\)?|\bwt\.?\s*(?=%)|(?<=%)\s*\(?(?:by\s+(?:weight|mass)|wt\.?(?!\w))\)?"
)
"""Words that say percent by mass, which every percent here is."""

ABOUT = re.compile(r"(?i)(?:\babout\b|\bapprox(?:imately|\.)?|\bca\.|\bcirca\b|\broughly\b|~)")

WHOLE = re.compile(
    r"(?i)^(?:yields?|makes|serves|(?:recipe|batch)\s+(?:size|weight|makes|for)|for(?=\s+\d)|"
    r"(?:(?:sub-?\s?|grand\s)?(?:total|sum)|recipe|batch|(?:final|net|finished)\s+(?:weight|mass|amount|quantity))"
    r"(?:\s+(?:weight|mass|amount|quantity|volume|batch|recipe|is|of\s+(?:the\s+)?(?:recipe|batch)))*\s*[:=|,~(-]*\s*(?:about|approx\w*\.?|ca\.)?\s*(?=[\d.]|$))"
    r"(?!\s*of\b)"
)
"""Lines that tell the size of the whole, not of a part."""

LINK = re.compile(
    r"(?i)\(?<a\s[^>]*>[^<]*(?:</a>)?\)?|(?:^|(?<=\W))(?:https?://|www\.)\S+(?:\s+\d\S*\s*\w{1,2}$)?"
)
"""An address, which may hold figures."""

_SO_MANY = rf"(?:about\s+|~\s*)?{NUMBER}(?:\s*(?:-|to)\s*{NUMBER})?\s*"
_DEGREES = rf"{_SO_MANY}(?:[°º˚]\s*[CFcf]?\b|degrees?\b(?:\s+(?:celsius|fahrenheit|C|F)\b)?)"
_WARM = r"(?:about\s+|~\s*)?\d{2,3}(?:\s*(?:-|to)\s*\d{2,3})?\s*[CF]\b"
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
    rf"(?i)^\W*(?:(?:heat|cool|warm)\s+)?(?:{_TO}\s*)?(?:(?:{_DEGREES})|(?:{_WARM})|(?:{_WHILE}))\W*$"
)
"""A line of nothing but a temperature or a time."""

PH_ALONE = re.compile(
    r"(?i)\W*(?:adjust\s+(?:the\s+)?|final\s+|target\s+|check\s+(?:the\s+)?)?ph\s*(?:value|level|range)?[\s:=~<>≈-]*"
    rf"(?:(?:is|of|to|at|should\s+be|between|around|about|ca\.?)\s*)*(?:{NUMBER}(?:\s*(?:-|to|and)\s*{NUMBER})?)?\W*"
)
"""A line that says a pH, not one of what sets it."""

NUMBERED = re.compile(
    r"(?i)(?:\b(?:pol[iy]s+orba(?:te?|at|to)|tween|span|polyglyceryl|btms|montanov|lanette|carbomer|peg|ppg|ceteareth|steareth|laureth|oleth|ceteth|poloxamer|polyquaternium|"
    r"quaternium|dimethicone|cyclopentasiloxane|ci|c\.\s?i\.|red|blue|yellow|green|orange|violet|black|(?:pro)?vitamin[ae]?\s+[bdk]|"
    r"omega|no\.?|nr\.?|n[°º.]|number|type)\s*-?\s*)$"
)
"""Before a number that belongs to a name: Polysorbate 80, CI 77491, vitamin B 5, as trade and law write them."""

NUMBERED_NAME = re.compile(rf"{NUMBERED.pattern[:-1]}\d+", NUMBERED.flags)
"""The name with its number."""
