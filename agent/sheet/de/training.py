"""What is said to a trainee in German: the page without its diagnosis, questions and answers."""

from __future__ import annotations

TITLE = "Übungsblatt"
STRIP_SEEN = "gesehen"
YOUR_TURN = "Sie sind dran"
TURN_TEXT = "Was ist hier gestört, und auf welchem Teil des Weges? Es folgen die Messwerte."
PROOF_LATER = "Protokoll und Seiten werden geschrieben, sobald die Antworten da sind."

PART = {
    "laptop": "Laptop",
    "home": "Wohnung",
    "modem": "Modem",
    "access": "Anschlussleitung",
    "operator": "Netz des Betreibers",
    "beyond": "hinter dem Netz des Betreibers",
    "none": "keiner: nichts ist gestört",
}
ASK_PART = "Welcher Teil des Weges ist gestört?"
ASK_FAULT = "Was wurde gespielt?"
NOTHING = "Nichts: Leitung, Wohnung und Laptop sind in Ordnung."
PROMPT = "Nummer oder Wort: "
AGAIN = "{said} gehört nicht dazu. Eine Nummer von 1 bis {count} eingeben oder das Wort."
SAID_NOTHING = "Eine leere Zeile"
NOT_TAKEN = "Drei Antworten, die nicht dazugehören: weiter ohne Antwort."
NO_ANSWER = "Keine Antwort: Die Standardeingabe endete. Gespielt wurde Folgendes."

RIGHT = "Richtig: {truth}."
WRONG = "Nicht richtig: {said}. Es war: {truth}."
UNANSWERED = "Nicht beantwortet. Es war: {truth}."
NOTHING_PLAYED = "nichts gestört"

ANSWERS = "Ihre Antworten"
PLAYED = "Was gespielt wurde"
PLAYED_FAULT = "{name}, {severity}: {sentence}"
AGAIN_WITH = "Den ganzen Besuch noch einmal ansehen: {command}"
SAID = "Was Doorstep sagte"
FINDING = "{likelihood} (Gewissheit {confidence}), {place}: {sentence}"
ADVICE = "Hinweis: {sentence}"
UNNAMED = "Doorstep nannte nicht, was gespielt wurde."
HARMLESS = "Nichts muss es nennen: Auf dieser Leitung schadet es nicht."
OTHER_PLACE = "Doorstep nennt, was gespielt wurde, aber an anderer Stelle."
FALSE_ALARM = "Nichts war gestört, der Befund ist also ein Fehlalarm."
EVIDENCE = "Der Beleg: {sentence}"
EVIDENCE_NONE = "Keine einzelne Messung: Es stützt sich auf Angaben oder auf etwas, das ausblieb."
SOUND = "Was für eine gesunde Leitung spricht"
WHY = "Das Urteil: {verdict}. {reason}"
STEP = "Nächster Schritt"

ROW = "{block}, {row}: {figures}."
ROWLESS = "{block}: {figures}."
SENT_LOST = "{sent} Proben, {lost} verloren ({share})"
SENT_LOST_BETWEEN = "{sent} Proben, {lost} verloren ({share}, Intervall {between})"
EACH_WAY = "Verlust {up} auf dem Hinweg, {down} auf dem Rückweg"
SENT_SILENT = "{sent} Proben, keine beantwortet"
MEDIAN = "Median {median}, 95. Perzentil {p95}"
RISE = "{rise} über der unbelasteten Leitung"
QUERIES = "{answered} von {sent} Anfragen beantwortet"
FETCHES = "{answered} von {sent} Abrufen beantwortet"
STATUS = "Status {status}"
PAGE_TIMES = "erstes Byte nach {first}, ganze Seite nach {total}"
RATE = "{rate} TCP-Nutzlast ({between}), {flows} Verbindungen"
HELD_BY = "begrenzt durch {limiter}"
PORTS = "{good} von {tried} aufgeführten Ports wie erwartet"
PORT = "{name} ({transport} {port}): {outcome}"
OUTCOME = {"filtered": "stumm", "unreachable": "von einem Router abgewiesen"}
PORT_ANSWERS = "von Routern bis Hop {last} beantwortet, ein Nachbarport bis Hop {beside}"
MARK = "{name}: {value}"
MORE = "und {count} weitere Werte im Protokoll"
