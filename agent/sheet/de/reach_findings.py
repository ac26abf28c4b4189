"""German sentences about ports that do not pass."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "port-blocked": (
        "{name} ({transport} {port}) wird unterwegs {port_fate}; der letzte Router, der "
        "antwortete, ist {last_hop}."
    ),
    "port-refused": (
        "Der Server am fernen Ende, hinter dem Netz des Betreibers, weist {name} ({transport} "
        "{port}) selbst ab: Er bietet es nicht an."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "allow-port-at-router": (
        (
            "Im Router der Wohnung Filter, Kindersicherung oder Schutzdienst suchen, der diesen "
            "Port sperrt; Port freigeben, dann erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "report-port-filter": (
        (
            "Mit diesem Blatt die Netzleitstelle des Betreibers fragen, ob dieses Produkt einen "
            "Filter für diesen Port hat. Verkabelung nicht anfassen."
        ),
        "Manche Ports sind mit Absicht gesperrt, gegen Missbrauch: nichts versprechen.",
    ),
    "ask-far-end": (
        "An dieser Leitung ist nichts zu tun: Wer jenen Server betreibt, muss den Port öffnen.",
        "",
    ),
    "compare-port-elsewhere": (
        (
            "Denselben Port mit dem Laptop am Modem prüfen. Dort frei: Der Router sperrt; auch "
            "dort gesperrt: mit diesem Blatt die Netzleitstelle fragen."
        ),
        "Vorher fragen: Telefon und Alarm können ausfallen, solange der Router getrennt ist.",
    ),
}
