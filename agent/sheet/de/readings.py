"""What was read by meter or from the equipment's own page, and how usual it is, in German."""

from __future__ import annotations

TITLE = "Abgelesene Leitungswerte"
PLACE = {
    "tap": "Abzweiger",
    "entry": "Übergabepunkt",
    "outlet": "Dose",
    "modem": "Modem",
    "ont": "ONT",
}
KIND = {
    "downstream-level": "Empfangspegel",
    "downstream-snr": "Störabstand (MER)",
    "upstream-level": "Sendepegel",
    "uncorrectable-ratio": "unkorrigierbar, dieser Besuch",
    "timeouts": "T3/T4-Timeouts, dieser Besuch",
    "optical-receive": "optischer Empfangspegel",
    "dsl-margin-down": "Störabstandsmarge, Download",
    "dsl-margin-up": "Störabstandsmarge, Upload",
    "dsl-sync-down": "DSL-Rate, Download",
    "dsl-sync-up": "DSL-Rate, Upload",
    "radio-rsrp": "RSRP",
    "radio-sinr": "SINR",
}
LABEL = "{where}: {what}"
USUAL = {
    True: "{value}, im üblichen Bereich ({usual})",
    False: "{value}, außerhalb des üblichen Bereichs ({usual})",
    None: "{value}; kein üblicher Bereich",
}
BETWEEN = "{low} bis {high}"
FROM = "ab {end}"
UP_TO = "bis {end}"
