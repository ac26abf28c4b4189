"""What a server's certificate says, and what is wrong with it."""

from __future__ import annotations

import ssl
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from typing import Any

from agent.errors import CannotMeasure, TlsFault, printable
from agent.measurements import Certificate

# X509_V_FLAG_NO_CHECK_TIME of OpenSSL's x509_vfy.h: check everything but the dates.
_NO_CHECK_TIME = 0x200000

Handshake = Callable[[ssl.SSLContext], ssl.SSLSocket]


def valid_certificate(sock: ssl.SSLSocket) -> Certificate | None:
    """Return the facts of a certificate that passed every check of its handshake."""
    told = sock.getpeercert()
    return _facts(told, valid=True, problem=None) if told else None


def faulty_certificate(
    fault: TlsFault, relaxed: ssl.SSLContext, handshake: Handshake
) -> Certificate:
    """Return the facts of a certificate that failed, `fault` being the problem.

    Shakes hands once more with name and dates unchecked: the standard library reads a certificate
    only where its chain leads to a trusted root. Without that only the problem is known.
    """
    problem = printable(fault.fields.get("problem", ""))
    relaxed.check_hostname = False
    relaxed.verify_flags |= _NO_CHECK_TIME
    try:
        with handshake(relaxed) as sock:
            return _facts(sock.getpeercert() or {}, valid=False, problem=problem)
    except (CannotMeasure, OSError):
        return Certificate(valid=False, problem=problem)


def _facts(told: Mapping[str, Any], *, valid: bool, problem: str | None) -> Certificate:
    return Certificate(
        valid=valid,
        problem=problem,
        subject=_common_name(told.get("subject", ())),
        issuer=_common_name(told.get("issuer", ())),
        begins=_date(told.get("notBefore")),
        expires=_date(told.get("notAfter")),
    )


def _common_name(name: tuple[tuple[tuple[str, str], ...], ...]) -> str | None:
    parts = {key: value for relative in name for key, value in relative}
    best = parts.get("commonName") or parts.get("organizationName")
    return None if best is None else printable(best)


def _date(text: str | None) -> str | None:
    if text is None:
        return None
    seconds = ssl.cert_time_to_seconds(text)
    return datetime.fromtimestamp(seconds, UTC).isoformat().replace("+00:00", "Z")
