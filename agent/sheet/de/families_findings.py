"""German sentences of the findings about IPv6, and their next steps."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "ipv4-missing": (
        "Router oder Modem vergab nur IPv6, und nichts übersetzt: Websites, die nur IPv4 haben, "
        "sind nicht erreichbar."
    ),
    "ipv6-no-route": (
        "Der Laptop hat eine IPv6-Adresse, doch der Router nennt keinen Ausgang dafür: Über IPv6 "
        "verlässt nichts die Wohnung."
    ),
    "ipv6-dead": (
        "IPv6 wird vergeben, antwortet aber nicht: Jede neue Verbindung dauert {racing_ms} länger, "
        "in Programmen, die darauf warten, bis zu {single_s}."
    ),
    "ipv6-large-packets-vanish": (
        "Kleine IPv6-Pakete kommen durch, volle verschwinden: Seiten beginnen zu laden und hängen. "
        "IPv4 funktioniert."
    ),
    "ipv6-names-silent": (
        "Nach IPv6-Adressen gefragt, antwortet der Namensserver nie: Jeder neue Name dauert "
        "{racing_ms} länger, in wartenden Programmen bis zu {single_s}."
    ),
    "ipv6-slower": (
        "IPv6 verbindet langsamer als IPv4 ({connect_6_ms} gegen {connect_4_ms}): Jede neue "
        "Verbindung dauert bis zu {racing_ms} länger."
    ),
    "ipv6-site-unanswered": (
        "Eine Seite außerhalb antwortet unter ihrer IPv6-Adresse nicht ({target}); IPv6 selbst "
        "funktioniert."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "mend-ipv6-router": (
        (
            "Router neu starten, dann erneut messen; bleibt es so, der Netzleitstelle des "
            "Betreibers melden, dass der Anschluss ihm kein IPv6 gibt."
        ),
        (
            "Vorher fragen: Telefon und Alarm können dabei ausfallen. Sonst nichts ohne Zustimmung "
            "ändern."
        ),
    ),
    "restart-router-for-ipv4": (
        (
            "Router neu starten, erneut messen, wenn er läuft; weiter nur IPv6: der Netzleitstelle "
            "des Betreibers melden, dass kein IPv4 kommt."
        ),
        "Vorher fragen: Telefon und Alarm können dabei ausfallen.",
    ),
    "report-ipv6": (
        (
            "Diesen IPv6-Fehler mit diesem Blatt der Netzleitstelle des Betreibers melden. Über "
            "IPv4 funktioniert der Anschluss: Verkabelung nicht anfassen."
        ),
        "IPv6 auf den Geräten des Kunden nicht abschalten: Das verdeckt den Fehler.",
    ),
}
