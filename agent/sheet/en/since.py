"""The English words of the comparison with an earlier visit, and of a verdict judged anew."""

from __future__ import annotations

TITLE = "Since the visit of {when}"
DIFFERS = "{label} differs: {then} then, {now} now, beyond both intervals."
CHANGED = "{what} then {then}, now {now}: figures may differ by that alone."
WHAT = {
    "tier": "Sold",
    "spot": "Spot",
    "plugged-into": "Plugged into",
    "port": "Speed of the port",
}
NOTHING = "None of {count} figures differs beyond its interval."
NOT_COMPARED = "No figure of both visits has an interval, so none can be compared."

ANEW = (
    "Judged anew from the stored record with other settings than those of the visit: {settings}, "
    "hash {sha256}. {verdict}"
)
ANEW_SAME = (
    "Judged anew from the stored record with the settings of the visit: {settings}, hash {sha256}. "
    "{verdict}"
)
VERDICT_STANDS = "The record's own verdict is the same."
VERDICT_DIFFERS = "The record's own verdict is another: {verdict}."
TIER_DIFFERS = "They hold the tier to other rates than the visit did."
NOT_STORED = "The hash below is of the record, not of this judgement."
