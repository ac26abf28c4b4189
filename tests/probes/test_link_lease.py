"""Link and lease: facts stay facts, and what was not probed says why."""

from dataclasses import replace

import pytest
from pydantic import ValidationError

from agent.clock import ManualClock, Timeline
from agent.errors import TimedOut
from agent.measurements import (
    Concentrator,
    Kind,
    LeaseFacts,
    LeaseProbe,
    LinkFacts,
    Medium,
    Offer,
    PppoeProbe,
    State,
)
from agent.ports.facts import Interface, ScriptedFacts
from agent.ports.frames import Discover, Padi, ScriptedFrames
from agent.ports.running import Unattended
from agent.probes.lease import measure_lease
from agent.probes.lease_options import stated_options
from agent.probes.link import measure_link
from agent.settings.model import Handover, LeasePlan

MAC = "02:00:5e:10:00:01"
LINK = LinkFacts(interface="eth0", up=True, medium=Medium.WIRED, hardware_address=MAC)
HELD = LeaseFacts(family=4, origin="dhcp", address="192.0.2.30", prefix=24)
HELD6 = LeaseFacts(family=6, origin="kernel", address="2001:db8::30", prefix=64)
OFFER = Offer(
    after_ms=12.0, server_id="192.0.2.1", server_hardware_address=None, address="192.0.2.30"
)
SESSIONS = PppoeProbe(
    sent=1,
    listened_s=3.0,
    concentrators=(Concentrator(after_ms=4.0, hardware_address=MAC, name="ternbay-ac"),),
)
PROBE = LeaseProbe(sent=1, listened_s=6.0, offers=(OFFER,))


class Stopped(Unattended):
    def stopped(self):
        return True


def facts(link=LINK, held=(HELD,)):
    return ScriptedFacts(ports=(Interface(link=link),), held={"eth0": held} if held else {})


def lease(frames=None, *, computer=None, within_s=12.0, handover=Handover.DHCP, **kwargs):
    return measure_lease(
        computer or facts(),
        frames,
        kwargs.pop("plan", LeasePlan()),
        interface="eth0",
        handover=handover,
        timeline=Timeline.begin(ManualClock(now_s=50.0)),
        within_s=within_s,
        running=kwargs.pop("running", Unattended()),
        **kwargs,
    )


def test_the_link_is_one_reading():
    measured = measure_link(facts(), "eth0", Timeline.begin(ManualClock()))
    assert (measured.kind, measured.state, measured.observed) == (Kind.LINK, State.COMPLETE, LINK)


def test_a_missing_port_fails_with_its_name():
    measured = measure_link(facts(), "eth9", Timeline.begin(ManualClock()))
    assert measured.state is State.FAILED
    assert measured.reason.code == "no-interface"
    assert measured.reason.values["interface"] == "eth9"


def test_held_lease_and_offers_stand_together():
    frames = ScriptedFrames(answer=PROBE)
    first, second = lease(frames, computer=facts(held=(HELD, HELD6)))
    assert [one for one in frames.asked if isinstance(one, Discover)] == [
        Discover(interface="eth0", hardware_address=MAC, listen_s=6.0, held=("192.0.2.30",))
    ]
    assert (first.observed.probe, first.method) == (PROBE, "system+discover")
    beside = replace(HELD6, advertised=frames.heard)
    assert (second.observed, second.method, second.family) == (beside, "system", 6)


@pytest.mark.parametrize("handover", [Handover.PPPOE, "pppoe"])
def test_a_pppoe_handover_is_asked_for_concentrators_and_nothing_else(handover):
    frames = ScriptedFrames(answer=PROBE, sessions=SESSIONS)
    (measured,) = lease(frames, handover=handover, computer=facts(held=None), within_s=6.0)
    assert frames.asked == [Padi(interface="eth0", hardware_address=MAC, listen_s=3.0)]
    assert (measured.observed.pppoe, measured.observed.probe) == (SESSIONS, None)
    assert (measured.observed.probe_reason, measured.method) == ("pppoe-handover", "system+padi")


def test_concentrators_that_cannot_be_asked_for_say_why():
    frames = ScriptedFrames(answer=PROBE, sessions=TimedOut(address="helper", after_s=9))
    (measured,) = lease(frames, handover="pppoe")
    assert (measured.observed.pppoe, measured.observed.probe_reason) == (None, "timed-out")
    (measured,) = lease(handover="pppoe")
    assert (measured.observed.pppoe, measured.observed.probe_reason) == (None, "right-missing")


def test_what_the_probe_says_of_the_laptop():
    """RFC 2132 §9.13 and §9.14 (type 0), RFC 3004 §4 (length, then data), RFC 3925 raw."""
    plan = LeasePlan(
        vendor_class="ternbay",
        client_id="line-7",
        user_class="trial",
        vendor_identifying="hex:00000009020a0b",
    )
    frames = ScriptedFrames(answer=PROBE)
    lease(frames, plan=plan)
    (asked,) = (one for one in frames.asked if isinstance(one, Discover))
    assert asked.options == (
        (60, b"ternbay"),
        (61, b"\0line-7"),
        (77, b"\5trial"),
        (125, bytes.fromhex("00000009020a0b")),
    )
    raw = LeasePlan(client_id="hex:01020000005e01", user_class="hex:7472")
    assert stated_options(raw) == ((61, bytes.fromhex("01020000005e01")), (77, b"tr"))
    assert stated_options(LeasePlan()) == ()


@pytest.mark.parametrize(
    "said",
    [
        {"vendor_class": "hex:0"},
        {"client_id": "hex:zz"},
        {"user_class": "na\nme"},
        {"vendor_class": ""},
        {"vendor_identifying": "text"},
        {"vendor_class": "x" * 251},
    ],
)
def test_options_that_cannot_be_sent_are_refused(said):
    with pytest.raises(ValidationError):
        LeasePlan(**said)


def test_a_plan_may_leave_the_question_of_presence_out():
    frames = ScriptedFrames(answer=PROBE)
    lease(frames, plan=LeasePlan(presence=False))
    (asked,) = (one for one in frames.asked if isinstance(one, Discover))
    assert asked.presence is False


def test_no_address_is_a_fact_and_no_failure():
    (measured,) = lease(computer=facts(held=None))
    assert measured.state is State.COMPLETE
    assert (measured.observed.origin, measured.address) == ("none", None)


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({}, "right-missing"),
        ({"frames_reason": "frames-extra-missing"}, "frames-extra-missing"),
        ({"plan": LeasePlan(probe=False)}, "not-asked"),
        ({"running": Stopped()}, "stopped"),
        ({"within_s": 6.5}, "no-time"),
    ],
)
def test_a_probe_that_is_not_made_says_why(change, reason):
    frames = None if set(change) <= {"frames_reason"} else ScriptedFrames(answer=PROBE)
    (measured,) = lease(frames, **change)
    assert (measured.observed.probe, measured.observed.probe_reason) == (None, reason)
    assert frames is None or frames.asked == []


@pytest.mark.parametrize(
    ("link", "reason"),
    [
        (LinkFacts(interface="eth0", up=False, medium=Medium.WIRED), "interface-down"),
        (LinkFacts(interface="eth0", up=True, medium=Medium.PPP), "pppoe-handover"),
        (LinkFacts(interface="eth0", up=True, medium=Medium.TUNNEL), "not-ethernet"),
    ],
)
def test_ports_that_carry_no_dhcp_are_not_probed(link, reason):
    (measured,) = lease(ScriptedFrames(answer=PROBE), computer=facts(link))
    assert measured.observed.probe_reason == reason


def test_a_helper_that_fails_leaves_the_held_lease():
    frames = ScriptedFrames(answer=TimedOut(address="helper", after_s=9))
    (measured,) = lease(frames)
    assert measured.state is State.COMPLETE
    assert (measured.observed.address, measured.observed.probe_reason) == (
        "192.0.2.30",
        "timed-out",
    )


def test_a_missing_port_is_no_lease_measurement():
    (measured,) = lease(computer=ScriptedFacts())
    assert (measured.state, measured.reason.code) == (State.FAILED, "no-interface")
