import copy
import hashlib
import json
from dataclasses import replace

import pytest
from records import CASES, healthy

from agent.measurements import Reason
from agent.record.seal import body_sha256, redact, seal, verify

# RFC 8785 §3.2.2 and §3.2.3: the sample object and its canonical form.
RFC_8785_SAMPLE = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""
RFC_8785_CANONICAL = (
    '{"literals":[null,true,false],'
    '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
)


def test_the_hash_is_taken_over_the_canonical_form_of_rfc_8785():
    wanted = hashlib.sha256(RFC_8785_CANONICAL.encode()).hexdigest()
    assert body_sha256(json.loads(RFC_8785_SAMPLE)) == wanted


@pytest.mark.parametrize("case", CASES)
def test_a_sealed_record_is_whole_and_its_typed_view_is_the_record(case):
    record = CASES[case]()
    stored = seal(record)
    assert verify(stored.document).whole
    assert stored.record == record


@pytest.mark.parametrize("case", CASES)
def test_redaction_removes_identity_and_addresses_and_keeps_the_proof(case):
    stored = seal(CASES[case]())
    bare = redact(stored)
    text = json.dumps(bare.document)
    for secret in stored.document["private"]["addresses"].values():
        assert secret not in text or len(secret) < 4
    for name in ("WO-2026-0417", "Okafor", "Slipway", "192.0.2.", "198.51.100.", "02:00:5e"):
        assert name not in text
    assert verify(bare.document).whole
    assert verify(bare.document).sha256 == stored.sha256
    assert bare.redacted
    assert bare.record.assessment.verdict == stored.record.assessment.verdict


def _paths(node, path=()):
    if isinstance(node, dict):
        for name, value in node.items():
            yield from _paths(value, (*path, name))
    elif isinstance(node, list) and node:
        yield from _paths(node[0], (*path, 0))
    else:
        yield path


def _changed(document, path):
    copied = copy.deepcopy(document)
    node = copied
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = "changed"
    return copied


def test_every_member_is_under_a_hash():
    document = seal(healthy()).document
    unhashed = {("integrity", "signature")}
    for path in _paths(document):
        if path not in unhashed:
            assert not verify(_changed(document, path)).whole, path


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        (lambda d: d["tier"].update(down_bps=50_000_000), "body-changed"),
        (lambda d: d["private"].update(work_order="another"), "private-changed"),
        (lambda d: d.update(private_sha256="00" * 32), "private-changed"),
        (lambda d: d.pop("private_sha256"), "private-hash-missing"),
        (lambda d: d.pop("integrity"), "no-seal"),
        (lambda d: d["integrity"].update(sha256=None), "no-seal"),
        (lambda d: d["integrity"].update(canonical="other"), "canonical-form-unknown"),
        (lambda d: d.update(x=float("inf")), "not-canonical"),
        (lambda d: d.update(x="\ud800"), "not-canonical"),
        (lambda d: d.update(x=2**60), "not-canonical"),
        (lambda d: d.update(record_id="HWDH-5594-5BCBJ"), "record-number-wrong"),
    ],
)
def test_each_change_has_its_code(change, problem):
    document = copy.deepcopy(seal(healthy()).document)
    change(document)
    found = verify(document)
    assert not found.whole
    assert problem in found.problems


def test_the_salt_hides_identity_from_guessing():
    record = healthy()
    one, other = seal(record, salt=b"a" * 16), seal(record, salt=b"b" * 16)
    assert one.document["private_sha256"] != other.document["private_sha256"]
    assert seal(record, salt=b"a" * 16).document == one.document


def test_what_json_cannot_hold_does_not_lose_the_record():
    odd = Reason(code="x", values={"nan": float("nan"), "huge": 10**400, "text": "a\ud800b"})
    record = healthy()
    first = record.measured[0]
    measurement = replace(first.measurement, reason=odd)
    stored = seal(replace(record, measured=(replace(first, measurement=measurement),)))
    assert verify(stored.document).whole
    values = stored.document["measurements"][0]["reason"]["values"]
    assert values == {"nan": None, "huge": None, "text": "a?b"}


def test_redacting_keeps_what_was_judged_anew():
    stored = seal(healthy())
    anew = replace(stored.record, diagnosis=replace(stored.record.diagnosis, segment="access"))
    bare = redact(replace(stored, record=anew))
    assert bare.record.diagnosis.segment == "access"
    assert bare.record.private.work_order is None
    assert "192.0.2." not in repr(bare.record)
