"""The words of the list of tiers in English."""

from __future__ import annotations

HEAD = ("Tier", "Down / up, Mbit/s", "Counted in", "Line", "Accepted")
PROMISED = {
    "minimum": "at least {rates}",
    "normal": "normally {rates}",
    "maximum": "at most {rates}",
    "advertised": "advertised {rates}",
}
SET = "set to {times} times the rates"
DELAY = "delay {limit}"
LOSS = "loss {limit}"
NOTE = "note: {note}"
COUNT = "{count} tiers"
ONE = "1 tier"
