"""What findings about addresses and IPv6 mean for the customer, in plain words, in German."""

from __future__ import annotations

ADDRESSES = {
    "tag-missing": (
        "Unser Laptop war nicht für Ihre Anschlussart eingerichtet. Wir holen das nach und messen "
        "erneut."
    ),
    "self-assigned": (
        "Das Gerät, an dem unser Laptop hängt, lässt ihn nicht ins Internet. Wir starten es neu "
        "und messen erneut."
    ),
    "lease-expired": (
        "Die Internetadresse ist abgelaufen und wurde nicht erneuert. Wir erneuern sie und messen "
        "erneut."
    ),
    "address-duplicate": (
        "Zwei Geräte haben dieselbe Adresse bekommen und stören einander. Wir beheben das mit "
        "Ihnen."
    ),
    "two-leases": (
        "Zwei Geräte hier wollen beide das Heimnetz verwalten. Wir suchen mit Ihnen das zweite."
    ),
    "two-ways": (
        "Unser Laptop sieht zwei Wege ins Internet und verwechselt sie. Wir lassen nur den "
        "richtigen bestehen."
    ),
    "no-default-way": (
        "Unserem Laptop wurde kein Weg ins Internet genannt. Wir fragen erneut oder stellen ihn "
        "ein."
    ),
    "no-resolver": (
        "Unserem Laptop wurde nicht gesagt, wie er Websites findet. Wir fragen erneut oder stellen "
        "es ein."
    ),
    "lease-without-resolver": (
        "Die Geräte hier erfahren nicht, wie sie Websites finden. Wir ergänzen das mit Ihnen."
    ),
    "prefix-withdrawn": (
        "Ein Teil der Internetadresse der Wohnung ist veraltet. Wir starten den Router neu, um sie "
        "zu erneuern."
    ),
    "port-beside": (
        "Unser Laptop ist doppelt verbunden. Wir schalten eine Verbindung ab, damit die Messung "
        "stimmt."
    ),
    "pool-exhausted": (
        "Hier ist kein Platz mehr, um weitere Geräte ins Internet zu lassen. Wir schaffen Platz."
    ),
    "lease-refused": (
        "Unser Laptop wird hier nicht ins Internet gelassen. Wir klären das und messen erneut."
    ),
    "lease-not-taken": (
        "Unser Laptop hat die angebotene Adresse nicht angenommen. Wir lassen ihn erneut fragen."
    ),
    "pppoe-silent": (
        "Am anderen Ende Ihrer Leitung antwortet nichts. Wir prüfen Modem und Leitung."
    ),
    "pppoe-not-started": (
        "Die Leitung ist bereit, nur die Anmeldung fehlt noch. Wir holen sie nach und messen "
        "erneut."
    ),
    "pppoe-no-session": (
        "Dieser Anschluss braucht erst eine Anmeldung. Wir melden ihn an und messen erneut."
    ),
    "two-dhcp-servers": (
        "Zwei Geräte hier wollen beide das Heimnetz verwalten. Wir suchen mit Ihnen das zweite."
    ),
    "address-in-use": (
        "Zwei Geräte nutzen dieselbe Adresse und stören einander. Wir suchen mit Ihnen das andere."
    ),
    "offered-address-in-use": (
        "Ein Gerät hier nutzt eine Adresse, die für andere gedacht ist. Wir suchen es mit Ihnen."
    ),
    "offer-without-router": (
        "Die Geräte hier erfahren den Weg ins Internet nicht. Wir korrigieren das mit Ihnen."
    ),
    "offer-without-dns": (
        "Die Geräte hier erfahren nicht, wie sie Websites finden. Wir korrigieren das mit Ihnen."
    ),
    "mask-misfits-router": (
        "Zwei Einstellungen des Heimnetzes passen nicht zusammen. Wir korrigieren sie mit Ihnen."
    ),
    "lease-time-zero": (
        "Die Geräte hier verlieren ihren Platz im Heimnetz sofort wieder. Wir korrigieren das."
    ),
    "timers-out-of-order": (
        "Eine Einstellung kann Geräte hier ab und zu vom Netz trennen. Wir korrigieren sie mit "
        "Ihnen."
    ),
    "lease-server-silent": (
        "Es geht noch, kann aber ausfallen: Das Gerät, das die anderen verbindet, antwortet nicht. "
        "Wir starten es neu."
    ),
    "address-of-another-pool": (
        "Das ist vielleicht ein fremder Anschluss. Wir vergleichen die Beschriftung und lassen ihn "
        "prüfen."
    ),
    "unexpected-dhcp-server": (
        "Das ist vielleicht ein fremder Anschluss. Wir vergleichen die Beschriftung und lassen ihn "
        "prüfen."
    ),
}

NEWER = {
    "two-ipv6-routers": (
        "Zwei Geräte hier melden sich beide als Weg ins Internet. Wir suchen mit Ihnen das zweite."
    ),
    "ipv6-prefix-expired": (
        "Ein Teil der Internetadresse der Wohnung ist veraltet. Wir starten den Router neu, um sie "
        "zu erneuern."
    ),
    "ipv6-lifetimes-reversed": (
        "Eine Einstellung des Routers kann Geräte vom Netz trennen. Wir korrigieren sie mit Ihnen."
    ),
    "no-ipv6-router": (
        "Der Router vergibt neuere Adressen, befördert aber nichts für sie. Wir starten ihn neu "
        "und messen erneut."
    ),
    "managed-without-server": (
        "Geräte hier warten auf neuere Adressen, die niemand vergibt. Wir korrigieren das am "
        "Router."
    ),
    "ipv6-server-without-address": (
        "Geräte hier warten auf neuere Adressen, die niemand vergibt. Wir korrigieren das am "
        "Router."
    ),
    "no-delegated-prefix": (
        "Unsere Leitung gibt Ihrer Wohnung keine Adressen der neueren Art. Unsere Netztechnik "
        "übernimmt."
    ),
    "ipv6-without-resolver": (
        "Die Geräte hier erfahren nicht, wie sie Websites finden. Wir korrigieren das mit Ihnen."
    ),
    "portals-differ": (
        "Hier werden zwei verschiedene Anmeldeseiten genannt. Wir lassen nur die richtige bestehen."
    ),
    "ipv4-missing": (
        "Hier ist nur der neuere Teil des Internets erreichbar. Wir starten den Router neu und "
        "messen erneut."
    ),
    "ipv6-no-route": (
        "Hier ist der neuere Teil des Internets nicht erreichbar. Wir prüfen zuerst den Router."
    ),
    "ipv6-dead": (
        "Der neuere Weg zu Websites ist gestört, Seiten öffnen sich spät. Wir melden das und "
        "lassen es beheben."
    ),
    "ipv6-large-packets-vanish": (
        "Auf dem neueren Weg zu Websites können Seiten hängen. Das muss unsere Netztechnik beheben."
    ),
    "ipv6-names-silent": (
        "Websites werden spät gefunden, weil eine Art von Fragen offen bleibt. Wir lassen das "
        "beheben."
    ),
    "ipv6-slower": (
        "Der neuere Weg zu Websites ist langsamer als der alte. Unsere Netztechnik geht dem nach."
    ),
    "ipv6-site-unanswered": (
        "Eine Website antwortet auf dem neueren Weg nicht. Das kann nur ihr Inhaber beheben; Ihr "
        "Anschluss läuft."
    ),
}
