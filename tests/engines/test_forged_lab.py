import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from agent.codec.icmp_extensions import decode_labels, unannounced
from agent.probes.probe_run import HEADER_BYTES

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PROGRAM = Path(__file__).with_name("lab_forged.py")
ROOT = PROGRAM.parents[2]
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]


@pytest.fixture(scope="module")
def forged():
    user = [] if os.geteuid() == 0 else AS_USER
    done = subprocess.run(
        ["unshare", *user, "-n", sys.executable, str(PROGRAM)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.mark.parametrize("family", [4, 6])
def test_extensions_reach_the_path_socket_apart_from_the_quote(forged, family):
    # RFC 4884 §4, §7: extensions follow a quote of 128 octets; labels of RFC 4950 §3.
    found = forged["found"][f"{family} announced"]
    assert bytes.fromhex(found["quoted"]).rstrip(b"\0").hex() == forged["payload"]
    assert [label.label for label in decode_labels(bytes.fromhex(found["extensions"]))] == [100048]


@pytest.mark.parametrize("family", [4, 6])
def test_an_old_router_does_not_say_where_its_extensions_begin(forged, family):
    # RFC 4884 §5.5.
    found = forged["found"][f"{family} unannounced"]
    assert found["extensions"] == ""
    data = unannounced(bytes.fromhex(found["quoted"]), HEADER_BYTES[family])
    assert [label.label for label in decode_labels(data)] == [100048]


@pytest.mark.parametrize("family", [4, 6])
def test_without_extensions_there_are_none(forged, family):
    assert forged["found"][f"{family} none"]["extensions"] == ""
    # RFC 792: a router may quote 64 bits of the datagram, which is the UDP header alone.
    assert forged["found"][f"{family} short"] == {"quoted": "", "extensions": ""}
