"""Filling the line over scripted means: timed from beside, once more where it is below."""

import dataclasses
import json
from collections import Counter
from types import SimpleNamespace
from urllib.parse import parse_qs, urlsplit

import pytest
from test_visit import NoNames, computer, request

from agent.clock import ManualClock
from agent.codec.card import (
    Card,
    Endpoints,
    Limits,
    Load,
    ReflectorGrant,
    ReflectorReport,
    Refusal,
    Seen,
)
from agent.errors import ProberFailed, Refused, RightMissing, ServerBusy
from agent.measurements import (
    EchoOutcome,
    EchoSeries,
    Kind,
    Measurement,
    Role,
    State,
)
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.ports.stream import ScriptedFlow, ScriptedStreams
from agent.session.assemble import assemble
from agent.session.beside import Beside, _told, sparing
from agent.session.running import VisitRunning
from agent.session.visit import observe
from agent.settings.model import EchoPlan, ThroughputPlan
from agent.stats.delay import delay_statistics

DOWN, UP = 110_000_000, 22_000_000
GRANT = ReflectorGrant(
    port=862, ssid=77, session="0123456789abcdef", seconds=600, packets_per_s=1000, max_packets=9999
)
CARD = Card(
    server_id="tern-bay-1",
    software="doorstep",
    endpoints=Endpoints(download="/download", upload="/upload", reflector="/reflector"),
    limits=Limits(seconds=60, bytes=10**9, upload_bytes=10**9, flows=32, clients=50),
    load=Load(transfers=0, clients=1),
    seen=Seen(address="192.0.2.20", port=40_000),
    reflector_port=862,
    token_required=False,
    time="2026-03-02T09:00:00.000+00:00",
)


class Series:
    """A series under way, which sent a probe every tenth of a second of the whole visit."""

    def __init__(self, order):
        self.order = order
        self.ended = False

    def end(self):
        self.ended = True

    def results(self):
        assert self.ended
        return tuple(self.measured(one) for one in self.order.series), 1_000

    def measured(self, one):
        sent_s = tuple(n / 10 for n in range(1_200))
        series = EchoSeries(
            waiting_s=1.0,
            interval_s=0.1,
            payload_bytes=44,
            sent_s=sent_s,
            rtt_ms=(30.0,) * len(sent_s),
            outcome=(EchoOutcome.ANSWERED,) * len(sent_s),
            load=self.order.load,
            foreign=() if one.role is Role.SERVER else None,
        )
        return Measurement(
            kind=Kind.DELAY,
            role=one.role,
            state=State.COMPLETE,
            method=one.method,
            started_s=0.0,
            duration_s=120.0,
            observed=series,
        )


class Prober:
    """A prober that remembers its orders."""

    def __init__(self):
        self.begun = []
        self.closed = False

    def begin(self, order):
        self.begun.append(Series(order))
        return self.begun[-1]

    def close(self):
        self.closed = True


class Workshop:
    """A server that answers, a line of fixed rates, no sockets for the idle series."""

    frames = None
    frames_reason = "right-missing"

    def __init__(self, clock, *, rates=(DOWN, UP), busy=(), prober=None, card_busy=()):
        self.clock = clock
        self.facts = computer()
        self.rates = dict(zip(("down", "up"), rates, strict=True))
        self.busy = list(busy)
        self.card_busy = list(card_busy)
        self.the_prober = Prober() if prober is None else prober
        self.asked = []

    def names(self, binding, resolvers):
        return NoNames()

    def http(self, binding, names):
        return ScriptedHttp(self.answer)

    def answer(self, asked):
        self.asked.append(asked.url)
        place = urlsplit(asked.url).path
        if place == "/card" and self.card_busy:
            refusal = Refusal(code="busy", wait_s=self.card_busy.pop(0)).to_document()
            return HttpExchange(url=asked.url, status=503, body=json.dumps(refusal).encode())
        told = {"/card": CARD, "/reflector": GRANT if asked.method == "POST" else REPORT}.get(place)
        if told is None:
            return HttpExchange(url=asked.url, fault=Refused(address=asked.url))
        return HttpExchange(url=asked.url, status=200, body=json.dumps(told.to_document()).encode())

    def streams(self, binding, names):
        return ScriptedStreams(self.clock, self.flow)

    def flow(self, number, order):
        rate = self.rates[order.direction.value]
        wait_s = self.busy.pop(0) if self.busy else None
        fault = None if wait_s is None else ServerBusy(address="203.0.113.9", wait_s=wait_s)
        return ScriptedFlow(
            self.clock, lambda since_s: int(rate / 8 * since_s), order, opening_fault=fault
        )

    def probe_socket(self, method, binding, address, port):
        raise RightMissing(right="cap_net_raw", purpose=method)

    def wait_together(self, sockets, timeout_s):
        raise AssertionError("no socket is open")

    def prober(self):
        if isinstance(self.the_prober, Exception):
            raise self.the_prober
        return self.the_prober


REPORT = ReflectorReport(received=0, reflected=0, refused=0, runs=())


def visited(*, running=None, **changes):
    """Run a visit; return the workshop, the outcome, the record and what the watcher was told."""
    clock, told = ManualClock(), []
    about = {
        name: changes.pop(name)
        for name in ("rates", "busy", "prober", "card_busy")
        if name in changes
    }
    shop = Workshop(clock, **about)
    fixed = ThroughputPlan(mode="fixed", seconds=2.0, flows=1)
    update = {"throughput": fixed} | changes.pop("plan_changes", {})
    plan = request().plan.model_copy(update=update)
    asked = request(**({"plan": plan, "nothing_else_on": True} | changes))
    outcome = observe(asked, shop, clock, running or VisitRunning(), told.append)
    record = assemble(asked, outcome, clock.wall(), clock.wall())
    return shop, outcome, record, told


def transfers(outcome):
    """Return the transfers in order of time."""
    return [m for m in outcome.measurements if m.kind is Kind.THROUGHPUT]


def loaded(outcome):
    """Return the delay series under load."""
    series = [m for m in outcome.measurements if m.kind is Kind.DELAY]
    return [m for m in series if m.observed is not None and m.observed.load != "none"]


def test_a_healthy_line_is_filled_once_each_way_and_timed_meanwhile():
    shop, outcome, _, _ = visited()
    moved = transfers(outcome)
    assert [(m.direction, m.state) for m in moved] == [
        ("down", State.COMPLETE),
        ("up", State.COMPLETE),
    ]
    found = Counter((m.role.value, m.observed.load) for m in loaded(outcome))
    assert found == {(role, load): 1 for role in ("server", "gateway") for load in ("down", "up")}
    for transfer in moved:
        ends_s = transfer.observed.began_s + transfer.observed.slice_end_s[-1]
        for series in loaded(outcome):
            if series.observed.load == transfer.direction:
                assert series.observed.sent_s
                assert transfer.observed.began_s <= min(series.observed.sent_s)
                assert max(series.observed.sent_s) < ends_s
    assert shop.the_prober.closed


def test_the_prober_is_told_whom_to_probe_and_what_to_fetch():
    shop, _, _, _ = visited(token="secret")
    order = shop.the_prober.begun[0].order
    stamp, gateway = order.series
    assert (stamp.role, stamp.method, stamp.port, stamp.ssid) == (Role.SERVER, "stamp", 862, 77)
    assert (gateway.role, gateway.method, gateway.address) == (
        Role.GATEWAY,
        "icmp-echo",
        "192.0.2.1",
    )
    assert order.binding.interface == "eth0"
    assert order.fetch.token == "secret"
    assert parse_qs(urlsplit(order.fetch.url).query) == {"rate": ["100000000"]}


@pytest.mark.parametrize(
    ("gateway", "modem", "hop", "roles"),
    [
        (
            "192.0.2.1",
            "192.168.100.1",
            "203.0.113.1",
            (Role.SERVER, Role.GATEWAY, Role.MODEM, Role.FIRST_HOP),
        ),
        ("192.0.2.1", None, "203.0.113.1", (Role.SERVER, Role.GATEWAY, Role.FIRST_HOP)),
        ("192.0.2.1", None, None, (Role.SERVER, Role.GATEWAY)),
        ("fe80::1", None, "2001:db8::1", (Role.SERVER,)),
    ],
)
def test_what_stands_before_the_server_is_timed_under_load_too(gateway, modem, hop, roles):
    line = SimpleNamespace(modem_address=modem)
    settings = SimpleNamespace(line=line)
    site = SimpleNamespace(
        ground=SimpleNamespace(gateway=gateway), request=SimpleNamespace(settings=settings)
    )
    server = SimpleNamespace(address="198.51.100.10")
    found = Beside(site, server, ProberFailed(problem="none"), hop)._series(GRANT)
    assert tuple(one.role for one in found) == roles
    near = [a for a in (gateway, modem, hop) if a and ":" not in a]
    assert [one.address for one in found[1:]] == near


def test_every_transfer_has_conditions_of_its_own_and_the_card_is_read_again():
    shop, outcome, record, _ = visited()
    assert [c.phase.value for c in outcome.conditions] == ["before", "during", "during", "after"]
    assert record.server.card_after["server_id"] == "tern-bay-1"
    assert sum(urlsplit(url).path == "/card" for url in shop.asked) == 2


def test_a_busy_server_is_waited_for_and_the_wait_is_shown():
    shop, outcome, _, told = visited(busy=[7.0])
    assert [(m.direction, m.state) for m in transfers(outcome)] == [
        ("down", State.COMPLETE),
        ("up", State.COMPLETE),
    ]
    waits = [progress.waiting_s for progress in told if progress.waiting_s is not None]
    assert waits[0] == pytest.approx(7.0)
    assert waits == sorted(waits, reverse=True)
    # The series beside the refused transfer ended with it.
    assert [one.order.load for one in shop.the_prober.begun] == ["down", "down", "up"]
    assert len(loaded(outcome)) == 4


@pytest.mark.parametrize(
    ("busy", "states"),
    [
        pytest.param([130.0, 130.0], (State.FAILED, State.FAILED), id="longer than a visit waits"),
        pytest.param([70.0, 70.0], (State.FAILED, State.COMPLETE), id="again after one wait"),
    ],
)
def test_a_server_that_stays_busy_is_the_reason(busy, states):
    _, outcome, record, _ = visited(busy=busy)
    moved = transfers(outcome)
    assert tuple(m.state for m in moved) == states
    assert moved[0].reason.code == "server-busy"
    assert moved[0].reason.values["wait_s"] == busy[-1]
    waited_s = 0.0 if states[1] is State.FAILED else busy[0]
    assert moved[0].reason.values["waited_s"] == pytest.approx(waited_s)
    assert record.server.waited_s == pytest.approx(waited_s)
    assert {m.observed.load for m in loaded(outcome)} == (
        set() if states[1] is State.FAILED else {"up"}
    )


@pytest.mark.parametrize("busy", [[38.0], [20.0, 18.0, 38.0], [60.0, 60.0]])
def test_waits_within_the_patience_cost_no_measurement_and_are_in_the_record(busy):
    _, outcome, record, _ = visited(busy=busy)
    assert {m.state for m in transfers(outcome)} == {State.COMPLETE}
    assert record.server.waited_s == pytest.approx(sum(busy))


def settings_with(**server):
    """Return the settings of a visit with changes to its server's."""
    settings = request().settings
    return settings.model_copy(update={"server": settings.server.model_copy(update=server)})


def test_a_visit_without_patience_does_not_wait():
    _, outcome, record, _ = visited(busy=[1.0], settings=settings_with(patience_s=0.0))
    assert [m.state for m in transfers(outcome)] == [State.FAILED, State.COMPLETE]
    assert record.server.waited_s == 0.0


def test_a_card_that_stays_busy_says_how_long_the_visit_waited():
    alone = settings_with(download=None, upload=None)
    _, outcome, record, _ = visited(card_busy=[100, 30], settings=alone)
    told = [m.reason for m in transfers(outcome)]
    assert {(r.code, r.values["wait_s"]) for r in told} == {("server-busy", 30)}
    assert [r.values["waited_s"] for r in told] == pytest.approx([100.0, 100.0])
    assert record.server.waited_s == pytest.approx(100.0)


def test_a_busy_card_is_waited_for_too():
    _, outcome, _, told = visited(card_busy=[3])
    assert any(progress.waiting_s for progress in told)
    assert outcome.server.id == "tern-bay-1"


def test_a_direction_below_its_tier_is_measured_once_more():
    shop, outcome, record, _ = visited(rates=(DOWN / 2, UP))
    assert [m.direction for m in transfers(outcome)] == ["down", "up", "down"]
    (found,) = (c for c in record.assessment.criteria if c.name == "throughput-down")
    assert len(found.measurements) == 2
    # The line is timed beside each of the three, the repetition included.
    assert [one.order.load for one in shop.the_prober.begun] == ["down", "up", "down"]
    assert all(one.ended for one in shop.the_prober.begun)
    for transfer in transfers(outcome):
        began_s = transfer.observed.began_s
        beside = [m for m in loaded(outcome) if m.started_s == began_s]
        assert {m.role for m in beside} == {Role.SERVER, Role.GATEWAY}
        assert {m.observed.load for m in beside} == {transfer.direction}
    assert len(loaded(outcome)) == 6


@pytest.mark.parametrize(
    "changes",
    [
        pytest.param({"tier": None}, id="nothing to hold it against"),
        pytest.param({"nothing_else_on": None}, id="others may be on"),
    ],
)
def test_a_second_measurement_that_would_settle_nothing_is_not_made(changes):
    _, outcome, _, _ = visited(rates=(DOWN / 2, UP / 2), **changes)
    assert [m.direction for m in transfers(outcome)] == ["down", "up"]


@pytest.mark.parametrize(
    ("cap_bytes", "directions"),
    [
        pytest.param(60_000_000, ["down", "up", "down", "up"], id="enough for all"),
        pytest.param(25_000_000, ["down", "up", "up"], id="not for the larger once more"),
        pytest.param(3_000_000, ["down", "up"], id="for one of each"),
    ],
)
def test_a_second_measurement_keeps_within_the_data_cap(cap_bytes, directions):
    """Two seconds at half the rates take 13.75 MB down and 2.75 MB up."""
    _, outcome, _, _ = visited(rates=(DOWN / 2, UP / 2), max_bytes=cap_bytes)
    assert [m.direction for m in transfers(outcome)] == directions
    assert outcome.bytes_used <= cap_bytes * 1.2


def test_without_a_prober_the_transfers_stand_and_the_reason_is_kept():
    _, outcome, _, _ = visited(prober=ProberFailed(problem="no process left"))
    assert [m.state for m in transfers(outcome)] == [State.COMPLETE, State.COMPLETE]
    reasons = [m.reason.code for m in outcome.measurements if m.kind is Kind.DELAY and m.reason]
    assert reasons.count("prober-failed") == 2


def test_a_stop_during_the_first_transfer_leaves_the_second_out():
    running = VisitRunning()

    class Stopping(Prober):
        def begin(self, order):
            running.stop()
            return super().begin(order)

    shop, outcome, _, _ = visited(running=running, prober=Stopping())
    down, up = transfers(outcome)
    assert down.reason.code == "stopped"
    assert (up.state, up.reason.code) == (State.SKIPPED, "interrupted")
    assert shop.the_prober.closed


@pytest.mark.parametrize(
    ("rate_bps", "interval_s"),
    [(None, 0.02), (100_000_000, 0.02), (10_000_000, 0.05504), (500_000, 0.1)],
)
def test_probes_are_sparse_on_a_slow_line(rate_bps, interval_s):
    """Two series over the line, each of 86 octets of frame (44 + 8 + 20 + 14), take 2.5 in 1000."""
    plan = sparing(EchoPlan(interval_s=0.02, authenticated=False), rate_bps)
    assert plan.interval_s == pytest.approx(interval_s)


def test_probes_under_a_key_are_longer_and_so_sparser():
    """Twice 154 octets of frame (112 + 8 + 20 + 14), 2.5 in 1000 of 10 Mbit/s (RFC 8762 §4.2.2)."""
    plan = sparing(EchoPlan(interval_s=0.02), 10_000_000)
    assert plan.interval_s == pytest.approx(0.09856)


class Numbered(Series):
    """A series whose second and fourth answer did not come, and whose counts tell nothing."""

    def measured(self, one):
        found = super().measured(one)
        lost = {1, 3}
        outcome = tuple(
            EchoOutcome.LOST if n in lost else EchoOutcome.ANSWERED for n in range(1_200)
        )
        rtt_ms = tuple(None if n in lost else 30.0 for n in range(1_200))
        seen = dataclasses.replace(found.observed, outcome=outcome, rtt_ms=rtt_ms)
        return dataclasses.replace(found, observed=seen)


LOGGED = ReflectorReport(received=1_199, reflected=1_199, refused=0, runs=((0, 1), (2, 1_198)))


def told_of(report):
    """Return what a loaded series to the server becomes after a reflector's report."""
    told = _told(Numbered(ORDER).measured(ORDER.series[0]), report)
    near = Numbered(ORDER).measured(ORDER.series[1])
    assert _told(near, report) == near
    return told


ORDER = SimpleNamespace(
    load="down",
    series=(
        SimpleNamespace(role=Role.SERVER, method="stamp"),
        SimpleNamespace(role=Role.GATEWAY, method="icmp-echo"),
    ),
)


def test_the_log_of_the_reflector_gives_losses_under_load_their_direction():
    seen = told_of(LOGGED).observed
    assert seen.far_received[:5] == (True, False, True, True, True)
    assert (seen.far_arrivals, seen.far_copies[:3]) == (1_199, (1, 0, 1))
    assert seen.far_order[:3] == (0, 2, 3)


def test_without_a_log_a_loaded_series_stands_as_it_is():
    assert told_of(None).observed.far_received is None


def test_what_the_reflector_refused_under_load_is_no_loss_of_the_line():
    told = told_of(dataclasses.replace(LOGGED, reflected=1_190, refused=9))
    assert (told.state, told.reason.code) == (State.PARTIAL, "reflector-limited")
    assert told.observed.answers_limited


@pytest.mark.parametrize("name", ["elsewhere", "unverified"])
def test_what_came_otherwise_than_granted_is_no_loss_of_the_line(name):
    # An address translator with several addresses sends UDP and TCP from two of them.
    nothing = ReflectorReport(received=0, reflected=0, refused=0, runs=(), **{name: 800})
    told = told_of(nothing)
    assert (told.state, told.reason.code) == (State.PARTIAL, f"reflector-{name}")
    assert told.reason.values == {"packets": 800}
    assert delay_statistics(told.observed).loss_ratio is None


def test_probes_of_which_some_came_from_elsewhere_say_nothing_of_loss_on_the_way():
    told = told_of(dataclasses.replace(LOGGED, elsewhere=9))
    assert (told.state, told.reason.code) == (State.PARTIAL, "reflector-elsewhere")
    found = delay_statistics(told.observed)
    assert (found.loss_ratio, found.forward_loss_ratio) == (None, None)


def test_leave_is_asked_for_each_direction_and_its_log_read_after():
    shop, outcome, _, _ = visited()
    asked = [url for url in shop.asked if urlsplit(url).path == "/reflector"]
    queries = [parse_qs(urlsplit(url).query) for url in asked]
    # The idle series asks for a key, the loaded ones by default for none.
    assert queries.count({"mode": ["authenticated"]}) == 1
    assert queries.count({}) == 2
    assert queries.count({"session": [GRANT.session]}) == 2
    assert all(m.state is State.COMPLETE for m in loaded(outcome))


def test_a_plan_may_ask_for_a_key_under_load_too():
    shop, _, _, _ = visited(plan_changes={"loaded_echo": EchoPlan(count=50)})
    asked = [parse_qs(urlsplit(url).query) for url in shop.asked if "/reflector?mode" in url]
    assert asked == [{"mode": ["authenticated"]}] * 3
