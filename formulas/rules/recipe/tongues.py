"""Words of several languages that make an amount something else than how much goes in. Common words, no source."""

from __future__ import annotations

import re

LIMIT = re.compile(
    r"(?i)(?<!\w)(?:höchstens|mindestens|maximal|minimal|maximaal|minimaal|mehr als|weniger als|plus de|moins de|"
    r"au plus|au moins|más de|menos de|mínimo|máximo|al menos|como máximo|più di|meno di|almeno|al massimo|minstens|"
    r"hoogstens|minder dan|meer dan|not quite|barely|scarcely|knapp|gut)(?!\w)|"
    r"(?<!\w)(?:bis zu|bis|über|unter|hasta|fino a|tot)\s+[\d.,]|[⩽⩾≦≧]|\d\s?[^\W\d_]{0,4}\+(?=\s|$)"
)

EACH = re.compile(
    r"(?i)(?<!\w)(?:je|jeweils|jede[rsnm]?|chacune?s?|chaque|cada|ciascun[oa]?|elk|ieder|aa|ana|ea|both|ditto|same|"
    r"apiece|halved?|zweimal|dreimal|doppelt|doble|tweemaal|dubbel|doppio|deux fois|dos veces|due volte|"
    r"(?:double|triple|half) batch|hälfte|moitié|mitad|metà|helft|drittel|viertel|tiers|tercio|terzo|more)(?!\w)"
)

PER = re.compile(
    r"(?i)/\s*(?:tsp|tbsp|drop|jar|bar|batch|pack|piece|tin|pot|cup|bottle|litre|liter|kilo)s?\b|"
    r"(?<!\w)(?:pro|par|por|al|a)\s+(?:kg|kilo|liter|litre|litro|jar|bar|piece|batch|tin|pot|bottle)(?!\w)"
)

OF_OILS = re.compile(
    r"(?i)(?:%|percent|per cent)[\s,(]*(?:of|on|der|vom|von|auf|des|du|de|dell\w*|degli|op|van|bezogen|based)\b.*"
    r"(?<!\w)(?:öle?n?|öls|fett\w*|gesamtfett\w*|huiles|graisses|aceites|grasas|olii?|grassi|oliën|TOW|"
    r"GFM|oils|fats)(?!\w)|"
    r"(?:%|percent|per cent).*(?<!\w)(?:GFM|TOW|ÜF)(?!\w)"
)

SETTING = re.compile(
    r"(?i)(?<!\w)(?:super\s?fat(?:ted)?|lye\s+(?:discount|concentration)|water\s+discount|überfettung|surgras|"
    r"fragrance\s+load)(?!\w)"
)
"""What a whole is made to, not what goes in."""

LOOKS_LIKE = re.compile(
    r"(?<!\w)[lIO]\s?[/.,]\s?\d|\|\s?/\s?\d|(?<!\w)[lI]\s+\d+/\d|(?<!\w)[lIO]\d|\d[lIO]\d|"
    r"\d:\d+(?:[.,]\d+)?\s?(?:g|kg|mg|ml|l|oz|tsp|tbsp|%)(?!\w)"
)
"""A letter or a mark where a figure may have stood."""

WATERY = re.compile(
    r"(?i)(?<!\w)(?:water|aqua|eau|agua|acqua|wasser|hydrosol|hydrolate?|juice|infusion|tea|base|oil)(?!\w)"
)
"""What fills up to a whole as a rule."""

SHORTENED = re.compile(
    r"(?i)\b(?:reduced?|dilute[ds]?|increase[ds]?|round(?:ed)?|concentrate[ds]?|boiled|cooked)\b"
)

SPOKEN_AMOUNT = re.compile(
    r"(?i)(?<!\w)(?:an?|half|one|two|three|four|five|six|seven|eight|nine|ten|twelve|fifteen|twenty|thirty|forty|fifty|"
    r"ein(?:e[nmr]?)?|zwei|drei|une?|deux|trois)\s+(?:an?\s+|level\s+|heaped\s+|gehäufter?\s+)?"
    r"(?:grams?|drops?|cups?|tablespoons?|teaspoons?|tbsp|tsp|ounces?|oz|pinch(?:es)?|handfuls?|scoops?|spoons?|capsules?|"
    r"esslöffel|teelöffel|tropfen|gramm|gouttes?|cuillères?)(?!\w)"
)

ASKED_TOO: tuple[tuple[re.Pattern[str], str], ...] = (
    (LIMIT, "That is a limit, not an amount. How much goes in?"),
    (EACH, "So many of something, or of several: what do they weigh together?"),
    (PER, "So much for each of something else: how much is it here?"),
    (OF_OILS, "A percent of a part, not of the whole: how much is it of the whole?"),
    (SETTING, "That is what the whole is made to. How much goes in, or is it no ingredient?"),
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
        re.compile(r"\d\s?[^\W\d_]{0,5}\s?\?|√|etwas mehr|un peu plus"),
        "The line itself is unsure. How much goes in?",
    ),
    (
        re.compile(r"(?i)(?<!\w)(?:rest|remaining)(?!\w)"),
        "Does it take the rest as well? Give each a line of its own.",
    ),
    (re.compile(r"\+\s*\d[\d.,]*\s*(?:%|percent)"), "And so many percent more. How much goes in?"),
)
