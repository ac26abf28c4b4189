"""What the sheet says in German of resolvers and their answers."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "dns-silent": (
        "Kein Namensserver antwortet, per Adresse ist alles erreichbar: Gestört ist die "
        "Namensauflösung, nicht die Leitung."
    ),
    "dns-failing": (
        "Der Namensserver ({resolver}) beantwortet jeden Namen mit einem Fehler: "
        "{rcode}{extended_error}."
    ),
    "dns-first-silent": (
        "Der erste Namensserver ({resolver}) schweigt: Jeder neue Name wartet etwa {cost_s}, bis "
        "der nächste gefragt wird."
    ),
    "dns-partly-silent": (
        "Ein Namensserver antwortet nicht ({resolver}), ein anderer schon: Manche Namen brauchen "
        "lange."
    ),
    "dns-slow": (
        "Der Namensserver ({resolver}) antwortet langsam: {median_ms} im Median, Grenze {limit_ms}."
    ),
    "dns-rewritten": (
        "Der Namensserver ({resolver}) nennt eine Adresse für Namen, die es nicht gibt."
    ),
    "dns-private-answer": (
        "Der Namensserver beantwortet einen öffentlichen Namen mit einer privaten Adresse: "
        "{address} für {name}."
    ),
    "dns-disagree": "Zwei Namensserver, {other} und {resolver}, widersprechen sich bei {name}.",
    "dns-often-silent": (
        "Der Namensserver ({resolver}) lässt {unanswered} von {sent} Anfragen unbeantwortet: Namen "
        "hängen ab und zu."
    ),
    "dns-signed-refused": (
        "Der Namensserver ({resolver}) weist einen gültig signierten Namen ab{extended_error}."
    ),
    "dns-large-answers-lost": (
        "Antworten über 512 Byte kommen von {resolver} nicht vollständig an: Manche Namen hängen "
        "oder scheitern."
    ),
    "dns-tcp-blocked": (
        "Der Namensserver ({resolver}) antwortet nicht über TCP: Namen mit langen Antworten "
        "scheitern."
    ),
    "encrypted-resolver-silent": (
        "Der verschlüsselte Namensserver des Betreibers ({resolver}) ist nicht nutzbar: "
        "{trouble}{certificate_has}."
    ),
    "dns-not-validating": (
        "Der Namensserver ({resolver}) prüft keine Signaturen (DNSSEC): Gefälschte Namen können "
        "durchgehen."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "report-resolver": (
        (
            "Den stummen oder langsamen Namensserver mit diesem Blatt der Netzleitstelle des "
            "Betreibers melden. Verkabelung nicht anfassen."
        ),
        "Einstellungen des Kunden so lassen; ein anderer Namensserver verdeckt es nur.",
    ),
    "report-answers": (
        (
            "Mit diesem Blatt der Netzleitstelle des Betreibers melden, was der Namensserver "
            "antwortet: Namensserver, Name, Antwort."
        ),
        "Einstellungen des Kunden so lassen; ein anderer Namensserver verdeckt es nur.",
    ),
    "check-router-names": (
        (
            "Der Router der Wohnung beantwortet Namen: Dort nach Filter, Kindersicherung oder "
            "geänderten Namensservern suchen; dann erneut messen."
        ),
        "Vorher fragen: Der Kunde kann es so gewollt haben.",
    ),
    "report-encrypted-resolver": (
        (
            "Den verschlüsselten Namensserver der Netzleitstelle des Betreibers melden. "
            "Verkabelung nicht anfassen."
        ),
        "Geräte, die nur ihn nutzen sollen, lösen so lange keinen Namen auf.",
    ),
    "ask-for-validation": (
        (
            "Nichts ist defekt. Wo der Betreiber Signaturprüfung zusagt, seiner Netzleitstelle "
            "Bescheid geben."
        ),
        "",
    ),
}
