"""What the sheet says of findings and next steps in German, keyed by the codes of the record."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "no-interface": (
        "Dieser Laptop hat keinen Netzwerkport dieses Namens: Der Fehler liegt hier, nicht auf der "
        "Leitung."
    ),
    "port-down": (
        "Der Port hat keine Verbindung, auf dem Kabel kommt kein Signal an: Kabel, Buchse oder das "
        "Gerät am anderen Ende."
    ),
    "tunnel-on": (
        "Die Messung lief durch einen Tunnel (VPN) dieses Laptops und sagt daher nichts über die "
        "Leitung."
    ),
    "another-line": (
        "Die Messung lief über eine andere Leitung (Hotspot, Zweitanschluss): Über die zu prüfende "
        "sagt sie nichts."
    ),
    "no-lease": (
        "Die Kabelverbindung steht, doch nichts vergab eine Adresse: erst Router oder Modem "
        "ansehen, dann die Leitung."
    ),
    "gateway-silent": (
        "Eine Adresse ist da, doch das Gateway und alles dahinter schweigen: erst Router oder "
        "Modem und sein Kabel ansehen, dann die Leitung."
    ),
    "silent-at-modem": (
        "Eine Adresse ist da, doch hinter diesem Laptop antwortet nichts: Modem oder Leitung."
    ),
    "modem-silent": (
        "Der Router antwortet, das Modem und alles dahinter nicht: das Modem, seine "
        "Stromversorgung oder seine Kabel."
    ),
    "nothing-past-modem": (
        "Das Modem antwortet, dahinter nichts: die Leitung oder der Leitungsanschluss des Modems."
    ),
    "nothing-past-gateway": "Das Gateway antwortet, dahinter nichts: Modem oder Leitung.",
    "loss-at-gateway": (
        "Verlust zwischen Laptop und Gateway, vor der Leitung: {lost} von {sent} Paketen."
    ),
    "loss-at-modem": (
        "Verlust an Patchkabel, Port des Laptops oder Buchse des Modems: zwischen Laptop und Modem "
        "{lost} von {sent} Paketen."
    ),
    "loss-before-modem": (
        "Bis zum Router kein Verlust; am Patchkabel zwischen Router und Modem oder an seinen "
        "Buchsen gehen Pakete verloren."
    ),
    "loss-past-modem": "Vor der Leitung kein Verlust; er beginnt gleich hinter dem Modem.",
    "loss-before-first-hop": (
        "Verlust vor dem ersten Router hinter dem Modem: auf der Leitung, sofern ihn nicht das "
        "Kabel in der Wohnung verursacht."
    ),
    "loss-past-gateway": (
        "Bis zum Gateway kein Verlust, dahinter schon: zuerst die Leitung prüfen; das Netz des "
        "Betreibers war davon nicht zu trennen."
    ),
    "loss-unplaced": (
        "Auf dem Weg zum Messserver (wo, zeigt keine Messung auf kürzerem Weg) gehen Pakete "
        "verloren."
    ),
    "loss-in-operator": (
        "Bis zum fernen Ende der Leitung kein Verlust; dahinter, im Netz des Betreibers, gehen "
        "Pakete verloren."
    ),
    "large-packets-vanish": (
        "Pakete über {path_mtu_bytes} Byte verschwinden stumm, {vanish_after}: Manche Seiten und "
        "Uploads hängen."
    ),
    "port-below-tier": (
        "Das Kabel des Laptops verbindet nur mit {speed_bps} und trägt das Produkt nicht: "
        "Patchkabel oder Port, nicht die Leitung."
    ),
    "half-duplex": (
        "Der Port des Laptops läuft im Halbduplex: Die beiden Enden des Kabels begrenzen die Rate, "
        "nicht die Leitung."
    ),
    "slow-line": (
        "Weniger als verkauft, und weder Laptop noch Wohnung bremsten: die Leitung oder das "
        "Profil, auf das sie eingestellt ist."
    ),
    "slow-not-attributable": (
        "Hier langsam, aber {fact}: So ist die Leitung selbst nicht zu beurteilen."
    ),
    "rate-unsteady": (
        "Zwei Messungen einer Richtung weichen zu stark voneinander ab, um einer zu trauen; wo das "
        "entsteht, ist noch nicht bekannt."
    ),
    "laptop-limits": (
        "Dieser Laptop kam nicht mit, also war die Rate der Leitung selbst nicht zu sehen."
    ),
    "window-limits": (
        "Ein TCP-Fenster war zu klein für diese Umlaufzeit; die Leitung trägt womöglich mehr."
    ),
    "server-limits": (
        "Der Messserver des Betreibers gab nicht mehr her: zu klein für diese Leitung oder "
        "ausgelastet; sie trägt womöglich mehr."
    ),
    "other-traffic-limits": (
        "Andere Programme auf diesem Laptop nutzten die Leitung während der Messung."
    ),
    "server-silent": (
        "Die Leitung überträgt Daten, doch der Messserver des Betreibers antwortet nicht oder "
        "überträgt nichts: Der Fehler liegt dort."
    ),
    "delay-rises-under-load": (
        "Ist die Leitung voll, steigt ihre Laufzeit um mehr als {limit_ms}: lange Warteschlange in "
        "Router oder Modem; Anrufe können leiden."
    ),
    "delay-high": (
        "Die Laufzeit beträgt im Median {median_ms} (Grenze {limit_ms}) und entsteht {arises}."
    ),
}

# How packets were lost, after the sentence of a finding.
LOSS_WAY = {
    "up": "auf dem Hinweg, aus der Wohnung",
    "down": "auf dem Rückweg, zur Wohnung",
    "both": "in beiden Richtungen",
}
FINDING_FALLBACK = "Befund {code}."
LIKELY, POSSIBLE = "Wahrscheinlich", "Möglich"
ADVICE = "Hinweis: {finding}"
FINDINGS_NONE = "Kein Fehler war zu sehen."
FINDINGS_TOO_LITTLE = "Zu wenig wurde gemessen, um zu sagen, wo ein Fehler liegt."

# Each next step: what to do, and what to mind.
STEP: dict[str, tuple[str, str]] = {
    "check-adapter": (
        "Namen des Ports und Netzwerkadapter des Laptops prüfen, dann erneut messen.",
        "",
    ),
    "check-cable": (
        (
            "Kabel und Buchsen prüfen, auch ob das Gerät am anderen Ende eingeschaltet ist; Kabel "
            "tauschen, dann erneut messen."
        ),
        "Nie eine Alarmanlage oder ein Hausnotrufgerät ausstecken.",
    ),
    "switch-tunnel-off": ("Tunnel (VPN) abschalten, dann erneut messen.", ""),
    "use-tested-line": (
        "Hotspot und andere Netze verlassen, die zu prüfende Leitung nutzen, erneut messen.",
        "",
    ),
    "restart-router": (
        (
            "Kabel des Routers prüfen, ihn neu starten, erneut messen, sobald er läuft; bleibt es "
            "so: Laptop am Modem anschließen und dort messen."
        ),
        "Vorher fragen: Telefon und Alarm können dabei ausfallen.",
    ),
    "restart-modem-alone": (
        (
            "Das Modem ist womöglich ans letzte Gerät gebunden: es nur mit diesem Laptop daran neu "
            "starten, fünf Minuten warten, erneut messen. Weiter nichts: Leitungsleuchte ansehen, "
            "Betreiber fragen."
        ),
        "Vorher fragen: Telefon und Alarm fallen dabei aus.",
    ),
    "read-levels-or-swap-modem": (
        (
            "Prüfen, ob das Modem Strom hat und die Kabel sitzen; Pegel am Modem oder am "
            "Übergabepunkt ablesen. Gut: Modem tauschen; schlecht: Leitungstrupp."
        ),
        (
            "Abzweiger und gespeiste Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker "
            "blicken. Vorher fragen: Telefon und Alarm fallen dabei aus."
        ),
    ),
    "read-levels-at-modem": (
        (
            "Pegel am Modem ablesen und mit den Grenzen vergleichen; außerhalb: Leitungstrupp; "
            "gut: Netzleitstelle des Betreibers."
        ),
        (
            "Abzweiger und gespeiste Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker "
            "blicken."
        ),
    ),
    "read-levels": (
        (
            "Erreichbare Stecker prüfen, Pegel an Übergabepunkt und Modem ablesen. Am "
            "Übergabepunkt schlecht: Leitungstrupp; nur am Modem: Kabel dazwischen; beide gut: "
            "Netzleitstelle."
        ),
        (
            "Erdung (Potentialausgleich) nicht antasten. Abzweiger und gespeiste Anlagen nicht "
            "öffnen. Nie in eine Faser oder einen Stecker blicken."
        ),
    ),
    "change-cord-or-port": (
        (
            "Patchkabel tauschen, dann den Adapter oder den Port am einen oder anderen Ende; "
            "erneut messen. Deswegen keine Leitungsstörung melden."
        ),
        "",
    ),
    "check-auto-negotiation": (
        (
            "Beide Enden des Kabels auf automatische Aushandlung stellen; bleibt es so, Kabel "
            "tauschen; erneut messen. Deswegen keine Leitungsstörung melden."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "check-provisioning": (
        "Eingerichtetes Profil mit dem Auftrag abgleichen lassen. Verkabelung nicht anfassen.",
        "",
    ),
    "check-profile-then-levels": (
        (
            "Profil mit dem Auftrag abgleichen lassen. Stimmt es: Pegel am Modem ablesen; "
            "schlecht: Leitungstrupp; gut: Netzleitstelle."
        ),
        (
            "Abzweiger und gespeiste Anlagen nicht öffnen. Nie in eine Faser oder einen Stecker "
            "blicken."
        ),
    ),
    "plug-in-cable": (
        "Laptop per Kabel direkt am Modem anschließen und erneut messen.",
        "Vor jedem Ausstecken fragen; Alarm und Hausnotruf angeschlossen lassen.",
    ),
    "stop-other-traffic": (
        (
            "Beenden, was sonst in der Wohnung die Leitung nutzt; erneut messen, mit der Option "
            "--nothing-else-on, die das angibt."
        ),
        "Nie eine Alarmanlage oder ein Hausnotrufgerät ausstecken.",
    ),
    "free-the-laptop": (
        (
            "Andere Programme schließen, Netzteil anschließen, erneut messen; bleibt es so: "
            "anderen Laptop nehmen."
        ),
        "",
    ),
    "reset-windows": (
        (
            "Änderungen an den TCP-Einstellungen des Laptops zurücknehmen, ihn neu starten, erneut "
            "messen; bleibt es so: anderen Laptop nehmen."
        ),
        "",
    ),
    "use-larger-server": (
        "Mit einem Messserver, der diese Leitung füllen kann, erneut messen.",
        "",
    ),
    "set-queue-management": (
        (
            "Gehört der Router uns, seine Warteschlangensteuerung knapp unter der Rate der Leitung "
            "einschalten; sonst den Kunden informieren."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "set-router-mtu": (
        (
            "Paketgröße (MTU) des Routers auf die der Leitung stellen oder ihn die TCP-MSS "
            "begrenzen lassen, dann erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "repeat-later": (
        (
            "Später erneut messen, wenn Leitung und Messserver weniger belastet sind; bleibt es "
            "so: an die Netzleitstelle abgeben."
        ),
        "",
    ),
    "use-tried-system": (
        "Auf einem Laptop mit Linux erneut messen; dort ist dieses Programm erprobt.",
        "",
    ),
    "repeat-fit": (
        "Beheben, was dieses Blatt zu Laptop und Messung beanstandet, dann erneut messen.",
        "",
    ),
    "finish-activation": (
        (
            "Freischaltung abschließen, 15 Minuten warten, dann erneut messen. Es ist kein "
            "Leitungsfehler."
        ),
        "",
    ),
    "report-server": (
        (
            "Messserver mit diesem Blatt der Netzleitstelle des Betreibers melden; später erneut "
            "messen."
        ),
        "",
    ),
    "refer-to-operator": ("Mit diesem Blatt an die Netzleitstelle des Betreibers abgeben.", ""),
    "none-on-this-line": (
        (
            "An dieser Leitung ist nichts zu tun; verhalten sich mehr Seiten so, an die "
            "Netzleitstelle des Betreibers abgeben."
        ),
        "",
    ),
}
STEP_FALLBACK = "Dem Schritt mit dem Code {code} folgen."
STEP_MEETS = (
    "An dieser Leitung ist nichts zu tun. Was sonst in der Wohnung stört, liegt an WLAN oder "
    "Geräten; klagt der Kunde über den Abend, am Abend messen."
)
STEP_UNPROVEN = "Fehlende Messungen nachholen, dann erneut messen."
STEP_BELOW = "Mit diesem Blatt an den Betreiber abgeben."
# Where no finding gives a step, the reason that kept the verdict open does.
STEP_BY_REASON = {
    "no-tier": "Mit --tier und dem Namen des verkauften Produkts erneut messen.",
    "others-on-unknown": "stop-other-traffic",
    "others-on": "stop-other-traffic",
    "unfit": "repeat-fit",
    "limited": "repeat-fit",
    "measurements-disagree": "Erneut messen: Die Rate änderte sich zwischen zwei Messungen.",
    "single-measurement": "Erneut messen: Eine zweite Messung würde die Rate bestätigen.",
    "port-ceiling": "change-cord-or-port",
    "another-line": "use-tested-line",
    "tunnel": "switch-tunnel-off",
    "pppoe-no-session": "start-pppoe-session",
    "within-interval": "Mit längerem Plan erneut messen: Der Wert liegt zu nah an seiner Grenze.",
    "too-few-probes": "Mit längerem Plan erneut messen.",
    "cut-short": "Erneut messen und zu Ende laufen lassen.",
}
