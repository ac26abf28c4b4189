"""The address held, by its facts: each fault with its place and step, sound ones without.

Tone and content of the steps: common practice of the trade, no source.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from visits import GATEWAY, dns, failed, judge, lease, link, page, settings, visit

from agent.diagnosis.addressing import RULES
from agent.measurements import Kind, LeaseProbe, Medium, Nak, Offer, Role
from agent.settings.model import Handover, PluggedInto
from agent.sheet.en.addressing_findings import FINDING
from agent.sheet.wording import SENTENCE, finding_sentence, step_texts

CODES = {rule.code for rule in RULES}
DIRECT = {"plugged_into": PluggedInto.ONT}
OFFER = Offer(
    after_ms=20.0,
    server_id=GATEWAY,
    server_hardware_address="02:00:5e:10:00:01",
    address="192.0.2.20",
    routers=(GATEWAY,),
    dns=("203.0.113.53",),
    subnet_mask="255.255.255.0",
    lease_s=3600,
)
REFUSAL = Nak(after_ms=3.0, server_id=GATEWAY, server_hardware_address=None, to_system=True)
SELF_MADE = {"origin": "self-assigned", "address": "169.254.3.4", "gateway": None, "dns": ()}
OVER = {"state": "expired", "expired_s": 7200.0, "server_id": GATEWAY}
V6 = {"family": 6, "address": "2001:db8::20", "prefix": 64, "gateway": "fe80::1", "dns": ()}


def v6(**more):
    return lease(**{**V6, "origin": "kernel", **more}), "lease-v6"


def with_id(measurement, name):
    from dataclasses import replace

    return replace(measurement, id=name)


def second(**more):
    return with_id(lease(**{"address": "198.51.100.20", **more}), "lease-second")


def found(*changes, without=(), **stated):
    """The findings of this area, by code."""
    findings = judge(visit(*changes, without=without), **stated).diagnosis.findings
    return {f.code: f for f in findings if f.code in CODES}


def nothing_asked():
    return failed(Kind.DNS, Role.RESOLVER, "no-resolver", id="dns-resolver")


@pytest.mark.parametrize(
    ("changes", "code", "segment", "step"),
    [
        ((lease(**SELF_MADE),), "self-assigned", "home", "restart-router"),
        ((lease(**OVER),), "lease-expired", "home", "restart-router"),
        ((second(),), "two-leases", "home", "find-second-dhcp-server"),
        ((lease(ways=(GATEWAY, "192.0.2.9")),), "two-ways", "laptop", "keep-one-way"),
        (
            (lease(ways=(), gateway=None, leased_routers=(GATEWAY,)),),
            "no-default-way",
            "laptop",
            "ask-for-address-again",
        ),
        (
            (lease(ways=(), gateway=None, origin="static"),),
            "no-default-way",
            "laptop",
            "set-gateway-by-hand",
        ),
        (
            (lease(ways=(), gateway=None),),
            "no-default-way",
            "undetermined",
            "ask-for-address-again",
        ),
        (
            (lease(dns=(), origin="static"), nothing_asked()),
            "no-resolver",
            "laptop",
            "set-resolver-by-hand",
        ),
        ((lease(leased_dns=()),), "lease-without-resolver", "home", "set-dns-option"),
        ((lease(state="duplicate"),), "address-duplicate", "home", "find-address-user"),
        (
            (with_id(v6(state="deprecated")[0], "lease-v6"),),
            "prefix-withdrawn",
            "home",
            "restart-router",
        ),
        ((lease(beside=("wlan0",)),), "port-beside", "none", "switch-other-port-off"),
    ],
)
def test_each_fault_of_the_address_held(changes, code, segment, step):
    findings = found(*changes)
    assert code in findings
    assert (findings[code].segment.value, findings[code].next_step) == (segment, step)


@pytest.mark.parametrize(
    "sound",
    [
        (),
        (lease(state="preferred", ways=(GATEWAY,), leased_routers=(GATEWAY,)),),
        # Typed in by hand: neither lease nor server, and nothing wrong with it.
        (lease(origin="static", lease_s=None, ways=(GATEWAY,), state="preferred"),),
        # An address of one's own beside the leased one, as for a modem's management address.
        (second(origin="static", ways=(GATEWAY,)),),
        # PPP: the way out has no gateway, the peer is the other end (RFC 1332, from memory).
        (lease(origin="ppp", gateway=None, ways=("on-link",)), link(medium=Medium.PPP)),
        (lease(origin="ppp", gateway=None, ways=()), link(medium=Medium.PPP)),
        # Two leases told for one address, as by two address families.
        (with_id(v6(state="preferred")[0], "lease-v6"),),
        # The resolver comes by router advertisement (RFC 8106).
        (lease(leased_dns=()), with_id(v6(dns=("2001:db8::53",))[0], "lease-v6")),
        # One preferred address beside a deprecated one is how privacy addresses age (RFC 8981).
        (
            with_id(v6(state="deprecated")[0], "lease-old"),
            with_id(v6(state="preferred")[0], "lease-new"),
        ),
        # A self-made address beside a leased one hurts nobody (RFC 3927 §1.9).
        (with_id(lease(**SELF_MADE), "lease-made"),),
    ],
)
def test_sound_addresses_have_none_of_these(sound):
    assert found(*sound) == {}


def test_a_made_up_address_explains_the_missing_lease():
    whole = judge(visit(lease(**SELF_MADE))).diagnosis
    assert [f.code for f in whole.findings] == ["self-assigned"]
    direct = judge(visit(lease(**SELF_MADE)), **DIRECT).diagnosis.findings[0]
    assert (direct.segment.value, direct.next_step) == ("modem", "restart-modem-alone")


@pytest.mark.parametrize(
    ("probe", "code"),
    [
        (LeaseProbe(sent=2, listened_s=6.0), "self-assigned"),
        (LeaseProbe(sent=1, listened_s=6.0, offers=(OFFER,)), "lease-not-taken"),
        (
            LeaseProbe(
                sent=1,
                listened_s=6.0,
                naks=(REFUSAL,),
            ),
            "lease-refused",
        ),
    ],
)
def test_a_server_that_was_heard_says_more_than_the_made_up_address(probe, code):
    codes = [f.code for f in judge(visit(lease(**SELF_MADE, probe=probe))).diagnosis.findings]
    assert (codes[0], "self-assigned" in codes) == (code, code == "self-assigned")


def test_a_port_without_signal_is_the_nearer_cause():
    assert "self-assigned" not in found(link(up=False), lease(**SELF_MADE))


def test_who_failed_to_renew():
    """A server that offers would have renewed the lease: then the laptop never asked."""
    heard = LeaseProbe(sent=1, listened_s=6.0, offers=(OFFER,))
    silent = LeaseProbe(sent=2, listened_s=6.0)
    asked = found(lease(**OVER, probe=heard))["lease-expired"]
    assert (asked.segment.value, asked.next_step) == ("laptop", "ask-for-address-again")
    assert found(lease(**OVER, probe=silent))["lease-expired"].segment.value == "home"
    codes = {f.code for f in judge(visit(lease(**OVER, probe=silent))).diagnosis.findings}
    assert "lease-server-silent" not in codes


def tagged(tag):
    rules = settings()
    return rules.model_copy(update={"line": rules.line.model_copy(update={"vlan_id": tag})})


NO_ADDRESS = lease(origin="none", address=None, gateway=None, dns=())


@pytest.mark.parametrize(
    ("changes", "rules", "stated", "missing"),
    [
        ((NO_ADDRESS,), tagged(7), DIRECT, True),
        ((NO_ADDRESS, link(vlan_id=8)), tagged(7), DIRECT, True),
        ((NO_ADDRESS, link(vlan_id=7)), tagged(7), DIRECT, False),
        ((NO_ADDRESS,), tagged(None), DIRECT, False),
        ((NO_ADDRESS,), tagged(7), {}, False),
        ((), tagged(7), DIRECT, False),
        ((NO_ADDRESS,), tagged(7), {**DIRECT, "handover": Handover.PPPOE}, True),
    ],
)
def test_a_tag_that_is_needed_and_absent(changes, rules, stated, missing):
    findings = judge(visit(*changes), rules=rules, **stated).diagnosis.findings
    codes = [f.code for f in findings]
    assert ("tag-missing" in codes) is missing
    assert not missing or codes == ["tag-missing"]


def test_on_a_tagged_line_a_dead_server_is_still_a_missing_lease():
    rules, port = tagged(7), link(vlan_id=7, parent="lan0", parent_kind="vlan")
    codes = [
        f.code for f in judge(visit(port, NO_ADDRESS), rules=rules, **DIRECT).diagnosis.findings
    ]
    assert codes == ["no-lease"]


def test_a_lease_that_names_no_router_is_the_routers_doing():
    nameless = lease(ways=(), gateway=None, leased_routers=(), server_id=GATEWAY)
    codes = {f.code for f in judge(visit(nameless)).diagnosis.findings}
    assert ("no-default-way" in codes, "offer-without-router" in codes) == (False, True)


def test_a_resolver_that_answers_is_set_whatever_the_lease_says():
    assert found(lease(dns=()), dns(), page("one")) == {}


WAYS = st.none() | st.lists(st.sampled_from([GATEWAY, "192.0.2.9", "on-link"]), max_size=3).map(
    tuple
)
NAMED = st.none() | st.lists(st.sampled_from([GATEWAY, "203.0.113.53"]), max_size=2).map(tuple)


HELD = st.fixed_dictionaries(
    {
        "origin": st.sampled_from(
            ["dhcp", "static", "self-assigned", "ppp", "kernel", "none", "unknown"]
        ),
        "address": st.sampled_from(["192.0.2.20", "169.254.3.4", "10.0.0.9", None]),
        "state": st.sampled_from(
            [None, "preferred", "deprecated", "duplicate", "tentative", "expired"]
        ),
        "ways": WAYS,
        "leased_routers": NAMED,
        "leased_dns": NAMED,
        "expired_s": st.none() | st.floats(0, 1e9),
    }
)


@given(HELD, st.sampled_from([{}, DIRECT]))
def test_whatever_is_held_is_judged_and_put_in_words(held, stated):
    address, origin, state = held["address"], held["origin"], held["state"]
    facts = lease(**held)
    findings = found(facts, **stated)
    for code, finding in findings.items():
        text = finding_sentence(code, finding.values)
        assert 0 < len(text) <= SENTENCE
        assert "{" not in text
    usable = address in ("192.0.2.20", "10.0.0.9") and origin not in ("none", "self-assigned")
    usable = usable and state not in ("duplicate", "tentative")
    assert not (usable and "self-assigned" in findings)
    assert usable or not {"no-default-way", "two-ways", "no-resolver"} & set(findings)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.code)
def test_every_rule_has_its_words(rule):
    assert rule.code in FINDING
    do, _ = step_texts(rule.next_step)
    assert "the code" not in do


def test_the_longest_addresses_fit_the_sentence():
    long = "2001:db8:1111:2222:3333:4444:5555:6666"
    values = dict.fromkeys(["address", "other", "gateway", "resolver", "port"], long)
    for code in FINDING:
        assert finding_sentence(code, {**values, "expired_s": 86_400.0, "tag": 4094}).endswith(".")
