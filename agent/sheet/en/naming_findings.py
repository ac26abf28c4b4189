"""What the sheet says in English of resolvers and their answers."""

from __future__ import annotations

FINDING: dict[str, str] = {
    "dns-silent": (
        "No resolver answers, while everything answers by its address: the names fail, not the "
        "line."
    ),
    "dns-failing": (
        "The resolver ({resolver}) answers every name with a failure: {rcode}{extended_error}."
    ),
    "dns-first-silent": (
        "The first resolver ({resolver}) is silent: each new name waits about {cost_s} before the "
        "next one is asked."
    ),
    "dns-partly-silent": (
        "One resolver does not answer ({resolver}), another does: some names take long."
    ),
    "dns-slow": (
        "The resolver ({resolver}) answers slowly: {median_ms} median, {limit_ms} accepted."
    ),
    "dns-rewritten": "The resolver ({resolver}) gives an address for names that do not exist.",
    "dns-private-answer": (
        "The resolver answers a public name with a private address: {address} for {name}."
    ),
    "dns-disagree": "Two resolvers, {other} and {resolver}, differ on {name}.",
    "dns-often-silent": (
        "The resolver ({resolver}) leaves {unanswered} of {sent} queries without an answer: names "
        "hang now and then."
    ),
    "dns-signed-refused": (
        "The resolver ({resolver}) refuses a soundly signed name{extended_error}."
    ),
    "dns-large-answers-lost": (
        "Answers above 512 bytes do not come whole from {resolver}: some names hang or fail."
    ),
    "dns-tcp-blocked": (
        "The resolver ({resolver}) does not answer over TCP: names with long answers fail."
    ),
    "encrypted-resolver-silent": (
        "The operator's encrypted resolver ({resolver}) cannot be used: {trouble}{certificate_has}."
    ),
    "dns-not-validating": (
        "The resolver ({resolver}) does not check signatures (DNSSEC): forged names may pass."
    ),
}

STEP: dict[str, tuple[str, str]] = {
    "report-resolver": (
        (
            "Report the dead or slow resolver to the operator's network desk with this sheet. "
            "Leave the wiring alone."
        ),
        "Leave the customer's settings as they are; another resolver only hides it.",
    ),
    "report-answers": (
        (
            "Report what the resolver answers to the operator's network desk with this sheet: "
            "resolver, name, what came."
        ),
        "Leave the customer's settings as they are; another resolver only hides it.",
    ),
    "check-router-names": (
        (
            "The home router answers for names: look there for a filter, a parental control or "
            "changed resolver addresses; then run again."
        ),
        "Ask first: the customer may have set it so.",
    ),
    "report-encrypted-resolver": (
        "Report the encrypted resolver to the operator's network desk. Leave the wiring alone.",
        "Devices set to use only it look up no name at all meanwhile.",
    ),
    "ask-for-validation": (
        "Nothing is broken. Where the operator promises signature checks, tell its network desk.",
        "",
    ),
}
