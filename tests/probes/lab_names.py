"""Question every resolver of this host side by side and write what came, reduced, as JSON."""

import json
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import asdict

from agent.clock import SystemClock, Timeline
from agent.engines.linux_facts import LinuxFacts
from agent.engines.names import BoundNames
from agent.ports.running import Unattended
from agent.probes.dns import Target, measure_dns
from agent.probes.line import find_line
from agent.settings.model import DnsPlan, NameTests
from agent.stats.names import dns_statistics


def main(name, long):
    """Measure with the standard plan, a little less patient."""
    facts, timeline = LinuxFacts(), Timeline.begin(SystemClock())
    line = find_line(facts)
    names = BoundNames(line.binding, ())
    resolvers = facts.resolvers(line.interface.name)

    def question(resolver):
        target = Target(
            resolver=resolver,
            test_names=(name,),
            tests=NameTests(long=long, same=(name,)),
            place=resolvers.index(resolver),
        )
        return measure_dns(
            names,
            target,
            DnsPlan(waiting_s=1.0),
            timeline=timeline,
            within_s=10.0,
            running=Unattended(),
        )

    with ThreadPoolExecutor(len(resolvers)) as pool:
        measured = list(pool.map(question, resolvers))
    told = [asdict(dns_statistics(one.observed)) | {"resolver": one.address} for one in measured]
    json.dump(told, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
