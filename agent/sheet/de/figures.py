"""The words around figures in German: delays, rates, the path, and what a number rests on."""

from __future__ import annotations

CODEC = {"G.711 with concealment": "G.711 mit Fehlerverdeckung"}
HEAD_DELAY = ("zu", "Proben", "verl. %", "Median", "p95", "PDV")
HEAD_DNS = ("Namensserver", "Antworten", "Median ms", "p95 ms")
OVER = {"tls": "über TLS", "https": "über HTTPS"}
HEAD_WEB = ("Seite", "Status", "1. Byte ms", "gesamt ms")
HEAD_RISE = "Anstieg"
SPREADS = "Laufzeit ohne Last und bei voller Leitung"
HEAD_SPREADS = ("Median", "p95", "verl. %", "Proben")
NOTE_SPREADS = "Umläufe jeder Reihe in ms; Verlust mit 95-%-Intervall."
MARKS_SPREADS = "Langer Strich: Median; kurzer Strich: 95. Perzentil; dicker Strich: Grenze."
SPREAD_SILENT = "nichts kam zurück"
COURSES = "Durchsatz im Zeitverlauf"
NOTE_COURSES = "TCP-Nutzlast je Sekunde."
MARKS_COURSES = "Gefüllt: was gezählt wurde; Linie quer: sein Mittel; dicker Strich: Grenze."
NOTE_DELAY = "Verlust mit 95-%-Intervall. In ms; PDV: p95 über dem Minimum (RFC 5481)."
NOTE_METHOD = {
    "udp-unreachable": (
        "Per UDP: Absagen eines geschlossenen Ports; sie sind begrenzt, daher kein Verlust genannt."
    ),
    "tcp-connect": "Per TCP: von SYN bis Antwort, Warten in diesem Laptop eingerechnet.",
}
NOTE_CLOCK = "Von diesem Programm gestoppt, auf Zehntel-ms: {roles}."
NOTE_RUNS = (
    "Messserver: {lost} verloren in {runs} Folgen bis {longest}; im Intervall berücksichtigt."
)
NOTE_ORDER = "Antworten des Messservers in falscher Folge: {late}, um bis zu {extent} Plätze."
NOTE_COPIES = "Antworten des Messservers, die mehrfach kamen: {share}."
NOTE_VOICE = (
    "Ein Telefonat, geschätzt, nicht beurteilt (E-Modell, G.107 vereinfacht): R {r}"
    " ({r_low}-{r_high}), MOS {mos} ({mos_low}-{mos_high}). Annahmen: {codec}, {packet} ms Sprache"
    " je Paket, Puffer {buffer} ms, ein Weg = halber kleinster Umlauf, Verlust beider Wege, Leitung"
    " unbelastet."
)
NOTE_RISE = "Anstieg: p95 unter Last über dem Median ohne Last."
RATE_ROW = {
    "single": "nur 1 Verbindung, Mbit/s",
    "burst": "Anfangsstoß, Mbit/s",
    "twice": "jedes Mal, Mbit/s",
    "limiter": "begrenzt durch",
    "ended": "beendet durch",
    "counted": "gezählt durch",
    "ideal": "ideal, Mbit/s",
    "ratio": "Zeit zu Idealzeit",
    "efficiency": "TCP-Effizienz",
    "round_trip": "Umlauf ohne / mit Last, ms",
    "buffer": "Pufferverzögerung",
    "rpm": "Umläufe je Minute",
    "window": "Fensterbedarf, kB",
    "held": "Fenster / Puffer bremst",
    "algorithm": "Staukontrolle",
}
# In the accusative, since each follows "durch".
LIMITER = {
    "line": "die Leitung",
    "laptop": "diesen Laptop",
    "port": "den Port",
    "server": "den Messserver",
    "other-traffic": "anderen Verkehr",
    "window": "das Fenster",
    "home": "die Wohnung",
    "household": "andere Geräte",
    "network": "das Netz des Betreibers",
    "undetermined": "unklar",
}
# Why it is that one that limited.
LIMITED_WHY = {
    "core-full": "ein Prozessor voll",
    "unread": "Daten warteten aufs Programm",
    "nothing-to-send": "der Upload hatte Lücken",
    "kept-back": "das Programm wurde aufgehalten",
    "core-crowded": "andere Programme auf dem Kern",
    "stolen": "der Wirt gab keine Rechenzeit",
    "send-buffer": "eigener Sendepuffer",
    "capacity": "dessen Port",
    "port-full": "dessen Port war voll",
    "crowded": "andere darauf",
    "processor": "dessen Prozessoren",
    "no-turn": "er hatte keinen Platz frei",
    "radio": "Funk",
    "cut-short": "abgebrochen",
}
POSSIBLY = "{name}?"
LIMITED_BY = {True: "begrenzt durch {name}", False: "vielleicht begrenzt durch {name}"}
BURST = "Anfangsstoß {rate} nicht gezählt"
ENDED = {
    "interval": "enges Intervall",
    "time": "Zeitablauf",
    "data": "Datengrenze",
    "fault": "einen Fehler",
}
COUNTED_BY = {
    "client": "diesen Laptop",
    "acknowledged": "TCP selbst",
    "server": "den Messserver",
    "answers": "ganze Inhalte",
}
IDEAL = {"tier": "verkauft", "port": "Port", "observed": "gesehen"}
NOT_TOLD = "nicht genannt"
NOTE_RATE = "Ideal: der Engpass als TCP-Nutzlast. Zeit, Effizienz, Puffer, Fenster: RFC 6349."
NOTE_RPM = (
    "Umläufe je Minute unter Last: nach einem IETF-Entwurf, die Laufzeitreihe als belasteter Teil."
)
PATH_LINE = "{hops} Hops bis {target}: {reached}"
PATH_REACHED = "erreicht"
PATH_STOPPED = "endet bei Hop {at}, {why}"
PATH_STOP = {
    "silent": "danach stumm",
    "loop": "in einer Schleife",
    "hop-limit": "weiter nicht versucht",
    "net-unreachable": "Netz unerreichbar",
    "host-unreachable": "Rechner unerreichbar",
    "protocol-unreachable": "Protokoll unerreichbar",
    "port-unreachable": "Port unerreichbar",
    "fragmentation-needed": "Paket zu groß",
    "source-route-failed": "Source-Route misslungen",
    "prohibited": "dort verboten",
}
PATH_HOP = "Hop {distance}"
PATH_PLACED = "{text} ({segment})"
PATH_SILENT = "stumm"
PATH_SILENT_RUN = "{count} Hops, stumm"
PATH_BETWEEN = "{count} weitere Hops"
PATH_SEVERAL = ", mehrere Wege bei {distances}"
PATH_OR = "{first} oder {other}"
PATH_OR_MORE = "{first} oder {count} Wege mehr"
PATH_LABELS = "Label {labels}"
PATH_ANSWERING = {"limited": "begrenzt seine Antworten", "lossy": "ab hier fehlen Antworten"}
PATH_SIZE = "MTU"
PATH_SIZES = {
    "none": "{size} Byte gehen ganz durch",
    "port": "{size} Byte; mehr nimmt der Port dieses Laptops nicht",
    "named": "{size} Byte, laut {by}",
    "silent": "{size} Byte; größere verschwinden nach {by}",
    "down": "{size} Byte; größere kommen nicht zurück",
}
PATH_SIZE_SOMEWHERE = "einem Hop"
PATH_SIZE_PPPOE = " (bei PPPoE normal)"
PATH_SIZE_TCP = {True: ", TCP hält sich daran", False: ", TCP kündigt mehr an"}
PATH_UNPLACED = "{addresses}, Entfernung unbekannt"
SAMPLE = {
    "delay": "{sent} Proben",
    "dns": "{sent} Anfragen",
    "throughput": "{used_s}, {flows} Verbindungen",
    "repeated": "bester von {count}: {used_s}, {flows} Verbindungen",
    "http": "{sent} Abrufe",
    "path": "{sent} Proben",
    "pages": "Seiten: {count}",
}
CONVERTED = "{sold} als {layer} = {here} als TCP-Nutzlast ({share} Oktette{assumed});"
ACCEPTED_SHARE = "{share} davon genügen."
ASSUMED = ", Kopfgröße angenommen"
AT_LEAST_PORT = "mindestens, was dieser Port zeigen kann"
