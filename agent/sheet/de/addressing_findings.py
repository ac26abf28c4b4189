"""What the sheet says of the address that the laptop holds, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "tag-missing": (
        "Diese Leitung verlangt Frames mit VLAN-Tag {tag}, der Port dieses Laptops sendet sie "
        "ohne: bisher kein Leitungsfehler."
    ),
    "self-assigned": (
        "Router oder Modem gab keine Adresse, der Laptop bildete selbst eine ({address}): Über die "
        "Leitung ist noch nichts bekannt."
    ),
    "lease-expired": (
        "Hier in der Wohnung lief die Lease von {address} vor {expired_s} ab und wurde nicht "
        "erneuert."
    ),
    "address-duplicate": (
        "Ein anderes Gerät hier hat schon die Adresse {address}, also darf dieser Laptop sie nicht "
        "nutzen."
    ),
    "two-leases": (
        "Dieser Port hat zwei Leases, {address} und {other}: Zwei Geräte vergeben hier Adressen."
    ),
    "two-ways": (
        "Dieser Laptop hat zwei Wege nach außen aus einem Port, über {gateway} und über {other}."
    ),
    "no-default-way": (
        "Dieser Laptop hat {address}, aber kein wirksames Gateway: Nichts verlässt ihn."
    ),
    "no-resolver": (
        "Dieser Laptop hat eine Adresse, aber keinen Namensserver: Er kann keinen Namen auflösen, "
        "gleich was die Leitung tut."
    ),
    "lease-without-resolver": (
        "Router oder Modem nennt keinen Namensserver: Andere Geräte hier finden keine Namen; "
        "dieser Laptop hat einen eigenen ({resolver})."
    ),
    "prefix-withdrawn": (
        "Der Router kündigt das IPv6-Präfix von {address} nicht mehr an: Für die Geräte hier endet "
        "IPv6."
    ),
    "port-beside": (
        "Dieser Laptop ist über einen zweiten Port ({port}) im selben Netz; womöglich läuft ein "
        "Teil der Messung darüber."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "set-tag": (
        (
            "Auf diesem Laptop eine VLAN-Schnittstelle mit diesem Tag anlegen und darüber erneut "
            "messen."
        ),
        "",
    ),
    "keep-one-way": (
        (
            "Klären, welches Gateway zu dieser Leitung gehört (Aufkleber oder Gerätemenü), das "
            "andere vom Laptop entfernen, erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-gateway-by-hand": (
        "Zur von Hand gesetzten Adresse auch das Gateway eintragen, erneut messen.",
        "",
    ),
    "set-resolver-by-hand": (
        "Zur von Hand gesetzten Adresse auch einen Namensserver eintragen, erneut messen.",
        "",
    ),
    "switch-other-port-off": (
        "Den anderen Port oder das WLAN des Laptops abschalten, dann erneut messen.",
        "",
    ),
}
