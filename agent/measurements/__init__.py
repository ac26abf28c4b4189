"""Frozen results: one entry per attempt, the unit in every name, None = not measured."""

from agent.measurements.address import LeaseFacts, LeaseProbe, Offer
from agent.measurements.base import (
    Direction,
    Kind,
    Measurement,
    Observed,
    Reason,
    Role,
    Scalar,
    StampClock,
    State,
)
from agent.measurements.conditions import Conditions, Phase
from agent.measurements.delay import EchoOutcome, EchoSeries
from agent.measurements.link import LinkFacts, Medium, Wireless
from agent.measurements.mtu import MtuSearch, SizeOutcome, TcpSegments
from agent.measurements.names import ABSENT_LABEL, NameOutcome, NameQueries
from agent.measurements.path import HopExtensions, HopInterface, HopLabel, HopWalk
from agent.measurements.statistics import (
    DelayStatistics,
    DnsStatistics,
    Hop,
    HttpStatistics,
    LeaseStatistics,
    Link,
    LinkStatistics,
    MtuStatistics,
    PathChange,
    PathStatistics,
    Responsiveness,
    RoundTrip,
    Statistics,
    ThroughputStatistics,
)
from agent.measurements.transfer import CountedBy, Ended, TcpCounters, Transfer
from agent.measurements.web import Certificate, WebAttempt, WebFetch

__all__ = [
    "ABSENT_LABEL",
    "Certificate",
    "Conditions",
    "CountedBy",
    "DelayStatistics",
    "Direction",
    "DnsStatistics",
    "EchoOutcome",
    "EchoSeries",
    "Ended",
    "Hop",
    "HopExtensions",
    "HopInterface",
    "HopLabel",
    "HopWalk",
    "HttpStatistics",
    "Kind",
    "LeaseFacts",
    "LeaseProbe",
    "LeaseStatistics",
    "Link",
    "LinkFacts",
    "LinkStatistics",
    "Measurement",
    "Medium",
    "MtuSearch",
    "MtuStatistics",
    "NameOutcome",
    "NameQueries",
    "Observed",
    "Offer",
    "PathChange",
    "PathStatistics",
    "Phase",
    "Reason",
    "Responsiveness",
    "Role",
    "RoundTrip",
    "Scalar",
    "SizeOutcome",
    "StampClock",
    "State",
    "Statistics",
    "TcpCounters",
    "TcpSegments",
    "ThroughputStatistics",
    "Transfer",
    "WebAttempt",
    "WebFetch",
    "Wireless",
]
