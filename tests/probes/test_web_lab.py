"""Pages, portals and certificates behind the practice modem, against what was played there."""

import json
import sys
from pathlib import Path

import pytest

from agent.practice.line import FaultChoice, LineSpec
from agent.practice.line_settings import settings_for_line
from agent.practice.network import PracticeNetwork
from agent.settings.loader import load

pytestmark = pytest.mark.lab

ROOT = Path(__file__).parents[2]
API = "https://activation.ternbay.example/captive"

MEASURE = """
import json, sys
from dataclasses import asdict
from agent.clock import SystemClock, Timeline
from agent.engines.http import HttpxEngine
from agent.engines.linux_facts import LinuxFacts
from agent.engines.names import BoundNames
from agent.ports.running import Unattended
from agent.probes.http import measure_http
from agent.probes.line import find_line
from agent.probes.web_access import NamedApi, measure_web_access
from agent.settings.model import HttpPlan, WebTarget

targets, api = json.loads(sys.argv[1]), sys.argv[2]
timeline, running, facts = Timeline.begin(SystemClock()), Unattended(), LinuxFacts()
line = find_line(facts)
names = BoundNames(line.binding, facts.resolvers(line.interface.name))
http = HttpxEngine(line.binding, names)
fetched = [
    measure_http(http, WebTarget(**one), HttpPlan(waiting_s=2.0), timeline=timeline, within_s=5.0,
                 running=running)
    for one in targets
]
named = NamedApi(url=api, told_by="settings") if api else None
access = measure_web_access(http, named, (), timeline=timeline, within_s=2.0, running=running)
print(json.dumps([asdict(m) for m in (*fetched, access)]))
"""


def measured(*faults, api="", seed=3):
    """Return the targets and what a plain user's laptop observed of them, then of the way out."""
    chosen = tuple(FaultChoice.parse(fault) for fault in faults)
    with PracticeNetwork(LineSpec(seed=seed, faults=chosen)) as network:
        bare = load(None, {}, {}).settings
        wanted = settings_for_line(bare, network.addresses, translated=True).targets.web
        document = json.dumps([one.model_dump() for one in wanted])
        done = network.laptop.run(
            [sys.executable, "-c", MEASURE, document, api], timeout=40, plain=True, cwd=ROOT
        )
    assert done.returncode == 0, done.stderr
    *pages, access = [one["observed"] for one in json.loads(done.stdout)]
    plain = [p["attempts"][0] for p in pages if p["url"].startswith("http://")]
    (secure,) = (p["attempts"][0] for p in pages if p["url"].startswith("https://"))
    return plain, secure, access


def test_pages_of_a_sound_line_come_whole_and_their_certificate_is_good(require_lab):
    plain, secure, access = measured()
    for page in (*plain, secure):
        assert (page["status"], page["marker_found"], page["unchanged"]) == (200, True, True)
        assert (page["problem"], page["redirected_to"], page["via"]) == (None, None, None)
        # 10 ms of line in each of look-up, connection and request, and nothing twice.
        parts = [page[k] for k in ("lookup_ms", "connect_ms", "first_byte_ms", "transfer_ms")]
        assert min(parts[:3]) >= 9.5
        assert page["total_ms"] >= sum(parts) + (page["tls_ms"] or 0.0)
        assert page["date"][:13] == page["clock"][:13]
    assert secure["certificate"]["valid"] is True
    assert secure["certificate"]["issuer"] == "Tern Bay practice authority"
    assert access == {"proxies": [], "portal": None}


@pytest.mark.once
def test_a_line_that_waits_for_its_activation_says_so_itself(require_lab):
    plain, secure, access = measured("walled-garden-announced", api=API)
    for page in plain:
        assert (page["status"], page["marker_found"]) == (302, False)
        assert page["redirected_to"] == "http://activation.ternbay.example/"
        assert (page["title"], page["asks_sign_in"]) == ("Tern Bay activation", False)
    assert secure["problem"] in {"refused", "closed-early"}
    told = access["portal"]
    assert (told["captive"], told["problem"]) == (True, None)
    assert told["user_portal_url"] == "https://activation.ternbay.example/"
    assert told["certificate"]["valid"] is True


@pytest.mark.once
@pytest.mark.parametrize(
    ("faults", "certificate", "via", "unchanged"),
    [
        (
            ("transparent-proxy", "certificate-expired"),
            "expired",
            "1.1 cache.ternbay.example",
            True,
        ),
        (("content-changed", "certificate-self-signed"), "self-signed", None, False),
    ],
)
def test_what_the_way_and_the_site_do_is_seen(require_lab, faults, certificate, via, unchanged):
    plain, secure, _ = measured(*faults)
    for page in plain:
        assert (page["status"], page["marker_found"]) == (200, True)
        assert (page["via"], page["unchanged"]) == (via, unchanged)
    assert (secure["problem"], secure["certificate"]["fault"]) == ("tls-fault", certificate)
    assert secure["certificate"]["subject"] is not None
