"""What the sheet says of servers that hand out addresses and sessions, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "pool-exhausted": (
        "Das Gerät, das hier Adressen vergibt, antwortet, hat aber keine mehr frei: Sein "
        "Adressvorrat ist aufgebraucht."
    ),
    "lease-refused": (
        "Das Gerät, das hier Adressen vergibt ({server}), verweigert die vom Laptop verlangte, die "
        "oft noch aus einem anderen Netz stammt."
    ),
    "lease-not-taken": (
        "{server} bietet {address} an, doch der Laptop hat keine Adresse: Er muss sie annehmen."
    ),
    "pppoe-silent": (
        "Auf PPPoE-Discovery ({sent} Anfragen) antwortet auf der Leitung nichts: Modem ohne Sync, "
        "VLAN-Tag fehlt oder Leitung tot."
    ),
    "pppoe-no-session": (
        "Dieser Anschluss gibt erst mit einer PPPoE-Sitzung eine Adresse, und es besteht keine: "
        "bisher kein Leitungsfehler."
    ),
    "pppoe-not-started": (
        "Die Gegenstelle ({concentrator}) antwortet auf PPPoE nach {after_ms}: Bis dahin ist die "
        "Leitung gut, nur ist die Sitzung hier nicht gestartet."
    ),
    "two-dhcp-servers": (
        "{servers} Geräte vergeben hier Adressen; {server} ({hardware_address}) ist eines zu viel."
    ),
    "address-in-use": (
        "Auch ein anderes Gerät hier ({hardware_address}) hat die Adresse dieses Laptops, "
        "{address}: Beide verlieren Pakete."
    ),
    "offered-address-in-use": (
        "{address} wird hier angeboten, doch das Gerät {hardware_address} nutzt diese Adresse "
        "schon."
    ),
    "offer-without-router": (
        "Das Gerät, das hier Adressen vergibt, nennt kein Gateway: Die Geräte hier erreichen sonst "
        "nichts."
    ),
    "offer-without-dns": (
        "Das Gerät, das hier Adressen vergibt, nennt keinen Namensserver: Geräte können keine "
        "Namen auflösen."
    ),
    "mask-misfits-router": (
        "Das Gerät, das hier Adressen vergibt, nennt ein Gateway außerhalb seines Netzes: Es ist "
        "womöglich nicht erreichbar."
    ),
    "lease-time-zero": (
        "Das Gerät, das hier Adressen vergibt, gibt ihnen die Lease-Dauer null: Sie verfallen "
        "sofort."
    ),
    "timers-out-of-order": (
        "Die hier vergebenen Erneuerungszeiten passen nicht zueinander (T1 {t1_s}, T2 {t2_s}, "
        "Lease {lease_s}): Geräte können ihre Adresse verlieren."
    ),
    "lease-server-silent": (
        "Das Gerät, das diesem Laptop seine Adresse gab, antwortet nicht mehr: Sie geht später "
        "verloren."
    ),
    "address-of-another-pool": (
        "{address} gehört nicht zum Adressbereich dieses Dienstes: Womöglich ist eine fremde "
        "Leitung angeschlossen."
    ),
    "unexpected-dhcp-server": (
        "{server} vergibt Adressen und gehört nicht zu diesem Dienst: Womöglich ist eine fremde "
        "Leitung angeschlossen."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "widen-address-pool": (
        "Router neu starten; hilft das nicht, seinen Adressbereich erweitern.",
        "Vorher fragen: Telefon und Alarm können dabei ausfallen.",
    ),
    "clear-refused-lease": (
        (
            "Kabel des Laptops ziehen und wieder stecken; wird erneut verweigert, das Gerät neu "
            "starten, das die Adressen vergibt."
        ),
        "Vorher fragen: Telefon und Alarm können dabei ausfallen.",
    ),
    "ask-for-address-again": (
        (
            "Netzwerkanschluss des Laptops auf automatische Adressen stellen, Kabel neu stecken, "
            "dann erneut messen."
        ),
        "",
    ),
    "check-sync-and-tag": (
        (
            "Prüfen, ob das Modem Sync hat. Ja: VLAN-Tag der Leitung probieren, dann "
            "Netzleitstelle. Nein: Pegel ablesen; schlecht: Leitungstrupp; gut: Modem tauschen."
        ),
        (
            "Abzweiger und gespeiste Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker "
            "blicken. Vor dem Tausch fragen: Telefon und Alarm fallen aus."
        ),
    ),
    "start-pppoe-session": (
        "PPPoE-Sitzung auf diesem Laptop oder im Router starten, dann erneut messen.",
        "",
    ),
    "find-second-dhcp-server": (
        (
            "Zweites Gerät suchen, das Adressen vergibt (oft ein zweiter Router), diesen Dienst "
            "abschalten, erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "find-address-user": (
        (
            "In der Geräteliste des Routers das Gerät mit dieser Adresse suchen, es auf "
            "automatischen Bezug stellen, erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-router-option": (
        "Das Gerät, das die Adressen vergibt, auch sein Gateway nennen lassen, dann erneut messen.",
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-dns-option": (
        (
            "Das Gerät, das die Adressen vergibt, auch einen Namensserver nennen lassen, dann "
            "erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-mask-option": (
        (
            "Netzmaske oder Gateway in dem Gerät berichtigen, das die Adressen vergibt, dann "
            "erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-lease-times": (
        (
            "Lease-Zeiten in dem Gerät, das die Adressen vergibt, auf die Vorgaben stellen, dann "
            "erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "check-drop": (
        (
            "Beschriftung der Hauszuführung mit dem Auftrag vergleichen; den Betreiber Leitung und "
            "Profil prüfen lassen."
        ),
        (
            "Abzweiger und gespeiste Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker "
            "blicken."
        ),
    ),
}
