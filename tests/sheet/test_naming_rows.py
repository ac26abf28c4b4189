"""What the sheet and a measurement alone show of resolvers."""

import io
from dataclasses import replace

import pytest
from measured_samples import dns
from records import healthy

from agent.measurements import Kind
from agent.record.seal import seal
from agent.sheet.single import build_single
from agent.sheet.terminal import console_for, print_blocks
from agent.sheet.view import build_sheet


def shown(**changes):
    """Return the healthy visit with one resolver whose statistics and observations differ."""
    one = dns(7)
    observed = replace(one.measurement.observed, **changes.pop("observed", {}))
    measurement = replace(one.measurement, observed=observed, **changes.pop("measurement", {}))
    one = replace(one, measurement=measurement, statistics=replace(one.statistics, **changes))
    others = tuple(m for m in healthy().measured if m.measurement.kind is not Kind.DNS)
    return replace(healthy(), measured=(*others, one))


def rows(record):
    sheet = build_sheet(seal(record))
    tables = [t for t in sheet.detail.tables if t.title.startswith("Names")]
    return [row for table in tables for row in table.rows]


@pytest.mark.parametrize(
    ("transport", "label"),
    [("tls", "dns.ternbay.example over TLS"), ("https", "dns.ternbay.example over HTTPS")],
)
def test_an_encrypted_resolver_is_told_from_a_plain_one_at_the_same_address(transport, label):
    named = {"observed": {"resolver": "dns.ternbay.example"}}
    ((first, *_),) = rows(shown(transport=transport, **named))
    assert first == label
    ((first, *_),) = rows(shown(**named))
    assert first == dns(7).measurement.address


def test_what_belongs_together_is_printed_together():
    out = io.StringIO()
    record = shown(errors=(("lost", 3), ("rcode-2", 1)), private=(("www.example", "10.0.0.1"),))
    only = tuple(m for m in record.measured if m.measurement.kind is Kind.DNS)
    print_blocks(build_single(replace(record, measured=only)), console_for(out, 80))
    text = out.getvalue().replace("\xa0", " ")
    assert "lost 3, rcode-2 1" in text
    assert "www.example 10.0.0.1" in text
    assert "(" not in text.split("errors")[1].split("\n")[0]
