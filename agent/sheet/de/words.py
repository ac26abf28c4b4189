"""Every word of the sheet in German, keyed by the codes of the record.

Templates name the values of their code; `wording.py` writes values with their units. A code that
is not here still reads: the fallback sentence shows it. What may stand behind a colon begins with
no noun, since its first letter becomes small there.
"""

from __future__ import annotations

LANGUAGE = "de"
TITLE = "Messblatt zum Anschluss"

VERDICT = {
    "meets": "Hält, was verkauft wurde",
    "below": "Weniger als verkauft",
    "not-proven": "Nicht belegt",
}
OUTCOME = {"meets": "eingehalten", "below": "verfehlt", "not-proven": "nicht belegt"}
EVIDENCE_ONLY = "{outcome} (Hinweis)"

REASON_MEETS = "Jede nötige Zusage ist eingehalten: {count} von {count}."
REASON_MEETS_PORT = (
    "Jede nötige Zusage ist eingehalten, die Rate, soweit dieser Port sie zeigen kann."
)
REASON_MISSED = "{label} {value}; Grenze: {bound} {limit}."
REASON_NOTHING = "Für eine Aussage über die Leitung wurde zu wenig gemessen."
BOUND = {"at-least": "mindestens", "at-most": "höchstens"}
BOUND_SIGN = {"at-least": "≥", "at-most": "≤"}

SEGMENT = {
    "laptop": "Laptop",
    "home": "Wohnung",
    "modem": "Modem",
    "access": "Leitung",
    "operator": "Netz des Betreibers",
    "beyond": "Dahinter",
    "none": "keiner",
    "undetermined": "unbestimmt",
}
GROUND = {
    "clear": "ohne Befund",
    "likely": "Fehler vermutlich hier",
    "possible": "Fehler vielleicht hier",
    "unfit": "nicht beurteilbar",
    "unreached": "nicht erreicht",
    "unknown": "nicht untersucht",
    "absent": "nicht dazwischen",
}
# The same in the middle of a sentence.
SEGMENT_IN_LINE = {
    "laptop": "Laptop",
    "home": "Wohnung",
    "modem": "Modem",
    "access": "Anschlussleitung",
    "operator": "Netz des Betreibers",
    "beyond": "dahinter",
    "none": "keiner",
    "undetermined": "unbestimmt",
}
STRIP = "Der Weg nach außen, ab diesem Laptop"
STRIP_PORT_DOWN = "Port ohne Verbindung"
STRIP_BRIDGED = "direkt am {plugged}"
STRIP_PLUGGED = {"ont": "ONT", "modem": "Modem"}
COUNT_OF = "{count}\N{NO-BREAK SPACE}von\N{NO-BREAK SPACE}{total}"
DUPLEX = {"full": "Vollduplex", "half": "Halbduplex"}
DUPLEX_OTHER = "{code} Duplex"
# Sources that the program and its shipped settings name; a company's own are printed as they are.
LIMIT_SOURCE = {
    "common practice, no source": "übliche Praxis, ohne Quelle",
    "built in": "eingebaut",
    "settings accept": "anerkannter Anteil laut Einstellungen",
    "tier": "das Produkt selbst",
    "no tier": "kein Produkt",
}
STRIP_SILENT = "{sent} Proben, keine Antwort"
STRIP_ANSWERED = "{median}, {count} verloren"
STRIP_PASSES = "Verkehr geht durch"
STRIP_ADDRESS = "Adresse vorhanden"
STRIP_NO_ADDRESS = "keine Adresse"
STRIP_PAGES = "{count} Seiten geladen"

ROLE = {
    "local": "dieser Laptop",
    "gateway": "Gateway",
    "modem": "Modem",
    "first-hop": "erster Router",
    "server": "Messserver",
    "outside": "außerhalb",
    "resolver": "Namensserver",
}
TO_ROLE = " ({role})"
KIND = {
    "link": "Port",
    "lease": "Adresse",
    "dns": "Namen (DNS)",
    "delay": "Laufzeit und Verlust",
    "path": "Weg",
    "http": "Web",
    "reach": "Ports",
    "throughput": "Durchsatz",
}
HOW_IT_WENT = "{state}, Dauer {duration}"
STATE = {
    "complete": "vollständig",
    "partial": "abgebrochen",
    "failed": "nicht möglich",
    "skipped": "nicht verlangt",
}
DIRECTION = {"down": "Download", "up": "Upload", "both": ""}
LOAD = {"none": "", "down": ", beim Download", "up": ", beim Upload"}
LONG_PROBES = ", lang"
METHOD = {
    "stamp": "STAMP",
    "icmp-echo": "ICMP-Echo",
    "udp-unreachable": "UDP an geschlossenen Port",
    "tcp-connect": "TCP-Verbindung",
}
BY_METHOD = {"udp-unreachable": ", per UDP", "tcp-connect": ", per TCP"}
PLUGGED = {
    "ont": "Glasfasermodem (ONT)",
    "modem": "Modem",
    "router": "Router",
    "mesh": "Mesh-Gerät",
    "unknown": "keine Angabe",
}
ACCESS = {
    "fibre": "Glasfaser",
    "cable": "Kabel",
    "dsl": "DSL",
    "wireless": "Funkanschluss",
    "unknown": "keine Angabe",
}
HANDOVER = {"dhcp": "DHCP", "pppoe": "PPPoE", "static": "statisch"}
PURPOSE = {
    "installation": "Installation",
    "help-desk": "Störungsannahme",
    "complaint": "Beschwerde",
}
LAYER = {
    "payload": "TCP-Nutzlast",
    "ip": "IP",
    "frame": "Ethernet-Rahmen",
    "docsis-frame": "DOCSIS-Rahmen",
    "wire": "Leitungsrate",
}
MEDIUM = {
    "wired": "LAN-Kabel",
    "wireless": "WLAN",
    "mobile": "Mobilfunk",
    "ppp": "PPP",
    "tunnel": "Tunnel",
    "loopback": "Loopback",
    "unknown": "Medium unbekannt",
}
ORIGIN = {
    "dhcp": "per DHCP",
    "static": "statisch",
    "self-assigned": "selbst vergeben, nicht nutzbar",
    "ppp": "per PPP",
    "kernel": "per Router Advertisement",
    "none": "keine",
    "unknown": "Herkunft unbekannt",
}
TRANSLATED_AT_HOME = "der Messserver sieht nicht die Adresse des Laptops"
TRANSLATED_AGAIN = "{routers} Router der Wohnung hintereinander"
TRANSLATED_BY_OPERATOR = "mehrere Kunden teilen sich die Adresse der Leitung"
NOT_TRANSLATED = "keine: Der Messserver sieht die Adresse des Laptops"
PORTS_LINE = "{good} von {tried} wie erwartet"
PORTS_OTHER = "{line}; nicht {names}"
SEEN_PORT = "{transport}-Port {own} als {seen}"
IPV6_STATE = {
    "present": "funktioniert",
    "absent": "nicht vergeben",
    "broken": "vergeben, funktioniert nicht",
}
IPV6_TRANSLATED = "{state}, IPv4 per Übersetzung"

CRITERION = {
    "lease": "Adresse vorhanden",
    "gateway-loss": "Verlust zum Gateway",
    "gateway-delay-median": "Laufzeit zum Gateway, Median",
    "gateway-delay-p95": "Laufzeit zum Gateway, 95. Perzentil",
    "first-hop-delay-median": "Laufzeit zum ersten Router, Median",
    "server-loss": "Verlust zum Messserver und zurück",
    "server-loss-up": "Verlust zum Messserver",
    "server-loss-down": "Verlust vom Messserver",
    "server-delay-median": "Laufzeit zum Messserver, Median",
    "server-delay-variation": "Laufzeitschwankung zum Messserver",
    "server-delay-rise-down": "Laufzeitanstieg beim Download",
    "server-delay-rise-up": "Laufzeitanstieg beim Upload",
    "path-reached": "Weg erreicht den Messserver",
    "dns-unanswered": "Namen ohne Antwort",
    "dns-median": "Antwortzeit für Namen, Median",
    "dns-p95": "Antwortzeit für Namen, 95. Perzentil",
    "web-reached": "Webseiten erreicht",
    "web-total": "Ladezeit einer Webseite, Median",
    "throughput-down": "Download",
    "throughput-up": "Upload",
}

# Criteria whose number is only whether it is so.
YES_NO = {
    "lease": {True: "ja", False: "nein"},
    "path-reached": {True: "ja", False: "nein"},
}

REASON = {
    "no-tier": "Kein Produkt angegeben: Es fehlt der Maßstab für die Rate.",
    "not-measured": "Nicht gemessen: {cause}.",
    "cut-short": "Vorzeitig abgebrochen: Die Messung belegt hier nichts.",
    "silent": "Keine von {sent} Proben wurde beantwortet.",
    "silent-but-passing": "Antwortet selbst nicht auf Proben, lässt aber Verkehr durch.",
    "means-silent": (
        "Keine von {probes} Proben wurde beantwortet ({means}): Vielleicht antwortet das Ziel nur "
        "darauf nicht."
    ),
    "answers-limited": (
        "Begrenzt seine Antworten auf diese Proben: Eine fehlende ist kein Verlust."
    ),
    "udp-silent": (
        "Der Testport des Messservers schweigt, obwohl Übertragungen laufen: gesperrt, nicht "
        "verloren."
    ),
    "too-few-probes": "{sent} Proben belegen diese Grenze nicht; nötig sind {needed}.",
    "not-reached": "So viele Proben gingen verloren, dass es dieses Perzentil nicht gibt.",
    "uncorroborated": (
        "Allein zählt Verlust zum Gateway nicht: Der Verkehr hindurch ist einwandfrei."
    ),
    "intercepted": "Anstelle der verlangten Seiten kam eine andere: {portal}.",
    "within-interval": "Die Grenze liegt im Intervall.",
    "no-interval": "Kein Intervall war zu berechnen.",
    "unfit": "Verfehlt, aber Laptop oder Zeitpunkt taugen nicht zum Urteil: {fact}.",
    "others-on-unknown": "Verfehlt, aber vielleicht nutzten andere Geräte die Leitung.",
    "others-on": "Verfehlt, aber andere Geräte nutzten die Leitung.",
    "limited": "Verfehlt, aber begrenzt durch {by}{why}: Das sagt nichts über die Leitung.",
    "measurements-disagree": "Zwei Messungen widersprechen sich: {highest_bps} und {lowest_bps}.",
    "port-ceiling": "Der Port selbst trägt dieses Produkt nicht: kein Urteil über die Leitung.",
    "single-measurement": "Nur in einer Messung zu wenig; eine zweite würde es bestätigen.",
    "another-line": "Das war nicht die zu prüfende Leitung: kein Urteil, so oder so.",
    "tunnel": "Ein Tunnel war aktiv: kein Urteil, so oder so.",
    "nothing-beyond": (
        "Hinter dem Gateway antwortete nichts: von einem Ausfall nicht zu unterscheiden."
    ),
    "names-silent": "Kein Namensserver antwortet, also lässt sich keine Seite abrufen.",
    "path-filtered": "Die Wegverfolgung wird gefiltert, der Messserver ist aber anders erreichbar.",
    "too-few-targets": "Zu wenige Webziele für ein Urteil gegen die Leitung.",
    "pppoe-no-session": "Ein PPPoE-Anschluss ohne Sitzung: keine Adresse zu erwarten.",
}
# Why a measurement was not made: the codes of the errors, and of the session.
CAUSE = {
    "right-missing": "das Recht {right} fehlt",
    "no-interface": "es gibt keinen Port {interface}",
    "interface-down": "der Port {interface} hat keine Verbindung",
    "no-address": "der Port hat keine nutzbare Adresse",
    "no-route": "zu {address} führt kein Weg",
    "not-taken": "dieser Laptop sandte nichts an {address}: {problem}",
    "too-large": "ein Paket war größer, als der Port annimmt",
    "means-not-written": "Proben mit {means} gibt es für {system} nicht",
    "name-not-resolved": "der Name {name} war nicht aufzulösen",
    "refused": "{address} wies die Verbindung ab",
    "timed-out": "{address} antwortete nicht binnen {after_s}",
    "closed-early": "{address} schloss die Verbindung zu früh",
    "bad-reply": "{address} gab eine unbrauchbare Antwort",
    "tls-fault": "die gesicherte Verbindung zu {address} misslang",
    "empty": "nichts wurde gezählt",
    "server-busy": "der Messserver war belegt und bat, {wait_s} zu warten",
    "server-stays-busy": (
        "der Messserver blieb belegt: nach {waited_s} bat er um weitere {wait_s}"
    ),
    "prober-failed": "der Prozess für die Laufzeit unter Last versagte: {problem}",
    "malformed": "eine Antwort verletzte ihr Format",
    "output": "es ließ sich nicht schreiben",
    "unexpected": "ein Fehler dieses Programms: {error}",
    "overran": "es dauerte länger als erlaubt",
    "not-in-plan": "der Plan sieht es nicht vor",
    "no-server": "kein Messserver ist eingestellt",
    "no-consent": "keine Zustimmung, die Leitung auszulasten",
    "not-asked": "auf Wunsch weggelassen",
    "stopped": "vor dem Ende abgebrochen",
    "interrupted": "der Besuch wurde vorher abgebrochen",
    "time-limit": "die Zeit war nach {after_s} um",
    "reflector-limited": "der Messserver verweigerte {refused} Proben die Antwort",
    "reflector-elsewhere": "{packets} Proben kamen am Messserver mit fremder Adresse an",
    "reflector-unverified": "{packets} Proben kamen nicht so am Messserver an wie gesendet",
    "data-cap": "die erlaubte Datenmenge des Besuchs war verbraucht",
    "no-target": "keine Webseite ist eingestellt",
    "no-ports": "keine Ports sind eingestellt",
    "no-test-names": "keine Namen zum Auflösen sind eingestellt",
    "no-gateway": "kein Gateway ist bekannt",
    "no-resolver": "kein Namensserver ist bekannt",
}
CAUSE_FALLBACK = "Code {code}"

FITNESS = {
    "wireless": "der Laptop war im WLAN",
    "half_duplex": "der Port lief im Halbduplex",
    "tunnel": "ein Tunnel war aktiv",
    "another_line": "die Messung lief über eine andere Leitung",
    "other_traffic": "anderer Verkehr lief über diesen Port ({measured})",
    "processor_busy": "der Prozessor des Laptops war belastet ({measured})",
    "on_battery": "der Laptop lief auf Akku",
    "port_ceiling": "der Port trägt höchstens {measured}",
    "others_on": "andere Geräte auf der Leitung: {measured}",
    "clock_offset": "die Uhr des Laptops wich um {measured} ab",
    "unverified_system": "dieses Programm wurde nie auf {measured} erprobt",
    "power_saver": "der Laptop sparte Strom ({measured})",
    "memory_low": "nur {measured} des Arbeitsspeichers waren frei",
    "usb_bus": "der Adapter hängt an einem USB-Bus mit {measured}",
    "hidden_hop": "zwischen Laptop und Gateway steht etwas Unbekanntes ({measured})",
    "laptop_check": "dieser Laptop schaffte im Selbsttest nur {measured}",
    "virtual_machine": "der Laptop ist eine virtuelle Maschine",
}
FITNESS_UNKNOWN = "Tauglichkeit {code}"
FITNESS_LINE = "{fact}; daher nicht beurteilt: {voids}"
FITNESS_KEPT = "{fact}; deshalb allein blieb nichts unbeurteilt"
FITNESS_NOTED = "{fact}; nur vermerkt"
FITNESS_NONE = "Laptop und Zeitpunkt waren zum Urteil tauglich."
VOIDS = {
    "throughput": "Durchsatz",
    "delay": "Laufzeit",
    "loss": "Verlust",
    "reach": "Erreichbarkeit",
    "all": "alles",
}

UNREAD = "Nicht gelesen"
UNREAD_REASON = (
    "Das Protokoll hat Version {version}, dieses Programm kennt Versionen bis {known}: Nichts "
    "davon wird gezeigt, damit nichts falsch gelesen wird."
)
UNREAD_STEP = "Mit neuerem doorstep öffnen; doorstep verify sagt, ob es unverändert ist."
NEXT_STEP = "Nächster Schritt"

NOT_MEASURED = "{what}: {why}"
NOT_MEASURED_NONE = "Alles aus dem Plan wurde gemessen."
MORE = "… {count} weitere im Protokoll"

CAUTIONS = (
    "Keine zertifizierte Messung. Örtliche Regeln und befugte Fachleute entscheiden.",
    (
        "Nie Geräte, Abzweiger oder gespeiste Anlagen öffnen, Erdung oder Potentialausgleich "
        "antasten, in eine Faser oder einen Stecker blicken, Alarm oder Hausnotruf ausstecken."
    ),
    "Gilt nur für Zeit und Ort des Besuchs.",
)

BANNER_REDACTED = (
    "Geschwärzt: Identität und Adressen sind entfernt; jede beurteilte Zahl ist unverändert."
)
BANNER_PRACTICE = "Übungsnetz: Keine echte Leitung wurde gemessen."
BANNER_UNSEALED = "Dieses Protokoll trägt kein gültiges Siegel."

LABEL = {
    "sheet": "Blatt",
    "rates": "Verkauft, anerkannt, gemessen",
    "promises": "Weitere Zusagen",
    "measured": "gemessen",
    "accepted": "anerkannt ab",
    "sold": "verkauft",
    "plugged_into": "Angeschlossen an",
    "port": "Port",
    "nothing_else_on": "Sonst nichts aktiv",
    "tier": "Verkauft",
    "findings": "Befunde",
    "fitness": "Zum Urteil tauglich",
    "missing": "Nicht gemessen, und warum",
    "cautions": "Beachten",
    "delay": "Laufzeit und Verlust",
    "rate": "Rate im Einzelnen",
    "dns": "Namen (DNS)",
    "web": "Web",
    "path": "Weg",
    "address": "Adresse und Port",
    "visit": "Besuch",
    "server": "Messserver",
    "turn": "Gewartet",
    "names": "Namen und Seiten",
    "pages": "Webseiten",
    "hash": "SHA-256",
    "median": "Median",
    "measured_by": "Gemessen mit",
    "system": "System",
    "check": "Selbsttest",
    "settings": "Einstellungen",
    "practice": "Vom Übungsnetz gespielt",
    "started": "Beginn",
    "took": "Dauer",
    "work_order": "Auftrag",
    "technician": "Techniker",
    "premises": "Objekt",
    "equipment": "Geräte",
    "spot": "Messpunkt",
    "purpose": "Anlass",
    "access": "Anschluss",
    "gateway": "Gateway",
    "resolver": "Namensserver",
    "resolvers": "Namensserver",
    "ipv6": "IPv6",
    "seen_as": "Gesehen als",
    "ports": "Ports",
    "translation": "Übersetzung",
    "lease": "Lease",
    "offers": "DHCP-Angebote",
    "concentrators": "PPPoE-Angebote",
    "limits": "Grenzen",
    "rule": "Regel",
    "program": "Programm",
    "run_by": "Betreiber",
    "receipts": "Dort gezählt",
    "record": "Protokoll",
    "fault": "Fehler",
    "came": "Messung",
    "reason": "Grund",
}
STATED = {True: "ja, wie angegeben", False: "nein, anderes aktiv", None: "keine Angabe"}
NO_FAULT = "keiner"
TRUE_FALSE = {True: "ja", False: "nein"}
# What a practice network tells of itself.
TRUTH = {
    "down_bps": "Download",
    "up_bps": "Upload",
    "layer": "Gezählt als",
    "rtt_ms": "Umlauf",
    "jitter_ms": "Laufzeitschwankung",
    "loss_down": "Verlust Download",
    "loss_up": "Verlust Upload",
    "segment": "Abschnitt",
    "translated": "Adressen übersetzt",
    "home": "Art der Wohnung",
    "seed": "Startwert",
}
NONE_GIVEN = "nicht angegeben"
RULE = {
    "simple": "einfach: der Wert gegen die Grenze, mit Intervall",
    "guarded": "streng: das ganze Intervall gegen die Grenze",
}
TOOK = "{took}, {moved} übertragen"
NAMES_LINE = "{resolver}: {answered} beantwortet, Median {median}"
PAGES_LINE = "{came} geladen; am langsamsten {slowest}, {total}"
CHECKED = "{day}: Download {down}, Upload {up}"
SIGNED = "Unterschrift"
SIGNED_BY = "{role}: {name}"
CUSTOMER = "Kunde"
NOT_SIGNED = ("verweigert", "abwesend")
TICKS_TITLE = "Vor dem Gehen"
TICKS = ("Telefon hat Wählton", "Fernsehen läuft", "alles wieder gesteckt")
TICKET = "Ticketzeile"
DETAIL = "Zweites Blatt: Werte für die Technik"
CONTINUED = "Zweites Blatt zu Protokoll {number}"
LEASE_LINE = "{minutes} min, Erneuerung nach {t1} min"
LEASE_LINE_ASSUMED = "{minutes} min, Erneuerung üblich nach {t1} min"
ADDRESS_STATE = {
    "deprecated": "veraltet",
    "tentative": "noch nicht bestätigt",
    "duplicate": "von anderem Gerät benutzt",
    "expired": "Lease abgelaufen",
}
PORT_OVER = "{name} über {parent}"
PORT_TAG = "{name}, VLAN {tag}"
HOW_TO_VERIFY = (
    "Protokoll anfordern und ausführen: doorstep verify record.json. Es muss diese Nummer und "
    "diese Prüfsumme zeigen."
)
VERIFY = {
    "no-seal": "Das Protokoll trägt kein Siegel.",
    "canonical-form-unknown": (
        "Das Protokoll hat eine kanonische Form, die dieses Programm nicht kennt."
    ),
    "not-canonical": "Das Protokoll enthält etwas, das seine kanonische Form verbietet.",
    "body-changed": (
        "Gemessenes oder Gefolgertes wurde geändert, nachdem das Protokoll versiegelt war."
    ),
    "private-changed": (
        "Identität oder Adressen wurden geändert, nachdem das Protokoll versiegelt war."
    ),
    "private-hash-missing": "Die Prüfsumme über Identität und Adressen wurde entfernt.",
    "record-number-wrong": "Die Protokollnummer passt nicht zu ihrem Prüfzeichen.",
}
VERIFY_WHOLE = "Vollständig und unverändert."
VERIFY_REDACTED = "Vollständig und unverändert; Identität und Adressen wurden entfernt."
