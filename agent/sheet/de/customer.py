"""What each finding means for the customer, in German: plain words, no figures, whose turn it is.

"Wir" is the operator with its technician. No sentence takes a value, so none can carry what the
network said; none blames anyone in the home.
"""

from __future__ import annotations

from agent.sheet.de.customer_addresses import ADDRESSES, NEWER

TITLE = "Einfach gesagt"
_NAMES = "Das Verzeichnis der Websites"

_NEAREST = {
    "no-interface": (
        "Unserem Laptop fehlt eine brauchbare Netzwerkbuchse. Das beheben wir; über Ihren "
        "Anschluss sagt es nichts."
    ),
    "port-down": (
        "Auf dem Kabel zu unserem Laptop kommt kein Signal an. Wir prüfen das Kabel und beide "
        "Enden."
    ),
    "tunnel-on": (
        "Unser Laptop hat über ein anderes Netz gemessen; das sagt nichts über Ihren Anschluss. "
        "Wir messen erneut."
    ),
    "another-line": (
        "Die Messung lief über eine andere Verbindung. Wir messen erneut, diesmal über Ihren "
        "Anschluss."
    ),
    "no-lease": (
        "Das Gerät, an dem unser Laptop hängt, lässt ihn nicht ins Internet. Wir starten das Gerät "
        "neu und messen erneut."
    ),
    "half-duplex": (
        "Die Kabelverbindung zu unserem Laptop ist zu langsam eingestellt. Wir ändern das und "
        "messen erneut."
    ),
    "port-below-tier": (
        "Kabel oder Buchse sind zu langsam, um Ihren Anschluss zu beurteilen. Wir nehmen andere "
        "und messen erneut."
    ),
    "gateway-silent": (
        "Nichts antwortet unserem Laptop, nicht einmal das nächste Gerät. Wir prüfen zuerst dieses "
        "und sein Kabel."
    ),
    "modem-silent": (
        "Das Modem antwortet nicht. Wir prüfen Leitung und Modem; wenn nötig, tauschen wir das "
        "Modem."
    ),
    "nothing-past-modem": (
        "Ihr Modem arbeitet, doch dahinter kommt nichts durch. Wir prüfen die Leitung zu Ihrer "
        "Wohnung."
    ),
    "nothing-past-gateway": (
        "Das Gerät hier arbeitet, doch dahinter kommt nichts durch. Wir prüfen Modem und Leitung."
    ),
    "loss-at-gateway": (
        "Schon in der Wohnung gehen Daten verloren, kurz vor unserem Laptop. Wir tauschen das "
        "Kabel und messen erneut."
    ),
    "silent-at-modem": (
        "Ab hier antwortet unserem Laptop nichts mehr. Wir prüfen Modem und Leitung."
    ),
    "loss-at-modem": (
        "Zwischen unserem Laptop und dem Modem gehen Daten verloren. Wir tauschen das Kabel und "
        "messen erneut."
    ),
    "loss-before-modem": (
        "Auf dem Kabel zwischen Router und Modem gehen Daten verloren. Wir tauschen es und messen "
        "erneut."
    ),
    "loss-past-modem": (
        "Auf der Leitung zu Ihrer Wohnung gehen Daten verloren. Wir prüfen sie und ihre Stecker."
    ),
    "loss-before-first-hop": (
        "Nahe bei Ihrer Wohnung gehen Daten verloren, drinnen oder auf der Leitung. Wir prüfen "
        "beides."
    ),
    "loss-in-operator": (
        "Wohnung und Leitung sind in Ordnung; in unserem Netz gehen Daten verloren. Unsere "
        "Netztechnik übernimmt."
    ),
    "loss-past-gateway": (
        "Hinter dem Gerät in Ihrer Wohnung gehen Daten verloren. Wir prüfen zuerst die Leitung."
    ),
    "loss-unplaced": (
        "Unterwegs gehen Daten verloren. Wo, müssen wir noch herausfinden; wir beginnen bei der "
        "Leitung."
    ),
    "large-packets-vanish": (
        "Kleine Datenstücke kommen durch, große nicht; manche Seiten hängen. Wir stellen das "
        "richtig ein."
    ),
}

_RATES = {
    "slow-line": (
        "Ihr Anschluss war langsamer als vereinbart. Wir prüfen seine Einstellung bei uns."
    ),
    "laptop-limits": (
        "Unser Laptop war für Ihren Anschluss zu langsam. Wir entlasten oder wechseln ihn und "
        "messen erneut."
    ),
    "window-limits": (
        "Eine Einstellung bremste die Messung, nicht unbedingt Ihr Anschluss. Wir ändern sie und "
        "messen erneut."
    ),
    "server-limits": (
        "Langsam war unser Messrechner, nicht unbedingt Ihr Anschluss. Wir messen erneut."
    ),
    "other-traffic-limits": (
        "Unser Laptop war mit anderem beschäftigt. Wir beenden das und messen erneut."
    ),
    "rate-unsteady": (
        "Zwei Messungen waren zu verschieden, um ein Tempo zu nennen. Wir messen später erneut."
    ),
    "slow-not-attributable": (
        "Es war langsam; ob es an Ihrem Anschluss liegt, ist offen. Wir messen erneut, auf die "
        "richtige Weise."
    ),
    "held-in-home": (
        "Vielleicht ist die Leitung gut: Daten stauen sich schon in der Wohnung. Zur Sicherheit "
        "messen wir am Modem."
    ),
    "held-past-line": (
        "Ihr Anschluss könnte mehr; unser Netz oder unser Messrechner bremst. Unsere Netztechnik "
        "übernimmt."
    ),
    "router-limits": (
        "Die Leitung ist schnell, der Router in der Wohnung schafft weniger. Wir besprechen mit "
        "Ihnen, was möglich ist."
    ),
    "other-profile": (
        "Ihr Anschluss ist wohl auf ein anderes Produkt als Ihres eingestellt. Wir lassen das "
        "korrigieren."
    ),
    "rate-differs-from-previous": (
        "Das Tempo weicht deutlich von der letzten Messung hier ab. Wir messen erneut, um zu "
        "sehen, was gilt."
    ),
    "household-traffic": (
        "Etwas anderes scheint den Anschluss gerade zu nutzen. Wir halten es gemeinsam an und "
        "messen erneut."
    ),
}

_WAVERS = {
    "operator-congested": (
        "Hinter Ihrer Leitung ist unser Netz zurzeit überlastet. Unsere Netztechnik muss Platz "
        "schaffen."
    ),
    "path-detour": (
        "Ihre Daten nehmen in unserem Netz einen weiten Umweg. Unsere Netztechnik muss ihn "
        "verkürzen."
    ),
    "delay-varies": (
        "Die Leitung antwortet mal schnell, mal langsam; das stört Telefonate und Spiele. Wir "
        "prüfen die Leitung."
    ),
    "line-drops": "Ihre Leitung setzt immer wieder kurz aus. Wir prüfen Leitung und Modem.",
    "port-flaps": (
        "Das Kabel zu unserem Laptop verlor immer wieder den Kontakt. Wir tauschen es und messen "
        "erneut."
    ),
    "duplex-mismatch": (
        "Die Geräte an einem Kabel sind verschieden eingestellt. Wir gleichen das an und messen "
        "erneut."
    ),
    "cable-loses-when-busy": (
        "Das Kabel in der Wohnung verliert Daten, wenn viel läuft. Wir tauschen es oder ändern die "
        "Einstellung."
    ),
    "long-frames-lost": (
        "Das Kabel zu unserem Laptop verliert Daten. Wir tauschen es oder ändern die Einstellung."
    ),
    "delay-high": (
        "Ihr Anschluss antwortet später als zugesagt. Wir suchen die langsame Stelle und kümmern "
        "uns darum."
    ),
    "delay-rises-under-load": (
        "Ist der Anschluss ausgelastet, können Telefonate und Spiele stocken. Wir sagen Ihnen, was "
        "helfen kann."
    ),
    "server-silent": (
        "Ihr Anschluss funktioniert, unser Messrechner nicht. Wir beheben das und messen erneut."
    ),
}

_LAPTOP = {
    "hidden-hop": (
        "Zwischen unserem Laptop und dem Router bremst etwas die Messung. Wir schließen den Laptop "
        "direkt an."
    ),
    "laptop-on-wireless": (
        "Gemessen wurde über WLAN; das erlaubt kein Urteil über die Leitung. Wir nehmen ein Kabel "
        "und messen erneut."
    ),
    "laptop-clock-off": (
        "Die Uhr unseres Laptops geht falsch. Wir stellen sie; mit Ihrem Anschluss hat das nichts "
        "zu tun."
    ),
    "clock-wrong": (
        "Die Uhr unseres Laptops geht falsch. Wir stellen sie; mit Ihrem Anschluss hat das nichts "
        "zu tun."
    ),
    "usb-bus-below-tier": (
        "Der Netzwerkadapter unseres Laptops ist zu langsam für Ihren Anschluss. Wir nehmen einen "
        "anderen."
    ),
    "laptop-check-below-tier": (
        "Unser Laptop ist zu langsam, um Ihren Anschluss zu beurteilen. Wir kommen mit einem "
        "schnelleren wieder."
    ),
    "laptop-saves-power": (
        "Unser Laptop sparte Strom und hat vielleicht gebremst. Wir stecken das Netzteil an und "
        "messen erneut."
    ),
    "laptop-memory-low": (
        "Unserem Laptop fehlte freier Speicher. Wir schaffen Platz und messen erneut."
    ),
    "laptop-busy": (
        "Unser Laptop war zu beschäftigt, um gut zu messen. Wir entlasten ihn und messen erneut."
    ),
    "laptop-has-other-traffic": (
        "Unser Laptop war mit anderem beschäftigt. Wir beenden das und messen erneut."
    ),
    "laptop-proxy": (
        "Unser Laptop ruft Seiten auf einem Umweg ab. Das ist unsere Sache, kein Fehler Ihres "
        "Anschlusses."
    ),
}

_SITES = {
    "dns-silent": (
        f"{_NAMES} antwortet nicht; Seiten laden nicht. Wir lassen das beheben; Ihr Anschluss "
        "läuft."
    ),
    "dns-failing": (
        f"{_NAMES} gibt keine brauchbare Antwort. Wir lassen das beheben; Ihr Anschluss läuft."
    ),
    "dns-first-silent": (
        "Websites öffnen sich spät, weil die zuerst gefragte Stelle nicht antwortet. Wir lassen "
        "das beheben."
    ),
    "dns-partly-silent": (
        "Eine der Stellen, die Websites finden, antwortet nicht, die anderen schon. Wir melden das."
    ),
    "dns-often-silent": (
        "Websites werden nur manchmal gefunden. Darum kümmert sich unsere Netztechnik."
    ),
    "dns-private-answer": (
        "Der Name einer Website führt an die falsche Stelle. Wir lassen das korrigieren."
    ),
    "dns-rewritten": (
        "Vertippte Namen von Websites führen auf eine fremde Seite. Wir lassen das prüfen."
    ),
    "dns-disagree": (
        "Zwei unserer Dienste beantworten eine Frage verschieden. Unsere Netztechnik geht dem nach."
    ),
    "dns-signed-refused": (
        "Manche einwandfreie Website wird zu Unrecht abgewiesen. Wir lassen das beheben."
    ),
    "dns-large-answers-lost": (
        "Manche Websites werden spät oder gar nicht gefunden. Wir lassen das beheben."
    ),
    "dns-tcp-blocked": (
        "Manche Websites werden vielleicht nicht gefunden. Wir lassen das beheben; Ihr Anschluss "
        "läuft."
    ),
    "dns-slow": "Websites werden zu langsam gefunden. Wir lassen das prüfen; Ihr Anschluss läuft.",
    "encrypted-resolver-silent": (
        "Das vertrauliche Nachschlagen von Websites ist bei uns gestört. Wir lassen das beheben."
    ),
    "dns-not-validating": (
        "Nichts ist defekt. Eine Sicherheitsprüfung der Namen von Websites fehlt hier; wir können "
        "darum bitten."
    ),
    "walled-garden": (
        "Ihr Anschluss ist noch nicht freigeschaltet. Das holen wir nach; danach dauert es einige "
        "Minuten."
    ),
    "login-page": (
        "Vor dem Internet steht hier eine Anmelde- oder Bezahlseite. Wir klären gemeinsam, wem sie "
        "gehört."
    ),
    "certificate-problem": (
        "Eine Website belegt ihre Echtheit nicht. Klicken Sie die Warnung nicht weg; der Inhaber "
        "der Seite muss handeln."
    ),
    "content-changed": (
        "Eine Seite kommt nicht so an, wie ihr Inhaber sie sendet. Wir klären, wer sie verändert."
    ),
    "proxy-in-the-way": (
        "Etwas auf dem Weg liest ungeschützte Seiten mit und reicht sie weiter. Wir klären, was es "
        "ist."
    ),
    "web-unreached": (
        "Bis in unser Netz läuft Ihr Anschluss, doch keine Website außerhalb antwortet. Unsere "
        "Netztechnik übernimmt."
    ),
    "site-unreached": (
        "Eine Website antwortet nicht, andere schon. Das kann nur ihr Inhaber beheben; Ihr "
        "Anschluss ist in Ordnung."
    ),
    "web-slow": (
        "Eine Website antwortet spät, nicht Ihre Leitung. Handeln kann, wer die Seite oder den Weg "
        "dorthin betreibt."
    ),
    "port-blocked": (
        "Ein Dienst kommt nicht durch. Wir klären, wer ihn sperrt und ob er freigegeben werden "
        "darf."
    ),
    "port-refused": (
        "Ihr Anschluss ist in Ordnung: Die Gegenseite weist diesen Dienst ab. Freigeben muss ihn, "
        "wer sie betreibt."
    ),
    "second-router": (
        "Zwei Router stehen hier hintereinander. Leiden Spiele oder Telefonate, fragen Sie uns; "
        "sonst ist nichts zu tun."
    ),
    "shared-address": (
        "Ihre Internetadresse teilen sich mehrere Kunden; von außen ist nichts erreichbar. Fragen "
        "Sie uns bei Bedarf."
    ),
    "carrier-translation": (
        "Von außen ist an diesem Anschluss nichts erreichbar. Fragen Sie uns bei Bedarf."
    ),
}

SAID: dict[str, str] = {
    **_NEAREST,
    **_RATES,
    **_WAVERS,
    **ADDRESSES,
    **NEWER,
    **_LAPTOP,
    **_SITES,
}
