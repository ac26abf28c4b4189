"""Names found during a visit are put into its walk, and into nothing else."""

from agent.measurements import HopWalk, Kind, LinkFacts, Measurement, Medium, Role, State
from agent.session.hop_naming import named


class Found:
    """A search that is over."""

    def __init__(self, *pairs):
        self.pairs = pairs

    def found(self):
        return self.pairs


def measured(kind, role, observed):
    return Measurement(
        kind=kind,
        role=role,
        state=State.COMPLETE,
        method="none",
        started_s=0.0,
        duration_s=1.0,
        observed=observed,
    )


WALK = HopWalk(
    target="203.0.113.9",
    protocol="udp",
    waiting_s=1.0,
    distance=(1, 2),
    sent_s=(0.0, 0.0),
    rtt_ms=(1.0, None),
    answered_by=("198.51.100.1", None),
    icmp_type=(11, None),
    icmp_code=(0, None),
    unplaced=(("198.51.100.7", 1),),
)
LINK = LinkFacts(interface="eth0", up=True, medium=Medium.WIRED)


def test_a_walk_gets_the_names_of_its_own_addresses():
    before = [measured(Kind.PATH, Role.SERVER, WALK), measured(Kind.LINK, Role.LOCAL, LINK)]
    names = (("198.51.100.1", "edge.example"), ("198.51.100.7", "core.example"))
    after = named(before, Found(*names, ("192.0.2.1", "foreign.example")))
    assert after[0].observed.names == names
    assert after[1] == before[1]


def test_without_a_search_nothing_changes():
    before = [measured(Kind.PATH, Role.SERVER, WALK)]
    assert named(before, None) == before
