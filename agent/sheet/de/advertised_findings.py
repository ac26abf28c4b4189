"""What the sheet says of routers and servers that give IPv6, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "two-ipv6-routers": (
        "{routers} Geräte melden sich hier als IPv6-Router; {hardware_address} ist eines zu viel."
    ),
    "ipv6-prefix-expired": (
        "Der Router vergibt ein abgelaufenes IPv6-Präfix ({prefix}): Auf den Geräten hier versagt "
        "IPv6."
    ),
    "ipv6-lifetimes-reversed": (
        "Die IPv6-Zeiten des Routers sind vertauscht: {prefix} ist {preferred_s} lang bevorzugt, "
        "aber nur {valid_s} gültig."
    ),
    "no-ipv6-router": (
        "Der Router vergibt IPv6-Adressen und gibt an, für sie kein Ausgang zu sein: Über IPv6 "
        "kommt nichts über ihn hinaus."
    ),
    "managed-without-server": (
        "Der Router überlässt IPv6-Adressen einem DHCPv6-Server, doch keiner hat hier eine "
        "vergeben."
    ),
    "ipv6-server-without-address": (
        "Der DHCPv6-Server in Router oder Modem antwortet, hat aber keine Adresse zu vergeben."
    ),
    "no-delegated-prefix": (
        "Der Anschluss gibt der Wohnung kein IPv6-Präfix oder ein zu kleines; vorgesehen ist "
        "/{expected_bits}."
    ),
    "ipv6-without-resolver": (
        "Hier gibt es nur IPv6, und der Router nennt dafür keinen Namensserver: Kein Name lässt "
        "sich auflösen."
    ),
    "portals-differ": (
        "DHCP und Router nennen in dieser Wohnung verschiedene Anmeldeseiten: {page} und "
        "{other_page}."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "find-second-router": (
        (
            "Zweites Gerät suchen, das IPv6 anbietet, es zum Zugangspunkt machen oder den Dienst "
            "dort abschalten; dann erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "renew-ipv6-prefix": (
        "Router neu starten, damit er ein neues Präfix anfordert, dann erneut messen.",
        "Vorher fragen: Telefon und Alarm können dabei ausfallen.",
    ),
    "set-advertised-times": (
        (
            "IPv6-Zeiten in den Einstellungen des Routers auf die Vorgaben stellen (kein "
            "Werksreset), dann erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "start-ipv6-server": (
        (
            "In Router oder Modem den DHCPv6-Server einschalten oder die Geräte ihre Adressen "
            "selbst bilden lassen; eines genügt; erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "report-delegation": (
        (
            "Mit diesem Blatt an die Netzleitstelle des Betreibers abgeben: Der Anschluss soll der "
            "Wohnung ein Präfix zuweisen."
        ),
        "",
    ),
    "set-ipv6-resolver": (
        "Router auch über IPv6 einen Namensserver nennen lassen, dann erneut messen.",
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "name-one-portal": (
        (
            "Klären, welche Anmeldeseite zu diesem Dienst gehört, DHCP und Router beide diese "
            "nennen lassen, dann erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
}
