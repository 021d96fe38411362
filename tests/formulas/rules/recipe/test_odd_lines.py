"""Lines as people really write them: the quantity that stands there, or a question; never another quantity."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from formulas.rules.recipe.lines import read_line, read_recipe
from formulas.rules.recipe.said import RecipeLine


def said(line: RecipeLine) -> str:
    """Its amounts as "low-high unit + ..."."""
    return " + ".join(
        f"{one.count.low}{f'-{one.count.high}' if one.count.low != one.count.high else ''} {one.unit}"
        for one in line.amounts
    )


READ = """
120 g = 120 g cocoa butter | Cocoa butter 120 g | Cocoa butter – 120g | Cocoa butter: 120 g
120 g = Cocoa butter ........ 120 g
120 g = Cocoa butter....120g | Cocoa butter …… 120 g | Cocoa butter (deodorised) 120 g | １２０ｇ cocoa butter
120 g = १२० g cocoa butter
120 g = ١٢٠ g cocoa butter | 1. Cocoa butter 120 g | 120 g (4.2 oz) cocoa butter | 4.2oz / 120g cocoa butter
120 g = \u200f120 g wax\u200e
20 g = • 20 g wax | - 20 g wax | -20 g wax | [ ] 20 g wax | ✓ 20 g wax | 1. 20 g wax | (1) 20 g wax
20 g = a) Wax 20 g | A. Wax 20 g
20 g = about 20 g wax | ca. 20 g wax | ~20 g wax | Wax (20 g) | Wax, 20 g, melted | Wax @20g | **20 g** wax
20 g = 20 GRAMS wax
20 g = 20 g wax melted at 70 C | 20 g wax - melt at 70 °C | 20 g wax (70 °C)
20 g = 20 g wax, heated to 70 °C for 20 minutes
20 g = 20 g (about 2 tbsp) wax | 2 tbsp (about 20 g) wax | 20 g wax 🐝 | Phase A: wax 20 g | Stage 2 - wax 20 g
20-25 g = Wax 20-25 g | 20g - 25g wax | 20 g to 25 g wax | between 20 and 25 g wax | from 20 to 25 g wax
5 g = Polysorbate 80 5 g | 5 g Polysorbate 80 | Polysorbate 80, 5 g | CI 77891 5 g | 5 g CI 77891
5 g = PEG-40 hydrogenated castor oil 5 g
5 g = No. 5 wax 5 g | Red 30 lake 5 g | Omega 3 oil 5 g | Vitamin B 3 5 g | Cetearyl alcohol 30/70 5 g | 5g of honey
36 % = Cocoa butter 36.0 %w/w | Cocoa butter 36 % (w/w) | 36 wt% cocoa butter | 36 per cent cocoa butter
36 % = 36 % by weight wax
5/4 lb = 1 lb 4 oz shea butter | 1 lb, 4 oz shea butter | 1 lb and 4 oz shea butter
567 g = 1 lb 4 oz (567 g) shea | 1 lb, 4 oz (567 g) shea butter
6/5 kg = 1 kg 200 g sugar | 1.2 kg sugar | 1,2 kg sugar
3/2 l = 1 l 500 ml water | 1.5 litres water
3/2 cup = 1½ cup sugar | 1 ½ cup sugar | 1-1/2 cup sugar | 1 1/2 cups sugar | 1 1/2 Cups sugar
1/2 cup = half a cup of sugar | ½ cup sugar | 1/2 CUP sugar
1/2-1 tsp = 1/2-1 tsp honey | ½ to 1 tsp honey
3/2-2 cup = 1½–2 cups sugar | 1 1/2 to 2 cups sugar
1 tbsp = 1 Tbs. honey | 1 tbsp. honey | a tablespoon of honey | one tbsp honey | 1 TBSP honey
10-15 drop = 10-15 drops lavender | 10 to 15 drops of lavender
20 g + 5 g = 20 g + 5 g wax | 20g+5g wax | 20 g and 5 g wax
2 tbsp + 1 tsp = 2 tbsp + 1 tsp oil | 2 tbsp and 1 tsp oil | 2 tbsp plus 1 tsp oil
120 g = 120 g wax (<a href="https://example.org/5-g">see there</a>) | 120 g wax https://example.org/5 | about 120 g wax
120 g = Cocoa butter\t120\tg | Cocoa butter | 120 | g
2001/2 g = 1.000,5 g wax | 1,000.5 g wax | 1000.5 g wax
5/2 cup = two and a half cups sugar | 2 and a half cups sugar
3/4 tsp = three quarters of a tsp mica
10 g = Phase A: 10 g wax | Wax 10 g (100 ml)
27/16 oz = 1 11/16 oz wax
3/2 oz = Beeswax, 1 and 1/2 oz | Beeswax, 1 & 1/2 oz | Beeswax, 1 and ½ oz
3/2 tsp = Glycerin 1 + 1/2 tsp
3/2 ml = Tea tree: 1·5 ml
1/2 oz = shea 1∕2 oz | pH adjuster 0.5 oz
2/5 % = castor oil 0·4 %
2-3 g = beeswax 2…3 g | beeswax 2...3 g | beeswax 2 ÷ 3 g | beeswax 2~3 g
20-30 g = beeswax 20…30 g
30 g = Cocoa butter,30 g | 30 g wax, cut into 4 pieces | 30 g wax, cut in half
100 g = 100 Gramm Zucker | 100 gramos cera
5 g = Ester 1000 5 g | Ester 1000: 5 g | Two-phase emulsifier 5 g | 5 g aloe 200:1
5 g = 5 g wax (2nd press) | 5 g vitamin E (T-50) | 5 g CI 77491
200 g = Polysorbate 80 200 g
3 tbsp = 3 tablespoon(s) oil
5 drop = 5 gouttes lavande | 5 gtt lavender | 5 Tropfen Lavendel
1 tsp = pH adjuster 1 tsp
1 tbsp = pH buffer 1 tbsp
120 g = 120 g (4.2 oz) wax | 120 g (4 1/4 oz) wax
"""

ASKED = """
Wasser 1´200 g | Wasser 1’200 g | 30 g wax in 2 cm cubes | Batch fragrance 5 g | Sum flower wax 5 g
2\u200b0 g wax
Beeswax 5 % active | Beeswax 20 g? | 15 g Bienenwachs + etwas mehr
11/2 cups oats | Mica 11/2 tsp | 21/4 cups oats | l/2 tsp mica | Mica I/2 tsp | I/4 cup oats
l½ cup oats | Wax l 1/2 tsp | O,5 g wax | Wax O,5 g | 20/2 g wax | Cocoa butter 20:5 g | 2·20 g wax
Salt 5 g, 1 tsp sugar | Salt 1 tsp, 5 g sugar | 5 g salt / 1 tsp sugar | 5 g salt (1 tsp sugar)
Clay 5 g, 10 ml water | Clay (5 g) water (10 ml) | 5 g rose/5 ml neroli | Lavender 2 g, 40 drops rose
Lavendel 2 ml, 100 g Wachs | Huile 30 ml, 5 g cire | Honey (1 tbsp) / wax (5 g)
5 ml rose (or 5 g neroli) | 1 cup water (5 g salt) | 250 ml tea (5 g chamomile) | 250 ml strong tea (5 g)
20 g salt (1 l water) | 30 ml oil (0.92 g) | 30 ml oil (0.92 g/cm3) | Salt 3 g/100 ml | 20 g salt/500 ml
2 tsp (5 g/tsp) rose | 3 cups (200 g jeweils) Zucker | Wax 1 drop (20 g) | Wax 1 tsp (50 g)
Wax 10 ml (100 g) | 20 ml (0.5 g) rose | 1 lb, 4 fl oz wax | Wax five to 10 g | Honey one to 2 tbsp
van 20 tot 30 g was | Lavender q.s. 5 drops | Lactic acid q.s. 2 g | Farbe q.s. 1 g
Tea, reduced to 50 ml | Aloe concentrate diluted to 50 ml | Wax: increase to 20 g | Fragrance to 2 g
Zout tot 5 g | Duft auf 5 ml | Oil remainder 20 | Remainder of the oil, 20 | Remainder: 20 olive oil
pH balance 5 | 1/2 of the water, balance | half the remainder | Wasser bis 100 g | q.s.p. 100 ml eau
Water to 50 % | Lavender to 1 % | Duft auf 1 % | Wachs 5 g, Rest Wasser | höchstens 5 g Wachs
über 5 g Wachs | unter 1 % Duft | plus de 5 g cire | más de 5 g cera | più di 5 g cera | fino a 5 g cera
tot 5 g was | 20 g+ wax | ⩽ 20 g wax | je 10 g Wachs und Öl | 10 g cada uno | wax, oil: 20 g ea
20 g wax and the same amount of oil | zweimal 20 g Wachs | Hälfte von 20 g Wachs
la moitié de 20 g de cire | 20 g wax halved | 20 g wax (double batch) | Wachs 20 g pro kg
20 g par litre sel | 20 g al litro sale | 20 g wax/jar | 20 g wax a jar | Parfum 3 % der Öle
Parfum 3 % auf Fettmenge | 3% GFM Duft | Fragrance 3% of TOW | Fragrance 3%, based on oils | Superfat 5%
5% superfat | Lye discount 5% | NaOH 5% ÜF | 20 g + 10 % extra wax | 5 g wax & more | 2 oz liquid water
2 pints imp water | 2 tbsp Aus. water | 1 cc miel | Phase A: wax 20 | Phase A wax 20 | Phase A: 2 eggs
Phase A: a pinch of salt | Phase A: 3 Stück Wachs | Phase A: 5o g wax | Phase B: lavender, ten drops
Phase A: water q.s. | Wax twenty grams: | For 200 g: 40 g wax, 160 g oil | for 2 jars: 40 g wax
For 1 kg: salt 5 | Total 20 g wax | Yield improver 2 g | Makes-it-thick gum 2 g
Serves as emulsifier: wax 5 g | pH stabiliser 10 | pH: lactic acid 3 | pH 4 citric acid solution, 12
pH 5.5-6 lactic acid 0,3 | Add 1 T honey | Add 1 TL Salz | Add 2 c oats | Add 5 gr wax | Add 2 eggs
Add lavender 10 | Weigh wax: 20 | Add ten drops lavender | Add half a cup of oats
Use twenty grams of wax | Warm water 50 | thirty drops of lavender essential oil, added after cooling.
2 x 15 ml oil | 2 × 50 g shea | 50 g x 2 shea | 2x50g shea | 12 g each wax and oil | 3 times 5 g wax
double 5 g wax | 5 g twice wax
a dozen drops lavender | 1,000 g wax | 1.000 g wax | 1 000 g wax | 1\u00a0000 g wax | 1\u202f000 g wax
Water 12 345,6 g | 12 500 g sugar
10,500 g wax | 12,34,567 g wax | 1.2.3 g wax | 1e3 g sugar | 1 / 2 tsp honey | 5/6 drops lavender | 20/80 g wax
5 or 6 drops lavender
15% (45 g) wax | Vitamin E 50% 3 g | 3 g vitamin E (50 %) | Lactic acid 80% 0.5 g | Glycerin 99.5 % 4 %
70% alcohol 20 ml
1 T honey | 1 t honey | 3 tb honey | 5 gr honey | 5 grs honey | 1 c water | Water q.s. | perfume qs
1 dash salt | 1 stick butter
1 heaping tsp salt | 1 scant cup sugar | 1 packed cup sugar | 1 tsp (heaped) clay | some shea butter
few drops of lavender | 2 eggs
up to 5 g lavender | Lavender up to 5 g | max 5 g lavender | max. 2 % lavender | less than 1 % lavender
<1% lavender | >5% oil | min 5 g oil
at least 5 g oil | 5 g oil (max 10 g) | 20 ± 1 g wax | 20 g ± 1 wax | 5 g wax or more | just over 5 g wax
5 g wax plus a little more
20 g wax per kg | 5 g/kg salt | 5 g/l salt | 1 tsp per cup salt | 0.5 oz ppo lavender | 3 % ppo lavender
5 g for every 100 g oil
2 % of oils lavender | 3% of phase A vitamin E | 1 % of the oil phase vitamin E | 2% of total oils lavender
5% v/v ethanol | 5 % (v/v) ethanol | 5% vol ethanol | 10 % w/v salt | 5 vol% ethanol
1 cup minus 2 tbsp water | 1 cup less 1 tbsp water | −20 g wax | 20 g + extra wax | 20 g wax plus 5 g for later
1 cup (8 oz) sugar | 2 tbsp (1 oz) honey | 1 cup or 200 g sugar | 20 g or 25 g wax | 20 g (1 oz) wax
100 g (1 oz) wax
12 g wax and 3 g oil | 12 g wax, 3 g oil | 120 g cocoa butter from a 500 g block | 20 g of 50 g wax
half of 50 g wax | 2/3 of 30 g wax
Polysorbate 20 - 30 g | Polysorbate 20 - 3 % | Polysorbate 80 5 | 3 1.5 g vitamin E | 5 g 5 g wax | 5 g wax 5
1 pt milk | 1 gal water | 5 µl dye | 5 mcg dye | 5 ppm dye | 5 ‰ salt | 5 IU vitamin | 2 inches ginger
100克 糖
Water 7o g | Water l0 g | 5 q wax | 1 half teaspoon clay | 1 part oil : 2 parts wax
1:1 oil and wax
Polysorbate 80 ¾ mg | No. 165 1/2 tsp wax | Emulsifier 165 1/2 tsp | 4- to 5-pound block of wax
9999999999999999999999 g wax
Cocoa butter, 3 pieces 50 g | Shea butter, half a 200 g tub | Shea butter, half of 200 g | Shea butter, two 50 g tubs
Shea butter, 1/2 of a 200 g tub | Vitamin E, 10 capsules of 0.5 g | Vitamin E 10 capsules of 0.5 g
fifteen 2 g sachets clay | Zwei Tafeln à 50 g Kakaobutter | Shea butter 3 @ 30 g | 50g*2 shea | Shea butter 50 g (x2)
30g (3x) shea
Jojobaöl, 2 bis 3 ml | huile de ricin, 2 à 3 ml | cera 2 o 3 g | cera 20 o 30 g | shea 20 + 5 g
Jojoba oil (cold pressed): 2 bis 3 EL | Castor oil 4 p.c. | 5 pour cent sel | pH adjuster (citric acid) 0.2
Fragrance compound 3% (of oils) | 3% of oil fragrance | 3% of your oils fragrance | Fragrance 3% of oil weight
Fragrance 3% of the weight of oils | Parfum 3 % der Fettphase | Parfum 3 % de la phase grasse | Fragrance 3 % on oils
Water 1 pint (UK) | Water 1 cup (AU) | Water 1 pint (imperial) | Water 8 oz (vol) | 2 oz troy silver | CI 77491 g
Castor oil 4 % (max) | Total repair active 3 g | water 100 g total
20 g (22 g) shea | 120 g (130 g before straining) oil | 100 g (95 g) wax | 95 g/100 g wax | 100 ml (92 ml) oil
20 g = 18 g strained wax | 120 g (4.6 oz) wax | 90 g (3 1/2 oz) wax
beeswax 1 / 2 oz | shea butter 1 1 / 2 oz | rose oil 2 ,5 g | rose oil 2, 5 g | rose oil 12 ,5 g
20 g shea,30 g cocoa | 2 EL Öl | 1 TL Salz | 2 c. à s. huile | 1 cucharada miel | 3 dessertspoons honey
Add 20 g wax | Melt 20 g wax at 70 °C | Step 1: melt 20 g wax | 1 melt 20 g wax | Melt 20 g wax with 5 g oil
"""

REST = """
water to 100 % | Water q.s. to 100 | Aqua ad 100 | q.s. 100% water | Water to 100 g | Water to 1000 g
Water ad 500 ml | Water to make 500 g
Water, balance | Phase A: water to 100 | Phase A: water, balance
Water, qsp 100 g | Aqua qsp 100% | water to 100.0 % | water tot 100 % | water ad. 100 g | aqua q.b. a 100 g
Aqua jusqu'à 100 g | Aqua hasta 100 g | Water Q.S. to 100.00 | water q.s. 100 ml | Aqua auf 100 g
"""

WORDS = """
Heat to 75 °C | Heat oils to 75 C for 20 minutes | 75 °C | 20 minutes | at 70-75 °C | pH 5.5 | adjust pH to 5.5
Final pH 5,0 - 5,5
makes 12 bars | Makes about 12 bars of 50 g | for 500 g | Batch size 500 g | Batch: 500 g | Yield: 300 g
Total 300 g | Serves 4
Total weight of recipe: 500 g | Batch 1000 g | Total: 500 g
Recipe for 500 g | Final weight 500 g | https://example.org/20-g-wax | www.example.org/20g
"""


def lines_of(table: str) -> list[str]:
    """The lines of a table, which " | " parts. One that holds a stroke itself has it written " | " and reads alike."""
    return [line for row in table.strip().splitlines() for line in row.split(" | ")]


def read_cases() -> list[tuple[str, str]]:
    """(what it says, the line), of the table of lines that are read."""
    found = []
    for row in READ.strip().splitlines():
        amount, _, lines = row.partition(" = ")
        if "\t" in lines:
            lines, amount = lines.split(" | ")[0], amount
        found += [(amount, line) for line in lines.split(" | ")]
    return found


@pytest.mark.parametrize(("amount", "text"), read_cases())
def test_the_quantity_that_stands_there(amount: str, text: str) -> None:
    """Nothing asked, and a name left."""
    line = read_line(text)

    assert (line.kind, said(line), line.asks) == ("line", amount, "")
    assert line.name
    assert not line.is_rest


@pytest.mark.parametrize("text", lines_of(ASKED))
def test_what_may_mean_something_else_is_asked(text: str) -> None:
    """With a sentence."""
    assert read_line(text).asks


@pytest.mark.parametrize("text", lines_of(REST))
def test_what_is_left_is_taken(text: str) -> None:
    """Never the amount of the whole."""
    line = read_line(text)

    assert (line.is_rest, line.amounts, line.asks) == (True, (), "")
    assert line.name.lower() in {"water", "aqua"}


@pytest.mark.parametrize("text", lines_of(WORDS))
def test_what_is_said_beside_the_recipe_is_no_line(text: str) -> None:
    """Temperatures, times, acidity and the size of the whole; they stay to be seen."""
    line = read_line(text)

    assert (line.kind, line.asks) == ("words", "")
    assert line.text == text


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("Cocoa butter | 120 | g", ""), ("Cocoa butter;120;g", ""), ("wax 5 | 6 g", "beside"),
        ("| Wax | 12.5 % | 125 g |", "Several"),
    ],
)  # fmt: skip
def test_cells_of_a_table(text: str, asks: str) -> None:
    """A number and its measure in two cells are one amount; a number in a cell of its own is asked."""
    line = read_line(text)

    assert asks in line.asks
    assert bool(asks) == bool(line.asks)


@pytest.mark.parametrize(
    "text", ["Phase A", "Phase A (70 °C)", "Phase B 70 g", "PHASE C: cool down", "Part 2:"]
)
def test_a_phase_alone_is_a_heading(text: str) -> None:
    """Also with what it weighs altogether."""
    assert read_line(text).kind == "heading"


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "\x00",
        "|",
        "…",
        "🐝",
        "g",
        "%",
        "½",
        "1",
        "-",
        "\u200f",
        "x" * 10_000,
        "9" * 5_000 + " g wax",
    ],
)
def test_nothing_raises(text: str) -> None:
    """Whatever is pasted."""
    read_line(text)
    read_recipe(text)


BALM = "Phase A\nBeeswax 20 % (60 g)\nShea butter 45.0 % 135 g\nOlive oil | 34 % | 102 g\nPhase B\nLavender 1 % (3 g)"


def test_percents_and_masses_that_agree_on_the_whole_are_one_amount_said_twice() -> None:
    """60, 135, 102 and 3 g are 20, 45, 34 and 1 % of 300 g: the percents count."""
    lines = [line for line in read_recipe(BALM) if line.kind == "line"]

    assert [said(line) for line in lines] == ["20 %", "45 %", "34 %", "1 %"]
    assert all(not line.asks and "of a whole of 300 g" in line.notes[-1] for line in lines)


def test_rounded_masses_agree_within_their_last_figure() -> None:
    """A third of 100 g printed as 33 g beside 33.3 %; the rest takes what is left."""
    lines = read_recipe("Wax 33.3 % (33 g)\nOil 16.7 % (17 g)\nWater to 100 %")

    assert [said(line) for line in lines] == ["333/10 %", "167/10 %", ""]
    assert lines[2].is_rest


@pytest.mark.parametrize(
    "text",
    [
        BALM.replace("3 g", "13 g"),  # one mass strays
        BALM.replace("20 %", "30 %"),  # the percents pass 100
        BALM + "\nVitamin E 50 % 3 g",  # a strength beside an amount
        BALM + "\nSalt 5 g",  # a line with a mass alone
        "Vitamin E 50 % 3 g\nLactic acid 80 % 4.8 g",  # strengths that happen to share a whole
        "Beeswax 20 % (60 g)",  # one line agrees with anything
    ],
)
def test_percents_and_masses_that_do_not_agree_stay_asked(text: str) -> None:
    """A strength looks like a percent of the whole on its own line."""
    assert any(line.asks for line in read_recipe(text))


UNITS = {
    "g": ("g", "gram", "grams", "G", "gm"), "kg": ("kg", "kilo"), "mg": ("mg",), "ml": ("ml", "mL", "ML"),
    "tsp": ("tsp", "teaspoons", "Tsp."), "tbsp": ("tbsp", "Tbs", "tablespoon"), "cup": ("cup", "Cups"),
    "oz": ("oz", "ounces", "oz."), "lb": ("lb", "lbs"), "drop": ("drops",), "%": ("%", "percent"), "part": ("parts",),
}  # fmt: skip
NAMES = (
    "cocoa butter",
    "Shea",
    "tea tree oil",
    "Polysorbate 80",
    "vitamin E",
    "CI 77491",
    "olive oil (virgin)",
)
BEFORE = ("", "- ", "• ", "1. ", "2) ", "about ", "~", "[ ] ")
AFTER = ("", ", melted", " (optional)", " at 70 °C", " – sifted", " *", "  ")
NOISE = (
    " per kg",
    " each",
    " max",
    " x 3",
    " (5 g)",
    " 7",
    " or more",
    " 50 %",
    " + 2 tsp",
    " of oils",
    "/kg",
)


@st.composite
def counts(draw: st.DrawFn) -> tuple[str, Fraction]:
    """A number as it is written, and what it is."""
    whole, tenths = draw(st.integers(1, 999)), draw(st.integers(1, 99))
    return draw(
        st.sampled_from(
            [
                (f"{whole} 3/4", whole + Fraction(3, 4)),
                (str(whole), Fraction(whole)),
                (f"{whole}.{tenths}", Fraction(f"{whole}.{tenths}")),
                (f"{whole},{tenths}", Fraction(f"{whole}.{tenths}")),
                (f"0.{whole}", Fraction(f"0.{whole}")),
                (f"{whole} 1/2", whole + Fraction(1, 2)),
                (f"{whole}½", whole + Fraction(1, 2)),
                ("¾", Fraction(3, 4)),
                ("1/3", Fraction(1, 3)),
            ]
        )
    )


@given(
    count=counts(), unit=st.sampled_from(sorted(UNITS)), name=st.sampled_from(NAMES), data=st.data(),
    before=st.sampled_from(BEFORE), after=st.sampled_from(AFTER), is_behind=st.booleans(),
    noise=st.sampled_from(("", *NOISE)),
)  # fmt: skip
def test_a_line_never_seen_comes_out_right_or_is_asked(
    count: tuple[str, Fraction], unit: str, name: str, data: st.DataObject, before: str, after: str, is_behind: bool,
    noise: str,
) -> None:  # fmt: skip
    """However number, measure, name and noise are put together: that quantity, or a question."""
    gap = data.draw(st.sampled_from((" ", "", "  ")))
    amount = f"{count[0]}{gap}{data.draw(st.sampled_from(UNITS[unit]))}"
    text = f"{before}{name} {amount}{noise}{after}" if is_behind else f"{before}{amount}{noise} {name}{after}"
    line = read_line(text)

    assert not line.is_rest
    if line.asks:
        return
    assert line.kind == "line", text
    amount = f"{count[1]} {unit}"
    right = {" (5 g)": {amount, "5 g"}, " + 2 tsp": {f"{amount} + 2 tsp"}}.get(noise, {amount})
    assert said(line) in right, text
    assert noise not in {" per kg", " each", " max", " x 3", " or more", "/kg"}, text


@given(
    count=counts(),
    unit=st.sampled_from(sorted(UNITS)),
    name=st.sampled_from(NAMES),
    before=st.sampled_from(BEFORE),
)
def test_a_plain_line_is_read(count: tuple[str, Fraction], unit: str, name: str, before: str) -> None:
    """The question isn't asked of everything: a number, a measure and a name are understood."""
    line = read_line(f"{before}{count[0]} {UNITS[unit][0]} {name}")

    if not (
        (unit in {"drop", "g", "ml", "mg", "kg", "%", "part"} and "/" in count[0]) or count[0] in {"1/3", "¾"}
    ):
        assert (said(line), line.asks) == (f"{count[1]} {unit}", "")


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        ("1. 10 g wax\n2. 5 g oil\n3. 1 g scent", False),
        ("1. Melt.\n2. 5 g oil", False),
        ("2. 5 g oil", True),
        ("10 g wax\n2. 5 g oil\n1 g scent", True),
        ("2) 5 g oil", False),
    ],
)
def test_a_number_with_a_point_counts_lines_only_where_it_counts_all(text: str, asks: bool) -> None:
    """ "2. 5 g" alone may be 2.5 g."""
    assert any(line.asks for line in read_recipe(text)) == asks


@pytest.mark.parametrize(
    "text", ["2 càs huile", "1 fluidoz water", "1 lİtre water", "1 pınch salt", "5 dropſ rose"]
)
def test_a_unit_in_an_odd_dress_breaks_nothing(text: str) -> None:
    """Closed up, or with letters that only look alike."""
    assert read_line(text).kind == "line"
