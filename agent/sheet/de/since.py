"""The German words of the comparison with an earlier visit, and of a verdict judged anew."""

from __future__ import annotations

TITLE = "Seit dem Besuch vom {when}"
DIFFERS = "{label} weicht ab: damals {then}, jetzt {now}, außerhalb beider Intervalle."
CHANGED = "{what} damals {then}, jetzt {now}: Schon das kann die Werte ändern."
WHAT = {
    "tier": "Verkauft",
    "spot": "Messpunkt",
    "plugged-into": "Angeschlossen an",
    "port": "Tempo des Ports",
}
NOTHING = "Keiner von {count} Werten weicht über sein Intervall hinaus ab."
NOT_COMPARED = "Kein Wert hat in beiden Besuchen ein Intervall: Nichts ist vergleichbar."

ANEW = (
    "Neu beurteilt aus dem gespeicherten Protokoll, mit anderen Einstellungen als beim Besuch: "
    "{settings}, Prüfsumme {sha256}. {verdict}"
)
ANEW_SAME = (
    "Neu beurteilt aus dem gespeicherten Protokoll, mit den Einstellungen des Besuchs: "
    "{settings}, Prüfsumme {sha256}. {verdict}"
)
VERDICT_STANDS = "Das Urteil im Protokoll ist dasselbe."
VERDICT_DIFFERS = "Das Urteil im Protokoll lautet anders: {verdict}."
TIER_DIFFERS = "Sie messen das Produkt an anderen Raten als der Besuch."
NOT_STORED = "Die Prüfsumme unten gehört zum Protokoll, nicht zu diesem Urteil."
