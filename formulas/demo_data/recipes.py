"""Formulas, products and articles of the demo: invented, of our own."""

from __future__ import annotations

from typing import NamedTuple

Row = tuple[str, ...]
"""ingredient, percent ("to 100", or "0-0.3 pH 4.8-5.4" for as needed), purpose; where it is strained out, the key of
the substance that it leaves."""


class Recipe(NamedTuple):
    """A formula: phases of (letter, name, rows), steps of (phase, text, target, min, max, minutes)."""

    key: str
    name: str
    kind: str
    form: str
    body_area: str
    used_in_water: bool
    phases: tuple[tuple[str, str, tuple[Row, ...]], ...]
    steps: tuple[tuple[str, str, str, str, str, str], ...]
    makes: tuple[str, int] = ("", 0)
    """Name and shelf life in months of the ingredient that it makes."""


RECIPES = (
    Recipe(
        "infusion", "Calendula in sunflower oil", "leave-on", "infusion", "body", False,
        (
            (
                "A", "Infusion",
                (
                    ("Sunflower oil, high oleic", "to 100", ""),
                    ("Calendula petals, dried", "5", "", "calendula-officinalis-flower-extract"),
                ),
            ),
        ),
        (
            ("A", "Crumble the petals into the oil and warm gently, lid on", "55", "50", "60", "240"),
            ("", "Leave to stand overnight, then strain twice through linen", "", "", "", ""),
        ),
        ("Calendula infusion", 9),
    ),
    Recipe(
        "premix", "Antioxidant premix", "leave-on", "premix", "body", False,
        (
            (
                "A", "Cold",
                (
                    ("Vitamin E", "60", "antioxidant"),
                    ("Rosemary antioxidant extract", "20", "antioxidant"),
                    ("Sunflower oil, high oleic", "to 100", ""),
                ),
            ),
        ),
        (("A", "Stir together cold, away from light", "20", "", "25", "10"),),
        ("Antioxidant premix", 12),
    ),
    Recipe(
        "balm", "Causeway hand balm", "leave-on", "balm", "hands", False,
        (
            (
                "A", "Melt",
                (
                    ("Calendula infusion", "30", ""), ("Shea butter", "22", ""), ("Beeswax", "20", ""),
                    ("Jojoba oil", "10", ""), ("Castor oil", "8", ""), ("Sunflower oil, high oleic", "to 100", ""),
                ),
            ),
            ("B", "Powder", (("Arrowroot powder", "3", ""),)),
            ("C", "Before pouring", (("Antioxidant premix", "1", "antioxidant"), ("Lavender oil", "0.8", "perfume"))),
        ),
        (
            ("A", "Melt together in the water bath until clear", "75", "70", "80", ""),
            ("B", "Take off the heat and whisk in the powder", "65", "60", "70", ""),
            ("C", "Stir in premix and lavender oil, then pour", "58", "55", "60", ""),
        ),
    ),
    Recipe(
        "bar", "Net-mender's body bar", "leave-on", "bar", "body", False,
        (
            (
                "A", "Melt",
                (
                    ("Cocoa butter", "36", ""), ("Beeswax", "22", ""), ("Mango butter", "18", ""),
                    ("Calendula infusion", "to 100", ""),
                ),
            ),
            ("B", "Before pouring", (("Antioxidant premix", "1", "antioxidant"), ("Sweet orange oil", "1", "perfume"))),
        ),
        (
            ("A", "Melt together in the water bath until clear", "75", "70", "80", ""),
            ("B", "Stir in premix and orange oil, pour into the moulds", "56", "52", "60", ""),
            ("", "Set overnight at room temperature, then unmould", "", "", "", ""),
        ),
    ),
    Recipe(
        "cream", "Slack-water cream", "leave-on", "cream", "face", False,
        (
            (
                "A", "Water",
                (
                    ("Purified water", "to 100", ""), ("Aloe juice", "5", ""), ("Glycerin", "4", ""),
                    ("Xanthan gum", "0.3", ""), ("Allantoin", "0.2", ""), ("Disodium EDTA", "0.1", ""),
                ),
            ),
            (
                "B", "Oil",
                (
                    ("Sweet almond oil", "8", ""), ("Emulsifying wax", "6", ""), ("Fractionated coconut oil", "4", ""),
                    ("Shea butter", "3", ""), ("Cetearyl alcohol", "2", ""),
                ),
            ),
            (
                "C", "Cool-down",
                (
                    ("Provitamin B5, 75 %", "1", ""), ("Preservative BA-DHA", "1", "preservative"),
                    ("Vitamin E", "0.3", "antioxidant"), ("Lavender oil", "0.2", "perfume"),
                    ("Lactic acid, 80 %", "0-0.3 pH 4.8-5.4", "pH"),
                ),
            ),
        ),
        (
            ("A", "Slurry the gum in the glycerin, then heat the water phase", "75", "72", "80", "20"),
            ("B", "Melt the oil phase", "75", "72", "80", ""),
            ("", "Pour oil into water and homogenise", "72", "68", "78", "4"),
            ("C", "Below 40 degrees stir in the cool-down phase", "38", "", "40", ""),
            ("C", "Measure the pH and adjust with lactic acid", "", "", "", ""),
        ),
    ),
    Recipe(
        "scrub", "Shingle sugar scrub", "rinse-off", "scrub", "body", True,
        (
            (
                "A", "Melt",
                (
                    ("Sunflower oil, high oleic", "to 100", ""), ("Fractionated coconut oil", "10", ""),
                    ("Cocoa butter", "6", ""), ("Emulsifying wax", "5", ""),
                ),
            ),
            ("B", "Grains", (("Sugar, fine", "42", ""), ("Sea salt, fine", "18", ""), ("White clay", "4", ""))),
            ("C", "Last", (("Antioxidant premix", "1", "antioxidant"), ("Peppermint oil", "0.4", "perfume"))),
        ),
        (
            ("A", "Melt together", "72", "68", "76", ""),
            ("B", "Cool, stirring, and fold in the grains", "40", "", "42", ""),
            ("C", "Stir in the rest and fill", "36", "", "40", ""),
        ),
    ),
)  # fmt: skip

VARIANT = ("Causeway hand balm, without beeswax", "balm", "Beeswax", "Candelilla wax", "13")
"""A variant that is being tried: name, of which formula, what instead of what, and how much of it."""

ARTICLES = {
    "tin": ("Aluminium tin 60 ml with lid", "container", 60),
    "jar": ("Glass jar 60 ml with lid", "container", 60),
    "bigjar": ("Glass jar 200 ml with lid", "container", 20),
    "box": ("Kraft box for a bar", "box", 50),
    "labels": ("White label stock 60 mm", "label", 500),
}


class Ware(NamedTuple):
    """A product: what it is in words, net g, fill g, shape, sizes in mm, months, parts, price, directions."""

    key: str
    recipe: str
    name: str
    identity: str
    net_g: str
    fill_g: str
    shape: str
    width_mm: str
    height_mm: str
    depth_mm: str
    life_months: int
    pao_months: int
    parts: tuple[str, ...]
    price: str
    directions: str


WARES = (
    Ware(
        "balm", "balm", "Causeway Hand Balm", "Hand balm", "50", "51", "round tin", "68", "25", "", 18, 12,
        ("tin", "labels"), "14.50", "Warm a little between the fingers and rub in.",
    ),
    Ware(
        "bar", "bar", "Net-Mender's Body Bar", "Solid body butter", "60", "61", "box", "62", "62", "28", 18, 12,
        ("box", "labels"), "12.00", "Rub over warm, dry skin after washing.",
    ),
    Ware(
        "cream", "cream", "Slack-Water Cream", "Face cream", "60", "61", "cylinder", "58", "45", "", 12, 6,
        ("jar", "labels"), "22.00", "Smooth a little over clean skin, morning and evening.",
    ),
    Ware(
        "scrub", "scrub", "Shingle Sugar Scrub", "Body scrub", "200", "202", "cylinder", "70", "72", "", 12, 6,
        ("bigjar", "labels"), "18.00", "Massage over wet skin, then rinse. Keep water out of the jar.",
    ),
)  # fmt: skip
