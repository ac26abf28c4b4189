"""One visit on a practice line that a test has bent by a rule of its own."""

import json
import os
import subprocess

from agent.practice import runner
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
    settings = load(None, {}, {}).settings
    tier = pick_tier(settings, TIER)
    asked = runner.PracticeVisit(settings=settings, reports=reports, tier=tier.name)
    with PracticeNetwork(line_for(tier, rtt_ms=RTT_MS)) as network:
        server = network.addresses.server
        text = rule.replace("{server}", server).replace("{port}", str(runner.SERVER_PORT))
        network.host(host).run(["nft", text], timeout=10, check=True)
        runner._start_server(network.server, server)
        process = network.laptop.popen(
            runner.visit_command(network, asked),
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
