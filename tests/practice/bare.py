"""Runs the bare programs on hosts of a practice network and reads their results."""

import json
import os
import subprocess
import sys
from contextlib import ExitStack, contextmanager
from pathlib import Path

PROGRAMS = Path(__file__).with_name("bare_programs.py")


def program(name, *arguments):
    return [sys.executable, str(PROGRAMS), name, *map(str, arguments)]


@contextmanager
def listening(host, name, *arguments):
    """Run a program that says its port first; give its port and the process."""
    with host.popen(program(name, host.address, *arguments)) as process:
        yield int(process.stdout.readline()), process


def echo(network, *, count, gap_s, host=None):
    """Send numbered datagrams from the laptop to a host and back."""
    host = host or network.server
    with listening(host, "echo-server") as (port, _):
        done = network.laptop.run(
            program("echo", host.address, port, count, gap_s), timeout=60, check=True
        )
    return json.loads(done.stdout)


def payload_bps(network, way, *, flows, skip_s, seconds):
    """Return what a bare loop of TCP flows delivers over the line."""
    timing = (flows, skip_s, seconds)
    if way == "down":
        with listening(network.server, "source", flows) as (port, _):
            command = program("sink", network.server.address, port, *timing)
            done = network.laptop.run(command, timeout=60, check=True)
        return json.loads(done.stdout)["payload_bps"]
    with ExitStack() as stack:
        port, server = stack.enter_context(listening(network.server, "drain", *timing))
        push = program("push", network.server.address, port, flows)
        stack.enter_context(network.laptop.popen(push))
        return json.loads(server.stdout.readline())["payload_bps"]


def plain_python():
    """Return the argv prefix and environment of a Python that nobody's user may run.

    The interpreter of the tests where that user can reach it, else the system's own of the same
    version with the modules of this one.
    """
    modules = [str(Path(__file__).parents[2]), *(p for p in sys.path if "packages" in p)]
    user = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"]
    system = f"/usr/bin/python{sys.version_info.major}.{sys.version_info.minor}"
    environment = {
        "PATH": os.environ.get("PATH", os.defpath),
        "PYTHONPATH": os.pathsep.join(modules),
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    # Twice over: setpriv still starts the first one with the rights that it is about to lose.
    again = (
        "import subprocess, sys; subprocess.run([sys.executable, '-c', sys.argv[1]], check=True)"
    )
    for python in (sys.executable, system):
        command = [*user, python, "-c", again, "import agent.practice.network, pyroute2"]
        probe = subprocess.run(command, env=environment, cwd="/", capture_output=True, check=False)
        if probe.returncode == 0:
            return [*user, python], environment
    return None
