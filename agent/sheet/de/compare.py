"""The words of the page that shows records side by side, in German."""

from __future__ import annotations

TITLE = "Besuche nebeneinander"
COUNT = "Zwei bis vier Protokolle stehen nebeneinander; angegeben sind {count}."
COUNT_REMEDY = "Zwei, drei oder vier Protokolle nennen."

BEFORE = "Vorher"
AFTER = "Nachher"
NUMBERED = "Protokoll {number}"
TWICE = "{place}, {which}"

ORDERS = "{count} Aufträge: {names}."
TIERS = "{count} verkaufte Produkte: {names}."
SERVERS = "{count} Messserver: {names}."
LIMITS = "Verschiedene Grenzen: {names}."
SETTINGS = "Beurteilt nach {count} verschiedenen Einstellungen."
BACKWARDS = "Die letzte Spalte wurde vor der ersten gemessen."
ONLY_IN = "{columns}: {banner}"

COMMON = "Überall gleich"
VERDICTS = "Urteil"
CHANGED = "geändert"
DIFFERENCE = "Erste zu letzter"
TOLD = {
    "higher": "höher, außerhalb beider Intervalle",
    "lower": "niedriger, außerhalb beider Intervalle",
    "same": "innerhalb der Intervalle",
    "open": "nicht zu sagen",
}
MEDIAN_TOLD = {
    "higher": "Median höher, außerhalb beider Intervalle",
    "lower": "Median niedriger, außerhalb beider Intervalle",
    "same": "Mediane innerhalb der Intervalle",
    "open": "nicht zu sagen",
}
COUNT_TOLD = {
    "higher": "höher, über die Grenze hinweg",
    "lower": "niedriger, über die Grenze hinweg",
    "same": "auf derselben Seite der Grenze",
    "open": "nicht zu sagen",
}
OTHER_LIMIT = "{told}; andere Grenze"
NOT_IN_RECORD = "nicht in diesem Protokoll"
LABEL = {
    "when": "Beginn",
    "segment": "Fehlerort",
    "step": "Nächster Schritt",
    "findings": "Gefunden",
    "work_order": "Auftrag",
    "premises": "Objekt",
    "tier": "Verkauft",
    "spot": "Messpunkt",
    "plugged": "Angeschlossen an",
    "port": "Port",
    "alone": "Sonst nichts aktiv",
    "server": "Messserver",
    "rule": "Regel",
    "settings": "Einstellungen",
    "names": "Namen (DNS)",
    "pages": "Webseiten",
    "path": "Weg zum Messserver",
    "record": "Protokoll",
}
SPREADS = "Umläufe zum Messserver, ms"
LOAD = {"none": "ohne Last", "down": "beim Download", "up": "beim Upload"}
FACTS = "Namen, Seiten, Weg und Nachweis"
ORDER = "von links: {names}"
AND_MORE = "{names} und {count} weitere"
ALIKE = "In allen eingehalten, ohne erkennbaren Unterschied: {names}."
SPREAD_LINE = "Median {median}, p95 {p95}"
SPREAD_SAMPLE = "Verlust {lost} %, {sent} Proben"

PATH = {
    "same": "derselbe Weg",
    "changed": "anderer Weg ab Hop {distance}",
    "member": "anderer von mehreren Wegen bei Hop {distance}",
    "open": "nicht zu sagen",
}
PATH_CELL = "{hops} Hops, {ending}"

NOTE = (
    "Jede Zeile hat einen Maßstab für alle Spalten. Erste zu letzter: höher oder niedriger nur, wo "
    "sich die beiden Intervalle nicht berühren."
)
MARKS = (
    "Schraffiert: nicht anerkannt; dicker Strich: Grenze; punktiert: verkauft; langer Strich: "
    "Median; kurzer: 95. Perzentil. Rechts beide Intervalle, das erste über dem letzten, im "
    "eigenen Maßstab."
)
HOW_TO_VERIFY = (
    "Protokolle anfordern und prüfen: doorstep verify record.json. Nummer und Prüfsumme müssen "
    "jeweils stimmen."
)
