"""How values are worded that a sentence does not print as they are, in German."""

from __future__ import annotations

# Each follows "entsteht".
ARISES = {
    "home": "in der Wohnung, vor der Leitung",
    "modem": "zwischen Laptop und Modem",
    "access": "auf der Leitung",
    "operator": "hinter der Leitung, im Netz des Betreibers",
}
ARISES_UNKNOWN = "an noch unbekannter Stelle"
VANISH_AFTER = "hinter dem Router {address}"
VANISH_UNKNOWN = "an unbekannter Stelle"

TIME = {
    "years": "{count} Jahre",
    "days": "{count} Tage",
    "hours": "{count} Stunden",
    "minutes": "{count} Minuten",
    "seconds": "{count} Sekunden",
}
TIME_UNKNOWN = "unbekannte Zeit"
# Each follows "geht".
CLOCK_FAST, CLOCK_SLOW, CLOCK_OFF = "{time} vor", "{time} nach", "falsch"

CODE = "Code {code}"
# RFC 8914 §4, in plain words; others are printed by their number.
EXTENDED_ERROR = {
    3: "die Antwort ist veraltet",
    4: "die Antwort ist absichtlich gefälscht",
    6: "ihre Signatur ist falsch",
    7: "ihre Signatur ist abgelaufen",
    8: "ihre Signatur gilt noch nicht",
    9: "ein Schlüssel fehlt",
    10: "eine Signatur fehlt",
    14: "der Namensserver ist nicht bereit",
    15: "gesperrt vom Betreiber des Namensservers",
    16: "gesperrt auf Anordnung anderer",
    17: "gefiltert auf Wunsch des Kunden",
    18: "dieser Laptop darf nicht fragen",
    22: "kein Server der Zone antwortet",
    23: "sein Weg nach außen ist gestört",
}
EXTENDED_ERROR_OTHER = "Grund {code} aus RFC 8914"
TROUBLE = {
    "lost": "keine Antwort",
    "late": "keine Antwort in der Zeit",
    "refused": "er lehnt die Verbindung ab",
    "unreachable": "kein Weg führt zu ihm",
    "malformed": "was kommt, ist kein DNS",
    "untrusted": "keine gesicherte Verbindung",
    "name-not-resolved": "sein Name ist nicht zu finden",
}
CERTIFICATE_HAS = {
    "expired": "Zertifikat abgelaufen",
    "not-yet-valid": "Zertifikat noch nicht gültig",
    "self-signed": "Zertifikat selbst signiert",
    "unknown-issuer": "Zertifikat von unbekannter Stelle",
    "wrong-name": "Zertifikat auf anderen Namen",
}
CERTIFICATE_HAS_OTHER = "Zertifikat ungültig"
CERTIFICATE = {
    "expired": "ist abgelaufen",
    "not-yet-valid": "gilt noch nicht",
    "wrong-name": "lautet auf einen anderen Namen",
    "self-signed": "ist nur von sich selbst beglaubigt",
    "unknown-issuer": "stammt von keiner hier anerkannten Stelle",
}
CERTIFICATE_OTHER = "wird nicht anerkannt"
# It follows "zu", so it is in the dative.
PORTAL_UNNAMED = "einer anderen Seite"
# Each follows "wird unterwegs".
FATE = {
    "filtered": "stumm verworfen",
    "refused": "abgewiesen",
    "unreachable": "von einem Router abgewiesen",
}
