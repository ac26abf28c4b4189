"""How values are worded that a sentence does not print as they are, in English."""

from __future__ import annotations

ARISES = {
    "home": "in the home, before the line",
    "modem": "between laptop and modem",
    "access": "on the line",
    "operator": "past the line, in the operator's network",
}
ARISES_UNKNOWN = "at a place not known yet"
VANISH_AFTER = "past the router {address}"
VANISH_UNKNOWN = "at a place not known"

TIME = {
    "years": "{count} years",
    "days": "{count} days",
    "hours": "{count} hours",
    "minutes": "{count} minutes",
    "seconds": "{count} seconds",
}
TIME_UNKNOWN = "an unknown time"
CLOCK_FAST, CLOCK_SLOW, CLOCK_OFF = "{time} fast", "{time} slow", "off"

CODE = "code {code}"
# RFC 8914 §4, in plain words; others are printed by their number.
EXTENDED_ERROR = {
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
EXTENDED_ERROR_OTHER = "reason {code} of RFC 8914"
TROUBLE = {
    "lost": "no answer",
    "late": "no answer in time",
    "refused": "it refuses the connection",
    "unreachable": "there is no way to it",
    "malformed": "what comes is no DNS",
    "untrusted": "no secure connection",
    "name-not-resolved": "its own name is not found",
}
CERTIFICATE_HAS = {
    "expired": "certificate expired",
    "not-yet-valid": "certificate not valid yet",
    "self-signed": "certificate signed by itself",
    "unknown-issuer": "certificate of an unknown issuer",
    "wrong-name": "certificate of another name",
}
CERTIFICATE_HAS_OTHER = "certificate not valid"
CERTIFICATE = {
    "expired": "has expired",
    "not-yet-valid": "is not valid yet",
    "wrong-name": "is made out to another name",
    "self-signed": "is vouched for by itself alone",
    "unknown-issuer": "is vouched for by nobody trusted here",
}
CERTIFICATE_OTHER = "is not accepted"
PORTAL_UNNAMED = "another page"
FATE = {
    "filtered": "dropped without a word",
    "refused": "refused",
    "unreachable": "refused by a router",
}
