"""The words of the list of tiers in German."""

from __future__ import annotations

HEAD = ("Produkt", "Down / Up, Mbit/s", "Gezählt als", "Anschluss", "Anerkannt")
PROMISED = {
    "minimum": "mindestens {rates}",
    "normal": "normalerweise {rates}",
    "maximum": "höchstens {rates}",
    "advertised": "beworben {rates}",
}
SET = "eingestellt auf das {times}-Fache der Raten"
DELAY = "Laufzeit {limit}"
LOSS = "Verlust {limit}"
NOTE = "Anmerkung: {note}"
COUNT = "{count} Produkte"
ONE = "1 Produkt"
