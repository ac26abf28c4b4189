"""Statistics of each kind of measurement: frozen values that the stats room computes.

Every figure is None where it is undefined or where too few attempts were made to know it.
Intervals are two-sided, at the confidence of the field `confidence` where there is one.
"""

from __future__ import annotations

from dataclasses import dataclass

from agent.measurements.advertised import AdvertisedStatistics
from agent.measurements.delay_figures import LossBounds, Reordering, Variation, VoiceEstimate
from agent.measurements.families import FamilyStatistics
from agent.measurements.path import HopInterface, HopLabel
from agent.measurements.reach import ReachStatistics


@dataclass(frozen=True, slots=True, kw_only=True)
class RoundTrip:
    """Order statistics of round-trip delay in milliseconds over `count` answers."""

    count: int
    min: float | None = None
    median: float | None = None
    mean: float | None = None
    p95: float | None = None
    p99: float | None = None
    max: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Responsiveness:
    """Round trips per minute while the line was filled, with the parts of the figure.

    `tcp_ms`, `tls_ms` and `http_ms` are of `foreign_count` whole fetches (of `foreign_sent`) on
    connections of their own; `loaded_ms` is of `loaded_count` answered probes of the series. Each
    is the mean without the largest twentieth; `tls_ms` is None without TLS.
    """

    rpm: float | None
    foreign_rpm: float | None
    loaded_rpm: float | None
    tcp_ms: float | None
    tls_ms: float | None
    http_ms: float | None
    loaded_ms: float | None
    foreign_sent: int
    foreign_count: int
    loaded_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DelayStatistics:
    """Of a delay series: loss with its interval, round trips, delay variation (RFC 5481).

    `rise_ms` is what the load of this series added to the delay of the idle one: 95th percentile
    loaded less median idle. `loss_low` and `loss_high` allow for losses in runs as soon as one was
    seen (`loss_bounds` and its like hold each model's own). `bursts` are the lengths of runs of
    losses, `gaps` of runs of answers between losses, in sending order. `variation` is of round
    trips, the others of each way by stamps whose clocks need not agree. `reordering` is of answers
    as they came back, `far_reordering` of probes as they came there, `backward_reordering` of the
    way back alone. `duplication_ratio` is copies
    beyond the first, `replicated_ratio` packets with any, of those that came (RFC 5560 §5).
    """

    sent: int
    received: int
    late: int
    duplicates: int
    reordered: int
    loss_ratio: float | None
    loss_low: float | None
    loss_high: float | None
    rtt_ms: RoundTrip
    median_low_ms: float | None = None
    median_high_ms: float | None = None
    p95_low_ms: float | None = None
    p95_high_ms: float | None = None
    pdv_ms: float | None = None
    bursts: tuple[int, ...] = ()
    forward_loss_ratio: float | None = None
    forward_low: float | None = None
    forward_high: float | None = None
    backward_loss_ratio: float | None = None
    backward_low: float | None = None
    backward_high: float | None = None
    backward_sent: int | None = None
    rise_ms: float | None = None
    responsiveness: Responsiveness | None = None
    load: str = "none"
    confidence: float = 0.95
    loss_bounds: LossBounds | None = None
    forward_bounds: LossBounds | None = None
    backward_bounds: LossBounds | None = None
    gaps: tuple[int, ...] = ()
    variation: Variation | None = None
    forward_variation: Variation | None = None
    backward_variation: Variation | None = None
    reordering: Reordering | None = None
    far_reordering: Reordering | None = None
    backward_reordering: Reordering | None = None
    duplication_ratio: float | None = None
    replicated_ratio: float | None = None
    far_duplication_ratio: float | None = None
    far_replicated_ratio: float | None = None
    voice: VoiceEstimate | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Hop:
    """One distance of a path: who answered and how often; silent hops have no addresses.

    `by_flow` holds the addresses of each flow. `answering` is "all", "silent", "limited" (a later
    hop answers significantly more often, so the silence is this hop's own), "lossy" (from here on
    every hop answers significantly less often than those before), or "some": too little to tell.
    `labels` is the MPLS stack of the first answer that had one.
    """

    distance: int
    sent: int
    answered: int
    addresses: tuple[str, ...] = ()
    names: tuple[str, ...] = ()
    rtt_ms: RoundTrip
    by_flow: tuple[tuple[str, ...], ...] = ()
    answering: str | None = None
    labels: tuple[HopLabel, ...] = ()
    interfaces: tuple[HopInterface, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """Two addresses that one flow met at `distance` and at the next."""

    flow: int
    distance: int
    near: str
    far: str


@dataclass(frozen=True, slots=True, kw_only=True)
class MtuStatistics:
    """Of a path MTU search: the largest whole packet that passes, bytes of IP.

    `up_bytes` is the largest that reached the far end and `down_bytes` the largest that came back;
    answers are never longer than what they answer, so nothing larger than `up_bytes` was tried
    downwards. `up_below_bytes` is the smallest size found not to pass upwards, `down_below_bytes`
    the smallest whose answers do not come; None where every size tried passed. `up_limit` says how
    the limit shows: "none" (all passed), "port" (this laptop's own port), "named" (a router says
    so) or "silent" (larger packets vanish). `limited_by` is that router, `named_bytes` its word.
    `vanish_after` is the last router known to be passed by a packet that then vanishes,
    `vanish_before` the next one that the walk knows. `tcp_mss_bytes` is the segment size that the
    far end's SYN announced as it arrived here, None where this system's own memory of the path
    hides it; `tcp_held_down` whether that keeps TCP's packets within the path MTU.
    """

    path_mtu_bytes: int | None = None
    largest_tried_bytes: int | None = None
    up_bytes: int | None = None
    up_below_bytes: int | None = None
    up_limit: str | None = None
    down_bytes: int | None = None
    down_below_bytes: int | None = None
    limited_by: str | None = None
    named_bytes: int | None = None
    vanish_after: str | None = None
    vanish_before: str | None = None
    tcp_mss_bytes: int | None = None
    tcp_held_down: bool | None = None
    duration_s: float | None = None
    packets: int = 0
    not_measured: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PathStatistics:
    """Of a hop walk: hops up to the target or the last that answered.

    `stop_code` says why a walk that did not arrive ends at `stopped_at`. `parallel_at` are the
    distances at which several addresses answered. `unplaced` are addresses that answered at a
    distance unknown.
    """

    hops: tuple[Hop, ...]
    reached: bool
    stopped_at: int | None = None
    stop_code: str | None = None
    path_mtu_bytes: int | None = None
    flows: int = 1
    links: tuple[Link, ...] = ()
    parallel_at: tuple[int, ...] = ()
    unplaced: tuple[str, ...] = ()
    mtu: MtuStatistics | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PathChange:
    """How a later walk to the same target compares with an earlier one.

    `kind` is "same", "changed", "member" (another of several parallel ways) or "open" (nothing to
    compare); `distance` is the first at which they differ.
    """

    kind: str
    distance: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class DnsStatistics:
    """Of the queries to one resolver; `errors` pairs an outcome or rcode with its count.

    `place` is the resolver's in the laptop's list, from 0, and `setup_ms` the median time of a
    connection under the query. `private` pairs public names with the private addresses that came
    for them, `same` names that all resolvers should answer alike with what came.

    The rest is None where it was not asked or nothing can be said. `tcp`: an answer came over TCP.
    `extended`: one came to a query with an OPT record, and `extends` that it had one itself.
    `large`: more than 512 octets came over UDP where they were allowed, `large_tcp` over TCP;
    `cuts` that such an answer was marked as cut where they were not allowed. `signed`: a soundly
    signed name was validated (True), answered unchecked (False), or refused (`signed_refused`).
    `refuses_bogus`: a wrong signature was refused. `extended_errors` are codes with their texts.
    """

    sent: int
    answered: int
    median_ms: float | None = None
    median_low_ms: float | None = None
    median_high_ms: float | None = None
    p95_ms: float | None = None
    errors: tuple[tuple[str, int], ...] = ()
    rewrites_nxdomain: bool | None = None
    validates: bool | None = None
    min_ms: float | None = None
    transport: str = "udp"
    place: int | None = None
    setup_ms: float | None = None
    problem: str | None = None
    foreign: int = 0
    aaaa_sent: int | None = None
    aaaa_answered: int | None = None
    tcp: bool | None = None
    extended: bool | None = None
    extends: bool | None = None
    offered_bytes: int | None = None
    cuts: bool | None = None
    large: bool | None = None
    large_tcp: bool | None = None
    signed: bool | None = None
    signed_refused: bool | None = None
    refuses_bogus: bool | None = None
    private: tuple[tuple[str, str], ...] = ()
    same: tuple[tuple[str, tuple[str, ...]], ...] = ()
    extended_errors: tuple[tuple[int, str], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HttpStatistics:
    """Of one web target: medians of the phases over the attempts that got that far.

    `answered` counts whole answers that were the right page. `intercepted` says that somebody else
    answered, `portal` the host shown instead, `asks_sign_in` that its page wants a sign-in or a
    payment. `changed` says that the right page came with another body than it has. What a
    certificate has against it is of the last one shown.

    `clock_ahead_s` is the laptop's clock less the target's, known to `clock_unsure_s` either way.
    """

    sent: int
    answered: int
    lookup_ms: float | None = None
    connect_ms: float | None = None
    tls_ms: float | None = None
    first_byte_ms: float | None = None
    total_ms: float | None = None
    status: int | None = None
    certificate_valid: bool | None = None
    certificate_expires: str | None = None
    intercepted: bool | None = None
    transfer_ms: float | None = None
    redirect_ms: float | None = None
    host: str | None = None
    secure: bool | None = None
    problem: str | None = None
    certificate_fault: str | None = None
    certificate_begins: str | None = None
    certificate_issuer: str | None = None
    clock: str | None = None
    clock_ahead_s: float | None = None
    clock_unsure_s: float | None = None
    via: str | None = None
    portal: str | None = None
    asks_sign_in: bool | None = None
    changed: bool | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class WebAccessStatistics:
    """Of the way out to the web: the laptop's proxies, and what the network says of itself.

    `captive` is None where no captive portal API is known or none answered (`problem` says why);
    `portal` is the host of its page, `told_by` who named the API.
    """

    proxies: tuple[str, ...]
    captive: bool | None = None
    portal: str | None = None
    told_by: str | None = None
    problem: str | None = None
    seconds_remaining: int | None = None
    bytes_remaining: int | None = None
    total_ms: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ThroughputStatistics:
    """Of one direction: TCP payload per second after the ramp-up (RFC 6349), bit/s.

    `low_bps` and `high_bps` bound the mean rate; `ramp_s` is where the cut was made and
    `used_s` how much time the figure rests on.

    `ideal_bps` is the bottleneck as TCP payload that `ideal_source` names: "port", "tier" or
    "observed"; `transfer_time_ratio` is actual over ideal time of the octets counted. The round
    trips are idle (least) and loaded (mean of once a second), both from `rtt_source`: the delay
    series ("delay") or the kernel's view of the transfer ("tcp"); the buffer delay is the rise
    from one to the other, and `bdp_bits` and `window_needed_bytes` follow from idle and ideal.
    `congestion_control` is that of this computer: a download is sent by the server, with its own.
    The limited shares are of the time this computer was sending.
    """

    goodput_bps: float | None
    low_bps: float | None
    high_bps: float | None
    bytes: int
    flows: int
    counted_by: str
    ramp_s: float | None = None
    used_s: float | None = None
    batches: int | None = None
    single_flow_bps: float | None = None
    burst_bps: float | None = None
    retransmit_ratio: float | None = None
    tcp_efficiency_ratio: float | None = None
    buffer_delay_ratio: float | None = None
    congestion_control: str | None = None
    ideal_bps: float | None = None
    ideal_source: str | None = None
    transfer_time_ratio: float | None = None
    idle_rtt_ms: float | None = None
    loaded_rtt_ms: float | None = None
    rtt_source: str | None = None
    bdp_bits: float | None = None
    window_needed_bytes: float | None = None
    window_limited_ratio: float | None = None
    send_buffer_limited_ratio: float | None = None
    confidence: float = 0.95


@dataclass(frozen=True, slots=True, kw_only=True)
class LeaseStatistics:
    """Of a lease: the facts that are judged; `usable` is False for self-assigned or none.

    `timers_assumed` tells that T1 or T2 was not stated and is the standard's default. Those from
    `state` on are as in `LeaseFacts`, `advertised` what routers and servers say of IPv6,
    `concentrators` how many answered on a PPPoE handover.
    """

    family: int
    usable: bool
    origin: str
    address: str | None = None
    prefix: int | None = None
    gateway: str | None = None
    dns: tuple[str, ...] = ()
    server_id: str | None = None
    lease_s: int | None = None
    t1_s: int | None = None
    t2_s: int | None = None
    timers_assumed: bool = False
    obtained: str | None = None
    expires: str | None = None
    offers: int | None = None
    servers: tuple[str, ...] = ()
    first_offer_ms: float | None = None
    state: str | None = None
    expired_s: float | None = None
    ways: tuple[str, ...] | None = None
    leased_routers: tuple[str, ...] | None = None
    leased_dns: tuple[str, ...] | None = None
    beside: tuple[str, ...] = ()
    concentrators: int | None = None
    first_concentrator_ms: float | None = None
    advertised: AdvertisedStatistics | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkStatistics:
    """Of the port: the facts that bound every other figure; ceiling as TCP payload, bit/s."""

    up: bool
    medium: str
    speed_bps: int | None = None
    duplex: str | None = None
    mtu_bytes: int | None = None
    errors: int | None = None
    ceiling_bps: float | None = None
    parent: str | None = None
    parent_kind: str | None = None
    vlan_id: int | None = None


Statistics = (
    DelayStatistics
    | PathStatistics
    | DnsStatistics
    | HttpStatistics
    | WebAccessStatistics
    | FamilyStatistics
    | ReachStatistics
    | ThroughputStatistics
    | LeaseStatistics
    | LinkStatistics
)
