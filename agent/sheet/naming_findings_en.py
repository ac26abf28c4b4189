"""What the sheet says in English of resolvers and their answers."""

from __future__ import annotations

from collections.abc import Callable

from agent.record import Scalar

FINDING = {
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

STEP = {
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

# RFC 1035 §4.1.1, with the names that IANA's registry of response codes has for them.
_RCODE = {1: "FORMERR", 2: "SERVFAIL", 4: "NOTIMP", 5: "REFUSED"}
# RFC 8914 §4, in plain words; others are printed by their number.
_EXTENDED = {
    3: "the answer is stale",
    4: "the answer is forged on purpose",
    6: "its signature is wrong",
    7: "its signature has expired",
    8: "its signature is not valid yet",
    9: "a key is missing",
    10: "a signature is missing",
    14: "the resolver is not ready",
    15: "blocked by the operator of the resolver",
    16: "blocked by order of others",
    17: "filtered at the customer's wish",
    18: "this laptop may not ask",
    22: "no server of the zone answers",
    23: "its way out is broken",
}
_TROUBLE = {
    "lost": "no answer",
    "late": "no answer in time",
    "refused": "it refuses the connection",
    "unreachable": "there is no way to it",
    "malformed": "what comes is no DNS",
    "untrusted": "no secure connection",
    "name-not-resolved": "its own name is not found",
}
_CERTIFICATE = {
    "expired": "certificate expired",
    "not-yet-valid": "certificate not valid yet",
    "self-signed": "certificate signed by itself",
    "unknown-issuer": "certificate of an unknown issuer",
    "wrong-name": "certificate of another name",
}


def _rcode(code: Scalar) -> Scalar:
    return _RCODE.get(int(code), f"code {int(code)}") if isinstance(code, int) else code


def _extended_error(code: Scalar) -> Scalar:
    if not isinstance(code, int):
        return ""
    return f" ({_EXTENDED.get(code, f'reason {code} of RFC 8914')})"


def _trouble(code: Scalar) -> Scalar:
    return _TROUBLE.get(str(code), code)


def _certificate_has(problem: Scalar) -> Scalar:
    return f" ({_CERTIFICATE.get(str(problem), 'certificate not valid')})" if problem else ""


SAID: dict[str, Callable[[Scalar], Scalar]] = {
    "rcode": _rcode,
    "extended_error": _extended_error,
    "trouble": _trouble,
    "certificate_has": _certificate_has,
}
