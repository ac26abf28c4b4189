"""German sentences about translated addresses, and their next steps."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "second-router": (
        "In dieser Wohnung stehen {routers} Router hintereinander, und jeder übersetzt Adressen; "
        "nichts auf dieser Leitung leidet darunter."
    ),
    "shared-address": (
        "Der Betreiber gab eine Adresse, die sich mehrere Kunden teilen ({address}): kein Fehler, "
        "doch von außen ist darüber nichts zu erreichen."
    ),
    "carrier-translation": (
        "Auch der Betreiber scheint Adressen zu übersetzen (erster Router {hop}, gesehen als "
        "{seen_address}): kein Fehler, doch von außen kommt nichts herein."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "let-one-router-bridge": (
        (
            "Gibt es Probleme mit Spielen, Anrufen oder einem von außen erreichten Gerät, einen "
            "der zwei Router nur als Bridge betreiben; sonst beide so lassen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "ask-for-own-address": (
        (
            "Muss etwas in dieser Wohnung von außen erreichbar sein, den Betreiber um eine eigene "
            "Adresse bitten oder IPv6 nutzen."
        ),
        "",
    ),
}
