"""What the head of a spreadsheet's column says: a name, a measure, an amount, or something that is no amount.

English, with the common words of German, French, Spanish and Italian: common practice, no outside list. A
word that isn't known leaves the head unsure, so that it is asked.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from typing import Literal

from formulas.rules.recipe.measures import UNSURE, WORDS

NAME_HEADS = (
    "ingredient", "ingredients", "ingredient name", "raw material", "raw materials", "material", "materials",
    "component", "components", "zutat", "zutaten", "rohstoff", "rohstoffe", "ingrediente", "ingredientes",
    "ingredienti", "matiere premiere", "matieres premieres", "materia prima", "materie prime",
    "name", "nom", "nombre", "nome", "bezeichnung", "trade name", "common name", "inci name", "inci",
)  # fmt: skip
"""Heads of the column of names, the surest first, as ``head_words`` writes them."""
PHASE_HEADS = ("phase", "part", "stage")
OTHER_PHASE_HEADS = ("phases", "fase", "fasi", "fases")
UNIT_COLUMN_HEADS = frozenset({
    "unit", "units", "uom", "unit of measure", "measure",
    "einheit", "einheiten", "unite", "unites", "unidad", "unita",
})  # fmt: skip

_MORE_WORDS: dict[str, tuple[str, ...]] = {
    "kg": ("kilogramme", "kilogrammes", "kilogramos", "kilogrammi"),
    "oz": ("unze", "unzen", "once", "onces", "onza", "onzas", "oncia"),
    "part": ("teile", "partes", "parti"),
    "%": (
        "percentage", "prozent", "prozentsatz", "pourcent", "pour cent", "pourcentage", "por ciento",
        "porcentaje", "per cento", "percentuale",
    ),
}  # fmt: skip
"""Words in heads beyond those of a line. A Pfund and a livre are half a kilogram, and not among them."""
UNIT_OF = {word: key for words in (WORDS, _MORE_WORDS) for key, said in words.items() for word in said}
"""The measure that a word means; a word that can be several measures stands for itself and is asked."""
UNIT_OF |= {word: word for word in UNSURE if len(word) > 1}

_UNITS = [re.escape(one).replace(r"\ ", r"\.?\s*") for one in sorted(UNIT_OF, key=len, reverse=True)]
_UNIT = re.compile(rf"%|(?<![^\W_])(?:{'|'.join(_UNITS)})(?![^\W_])")
_BY_MASS = re.compile(r"\b(?:w\s*/\s*w|wt\s*/\s*wt|m\s*/\s*m|p\s*/\s*p)\b")
_AMOUNT = re.compile(
    r"\b(?:amounts?|amt|quantit(?:y|ies|es?|a)|qty|weights?|wt|mass|massen?|mengen?|gewichte?|anteile?|"
    r"qte|qta|poids|cantidad(?:es)?|pes[oi])\b"
)
"""An amount without its measure."""
_HARMLESS = re.compile(
    r"\bof (?:the )?(?:total|whole|formula|formulation|recipe|batch)\b|"
    r"\b(?:in|by|of|the|de|des|en|di|der|im|gew|net|used|added|needed|required|"
    r"formula|formulation|recipe|batch|rezept|rezeptur|formule|recette|formulacion|receta|ricetta|"
    r"ingredients?|materials?)\b"
)
"""Words beside an amount that leave it what it is."""

_STEMS = """
    pric cost prix cout tarif preci prezz prijs preco importe importo montant betrag valu valeur
    valor money paid spen margin discount charge tax
    max minim mindest hochst massim limit recom raccom consigl conseil empf suggest usage allow
    permi zulass zulaess autori ifra dermal safe range guid einsatz legal regulat restrict threshold
    upper lower
    purity purete pureza purezza rein assay strength starke activ aktiv actif attiv wirkstoff teneur
    conteni contenut titr titolo potency grade dilut verdunn solution moisture trocken
    stock invent remain availab bestand vorrat lager existenc scort giacenz magazz reserv order
    reorder purchas bought buy achat achet compra acquist gekauft deliver
    pack container bottle gebinde condition emball contenance envas tamano confezion format fill
    full
    dens dichte gravity hlb sapon verseif iod jod visco einecs number numero nummer
    temp celsius fahrenheit melt schmelz fusion flash boil heat minut hour stunde dauer date datum
    expir life year
    superfat toleranc loss verlust perte perdi wast yield cumul kumul running diff error varian
    deviat abweich allerg
""".split()
"""Beginnings of words of no amount: money, limits, strength, stock, packs, properties, times."""
_ENDINGS = "preis kosten grenze grenzwert gehalt lager bestand einkauf packung grosse zeit".split()
"""Ends of German words of the same kinds."""
_WORDS = """
    eur euro euros usd gbp chf dollar dollars pence wert vat mwst tva iva
    pro par je each chaque cada every
    min level levels bis pure pur content solid solids dry left jar jars bag bags drum drums size sizes
    sg ph sap ppm cas ec code codes no nr num id sku ci lot lots time times day days lye koh naoh cum
""".split()
"""Whole words of the same kinds."""
_NEVER = re.compile(
    r"[€$£¥₹₩₽/÷°<>≤≥]|\bper\b(?! ?cent)|\bpor\b(?! ?cien)|\bup to\b|\bon hand\b|\buse (?:level|rate|at|up)|"
    rf"\b(?:{'|'.join(_STEMS)})|(?:{'|'.join(_ENDINGS)})(?:e[nsr]?|s)?\b|\b(?:{'|'.join(_WORDS)})\b"
)


@dataclass(frozen=True, slots=True)
class Head:
    """What a head says of its column. unit: a measure's key, "" where it names none, or more than one.

    sure: an amount and nothing else; unsure: an amount among other words; never: something that is no amount.
    """

    kind: Literal["sure", "unsure", "never", "other"]
    unit: str = ""


def read_head(text: str) -> Head:
    """What a head says, by its words alone. Nothing raises."""
    words = _BY_MASS.sub(" % ", folded(text))
    if _NEVER.search(words):
        return Head("never")
    units = {UNIT_OF[" ".join(hit.replace(".", " ").split())] for hit in _UNIT.findall(words)}
    rest = _UNIT.sub(" ", words)
    if not units and not _AMOUNT.search(rest):
        return Head("other")
    rest = _HARMLESS.sub(" ", _AMOUNT.sub(" ", rest))
    is_sure = len(units) <= 1 and not re.search(r"[^\W_]", rest)
    return Head("sure" if is_sure else "unsure", units.pop() if len(units) == 1 else "")


def head_words(text: str) -> str:
    """A head in small letters without marks, brackets and what stands in them."""
    return re.sub(r"\s*[(\[].*?[)\]]\s*", " ", folded(text)).strip(" :.*")


def folded(text: str) -> str:
    """Small letters, no accents: "Pureté" and "Größe" as "purete" and "grosse"."""
    apart = unicodedata.normalize("NFKD", text.casefold())
    return " ".join("".join(mark for mark in apart if not unicodedata.combining(mark)).split())
