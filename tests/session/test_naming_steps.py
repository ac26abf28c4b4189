"""The steps that question resolvers: what each is asked for, and whose address it has."""

from types import SimpleNamespace

import pytest

from agent.clock import ManualClock, Timeline
from agent.measurements import Kind, NameOutcome, NameTransport, Role
from agent.ports.binding import Binding
from agent.ports.names import NameAnswer
from agent.ports.running import Unattended
from agent.session.naming_steps import PinnedNames, dns_step, encrypted_step
from agent.settings.choose import pick_plan
from agent.settings.loader import load
from agent.settings.model import EncryptedResolver, NameTests, Targets

SETTINGS = load(None, {}, {}).settings
ANSWER = NameAnswer(outcome=NameOutcome.ANSWERED, rcode=0, rtt_ms=5.0)
RESOLVERS = ("192.0.2.53", "2001:db8::53")
ENCRYPTED = EncryptedResolver(name="ours", host="dns.ternbay.example", address="192.0.2.53")


class Names:
    """A names port that answers everything and remembers it."""

    def __init__(self):
        self.asked = []
        self.looked_up = []

    def ask(self, question, within_s):
        self.asked.append(question)
        return ANSWER

    def query(self, resolver, name, qtype, within_s):
        self.asked.append((resolver, name, qtype))
        return ANSWER

    def resolve(self, name, family, within_s):
        self.looked_up.append((name, family))
        return ("198.51.100.1",)


def site(encrypted=None):
    """Return what steps work with, and the port that `encrypted_names` was given."""
    given = {}

    def encrypted_names(binding, names, port, path):
        given.update(names=names, port=port, path=path)
        return encrypted

    targets = Targets(names=("www.tern.example",), name_tests=NameTests(same=("a.tern.example",)))
    request = SimpleNamespace(
        plan=pick_plan(SETTINGS, "standard"),
        settings=SETTINGS.model_copy(update={"targets": targets}),
    )
    return SimpleNamespace(
        request=request,
        workshop=SimpleNamespace(encrypted_names=encrypted_names),
        ground=SimpleNamespace(resolvers=RESOLVERS, binding=Binding()),
        names=Names(),
        timeline=Timeline.begin(ManualClock()),
        running=Unattended(),
    ), given


@pytest.mark.parametrize(("resolver", "place"), [(RESOLVERS[0], 0), (RESOLVERS[1], 1)])
def test_each_resolver_of_the_line_is_asked_apart_with_its_place(resolver, place):
    here, _ = site()
    step = dns_step(here, resolver)
    (measured,) = step.probe()
    assert (step.kind, step.role, measured.method) == (Kind.DNS, Role.RESOLVER, "dns-udp")
    assert (measured.observed.place, measured.address) == (place, resolver)
    assert {q.resolver for q in here.names.asked} == {resolver}
    assert "a.tern.example" in {q.name for q in here.names.asked}
    # Three seconds for a healthy line are all that a visit has for names.
    assert step.expected_s < 3


def test_a_resolver_whose_address_is_given_is_not_looked_up():
    port = Names()
    here, given = site(port)
    (measured,) = encrypted_step(here, ENCRYPTED).probe()
    assert given["names"].resolve("dns.ternbay.example", 4, 1.0) == ("192.0.2.53",)
    assert here.names.looked_up == []
    assert {q.transport for q in port.asked} == {NameTransport.TLS}
    assert (measured.method, measured.observed.transport) == ("dns-tls", "tls")


def test_one_without_an_address_is_looked_up_over_the_line():
    here, given = site(Names())
    nameless = ENCRYPTED.model_copy(update={"address": None, "port": 8853, "path": "/q"})
    encrypted_step(here, nameless).probe()
    assert given == {"names": here.names, "port": 8853, "path": "/q"}


def test_pinned_names_leave_the_others_alone():
    names = Names()
    pinned = PinnedNames(names, "dns.ternbay.example", "192.0.2.53")
    assert pinned.resolve("www.tern.example", 6, 1.0) == ("198.51.100.1",)
    assert names.looked_up == [("www.tern.example", 6)]
    assert pinned.query("192.0.2.53", "www.tern.example", "A", 1.0) == ANSWER
