"""What is left after the practice network has gone: nothing, however it ended."""

import os
import select
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path

import pytest
from bare import plain_python

from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

KINDS = ("net", "mnt", "pid", "ipc", "user")
HOLD = """
import signal, sys
# A shell starts what runs in the background with these signals ignored; at a terminal it does not.
signal.signal(signal.SIGINT, signal.default_int_handler)
signal.signal(signal.SIGHUP, signal.SIG_DFL)
from agent.practice.line import LineSpec
from agent.practice.network import PracticeNetwork
with PracticeNetwork(LineSpec(rtt_ms=0)) as network:
    visit = network.laptop.popen(["sleep", "300"], plain=True)
    reach = network.laptop.run(["ip", "-4", "route"], timeout=5, plain=True)
    print("default" in reach.stdout, flush=True)
    sys.stdin.read()
"""


def running():
    return {int(entry.name) for entry in Path("/proc").iterdir() if entry.name.isdigit()}


def parent_of(process):
    return int(_status(process)[1])


def state_of(process):
    return _status(process)[0]


def _status(process):
    """Return state, parent, … of a process (proc_pid_stat(5), behind the name); Z where gone."""
    with suppress(OSError):
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return ["Z", "0"]


def family_of(process):
    family, found = {process}, True
    while found:
        found = {p for p in running() - family if parent_of(p) in family}
        family |= found
    return family - {process}


def namespaces_of(process):
    found = set()
    for kind in KINDS:
        with suppress(OSError):
            found.add(str(Path(f"/proc/{process}/ns/{kind}").readlink()))
    return found


def held_by_anyone(namespaces):
    """Return the processes that live in a namespace or hold a descriptor of one.

    One that has ended and waits for the computer's first process to take note holds nothing.
    """
    alive = {process for process in running() if state_of(process) != "Z"}
    return {p for p in alive if namespaces & (namespaces_of(p) | _descriptors_of(p))}


def _descriptors_of(process):
    found = set()
    with suppress(OSError):
        for entry in Path(f"/proc/{process}/fd").iterdir():
            with suppress(OSError):
                found.add(str(entry.readlink()))
    return found


def await_end(processes):
    watched = []
    for process in processes:
        with suppress(ProcessLookupError):
            watched.append(os.pidfd_open(process))
    for descriptor in watched:
        assert select.select([descriptor], [], [], 20)[0], "still there 20 s later"
        os.close(descriptor)


@pytest.fixture
def holder(tmp_path):
    folders = dict.fromkeys(("TMPDIR", "HOME", "XDG_RUNTIME_DIR"), str(tmp_path))
    with subprocess.Popen(
        [sys.executable, "-c", HOLD],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env={**os.environ, **folders},
        cwd=Path(__file__).parents[2],
        start_new_session=True,
    ) as process:
        assert process.stdout.readline() == b"True\n"
        yield process
        process.kill()


@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_no_process_namespace_or_file_outlives_its_program(holder, number, tmp_path):
    family = family_of(holder.pid)
    ours = namespaces_of(os.getpid())
    theirs = set().union(*map(namespaces_of, family)) - ours
    assert len(family) >= 7
    assert len(theirs) >= 7
    assert held_by_anyone(theirs) >= family
    os.kill(holder.pid, number)
    holder.wait(timeout=20)
    await_end(family)
    assert not held_by_anyone(theirs)
    assert not list(tmp_path.iterdir())
    assert not [
        name for name in ("leases", "resolv.conf", "web") if Path("/dev/shm", name).exists()
    ]


def test_end_of_the_block_leaves_nothing_open():
    before = _descriptors_of(os.getpid())
    with PracticeNetwork(LineSpec(rtt_ms=0)) as network:
        left_running = network.server.popen(["sleep", "300"])
        assert left_running.poll() is None
        theirs = set().union(*map(namespaces_of, family_of(os.getpid())))
    assert _descriptors_of(os.getpid()) == before
    assert not family_of(os.getpid())
    assert not held_by_anyone(theirs - namespaces_of(os.getpid()))


def test_a_user_without_rights_gets_the_whole_network():
    if os.geteuid() != 0:
        pytest.skip("this run is such a user already: every other test shows it")
    found = plain_python()
    assert found, "no Python that a plain user can run"
    command, environment = found
    code = HOLD.replace("sys.stdin.read()", "print(network.laptop.address is not None)")
    done = subprocess.run(
        [*command, "-c", code],
        cwd="/",
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.stdout.split() == ["True", "True"], done.stderr
