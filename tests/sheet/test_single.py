import io
from dataclasses import replace

import pytest
from records import failed, healthy, link

from agent.measurements import Kind, Reason, Role
from agent.record.seal import Verification
from agent.sheet.single import build_single
from agent.sheet.terminal import console_for, print_blocks
from agent.sheet.wording import verification_text


def printed(record):
    out = io.StringIO()
    print_blocks(build_single(record), console_for(out, 80))
    return out.getvalue().replace("\xa0", " ")


@pytest.mark.parametrize(
    ("kind", "shown"),
    [
        (Kind.LINK, "1000 Mbit/s"),
        (Kind.LEASE, "192.0.2.44"),
        (Kind.DNS, "23.1 ms"),
        (Kind.DELAY, "delay and loss to first hop"),
        (Kind.PATH, "edge1.ternbay.example"),
        (Kind.HTTP, "15.5 ms"),
        (Kind.THROUGHPUT, "106 Mbit/s"),
    ],
)
def test_each_kind_alone_shows_its_figures(kind, shown):
    record = healthy()
    only = tuple(one for one in record.measured if one.measurement.kind is kind)
    text = printed(replace(record, measured=only))
    assert shown in text
    assert "complete" in text


def test_what_failed_says_why():
    odd = failed(Kind.DNS, Role.RESOLVER, Reason(code="timed-out", values={"address": "x"}))
    assert "did not answer" in printed(replace(healthy(), measured=(link(), odd)))


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (Verification(whole=True), "Whole and unchanged."),
        (Verification(whole=True, redacted=True), "identity and addresses were removed"),
        (Verification(whole=False, problems=("body-changed",)), "changed after the record"),
        (Verification(whole=False, problems=("unheard-of",)), "unheard-of"),
    ],
)
def test_a_verification_is_said_in_sentences(found, said):
    assert said in verification_text(found)
