"""The practice network's certificates, checked by another's path validation (RFC 5280 §6)."""

import ssl
from datetime import UTC, datetime, timedelta

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store, VerificationError

from agent.practice.trust import TRUST_FILE, Wish, certificate_file

NAME = "chandlery.example"


def checked(scratch, wish, *, name=NAME, at=None):
    """Return the subject that validation of the made certificate yields; raises where it fails."""
    made = certificate_file(scratch, wish)
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(made)
    leaf, *chain = x509.load_pem_x509_certificates(made.read_bytes())
    store = Store(x509.load_pem_x509_certificates((scratch / TRUST_FILE).read_bytes()))
    policy = PolicyBuilder().store(store).time(at or datetime.now(UTC))
    return policy.build_server_verifier(x509.DNSName(name)).verify(leaf, chain)


def test_a_sound_certificate_leads_to_the_authority_that_the_laptop_trusts(tmp_path):
    chain = checked(tmp_path, Wish(name=NAME))
    assert len(chain) == 2
    again = checked(tmp_path, Wish(name=NAME))
    assert again[1] == chain[1]


@pytest.mark.parametrize(
    ("wish", "name"),
    [
        (Wish(name=NAME, begins=timedelta(days=-9), ends=timedelta(days=-1)), NAME),
        (Wish(name=NAME, begins=timedelta(days=1)), NAME),
        (Wish(name="elsewhere.example"), NAME),
        (Wish(name=NAME, self_signed=True), NAME),
    ],
    ids=["expired", "not yet valid", "wrong name", "self-signed"],
)
def test_each_bad_certificate_is_bad(tmp_path, wish, name):
    checked(tmp_path, Wish(name="first.example"), name="first.example")
    with pytest.raises(VerificationError):
        checked(tmp_path, wish, name=name)


def test_a_certificate_of_another_time_is_sound_then(tmp_path):
    apart = timedelta(days=400)
    wish = Wish(name=NAME, begins=apart - timedelta(days=30), ends=apart + timedelta(days=60))
    assert checked(tmp_path, wish, at=datetime.now(UTC) + apart)
    with pytest.raises(VerificationError):
        checked(tmp_path, wish)
