"""Who stops a port, by how far answers come."""

from dataclasses import replace

import pytest
from reaching import FAR, OPEN, REFUSED, SILENT, UNREACHABLE, blocked, look, port, walked, whole
from visits import EDGE, GATEWAY, SERVER, judge, measured, visit

from agent.diagnosis.model import Segment
from agent.measurements import Kind, Role
from agent.settings.model import PluggedInto
from agent.sheet.numbers import DASH
from agent.sheet.wording import SENTENCE, finding_sentence, step_texts

CORE = "203.0.113.1"
WAY = (GATEWAY, EDGE, CORE)
LINK = "100.64.0.9"
"""An operator's own (RFC 6598 §7): filter and far end right behind it look the same."""


def found(what, code="port-blocked", *changes, without=(), **stated):
    seen = measured(Kind.REACH, Role.OUTSIDE, what, id="ports")
    diagnosis = judge(
        visit(seen, *changes, without=without),
        seen_address="198.51.100.77",
        **{**AT_ROUTER, **stated},
    ).diagnosis
    return next((f for f in diagnosis.findings if f.code == code), None)


AT_ROUTER = {"plugged_into": PluggedInto.ROUTER}
SERVED = {"at_server": True, "address": SERVER}

PLACES = [
    (blocked(GATEWAY, through=WAY), Segment.HOME, 0.8, GATEWAY),
    (blocked(GATEWAY, EDGE, through=WAY), Segment.OPERATOR, 0.8, EDGE),
    (blocked(*WAY, through=WAY), Segment.BEYOND, 0.5, CORE),
    (blocked(*WAY[:2], LINK, through=(*WAY[:2], LINK)), Segment.UNDETERMINED, 0.4, LINK),
    (blocked(GATEWAY, through=WAY, end=REFUSED, first=REFUSED), Segment.HOME, 0.8, GATEWAY),
    (blocked(None, None, through=WAY, end=REFUSED, first=REFUSED), Segment.OPERATOR, 0.8, EDGE),
    (blocked(GATEWAY, through=(GATEWAY, None, None)), Segment.HOME, 0.5, GATEWAY),
    (blocked(through=WAY), Segment.HOME, 0.5, None),
]


@pytest.mark.parametrize(("what", "segment", "confidence", "last"), PLACES)
def test_a_port_is_stopped_behind_the_last_router_that_answers(what, segment, confidence, last):
    told = found(what)
    assert (told.segment, told.confidence) == (segment, confidence)
    assert told.values["last_hop"] == last
    assert told.evidence == ("ports",)


@pytest.mark.parametrize(("router", "segment"), [(GATEWAY, Segment.HOME), (EDGE, Segment.OPERATOR)])
def test_a_router_that_forbids_it_says_so_itself(router, segment):
    """RFC 1812 §5.2.7.1: code 13, communication administratively prohibited."""
    what = blocked(GATEWAY, EDGE, through=WAY, first=UNREACHABLE)
    told = {"answered_by": router, "icmp_type": 3, "icmp_code": 13}
    first = replace(what.attempts[0], **told)
    stopped = found(replace(what, attempts=(first, *what.attempts[1:])))
    assert (stopped.segment, stopped.values["last_hop"]) == (segment, router)


def test_the_operators_own_server_is_no_part_of_beyond():
    target = port("server port", 8650, **SERVED)
    what = look([target], whole(0, REFUSED), card_address="198.51.100.77")
    assert found(what, "port-refused").segment is Segment.OPERATOR
    without = {"plan": "no-fill", "card_fault": "refused"}
    down = {"without": ("throughput-down", "throughput-up")}
    for code in ("port-refused", "port-blocked"):
        assert found(what, code, **without, **down) is None
    assert found(what, "server-silent", **without, **down) is not None
    answered = blocked(*WAY, through=WAY, at_server=True)
    assert found(answered).segment is Segment.OPERATOR


def refused(*own, through=(), **target):
    """A port that is refused behind routers `own`; without `through` no other port passes."""
    if through:
        return blocked(*own, through=through, end=REFUSED, first=REFUSED, **target)
    return look([port(**target)], whole(0, REFUSED), walked(0, *own, end=REFUSED))


@pytest.mark.parametrize(
    ("what", "segment", "confidence"),
    [
        (refused(*WAY, through=WAY), Segment.BEYOND, 0.8),
        (refused(*WAY), Segment.BEYOND, 0.5),
        (refused(*WAY, through=WAY, at_server=True), Segment.OPERATOR, 0.8),
        (look([port()], whole(0, REFUSED)), Segment.BEYOND, 0.5),
    ],
    ids=["as far as it is", "how far is not known", "at the server", "no walk"],
)
def test_a_refusal_from_the_far_end_is_its_own(what, segment, confidence):
    """RFC 9293 §3.10.7.1: a reset answers what comes to a port that is closed."""
    told = found(what, "port-refused")
    assert (told.segment, told.confidence, told.next_step) == (segment, confidence, "ask-far-end")
    assert found(what) is None
    said = finding_sentence(told.code, told.values)
    assert len(said) <= SENTENCE
    assert not {"…", DASH, "{"} & set(said)


def test_a_refusal_from_behind_the_home_may_be_sent_in_anothers_name():
    assert found(refused(GATEWAY), "port-refused") is None
    assert found(refused(GATEWAY)).segment is Segment.UNDETERMINED


@pytest.mark.parametrize(("code", "finding"), [(3, "port-refused"), (13, "port-blocked")])
def test_only_port_unreachable_says_that_nobody_listens(code, finding):
    """RFC 792: code 3, port unreachable; RFC 1812 §5.2.7.1: 13, forbidden, a filter's word."""
    what = blocked(*WAY, through=WAY, first=UNREACHABLE)
    first = replace(what.attempts[0], answered_by=FAR, icmp_type=3, icmp_code=code)
    what = replace(what, attempts=(first, *what.attempts[1:]))
    others = {"port-refused", "port-blocked"} - {finding}
    assert found(what, finding).segment is Segment.BEYOND
    assert found(what, *others) is None


def test_where_no_router_answers_at_all_nobody_is_blamed():
    told = found(blocked(through=(None, None, None)))
    assert (told.segment, told.next_step) == (Segment.UNDETERMINED, "compare-port-elsewhere")


@pytest.mark.parametrize(
    "what",
    [
        look([port()], whole(0, OPEN)),
        look([port()], whole(0, SILENT)),
        look([port(wanted_open=False)], whole(0, SILENT)),
        look([port(address=None, problem="name-not-resolved")]),
        look([port(**SERVED)], whole(0, SILENT)),
    ],
    ids=["open", "the host is silent", "meant to be shut", "no address", "no server"],
)
def test_what_is_no_blocked_port_gives_none(what):
    assert (found(what), found(what, "port-refused")) == (None, None)


@pytest.mark.parametrize(("what", "segment", "confidence", "last"), PLACES[:-1])
def test_its_sentence_and_step_are_whole(what, segment, confidence, last):
    told = found(what)
    said = finding_sentence(told.code, told.values)
    assert len(said) <= SENTENCE
    assert not {"…", DASH, "{"} & set(said)
    assert "code" not in step_texts(told.next_step)[0]
    assert (last in said, segment is told.segment, confidence) == (True, True, told.confidence)
