"""What a server's certificate says, and what is wrong with it."""

from __future__ import annotations

import ssl
import warnings
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from agent.errors import CannotMeasure, MalformedMessage, TlsFault, printable
from agent.measurements import Certificate

if TYPE_CHECKING:
    from cryptography import x509

# X509_V_ERR_… of OpenSSL's x509_vfy.h. A self-signed certificate deeper in the chain (19) is an
# issuer that this laptop does not know.
_KINDS = {
    9: "not-yet-valid",
    10: "expired",
    18: "self-signed",
    2: "unknown-issuer",
    19: "unknown-issuer",
    20: "unknown-issuer",
    21: "unknown-issuer",
    62: "wrong-name",
    64: "wrong-name",
}
OTHER = "other"
# OpenSSL takes chains of up to 100 kB; one certificate that long is no honest one.
LARGEST = 100_000

Handshake = Callable[[ssl.SSLContext], ssl.SSLSocket]


def kind_of(error: ssl.SSLError) -> str | None:
    """Return what is wrong with a certificate, None where the handshake failed otherwise."""
    if not isinstance(error, ssl.SSLCertVerificationError):
        return None
    return _KINDS.get(error.verify_code, OTHER)


def valid_certificate(sock: ssl.SSLSocket) -> Certificate | None:
    """Return the facts of a certificate that passed every check of its handshake."""
    told = sock.getpeercert()
    return _facts(told) if told else None


def faulty_certificate(fault: TlsFault, handshake: Handshake) -> Certificate | None:
    """Return the facts of a certificate that failed; None where the fault is not of a certificate.

    Shakes hands once more without a check, reads what is shown and hangs up: the standard library
    keeps a certificate only of a handshake that succeeds. Nothing is sent over that connection.
    """
    kind = fault.fields.get("kind")
    if kind is None:
        return None
    bare = Certificate(
        valid=False, problem=printable(fault.fields.get("problem", "")), fault=str(kind)
    )
    try:
        with handshake(_unchecked()) as sock:
            shown = read_certificate(sock.getpeercert(binary_form=True) or b"")
    except (CannotMeasure, OSError, MalformedMessage):
        return bare
    return replace(shown, valid=False, problem=bare.problem, fault=bare.fault)


def _unchecked() -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def _facts(told: Mapping[str, Any]) -> Certificate:
    return Certificate(
        valid=True,
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
    return _moment(datetime.fromtimestamp(ssl.cert_time_to_seconds(text), UTC))


def _moment(at: datetime) -> str:
    return at.isoformat().replace("+00:00", "Z")


def read_certificate(der: bytes) -> Certificate:
    """Return the facts of an X.509 certificate that nobody checked (RFC 5280 §4.1).

    Raises MalformedMessage.
    """
    from cryptography import x509  # noqa: PLC0415 - only a faulty certificate needs it
    from cryptography.utils import CryptographyDeprecationWarning  # noqa: PLC0415

    if len(der) > LARGEST:
        raise MalformedMessage(message="certificate", offset=LARGEST, problem="too long")
    # A certificate against the rules is a finding here; the library's advice is for programmers.
    warnings.filterwarnings("ignore", category=CryptographyDeprecationWarning)
    try:
        shown = x509.load_der_x509_certificate(der)
        return Certificate(
            valid=False,
            subject=_name(shown.subject),
            issuer=_name(shown.issuer),
            begins=_moment(shown.not_valid_before_utc),
            expires=_moment(shown.not_valid_after_utc),
        )
    except (ValueError, TypeError, x509.InvalidVersion) as error:
        problem = printable(error)
        raise MalformedMessage(message="certificate", offset=0, problem=problem) from error


def _name(name: x509.Name) -> str | None:
    from cryptography.x509.oid import NameOID  # noqa: PLC0415 - as above

    for oid in (NameOID.COMMON_NAME, NameOID.ORGANIZATION_NAME):
        found = name.get_attributes_for_oid(oid)
        if found:
            value = found[-1].value
            return printable(value if isinstance(value, str) else value.hex())
    return None
