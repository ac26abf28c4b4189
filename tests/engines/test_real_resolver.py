"""A validating resolver of the trade (unbound) questioned whole: what it does is what is said.

Zones are signed by dnspython (RFC 4034); broken and lapsed signatures must give SERVFAIL (RFC 4035
§5.5) with a reason (RFC 8914 §4).
"""

import ssl
import time

import pytest
import trustme
from loopback_servers import LiteralNames
from real_resolvers import HOST, require_unbound, unbound

from agent.clock import SystemClock, Timeline
from agent.engines.http import HttpxEngine
from agent.engines.name_secure import EncryptedNames
from agent.engines.names import BoundNames
from agent.measurements import NameOutcome, NameTransport
from agent.ports.binding import Binding
from agent.ports.names import NameQuestion
from agent.ports.running import Unattended
from agent.probes.dns import Target, measure_dns
from agent.settings.model import DnsPlan, NameTests
from agent.stats.names import dns_statistics

pytestmark = [pytest.mark.loopback, pytest.mark.once]
HOME = Binding(ipv4="127.0.0.1")
PLAN = DnsPlan(queries=20, interval_s=0.01)
TESTS = NameTests(
    signed="www.ternbay.example",
    bogus="broken.ternbay.example",
    long="long.ternbay.example",
    same=("home.ternbay.example",),
)
AUTHORITY = trustme.CA()


@pytest.fixture(scope="module", params=[True, False], ids=["validating", "trusting"])
def resolver(request, tmp_path_factory):
    require_unbound()
    folder = tmp_path_factory.mktemp("resolver") / "home"
    with unbound(folder, AUTHORITY, validating=request.param) as ports:
        yield request.param, *ports


def question(port, tests):
    target = Target(resolver="127.0.0.1", test_names=("www.ternbay.example",), tests=tests)
    measured = measure_dns(
        BoundNames(HOME, (), port=port),
        target,
        PLAN,
        timeline=Timeline.begin(SystemClock()),
        within_s=10.0,
        running=Unattended(),
    )
    return dns_statistics(measured.observed)


def test_a_resolver_is_described_as_it_is(resolver):
    validating, port, _, _ = resolver
    found = question(port, TESTS)
    assert (found.sent, found.answered, found.aaaa_answered) == (20, 20, found.aaaa_sent)
    assert (found.tcp, found.extended, found.extends) == (True, True, True)
    assert (found.cuts, found.large, found.large_tcp) == (True, True, True)
    assert found.rewrites_nxdomain is False
    assert (found.signed, found.signed_refused) == (validating, False)
    assert found.refuses_bogus is validating
    assert {code for code, _ in found.extended_errors} == ({6} if validating else set())
    assert found.private == (("home.ternbay.example", "192.168.7.7"),)
    assert found.foreign == 0


def test_signatures_that_ran_out_are_refused_with_the_reason(resolver):
    validating, port, _, _ = resolver
    found = question(port, NameTests(signed="www.lapsed.example"))
    assert found.signed_refused is validating
    # Which of the reasons is told is the resolver's choice: 6 bogus, 7 expired, 9 key missing.
    codes = {code for code, _ in found.extended_errors}
    assert codes <= {6, 7, 9}
    assert bool(codes) is validating


@pytest.mark.parametrize("transport", [NameTransport.TLS, NameTransport.HTTPS])
def test_the_same_resolver_over_tls_and_https(resolver, transport):
    # RFC 7858, and RFC 8484 over HTTP/2, which is all that this server speaks.
    _, _, tls, https = resolver
    context = ssl.create_default_context()
    AUTHORITY.configure_trust(context)
    names = LiteralNames(**{HOST: "127.0.0.1"})
    http = HttpxEngine(HOME, names, context=context)
    port = tls if transport is NameTransport.TLS else https
    engine = EncryptedNames(HOME, names, http, port=port, context=context)
    asked = NameQuestion(resolver=HOST, name="www.ternbay.example", transport=transport)
    begun_s = time.monotonic()
    found = engine.ask(asked, 5.0)
    whole_ms = (time.monotonic() - begun_s) * 1000
    assert (found.outcome, found.addresses) == (NameOutcome.ANSWERED, ("203.0.113.80",))
    assert 0 < found.setup_ms + found.rtt_ms <= whole_ms
