"""What the sheet says of the laptop, its adapter and a hop that nobody named, in German."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "laptop-on-wireless": (
        "Dieser Laptop ist im WLAN: Was langsam ist oder verloren geht, kann am Funk in der "
        "Wohnung liegen; die Leitung ist nicht zu beurteilen."
    ),
    "laptop-clock-off": (
        "Laut einem Zeitserver weicht die Uhr des Laptops um {apart_s} ab: Gesicherte Seiten "
        "können scheitern."
    ),
    "usb-bus-below-tier": (
        "Der Netzwerkadapter des Laptops hängt an einem USB-Bus mit {measured_bps} und trägt das "
        "Produkt nicht."
    ),
    "laptop-check-below-tier": (
        "Im Selbsttest schaffte dieser Laptop {measured_bps}: zu wenig, um dieses Produkt zu "
        "beurteilen."
    ),
    "laptop-saves-power": "Der Laptop spart Strom ({measured}): Womöglich bremst er.",
    "laptop-memory-low": (
        "Vom Arbeitsspeicher sind nur {measured_ratio} frei: Der Laptop ist womöglich langsam."
    ),
    "laptop-busy": "Der Prozessor des Laptops war während der Messung belastet ({measured_ratio}).",
    "laptop-has-other-traffic": (
        "Andere Programme auf diesem Laptop übertrugen währenddessen {measured_bps}."
    ),
    "hidden-hop": (
        "Per Kabel, doch das Gateway antwortet erst nach {measured_ms}: Etwas steht dazwischen "
        "(Mesh, Powerline, Koax-Adapter)."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "change-adapter": (
        (
            "USB-3-Adapter an einer USB-3-Buchse oder den eigenen Port des Laptops nutzen, dann "
            "erneut messen."
        ),
        "",
    ),
    "use-stronger-laptop": (
        "Mit Laptop und Adapter erneut messen, die im Selbsttest für dieses Produkt reichen.",
        "",
    ),
    "switch-saver-off": ("Netzteil anschließen, Energiesparen abschalten, dann erneut messen.", ""),
    "free-memory": (
        (
            "Andere Programme schließen oder den Laptop neu starten, erneut messen; bleibt es so: "
            "anderen Laptop nehmen."
        ),
        "",
    ),
    "stop-other-programs": (
        (
            "Schließen, was sonst auf diesem Laptop das Netz nutzt (Updates, Sicherungen, Anrufe), "
            "erneut messen."
        ),
        "",
    ),
    "plug-into-router": (
        (
            "Laptop direkt an Router oder Modem anschließen, dann erneut messen. Deswegen keine "
            "Leitungsstörung melden."
        ),
        "Adapter, die nicht uns gehören, so lassen, wie sie sind.",
    ),
}
