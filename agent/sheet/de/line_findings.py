"""What the sheet says of who holds the rate, of drops, congestion and detours, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "held-in-home": (
        "Langsam, und das Warten beginnt in der Wohnung, vor dem Modem: Der Router, sein Kabel "
        "oder das WLAN begrenzt die Rate, nicht die Leitung."
    ),
    "held-past-line": (
        "Langsam, obwohl die Leitung zur Wohnung nicht voll ist: Das Warten beginnt hinter ihr, im "
        "Netz des Betreibers oder an dessen Messserver."
    ),
    "other-profile": (
        "Gleichmäßige Rate ohne Verlust, genau die von {profile}: Die Leitung scheint auf dieses "
        "Produkt eingestellt, nicht auf das verkaufte."
    ),
    "operator-congested": (
        "Bis zum fernen Ende der Leitung ist die Laufzeit gleichmäßig, dahinter schwankt sie um "
        "{spread_ms}: Das Netz des Betreibers ist durch andere Kunden belastet."
    ),
    "path-detour": (
        "Die Leitung ist schnell, doch dahinter braucht jedes Paket {added_ms} länger: Das Netz "
        "des Betreibers führt es auf einem weiten Umweg."
    ),
    "household-traffic": (
        "Schon ehe dieser Laptop sie füllte, stand auf der Leitung eine Warteschlange von "
        "{idle_queue_ms}: Etwas anderes in der Wohnung scheint die Leitung zu nutzen."
    ),
    "delay-varies": (
        "Die Laufzeit der Leitung selbst schwankt um {spread_ms} (Grenze {limit_ms}), die in der "
        "Wohnung ist gleichmäßig."
    ),
    "port-flaps": (
        "Die Verbindung zwischen Laptop und Router oder Modem kam und ging während der Messung: "
        "Patchkabel, Buchse oder Port."
    ),
    "line-drops": (
        "Zeitweise, bis zu {longest_s} lang, schwieg alles hinter dem Modem, während der Router "
        "der Wohnung weiter antwortete: Leitung oder Modem."
    ),
    "cable-loses-when-busy": (
        "Zwischen Laptop und Router gehen bei Last auf dem Kabel {lost} von {sent} Paketen "
        "verloren, zuvor kaum eines: ungleicher Duplexmodus oder schlechtes Kabel."
    ),
    "long-frames-lost": (
        "Zwischen Laptop und Router gehen {lost} von {sent} langen Paketen verloren, kurze nicht: "
        "schlechtes Kabel oder ungleicher Duplexmodus beider Enden."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "change-modem-cord": (
        (
            "Patchkabel zwischen Router und Modem tauschen, dann die Buchsen wechseln, und erneut "
            "messen. Weiter Verlust: Pegel des Modems ablesen."
        ),
        (
            "Vorher fragen: Telefon und Alarm können dabei ausfallen. Abzweiger und gespeiste "
            "Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker blicken."
        ),
    ),
    "measure-at-modem": (
        (
            "Laptop am Modem selbst anschließen und erneut messen. Dort volle Rate: Der Router "
            "begrenzt; auch dort langsam: Leitung danach beurteilen."
        ),
        "Vor jedem Ausstecken fragen; Alarm und Hausnotruf angeschlossen lassen.",
    ),
    "report-detour": (
        (
            "Mit diesem Blatt an die Netzleitstelle des Betreibers abgeben; Verkabelung der "
            "Wohnung nicht anfassen."
        ),
        "",
    ),
    "read-levels-and-log": (
        (
            "Ereignisliste und Pegel des Modems ablesen, erreichbare Stecker prüfen. Pegel am "
            "Übergabepunkt schlecht: Leitungstrupp; gut, doch das Modem startet neu: tauschen; "
            "sonst Netzleitstelle."
        ),
        (
            "Erdung (Potentialausgleich) nicht antasten. Abzweiger und gespeiste Anlagen nicht "
            "öffnen. Nie in eine Faser oder einen Stecker blicken. Vor dem Tausch fragen: Telefon "
            "und Alarm fallen aus."
        ),
    ),
}
