import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = [pytest.mark.lab, pytest.mark.usefixtures("require_lab")]

CHAIN = Path(__file__).with_name("lab_chain.py")
ROOT = CHAIN.parents[2]
NOBODY = "65534"
NO_GROUP = "1 0"

MAPPED = "1000"
AS_USER = ["-U", f"--map-user={MAPPED}", f"--map-group={MAPPED}", "--keep-caps"]


def range_of(group_range, group):
    return f"{group} {group}" if group_range is None else group_range


def chain(hops, silent, group_range=None):
    root = os.geteuid() == 0
    group = NOBODY if root else MAPPED
    user = NOBODY if root else "same"
    if group_range == NO_GROUP and not root:
        # A fresh user namespace lets no group, and refuses to be told what it already does.
        group_range = ""
    argv = ["unshare", *([] if root else AS_USER), "-n", sys.executable, str(CHAIN)]
    done = subprocess.run(
        [*argv, str(hops), ",".join(map(str, silent)), user, range_of(group_range, group)],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_twelve_hops_of_which_four_are_silent_without_any_right():
    silent = {2, 5, 6, 9}
    found = chain(12, sorted(silent))
    walk = found["walk"]
    assert found["user"] != 0
    assert walk["state"] == "complete"
    assert walk["clock"] == "kernel"
    for distance, source in zip(walk["distance"], walk["answered_by"], strict=True):
        if distance <= 12:
            assert source == (None if distance in silent else f"198.18.{distance}.2")
        elif source is not None:
            assert source == "198.18.12.2"
    assert walk["unplaced"] == []


def test_datagram_echo_needs_no_right_where_the_group_is_allowed():
    found = chain(1, [])
    assert found["user"] != 0
    assert set(found["echo"]["outcome"]) == {"answered"}
    assert found["echo"]["clock"] == "kernel"


@pytest.mark.skipif(os.geteuid() != 0, reason="a mapped user keeps the right to raw sockets")
def test_echo_that_is_refused_is_said_so_and_the_walk_still_works():
    found = chain(2, [], NO_GROUP)
    assert found["echo"] == {"refused": "right-missing"}
    assert "198.18.2.2" in found["walk"]["answered_by"]


def test_a_raw_socket_opened_before_rights_were_given_up_serves_echo():
    found = chain(1, [], NO_GROUP)
    assert set(found["handed"]["outcome"]) == {"answered"}
    assert found["handed"]["clock"] == "kernel"
