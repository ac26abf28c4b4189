"""What is copied and signed: the ticket line, the signatures, and whose page it is."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import CASES, below, extreme, healthy

from agent.record.seal import redact, seal
from agent.sheet.catalogue import words
from agent.sheet.ticket import LONGEST, ticket_line
from agent.sheet.view import Dress, build_sheet


@pytest.mark.parametrize("case", CASES)
def test_the_ticket_line_is_one_short_line_with_verdict_and_number(case):
    record = CASES[case]()
    line = ticket_line(record).value
    assert len(line) <= LONGEST == 200
    assert line.isprintable()
    assert record.record_id in line
    if case != "extreme":
        assert words.VERDICT[record.assessment.verdict] in line


@given(st.text(max_size=300))
def test_the_number_stands_in_it_whatever_a_work_order_is_called(text):
    record = extreme(text)
    line = ticket_line(record).value
    assert len(line) <= LONGEST
    assert line.endswith(record.record_id)


def test_it_says_what_a_desk_asks_first():
    line = ticket_line(below()).value
    # Work order, local time to the minute with its offset (ISO 8601), rates, place, code.
    for part in ("WO-2026-0417", "2026-03-02T10:14+0100", "47.9 Mbit/s", "slow-line"):
        assert part in line
    assert words.SEGMENT["access"] in line


def test_it_holds_no_sign_that_an_old_system_does_not_know():
    for make in CASES.values():
        assert not set(ticket_line(make()).value) & set("≥≤\N{EN DASH}\N{MINUS SIGN}\xa0…")


def test_a_customer_alone_signs_nothing():
    record = healthy()
    alone = replace(record, visit=replace(record.visit, purpose="help-desk"))
    assert build_sheet(seal(alone)).sign_off is None
    assert build_sheet(seal(record)).sign_off is not None


def test_a_signature_may_be_refused_or_the_signer_absent():
    sign_off = build_sheet(seal(healthy())).sign_off
    assert sign_off.instead == ("refused", "absent")
    assert "R. Okafor" in sign_off.lines[1]


def test_no_tick_asks_to_call_an_emergency_number():
    assert all("dial tone" in tick for tick in words.TICKS if "phone" in tick)


DRESS = Dress(language="en-GB", footer="Tern Bay Fibre · ternbay.example", logo="data:,x")


def test_the_dress_stands_on_the_page_and_a_redacted_one_is_nobodys():
    stored = seal(healthy())
    ours, bare = build_sheet(stored, dress=DRESS), build_sheet(redact(stored), dress=DRESS)
    assert ours.brand.company == "Tern Bay Fibre"
    assert ours.brand.footer == DRESS.footer
    assert ours.brand.logo == DRESS.logo
    assert bare.brand == type(bare.brand)()
    assert "Tern Bay Fibre" not in " ".join(map(str, (bare.ticket, bare.sign_off, bare.brand)))


def test_dates_follow_the_place():
    """CLDR's long form of a date in British English, in the United States', in German."""
    stored = seal(healthy())
    for language, day in (
        ("en-GB", "2 March 2026"),
        ("en-US", "March 2, 2026"),
        ("en", "March 2, 2026"),
    ):
        assert build_sheet(stored, dress=Dress(language=language)).dated.startswith(day)


def test_a_dress_changes_no_judged_number():
    stored = seal(below())
    plain, dressed = build_sheet(stored), build_sheet(stored, dress=DRESS)
    assert (plain.rates, plain.promises) == (dressed.rates, dressed.promises)
