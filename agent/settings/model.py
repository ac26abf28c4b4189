"""The settings as frozen values; every field says its unit, every default its reason.

Unknown keys are refused. The texts of a fault are the loader's; this module only states what is
allowed. Rates are bit/s at a named layer (`payload`, `ip`, `frame`, `docsis-frame`, `wire`).
"""

from __future__ import annotations

import re
from enum import StrEnum
from ipaddress import ip_address
from typing import Annotated, Literal

from pydantic import Field, model_validator

from agent.measurements import Kind
from agent.settings.frozen import Frozen
from agent.settings.identity import LanguageTag, OneLine, Paper, PictureFile
from agent.settings.usual import UsualSet


class Access(StrEnum):
    """The technology of the access line."""

    FIBRE = "fibre"
    CABLE = "cable"
    DSL = "dsl"
    WIRELESS = "wireless"
    UNKNOWN = "unknown"


class Layer(StrEnum):
    """Where octets are counted; bytes for a 1500-byte packet: 1460, 1500, 1514, 1518, 1538."""

    PAYLOAD = "payload"
    IP = "ip"
    FRAME = "frame"
    DOCSIS_FRAME = "docsis-frame"
    WIRE = "wire"


class Handover(StrEnum):
    """How the line gives an address."""

    DHCP = "dhcp"
    PPPOE = "pppoe"
    STATIC = "static"


class PluggedInto(StrEnum):
    """What the laptop's cable ends in."""

    ONT = "ont"
    MODEM = "modem"
    ROUTER = "router"
    MESH = "mesh"
    UNKNOWN = "unknown"


class Purpose(StrEnum):
    """Why the visit is made; selects the decision rule."""

    INSTALLATION = "installation"
    HELP_DESK = "help-desk"
    COMPLAINT = "complaint"


Ratio = Annotated[float, Field(gt=0, le=1)]
Rate = Annotated[int, Field(ge=10_000, le=100_000_000_000)]
Seconds = Annotated[float, Field(gt=0, le=3600)]


def is_address(text: str) -> bool:
    """Tell whether a text is an address of IPv4 or IPv6."""
    try:
        ip_address(text)
    except ValueError:
        return False
    return True


Name = Annotated[str, Field(min_length=1, max_length=80)]


class EchoPlan(Frozen):
    """One delay series: how many probes, how far apart, how long an answer is waited for.

    Answers that come later than that are noted until the end of the series and for `tail_s` more.
    `switch_when_silent` tries the next means where a far end does not answer the first one.
    `authenticated` asks the operator's server for a key that its packets and ours are under (RFC
    8762 §4.2.2); they then have 112 octets at least. Without one the series is as good, but could
    be forged on the way.
    """

    count: Annotated[int, Field(ge=1, le=100_000)] = 800
    interval_s: Annotated[float, Field(ge=0.002, le=10)] = 0.01
    waiting_s: Annotated[float, Field(ge=0.1, le=30)] = 1.0
    payload_bytes: Annotated[int, Field(ge=44, le=1400)] = 44
    tail_s: Annotated[float, Field(ge=0, le=30)] = 0.5
    switch_when_silent: bool = False
    authenticated: bool = True


class PathPlan(Frozen):
    """The hop walk: all distances at once, `attempts` for each.

    With two `flows` a second one, from another port, shows routers that spread flows.
    """

    max_distance: Annotated[int, Field(ge=1, le=30)] = 30
    attempts: Annotated[int, Field(ge=1, le=10)] = 3
    flows: Annotated[int, Field(ge=1, le=2)] = 2
    waiting_s: Annotated[float, Field(ge=0.1, le=10)] = 1.0
    port: Annotated[int, Field(ge=1, le=65535)] = 33434


class DnsPlan(Frozen):
    """Queries per resolver and the spacing between them.

    With `checks` single queries between those of the series show what else the resolver does, each
    sent `repeats` times. `encrypted_queries` go to each encrypted resolver. Of 66 queries 59 are
    of names that exist, the fewest whose largest time bounds the 95th percentile.
    """

    queries: Annotated[int, Field(ge=1, le=200)] = 66
    interval_s: Annotated[float, Field(ge=0.01, le=5)] = 0.02
    waiting_s: Annotated[float, Field(ge=0.1, le=10)] = 2.0
    checks: bool = True
    repeats: Annotated[int, Field(ge=1, le=5)] = 3
    encrypted_queries: Annotated[int, Field(ge=1, le=20)] = 3


class ReachPlan(Frozen):
    """Attempts on each listed port; a silent one is walked towards up to `max_distance` hops."""

    attempts: Annotated[int, Field(ge=1, le=5)] = 3
    waiting_s: Annotated[float, Field(ge=0.1, le=5)] = 0.7
    max_distance: Annotated[int, Field(ge=2, le=30)] = 16


class HttpPlan(Frozen):
    """Fetches per web target."""

    attempts: Annotated[int, Field(ge=1, le=10)] = 1
    waiting_s: Annotated[float, Field(ge=0.1, le=30)] = 5.0
    max_bytes: Annotated[int, Field(ge=1024, le=10_000_000)] = 262_144


_RAW = re.compile(r"hex:([0-9a-f]{2}){1,255}")
OptionText = Annotated[str, Field(pattern=r"^(hex:([0-9a-f]{2}){1,255}|[ -~]{1,250})$")]
"""The value of a DHCP option: text, or "hex:" and its raw bytes."""

OptionBytes = Annotated[str, Field(pattern=r"^hex:([0-9a-f]{2}){1,255}$")]


class LeasePlan(Frozen):
    """The lease probe: DISCOVERs sent and how long offers are heard (design: at least 6 s).

    Where nobody offers, `presence` lets a REQUEST that no server can grant tell a server whose pool
    is empty from none; without it nothing but DISCOVERs is sent. `pado_listen_s` is how long access
    concentrators are heard on a PPPoE handover instead. The rest is what the DISCOVER says of the
    laptop, for networks that answer known devices only: options 60, 61 and 77 as text or raw bytes,
    125 as raw bytes.
    """

    probe: bool = True
    listen_s: Annotated[float, Field(ge=6, le=60)] = 6.0
    presence: bool = True
    pado_listen_s: Annotated[float, Field(ge=1, le=30)] = 3.0
    vendor_class: OptionText | None = None
    client_id: OptionText | None = None
    user_class: OptionText | None = None
    vendor_identifying: OptionBytes | None = None

    @model_validator(mode="after")
    def _raw_bytes(self) -> LeasePlan:
        for said in (self.vendor_class, self.client_id, self.user_class):
            if said and said.startswith("hex:") and not _RAW.fullmatch(said):
                msg = 'raw bytes of an option as "hex:" and an even number of 0-9a-f'
                raise ValueError(msg)
        return self


class ThroughputPlan(Frozen):
    """The bulk transfer of one direction.

    `adaptive` adds flows while they bring more and ends once the 95 % interval reaches no further
    than `precision` of the mean each way, or after `seconds`; `fixed` runs all flows for `seconds`.
    """

    mode: Literal["adaptive", "fixed"] = "adaptive"
    seconds: Annotated[float, Field(ge=1, le=60)] = 10.0
    precision: Annotated[float, Field(gt=0, le=0.5)] = 0.01
    flows: Annotated[int, Field(ge=1, le=32)] = 8
    slice_s: Annotated[float, Field(ge=0.01, le=1)] = 0.05
    max_bytes: Annotated[int, Field(ge=100_000)] = 2_000_000_000


class WallLimits(Frozen):
    """The longest each step may take, seconds of wall clock; a step past it is cut short."""

    link: Seconds = 3.0
    lease: Seconds = 12.0
    dns: Seconds = 10.0
    http: Seconds = 12.0
    path: Seconds = 5.0
    reach: Seconds = 12.0
    delay: Seconds = 30.0
    throughput: Seconds = 40.0

    def of(self, kind: Kind) -> float:
        """Return the limit of one step in seconds."""
        value: float = getattr(self, kind.value)
        return value


class Plan(Frozen):
    """What a visit measures, and how long.

    `loaded_echo` runs while a direction is filled, and no longer; its count only bounds it. It is
    not authenticated by default: longer packets would take more of the line that is measured.
    `long_echo` goes to the gateway beside `near_echo`: what spoils single bits, or collides, takes
    long frames first.
    """

    name: Name
    steps: tuple[Kind, ...] = tuple(Kind)
    server_echo: EchoPlan = EchoPlan()
    near_echo: EchoPlan = EchoPlan(count=200, interval_s=0.04)
    loaded_echo: EchoPlan = EchoPlan(count=5_000, interval_s=0.02, authenticated=False)
    long_echo: EchoPlan = EchoPlan(count=100, interval_s=0.032, payload_bytes=1400)
    path: PathPlan = PathPlan()
    dns: DnsPlan = DnsPlan()
    http: HttpPlan = HttpPlan()
    reach: ReachPlan = ReachPlan()
    lease: LeasePlan = LeasePlan()
    throughput: ThroughputPlan = ThroughputPlan()
    wall_s: WallLimits = WallLimits()


class Accept(Frozen):
    """The share of the tier that is accepted, each direction."""

    down: Ratio
    up: Ratio


class Rates(Frozen):
    """A pair of rates, bit/s at the tier's layer."""

    down_bps: Rate
    up_bps: Rate


class Tier(Frozen):
    """A product as it is sold: headline rates with the layer at which they are quoted.

    `minimum`, `normal`, `maximum` and `advertised` are the contract's further rates (Regulation
    (EU) 2015/2120 Art. 4(1)(d)), at the same layer. `provisioned` is what the network is set to, as
    a multiple of the headline.
    """

    name: Name
    down_bps: Rate
    up_bps: Rate
    layer: Layer = Layer.IP
    access: Access = Access.UNKNOWN
    accept: Accept | None = None
    minimum: Rates | None = None
    normal: Rates | None = None
    maximum: Rates | None = None
    advertised: Rates | None = None
    provisioned: Annotated[float, Field(ge=0.5, le=3)] | None = None
    delay_ms: Annotated[float, Field(gt=0)] | None = None
    loss_ratio: Annotated[float, Field(gt=0, lt=1)] | None = None
    note: str = ""


class Limit(Frozen):
    """One limit with its unit, where it comes from and why it stands there."""

    value: float
    unit: Literal["ratio", "ms", "s", "count"]
    source: Annotated[str, Field(min_length=3)]
    reason: Annotated[str, Field(min_length=3)]
    needed: bool = True


class LimitSet(Frozen):
    """The limits of one access technology; a criterion without a limit is not judged."""

    gateway_loss: Limit | None = None
    server_loss: Limit | None = None
    gateway_delay_median: Limit | None = None
    gateway_delay_p95: Limit | None = None
    first_hop_delay_median: Limit | None = None
    server_delay_median: Limit | None = None
    server_delay_variation: Limit | None = None
    server_delay_rise: Limit | None = None
    dns_median: Limit | None = None
    dns_p95: Limit | None = None
    dns_unanswered: Limit | None = None
    web_reached: Limit | None = None
    web_total: Limit | None = None
    down_share: Limit | None = None
    up_share: Limit | None = None


class WebTarget(Frozen):
    """A page whose arrival proves outside reach; `marker` is a text its body must hold.

    `sha256` is of the whole body, for a page that never changes: one of the operator's own, so
    that a change was made on the way.
    """

    name: Name
    url: Annotated[str, Field(pattern=r"^https?://[^\s/]+")]
    marker: str | None = None
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")] | None = None


class NameTests(Frozen):
    """Names that show what a resolver does; without one its check is left out.

    `signed` is soundly signed and `bogus` has a wrong signature (RFC 4035); `long` has an answer of
    more than 512 octets, of `long_type`. `same` are answered alike by every resolver, `private` may
    lead to private addresses.
    """

    signed: Name | None = None
    bogus: Name | None = None
    long: Name | None = None
    long_type: Literal["A", "AAAA", "MX", "TXT", "DNSKEY"] = "TXT"
    same: Annotated[tuple[Name, ...], Field(max_length=4)] = ()
    private: tuple[Name, ...] = ()


class EncryptedResolver(Frozen):
    """The operator's resolver over TLS (RFC 7858) or HTTPS (RFC 8484).

    Its certificate must be that of `host`. `address` saves looking that name up; `port` None is 853
    or 443.
    """

    name: Name
    host: Name
    transport: Literal["tls", "https"] = "tls"
    address: str | None = None
    port: Annotated[int, Field(ge=1, le=65535)] | None = None
    path: Annotated[str, Field(pattern=r"^/[^\s?#{]*$", max_length=200)] = "/dns-query"

    @model_validator(mode="after")
    def _address(self) -> EncryptedResolver:
        if self.address is not None and not is_address(self.address):
            msg = "address is one of IPv4 or IPv6, or left out"
            raise ValueError(msg)
        return self


AT_SERVER = "server"


class PortCheck(Frozen):
    """A port that a product promises to pass, or to keep closed (`expected`).

    `host` is a name, an address, or "server" for the operator's own. Over UDP only an answer shows
    that a port is open: the operator's server gives one (`doorstep serve --answer-port`).
    """

    name: Name
    host: Name = AT_SERVER
    transport: Literal["tcp", "udp"] = "tcp"
    port: Annotated[int, Field(ge=1, le=65535)]
    expected: Literal["open", "closed"] = "open"


class Targets(Frozen):
    """What lies outside: web pages, names to look up, addresses whose delay is measured.

    `captive_api` is the operator's captive portal API (RFC 8908), for lines that do not announce
    it themselves (RFC 8910). Of `time_servers` (RFC 5905) the first is asked how far the laptop's
    clock is off; without one the operator's server is.
    """

    web: tuple[WebTarget, ...] = ()
    names: tuple[Name, ...] = ()
    echo: tuple[str, ...] = ()
    captive_api: Annotated[str, Field(pattern=r"^https://[^\s/]+")] | None = None
    name_tests: NameTests = NameTests()
    encrypted: Annotated[tuple[EncryptedResolver, ...], Field(max_length=4)] = ()
    ports: Annotated[tuple[PortCheck, ...], Field(max_length=16)] = ()
    time_servers: Annotated[tuple[Name, ...], Field(max_length=4)] = ()

    @model_validator(mode="after")
    def _addresses(self) -> Targets:
        if not all(is_address(one) for one in self.echo):
            msg = "echo holds addresses of IPv4 or IPv6, no names"
            raise ValueError(msg)
        return self


class Server(Frozen):
    """The operator's server: one card URL, or plain transfer URLs.

    `patience_s` is how long a visit waits for its turn at a busy server, all waits together.
    """

    card: Annotated[str, Field(pattern=r"^https?://[^\s/]+")] | None = None
    download: Annotated[str, Field(pattern=r"^(https?|ftp)://[^\s/]+")] | None = None
    upload: Annotated[str, Field(pattern=r"^(https?|ftp)://[^\s/]+")] | None = None
    token: str | None = None
    patience_s: Annotated[float, Field(ge=0, le=600)] = 120.0

    @model_validator(mode="after")
    def _one_way(self) -> Server:
        if self.card and (self.download or self.upload):
            msg = "give either card, or download and upload"
            raise ValueError(msg)
        return self


class Line(Frozen):
    """What is known of the operator's network and the home's equipment.

    `operator_prefixes` are those of customers' lines, `network_prefixes` those of the operator's
    own routers and servers. `activation_hosts` are where new lines are activated: a page of theirs
    in place of another says that the line waits for it. `expected_delegation_bits` is the length of
    the IPv6 prefix that this service delegates to a home (RFC 8415 §6.3). `vlan_id` is the tag
    (IEEE 802.1Q) of a tagged handover.
    """

    operator_prefixes: tuple[str, ...] = ()
    network_prefixes: tuple[str, ...] = ()
    modem_address: str | None = None
    expected_pools: tuple[str, ...] = ()
    expected_dhcp_servers: tuple[str, ...] = ()
    activation_hosts: tuple[Name, ...] = ()
    expected_delegation_bits: Annotated[int, Field(ge=1, le=64)] | None = None
    vlan_id: Annotated[int, Field(ge=1, le=4094)] | None = None


class Identity(Frozen):
    """Who measures; printed on the page, kept out of the redacted record.

    `logo` is the company's picture; in the settings in force it is an absolute path. `footer` is
    the company's own line below the page. `language` says in which words, and with whose signs of
    numbers, the page is written.
    """

    company: str | None = None
    technician: str | None = None
    contact: str | None = None
    logo: PictureFile | None = None
    footer: OneLine | None = None
    language: LanguageTag = "en"
    paper: Paper = "a4"


class FitnessRule(Frozen):
    """One fitness fact: its threshold, and which criteria it voids when it is passed.

    `voids` names criteria or groups of them: "throughput", "delay", "loss", "all".
    """

    threshold: float | None = None
    unit: Literal["ratio", "bps", "ms", "s", "none"] = "none"
    voids: tuple[Literal["throughput", "delay", "loss", "reach", "all"], ...] = ()
    source: Annotated[str, Field(min_length=3)]


_NEVER_TRIED = FitnessRule(voids=("all",), source="this program's own state, no trade figure")
_PRACTICE = "common practice, no source"
_POWER_SAVER = FitnessRule(voids=("throughput", "delay"), source=_PRACTICE)
_MEMORY_LOW = FitnessRule(
    threshold=0.05, unit="ratio", voids=("throughput", "delay"), source=_PRACTICE
)
_USB_BUS = FitnessRule(threshold=0.6, unit="ratio", voids=("throughput",), source=_PRACTICE)
_HIDDEN_HOP = FitnessRule(
    threshold=3.0, unit="ms", voids=("throughput", "delay", "loss"), source=_PRACTICE
)
_LAPTOP_CHECK = FitnessRule(threshold=1.0, unit="ratio", voids=("throughput",), source=_PRACTICE)
_VIRTUAL_MACHINE = FitnessRule(source=_PRACTICE)


class Fitness(Frozen):
    """The fitness table: what makes this laptop, or this moment, unfit to judge."""

    wireless: FitnessRule
    half_duplex: FitnessRule
    tunnel: FitnessRule
    another_line: FitnessRule
    other_traffic: FitnessRule
    processor_busy: FitnessRule
    on_battery: FitnessRule
    port_ceiling: FitnessRule
    others_on: FitnessRule
    clock_offset: FitnessRule
    unverified_system: FitnessRule = _NEVER_TRIED
    power_saver: FitnessRule = _POWER_SAVER
    memory_low: FitnessRule = _MEMORY_LOW
    usb_bus: FitnessRule = _USB_BUS
    hidden_hop: FitnessRule = _HIDDEN_HOP
    laptop_check: FitnessRule = _LAPTOP_CHECK
    virtual_machine: FitnessRule = _VIRTUAL_MACHINE


class Settings(Frozen):
    """Everything in force for one run."""

    plans: tuple[Plan, ...]
    tiers: tuple[Tier, ...] = ()
    limits: dict[Access, LimitSet]
    accept: dict[Access, Accept]
    usual: dict[Access, UsualSet] = Field(default_factory=dict)
    targets: Targets = Targets()
    server: Server = Server()
    line: Line = Line()
    identity: Identity = Identity()
    fitness: Fitness

    @model_validator(mode="after")
    def _answers_for_every_line(self) -> Settings:
        if Access.UNKNOWN not in self.limits or Access.UNKNOWN not in self.accept:
            msg = "limits.unknown and accept.unknown, for a line nobody named"
            raise ValueError(msg)
        return self
