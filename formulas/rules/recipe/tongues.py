"""Words of several languages that make an amount something else than how much goes in. Common words, no source."""

from __future__ import annotations

import re

NUMBER_WORDS = (
    r"half|halves|thirds?|quarters?|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|sixteen|twenty|"
    r"thirty|forty|fifty|hundred|dozen|couple|several|pair|halbe\w{0,2}|zwei|drei|vier|fünf|sechs|zehn|demi\w{0,2}|deux|"
    r"trois|quatre|cinq|dix|medio|tres|cuatro|cinco|diez|mezzo|mezza|quattro|cinque"
)
"""Numbers above one, and parts of one, in words."""

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
    rf"(?i)(?<!\w)(?:an?|one|ein(?:e[nmr]?)?|une?|{NUMBER_WORDS})\s+(?:an?\s+|level\s+|heaped\s+|gehäufter?\s+)?"
    r"(?:grams?|drops?|cups?|tablespoons?|teaspoons?|tbsp|tsp|ounces?|oz|pinch(?:es)?|handfuls?|scoops?|spoons?|capsules?|"
    r"esslöffel|teelöffel|tropfen|gramm|gouttes?|cuillères?)(?!\w)"
)
