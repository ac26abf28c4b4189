"""What the sheet says of pages that do not come as they should, in English."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "clock-wrong": (
        "The laptop's clock is {off_s}, {sites} sites agree: secure pages fail for that alone, and "
        "times on this sheet are wrong."
    ),
    "walled-garden": "Pages lead to {portal}: the operator has not activated this line yet.",
    "login-page": "Pages lead to {portal}, which wants a sign-in or a payment first.",
    "certificate-problem": (
        "The certificate of {target} {certificate}: that site, or somebody on the way to it, has "
        "to mend that."
    ),
    "content-changed": (
        "{target} does not come as its site sends it: changed on the way, past this line, "
        "unless the page itself has moved."
    ),
    "proxy-in-the-way": (
        "Plain pages of {sites} sites come through one proxy on the way ({via}), which is not "
        "this laptop's."
    ),
    "web-unreached": (
        "The line passes traffic, but no outside page answers: beyond the operator's network,"
        " or at its way out."
    ),
    "site-unreached": (
        "One outside page does not answer ({target}), others do: its site, not this line."
    ),
    "web-slow": (
        "A page takes {total_ms} to come ({target}), {limit_ms} is accepted: the site or the "
        "way to it, beyond the operator."
    ),
    "laptop-proxy": "This laptop's programs use a proxy ({proxy}); this test went without it.",
}
STEP: dict[str, tuple[str, str]] = {
    "set-clock": (
        "Set the laptop's date, time and time zone, then run again. It is not a line fault.",
        "",
    ),
    "sign-in-or-leave": (
        "Sign in or pay on the page that comes, or leave that guest network; then run again.",
        "Let the customer type passwords and card numbers.",
    ),
    "look-for-filter": (
        (
            "Look for a filter or security program that opens secure pages, on this laptop first, "
            "and run again without it."
        ),
        "Change nothing of the customer's without a yes.",
    ),
    "leave-to-site": (
        "Nothing to do on this line: the site has to put its certificate right.",
        "Do not have the warning clicked away.",
    ),
    "check-page-setting": (
        "Open the page in a browser; if it has moved or changed, correct it in targets.web.",
        "",
    ),
    "mind-laptop-proxy": (
        "Where only this laptop's programs are slow or fail, look at its proxy settings.",
        "",
    ),
}
