"""The words of the page that shows records side by side, in English."""

from __future__ import annotations

TITLE = "Visits side by side"
COUNT = "Two to four records stand side by side; {count} were given."
COUNT_REMEDY = "Name two, three or four records."

BEFORE = "Before"
AFTER = "After"
NUMBERED = "Record {number}"
TWICE = "{place}, {which}"

ORDERS = "{count} work orders: {names}."
TIERS = "{count} products were sold: {names}."
SERVERS = "{count} servers: {names}."
LIMITS = "Limits differ: {names}."
SETTINGS = "Judged by {count} sets of settings."
BACKWARDS = "The last column was measured before the first."
ONLY_IN = "{columns}: {banner}"

COMMON = "The same in all"
VERDICTS = "Verdict"
CHANGED = "changed"
DIFFERENCE = "First to last"
TOLD = {
    "higher": "higher, beyond both intervals",
    "lower": "lower, beyond both intervals",
    "same": "within the intervals",
    "open": "cannot be told",
}
MEDIAN_TOLD = {
    "higher": "median higher, beyond both intervals",
    "lower": "median lower, beyond both intervals",
    "same": "medians within the intervals",
    "open": "cannot be told",
}
COUNT_TOLD = {
    "higher": "higher, across the limit",
    "lower": "lower, across the limit",
    "same": "on the same side of the limit",
    "open": "cannot be told",
}
OTHER_LIMIT = "{told}; another limit"
NOT_IN_RECORD = "not in this record"
LABEL = {
    "when": "Started",
    "segment": "Place of the fault",
    "step": "Next step",
    "findings": "Found",
    "work_order": "Work order",
    "premises": "Premises",
    "tier": "Sold",
    "spot": "Spot",
    "plugged": "Plugged into",
    "port": "Port",
    "alone": "Nothing else on",
    "server": "Server",
    "rule": "Rule",
    "settings": "Settings",
    "names": "Names (DNS)",
    "pages": "Web pages",
    "path": "Path to the server",
    "record": "Record",
}
SPREADS = "Round trips to the server, ms"
LOAD = {"none": "idle", "down": "downloading", "up": "uploading"}
FACTS = "Names, pages, path and proof"
ORDER = "from the left: {names}"
AND_MORE = "{names} and {count} more"
ALIKE = "Kept in every record, with no difference to tell: {names}."
SPREAD_LINE = "median {median}, p95 {p95}"
SPREAD_SAMPLE = "lost {lost} %, {sent} probes"

PATH = {
    "same": "the same way",
    "changed": "another way from hop {distance}",
    "member": "another of several ways at hop {distance}",
    "open": "cannot be told",
}
PATH_CELL = "{hops} hops, {ending}"

NOTE = (
    "Every row has one scale for all columns. First to last: higher or lower only where the two "
    "intervals do not touch."
)
MARKS = (
    "Hatched: not accepted; thick rule: the limit; dotted: sold; long tick: median; short tick: "
    "95th percentile. At the right both intervals, the first above the last, on a scale of their "
    "own."
)
HOW_TO_VERIFY = (
    "Ask for the records and run: doorstep verify record.json. Each must show its number and hash."
)
