"""One visit on a practice line that a test has bent by a rule or a protocol of its own."""

import dataclasses
import json
import os
import subprocess

from agent.practice import runner
from agent.practice.line_settings import SERVER_PORT
from agent.practice.network import PracticeNetwork
from agent.practice.tiers import line_for
from agent.settings.choose import pick_tier
from agent.settings.loader import load

TIER, RTT_MS = "Tern Bay 100/20", 20
LONGEST_S = 90


def visit_bent(host, rule, reports):
    """Visit with an nft rule on a host of the network; return exit code and record.

    `rule` may name {server} and {port}.
    """
    with practice_line() as network:
        server = network.addresses.server
        text = rule.replace("{server}", server).replace("{port}", str(SERVER_PORT))
        network.host(host).run(["nft", text], timeout=10, check=True)
        return visited(network, server, reports)


def visit_over_ipv6(reports):
    """Visit a server that is given by its IPv6 address; return exit code and record."""
    with practice_line(ipv6=True) as network:
        server = network.addresses_6.server
        more = (f"--server=http://[{server}]:{SERVER_PORT}", "--family=6")
        return visited(network, server, reports, *more)


def practice_line(**line):
    """Return the network of a healthy line."""
    tier = pick_tier(load(None, {}, {}).settings, TIER)
    return PracticeNetwork(dataclasses.replace(line_for(tier, rtt_ms=RTT_MS), **line))


def visited(network, server, reports, *more):
    """Serve at an address and visit, with further arguments; return exit code and record."""
    asked = runner.PracticeVisit(settings=load(None, {}, {}).settings, reports=reports, tier=TIER)
    runner._start_server(network.server, server)
    process = network.laptop.popen(
        [*runner.visit_command(network, asked), *more],
        stdin=None,
        stdout=subprocess.DEVNULL,
        stderr=None,
        env=runner.visit_environment(os.environ),
        plain=True,
        files={runner.SETTINGS_FILE: runner._settings_for(network, asked)},
    )
    code = process.wait(timeout=LONGEST_S)
    (found,) = reports.glob("*/record.json")
    return code, json.loads(found.read_text())
