"""The demo's calendar, in days from today (negative: past). Amounts in grams, or pieces of an article."""

from __future__ import annotations

from typing import NamedTuple


class Came(NamedTuple):
    """One line of a delivery or of the opening count: what, amount, months good (0 = no date), cost, its fate."""

    what: str
    amount: str
    months: int = 24
    cost: str = ""
    supplier_lot: str = ""
    fate: str = "released"
    note: str = ""


OPENING = (
    Came("Beeswax", "1200", 0),
    Came("Sunflower oil, high oleic", "2600", 18),
    Came("Castor oil", "2400", 24),
    Came("Jojoba oil", "3000", 30),
    Came("Calendula petals, dried", "180", 12),
    Came("Arrowroot powder", "900", 26),
    Came("White clay", "700", 40),
    Came("tin", "120", 0),
)
"""On the shelf on the first day; where it came from is unknown."""


class Delivery(NamedTuple):
    """A delivery: day, supplier's key, their reference, freight, lines."""

    day: int
    supplier: str
    reference: str
    freight: str
    lines: tuple[Came, ...]


PUZZLE_LOT = "PP-C-0417"
"""The supplier's number of the petals that turned out to be off specification."""

DELIVERIES = (
    Delivery(
        -424, "kelpwright", "KD 20418", "12.50",
        (
            Came("Beeswax", "3000", 0, "64.50", "BW-2231"),
            Came("Shea butter", "3000", 24, "34.00", "SHB-0907"),
            Came("Cocoa butter", "3000", 24, "48.00", "CB-1188"),
            Came("Mango butter", "1500", 20, "27.90", "MB-077"),
        ),
    ),
    Delivery(
        -423, "lindenquist", "LN-5512", "18.90",
        (
            Came("Sunflower oil, high oleic", "5000", 20, "31.00", "HO-61120"),
            Came("Fractionated coconut oil", "2500", 30, "38.50", "MCT-448"),
            Came("Sweet almond oil", "1800", 15, "33.75", "SA-3107"),
            Came("Emulsifying wax", "2200", 30, "33.20", "EW-90"),
            Came("Cetearyl alcohol", "500", 36, "8.90", "CA-1614"),
            Came("Vitamin E", "250", 24, "24.00", "VE70-2208"),
        ),
    ),
    Delivery(
        -422, "fougerelune", "F/771", "9.00",
        (
            Came("Lavender oil", "150", 24, "38.00", "LAV-F-33"),
            Came("Sweet orange oil", "200", 16, "18.40", "OR-F-81"),
            Came("Peppermint oil", "100", 30, "14.30", "MEN-F-12"),
        ),
    ),
    Delivery(
        -421, "merrowmere", "M 3304", "14.00",
        (
            Came("Purified water", "10000", 12, "7.50", "PW-1102"),
            Came("Aloe juice", "1000", 13, "12.60", "AJ-505"),
            Came("Glycerin", "1000", 36, "8.40", "GL-7789"),
            Came("Xanthan gum", "100", 24, "6.90", "XG-14"),
            Came("Allantoin", "100", 36, "5.40", "AL-300"),
            Came("Disodium EDTA", "100", 36, "4.90", "ED-27"),
            Came("Provitamin B5, 75 %", "250", 24, "13.80", "PB5-66"),
            Came("Preservative BA-DHA", "250", 24, "17.20", "BD-0921"),
            Came("Lactic acid, 80 %", "250", 24, "6.60", "LA-80-4"),
        ),
    ),
    Delivery(
        -420, "petrel", "PP-1190", "11.40",
        (
            Came("Calendula petals, dried", "190", 15, "18.05", "PP-C-0388"),
            Came("Rosemary antioxidant extract", "200", 24, "22.50", "PP-R-020"),
            Came("Sugar, fine", "7000", 36, "13.30", "PP-S-771"),
            Came("Sea salt, fine", "3500", 0, "9.10", "PP-N-15"),
        ),
    ),
    Delivery(
        -419, "saltglass", "SJ-66", "22.00",
        (
            Came("tin", "320", 0, "96.00", "T60-5"),
            Came("jar", "250", 0, "140.00", "J60-118"),
            Came("bigjar", "80", 0, "76.00", "J200-40"),
            Came("box", "300", 0, "84.00", "KB-9"),
        ),
    ),
    Delivery(-331, "lindenquist", "LN-5790", "", (Came("Sunflower oil, high oleic", "5000", 20, "31.50", "HO-61377"),)),
    Delivery(
        -300, "kelpwright", "KD 20977", "",
        (Came("Beeswax", "4000", 0, "86.00", "BW-2270"), Came("Cocoa butter", "3500", 24, "57.40", "CB-1240")),
    ),
    Delivery(-240, "petrel", "PP-1301", "", (Came("Lavender oil", "100", 24, "24.50", "PP-L-118"),)),
    Delivery(-237, "merrowmere", "M 3711", "", (Came("Vitamin E", "250", 24, "31.00", "ME-VE95-7"),)),
    Delivery(
        -231, "kelpwright", "KD 21340", "8.00",
        (
            Came("Shea butter", "3000", 24, "35.50", "SHB-1022"),
            Came("Mango butter", "1500", 20, "28.40", "MB-091"),
        ),
    ),
    Delivery(
        -188, "merrowmere", "M 3850", "",
        (Came("Purified water", "10000", 9, "7.50", "PW-1240"), Came("Aloe juice", "500", 7, "7.10", "AJ-561")),
    ),
    Delivery(-141, "petrel", "PP-1422", "", (Came("Calendula petals, dried", "200", 12, "19.00", PUZZLE_LOT),)),
    Delivery(-134, "lindenquist", "LN-6207", "", (Came("Sunflower oil, high oleic", "5000", 20, "32.00", "HO-61602"),)),
    Delivery(-68, "kelpwright", "KD 22015", "", (Came("Candelilla wax", "300", 36, "14.20", "CW-31"),)),
    Delivery(
        -62, "kelpwright", "KD 22048", "",
        (
            Came(
                "Shea butter", "2000", 24, "24.00", "SHB-1101", "rejected",
                "Smells rancid, yellow at the rim of the bucket; the certificate's peroxide value is not believed.",
            ),
        ),
    ),
    Delivery(-8, "petrel", "PP-1566", "", (Came("Calendula petals, dried", "200", 12, "19.50", "PP-C-0455"),)),
    Delivery(
        -2, "fougerelune", "F/1033", "",
        (Came("Sweet orange oil", "100", 16, "10.20", "", "quarantine", "The certificate is to follow."),),
    ),
)  # fmt: skip


class Make(NamedTuple):
    """A batch: key, day, formula's key, product's key, units or grams, and what was special."""

    key: str
    day: int
    recipe: str
    ware: str = ""
    units: int = 0
    total_g: str = ""
    special: str = ""
    fills: int = 1
    """How many single fills are weighed."""


MAKES = (
    Make("inf1", -415, "infusion", total_g="3200"),
    Make("pre1", -411, "premix", total_g="300"),
    Make("balm1", -404, "balm", "balm", 60),
    Make("bar1", -396, "bar", "bar", 40),
    Make("cream1", -382, "cream", "cream", 50),
    Make("scrub1", -361, "scrub", "scrub", 30),
    Make("balm2", -338, "balm", "balm", 80, special="sets rework aside"),
    Make("inf2", -318, "infusion", total_g="4000"),
    Make("bar2", -305, "bar", "bar", 48),
    Make("balm3", -291, "balm", "balm", 60, special="takes rework; typo"),
    Make("cream2", -276, "cream", "cream", 50, special="rejected"),
    Make("cream3", -268, "cream", "cream", 50),
    Make("pre2", -226, "premix", total_g="300"),
    Make("balm4", -214, "balm", "balm", 72, fills=10),
    Make("bar3", -196, "bar", "bar", 48),
    Make("cream4", -172, "cream", "cream", 60, fills=10),
    Make("inf3", -128, "infusion", total_g="2400"),
    Make("balm5", -114, "balm", "balm", 80, fills=10),
    Make("bar4", -97, "bar", "bar", 48),
    Make("scrub2", -76, "scrub", "scrub", 36),
    Make("trial", -58, "variant", total_g="400", special="trial"),
    Make("cream5", -6, "cream", "cream", 60, special="waits"),
    Make("inf4", -5, "infusion", total_g="2200"),
    Make("balm6", 0, "balm", "balm", 60, special="now"),
    Make("bar5", 6, "bar", "bar", 48, special="planned"),
)

RECIPIENTS = {
    "loft": ("shop", "The Gull & Lantern, gift shop", "orders@gull-and-lantern.example", ""),
    "causey": ("shop", "Causey End Provisions", "shop@causey-end.example", ""),
    "brine": ("shop", "Brinewell Bathhouse", "desk@brinewell.example", ""),
    "pier": ("shop", "Pierhead Reading Room", "till@pierhead-reading.example", ""),
    "fair": ("market", "", "", ""),
    "quay": ("market", "", "", ""),
    "orla": ("person", "Orlaith Penhallurick-Moon", "orlaith@letterbox.example", ""),
    "tomas": ("person", "Tomás Underhaven", "tomas@letterbox.example", ""),
    "wynn": ("person", "Wynn Applegarthe", "wynn@letterbox.example", ""),
    "sorcha": ("person", "Sorcha Bellwether", "sorcha@letterbox.example", ""),
    "pim": ("online", "Pim van Rietgors", "pim@postbus.example", "EU"),
    "adele": ("online", "Adèle Grandrivage", "adele@courrier.example", "EU"),
    "june": ("online", "June Larkspur-Tate", "june@mailbox.example", "US"),
    "ezra": ("online", "Ezra Millpond", "ezra@mailbox.example", "US"),
    "tester": ("gift", "Maud Thrushcross, tester", "maud@letterbox.example", ""),
}
"""kind, name, e-mail, market."""

SENDS = (
    (
        (3, "workshop", "loft", 12), (5, "stall", "fair", 8), (9, "workshop", "june", 3),
        (12, "workshop", "causey", 12), (18, "shop", "pier", 6), (24, "workshop", "orla", 2),
        (40, "workshop", "pim", 3),
    ),
    (
        (4, "workshop", "causey", 10), (6, "stall", "quay", 9), (10, "workshop", "ezra", 2),
        (13, "workshop", "brine", 14), (20, "shop", "pier", 5), (26, "workshop", "sorcha", 1),
        (45, "workshop", "wynn", 2),
    ),
    (
        (3, "workshop", "brine", 12), (5, "stall", "fair", 7), (8, "workshop", "tomas", 2),
        (11, "workshop", "adele", 2), (16, "workshop", "loft", 10), (22, "shop", "pier", 6),
        (30, "workshop", "tester", 1), (48, "workshop", "june", 2),
    ),
)  # fmt: skip
"""Three rounds, taken in turn: days after the release, from where, to whom, how many at most."""
