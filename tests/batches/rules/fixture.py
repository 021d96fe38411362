"""The worked traceability example: two balms, three raw lots, 200 g of rework; figures computed by hand.

Raw lots: L1 oil, L2 and L3 wax. B1 = L1 7,000 + L2 3,000. B2 = L1 5,600 + L3 2,200 + 200 of B1's rework R1.
B1 filled 190 units (9,540 g), B2 154 (7,740 g). C2 sent 5 of B1 back.
"""

from __future__ import annotations

from decimal import Decimal

from batches.rules.trace import HolderKind, Links, Made, Moved, Packed, Weighed

D = Decimal

LINKS = Links(
    weighed=(
        Weighed("L1", "B1", D(7000)),
        Weighed("L2", "B1", D(3000)),
        Weighed("L1", "B2", D(5600)),
        Weighed("L3", "B2", D(2200)),
        Weighed("R1", "B2", D(200)),
    ),
    made=(Made("B1", "R1", D(200)),),
    packed=(Packed("B1", "P1", 190, D(9540)), Packed("B2", "P2", 154, D(7740))),
    moved=(
        Moved("P1", "", "workshop", 190),
        Moved("P1", "workshop", "kept", 3),
        Moved("P1", "workshop", "destroyed", 2),
        Moved("P1", "workshop", "C1", 60),
        Moved("P1", "workshop", "C2", 100),
        Moved("P1", "workshop", "C3", 20),
        Moved("P1", "C2", "returns", 5),
        Moved("P2", "", "workshop", 154),
        Moved("P2", "workshop", "kept", 3),
        Moved("P2", "workshop", "destroyed", 1),
        Moved("P2", "workshop", "C2", 80),
        Moved("P2", "workshop", "C3", 40),
    ),
)

KINDS: dict[str, HolderKind] = {
    "workshop": "in house",
    "kept": "kept",
    "destroyed": "destroyed",
    "returns": "to judge",
}
