"""What was read by meter or from the equipment's own page, and how usual it is, in English."""

from __future__ import annotations

TITLE = "Line readings"
PLACE = {
    "tap": "Tap",
    "entry": "Entry",
    "outlet": "Wall plate",
    "modem": "Modem",
    "ont": "ONT",
}
KIND = {
    "downstream-level": "downstream level",
    "downstream-snr": "downstream SNR (MER)",
    "upstream-level": "upstream level",
    "uncorrectable-ratio": "uncorrectable, this visit",
    "timeouts": "T3/T4 timeouts, this visit",
    "optical-receive": "optical receive level",
    "dsl-margin-down": "DSL margin, download",
    "dsl-margin-up": "DSL margin, upload",
    "dsl-sync-down": "DSL rate, download",
    "dsl-sync-up": "DSL rate, upload",
    "radio-rsrp": "RSRP",
    "radio-sinr": "SINR",
}
LABEL = "{where}: {what}"
USUAL = {
    True: "{value}, within the usual range ({usual})",
    False: "{value}, outside the usual range ({usual})",
    None: "{value}; no usual range",
}
BETWEEN = "{low} to {high}"
FROM = "{end} or more"
UP_TO = "{end} or less"
