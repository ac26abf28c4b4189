"""Homes of the practice network as a laptop in them sees both families, and one broken IPv6."""

import json
import sys
from pathlib import Path

import pytest

from agent.codec.translation import WELL_KNOWN
from agent.practice.line import FaultChoice, LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab"), pytest.mark.timeout(60)]

ROOT = Path(__file__).parents[2]

LOOK = """
import json, sys
from dataclasses import asdict
from agent.clock import SystemClock, Timeline
from agent.engines.http import HttpxEngine
from agent.engines.linux_facts import LinuxFacts
from agent.engines.names import BoundNames
from agent.ports.running import Unattended
from agent.probes.families import FamilyTarget, measure_families
from agent.session.ground import stand_on
from agent.stats.families import family_statistics

facts = LinuxFacts()
ground = stand_on(facts, None)
names = BoundNames(ground.binding, ground.resolvers)
found = measure_families(
    HttpxEngine(ground.binding, names), names,
    tuple(FamilyTarget(name=name, url=f"http://{name}/") for name in sys.argv[1:]),
    interfaces=facts.interfaces(), tested=ground.interface, resolvers=ground.resolvers,
    timeline=Timeline.begin(SystemClock()), within_s=15.0, running=Unattended(),
)
print(json.dumps({
    "took_s": found.duration_s, "look": asdict(found.observed),
    "statistics": asdict(family_statistics(found.observed)),
}))
"""


def seen(**line):
    """Return what a plain user on the laptop of such a home finds."""
    with PracticeNetwork(LineSpec(rtt_ms=10, **line)) as network:
        sites = [site.name for site in network.addresses.sites]
        done = network.laptop.run(
            [sys.executable, "-c", LOOK, *sites], timeout=30, plain=True, cwd=ROOT
        )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_ipv6_with_translation_is_sound_and_known_by_its_prefix():
    """Three sites answer over IPv6, one of them by its IPv4 address in the prefix alone."""
    found = seen(home="translated", seed=4)
    assert found["look"]["held"] == [6]
    assert found["look"]["translation_prefix"] == str(WELL_KNOWN)
    told = found["statistics"]
    assert (told["state"], told["breaks"], told["answered"]) == ("present", [], 3)
    remote = {t["address"] for t in found["look"]["tries"]}
    assert sum(address.startswith("64:ff9b::") for address in remote) == 1


@pytest.mark.rate
def test_full_packets_that_vanish_over_ipv6_alone_are_told_from_a_dead_family():
    found = seen(faults=(FaultChoice.parse("ipv6-large-lost:light"),), seed=4)
    told = found["statistics"]
    assert (told["state"], told["breaks"], told["hangs"]) == ("broken", ["large-lost"], True)
    over = {t["family"]: t for t in found["look"]["tries"] if t["target"] == "harbour.example"}
    assert (over[4]["status"], over[6]["status"], over[6]["small_status"]) == (200, None, 200)
