"""What the sheet says of pages that do not come as they should, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "clock-wrong": (
        "Die Uhr des Laptops geht laut {sites} Websites {off_s}: Allein daran scheitern gesicherte "
        "Seiten, und Zeiten auf diesem Blatt sind falsch."
    ),
    "walled-garden": (
        "Seitenaufrufe führen zu {portal}: Der Betreiber hat den Anschluss noch nicht "
        "freigeschaltet."
    ),
    "login-page": "Seitenaufrufe führen zu {portal}, wo man sich erst anmelden oder zahlen muss.",
    "certificate-problem": (
        "Das Zertifikat von {target} {certificate}: Das muss die Website beheben oder jemand auf "
        "dem Weg dorthin."
    ),
    "content-changed": (
        "{target} kommt anders an, als die Website es sendet: unterwegs verändert, hinter dieser "
        "Leitung, falls die Seite nicht selbst umgezogen ist."
    ),
    "proxy-in-the-way": (
        "Unverschlüsselte Seiten von {sites} Websites kommen über denselben Proxy auf dem Weg "
        "({via}); er ist nicht der des Laptops."
    ),
    "web-unreached": (
        "Die Leitung überträgt Daten, doch keine Seite außerhalb antwortet: hinter dem Netz des "
        "Betreibers oder an dessen Ausgang."
    ),
    "site-unreached": (
        "Eine Seite außerhalb antwortet nicht ({target}), andere schon: Es liegt an ihr, nicht an "
        "dieser Leitung."
    ),
    "web-slow": (
        "Eine Seite braucht {total_ms} ({target}), Grenze {limit_ms}: die Website oder der Weg "
        "dorthin, hinter dem Netz des Betreibers."
    ),
    "laptop-proxy": (
        "Programme auf diesem Laptop nutzen einen Proxy ({proxy}); diese Messung lief ohne ihn."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "set-clock": (
        (
            "Datum, Uhrzeit und Zeitzone des Laptops stellen, dann erneut messen. Es ist kein "
            "Leitungsfehler."
        ),
        "",
    ),
    "sign-in-or-leave": (
        (
            "Auf der Seite, die erscheint, anmelden oder zahlen, sonst dieses Gastnetz verlassen; "
            "dann erneut messen."
        ),
        "Passwörter und Kartennummern den Kunden eingeben lassen.",
    ),
    "look-for-filter": (
        (
            "Filter- oder Schutzprogramm suchen, das gesicherte Seiten aufbricht, zuerst auf "
            "diesem Laptop, und ohne es erneut messen."
        ),
        "Beim Kunden nichts ohne Zustimmung ändern.",
    ),
    "leave-to-site": (
        "An dieser Leitung ist nichts zu tun: Die Website muss ihr Zertifikat in Ordnung bringen.",
        "Die Warnung nicht wegklicken lassen.",
    ),
    "check-page-setting": (
        "Seite im Browser öffnen; ist sie umgezogen oder geändert, sie in targets.web berichtigen.",
        "",
    ),
    "mind-laptop-proxy": (
        (
            "Sind nur Programme auf diesem Laptop langsam oder gestört, seine Proxy-Einstellungen "
            "ansehen."
        ),
        "",
    ),
}
