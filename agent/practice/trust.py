"""Certificates of the practice network: an authority that its laptop trusts, and what it signs."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from agent.clock import SystemClock

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey

TRUST_FILE = "trust.pem"
"""What the laptop trusts, in the network's own folder: nothing but the practice authority."""

AUTHORITY_FILE = "authority.pem"
AUTHORITY_NAME = "Tern Bay practice authority"
LONGEST = timedelta(days=9_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """A certificate to make: for which name, and valid from and to so long after now.

    With `self_signed` it is vouched for by itself alone.
    """

    name: str
    begins: timedelta = timedelta(days=-1)
    ends: timedelta = timedelta(days=90)
    self_signed: bool = False


def certificate_file(scratch: Path, wish: Wish) -> Path:
    """Return a file with the key and the certificate that was wished for.

    The first call makes the authority and what the laptop trusts.
    """
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415 - costs 0.1 s

    encoding = serialization.Encoding.PEM
    authority_key, authority = _authority(scratch)
    key = _new_key()
    if wish.self_signed:
        made = _certificate(wish.name, key, wish.name, key, wish)
    else:
        made = _certificate(wish.name, key, AUTHORITY_NAME, authority_key, wish)
    chain = made.public_bytes(encoding) + authority.public_bytes(encoding)
    path = scratch / f"{wish.name}.pem"
    path.write_bytes(_written(key) + (made.public_bytes(encoding) if wish.self_signed else chain))
    return path


def _authority(scratch: Path) -> tuple[EllipticCurvePrivateKey, x509.Certificate]:
    from cryptography import x509  # noqa: PLC0415 - as above
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415

    both = scratch / AUTHORITY_FILE
    if not both.exists():
        key = _new_key()
        wish = Wish(name=AUTHORITY_NAME, begins=-LONGEST, ends=LONGEST)
        made = _certificate(AUTHORITY_NAME, key, AUTHORITY_NAME, key, wish, signs=True)
        pem = made.public_bytes(serialization.Encoding.PEM)
        (scratch / TRUST_FILE).write_bytes(pem)
        both.write_bytes(_written(key) + pem)
    text = both.read_bytes()
    key = serialization.load_pem_private_key(text, None)  # type: ignore[assignment]  # ours
    return key, x509.load_pem_x509_certificate(text)


def _new_key() -> EllipticCurvePrivateKey:
    from cryptography.hazmat.primitives.asymmetric import ec  # noqa: PLC0415 - as above

    return ec.generate_private_key(ec.SECP256R1())


def _written(key: EllipticCurvePrivateKey) -> bytes:
    from cryptography.hazmat.primitives import serialization  # noqa: PLC0415 - as above

    return key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )


def _certificate(
    name: str,
    key: EllipticCurvePrivateKey,
    issuer: str,
    issuer_key: EllipticCurvePrivateKey,
    wish: Wish,
    *,
    signs: bool = False,
) -> x509.Certificate:
    """Return a certificate with what RFC 5280 §4.2 asks of one."""
    from cryptography import x509  # noqa: PLC0415 - as above
    from cryptography.hazmat.primitives import hashes  # noqa: PLC0415

    now = SystemClock().wall()
    identity = x509.SubjectKeyIdentifier.from_public_key(key.public_key())
    vouching = x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key())
    builder = (
        x509.CertificateBuilder()
        .subject_name(_named(name))
        .issuer_name(_named(issuer))
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now + wish.begins)
        .not_valid_after(now + wish.ends)
        .add_extension(x509.BasicConstraints(ca=signs, path_length=None), critical=True)
        .add_extension(_use(signs=signs), critical=True)
        .add_extension(identity, critical=False)
        .add_extension(vouching, critical=False)
    )
    if not signs:
        names = x509.SubjectAlternativeName([x509.DNSName(name)])
        builder = builder.add_extension(names, critical=False)
    return builder.sign(issuer_key, hashes.SHA256())


def _named(name: str) -> x509.Name:
    from cryptography import x509  # noqa: PLC0415 - as above
    from cryptography.x509.oid import NameOID  # noqa: PLC0415

    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])


def _use(*, signs: bool) -> x509.KeyUsage:
    from cryptography import x509  # noqa: PLC0415 - as above

    return x509.KeyUsage(
        digital_signature=not signs,
        key_cert_sign=signs,
        crl_sign=signs,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
