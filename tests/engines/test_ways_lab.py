"""Walks over real routers: silent, limited, parallel, terse and labelled ones, both families."""

import itertools
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from scapy.layers.inet import IP, UDP
from scapy.layers.inet6 import IPv6
from scapy.packet import Raw

pytestmark = [pytest.mark.lab, pytest.mark.once, pytest.mark.usefixtures("require_lab")]

PROGRAM = Path(__file__).with_name("lab_ways.py")
ROOT = PROGRAM.parents[2]
AS_USER = ["-U", "--map-user=1000", "--map-group=1000", "--keep-caps"]
ROOTS = os.geteuid() == 0


def walked(**plan):
    """Return what the program prints; the walk itself runs without any right where it can."""
    plan = {"user": "65534" if ROOTS else "same"} | plan
    argv = ["unshare", *([] if ROOTS else AS_USER), "-n", sys.executable, str(PROGRAM)]
    done = subprocess.run(
        [*argv, json.dumps(plan)],
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        cwd=ROOT,
    )
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


@pytest.fixture(scope="module")
def wide():
    return walked(hops=12, silent=[2, 4, 6, 11], limited=[5], split=7, walks=2)


@pytest.fixture(scope="module")
def long_six():
    return walked(family=6, hops=30, silent=[3, 4], split=10)


@pytest.fixture(params=["wide", "long_six"])
def found(request):
    return request.getfixturevalue(request.param)


def hops(walk):
    return {hop["distance"]: hop for hop in walk["path"]["hops"]}


def test_every_address_stands_at_its_true_distance(found):
    for walk in found["walks"]:
        assert (walk["state"], walk["clock"]) == ("complete", "kernel")
        assert walk["path"]["reached"]
        assert len(walk["path"]["hops"]) == len(found["ways"][0])
        for distance, hop in hops(walk).items():
            assert set(hop["addresses"]) <= {way[distance - 1] for way in found["ways"]}


def test_no_link_is_invented(found):
    true = {
        (distance, near, far)
        for way in found["ways"]
        for distance, (near, far) in enumerate(itertools.pairwise(way), start=1)
    }
    for walk in found["walks"]:
        links = {(li["distance"], li["near"], li["far"]) for li in walk["path"]["links"]}
        assert links <= true
        assert len(links) >= 3


def test_silent_routers_are_silent_and_a_limited_one_loses_nothing(wide):
    for walk in wide["walks"]:
        words = {distance: hop["answering"] for distance, hop in hops(walk).items()}
        assert {d for d, word in words.items() if word == "silent"} >= {2, 4, 6, 11}
        assert "lossy" not in words.values()
        assert hops(walk)[5]["answered"] < hops(walk)[5]["sent"]


def test_all_probes_of_a_flow_look_alike_to_routers(found):
    # What routers spread flows by: addresses, ports, and the flow label of IPv6 (RFC 6438); the
    # checksum stands where others look (RFC 9198 §4). Packets as captured, read by scapy.
    flows = {}
    for packet in map(bytes.fromhex, found["probes"]):
        whole = {4: IP, 6: IPv6}.get(packet[0] >> 4, Raw)(packet)
        if UDP not in whole or whole[UDP].dport != 33434:
            continue
        label = whole.fl if whole.version == 6 else 0
        look = (label, whole[UDP].chksum, whole[UDP].len)
        flows.setdefault(whole[UDP].sport, set()).add(look)
    assert len(flows) == 2 * len(found["walks"])
    assert all(len(looks) == 1 for looks in flows.values())


def test_terse_routers_get_their_distance_and_labels_their_hop():
    # RFC 792: 64 bits of the datagram; RFC 4950 §3: label 100048.
    (walk,) = walked(hops=9, short=[5, 7], labelled=[3])["walks"]
    near = hops(walk)
    assert {d: hop["addresses"] for d, hop in near.items() if d in {5, 7}} == {
        5: ["198.18.0.6"],
        7: ["198.18.0.8"],
    }
    assert {d: [entry["label"] for entry in hop["labels"]] for d, hop in near.items()} == {
        d: [100048] if d == 3 else [] for d in range(1, 10)
    }


@pytest.mark.parametrize(
    ("plan", "code", "stopped_at"),
    [({"loop": 4, "hops": 5}, "loop", 5), ({"refuse": 3, "hops": 5}, "prohibited", 3)],
)
def test_why_a_walk_ends(plan, code, stopped_at):
    (walk,) = walked(**plan)["walks"]
    path = walk["path"]
    assert (path["reached"], path["stop_code"], path["stopped_at"]) == (False, code, stopped_at)
