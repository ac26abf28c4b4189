"""Whole measurements against nginx as the shipped example starts it, over IPv4 and IPv6."""

import shutil

import pytest
from bulk_runs import PLAN, assert_whole, measure
from loopback_servers import example_nginx

from agent.measurements import CountedBy, Direction

pytestmark = [
    pytest.mark.loopback,
    pytest.mark.skipif(shutil.which("nginx") is None, reason="nginx is not installed"),
]

HOSTS = {"127.0.0.1": 4, "[::1]": 6}


@pytest.fixture(scope="module")
def nginx(tmp_path_factory):
    """Return (port, folder) of the shipped example."""
    folder = tmp_path_factory.mktemp("nginx")
    with example_nginx(folder) as port:
        yield port, folder


@pytest.mark.parametrize(("host", "family"), HOSTS.items())
def test_the_example_gives_its_file(nginx, host, family):
    port, _ = nginx
    measured = measure(f"http://{host}:{port}/down.bin", Direction.DOWN)
    seen = assert_whole(measured, CountedBy.CLIENT)
    assert measured.family == family
    # IPv4 20 (RFC 791 §3.1), IPv6 40 (RFC 8200 §3), TCP 20 (RFC 9293 §3.1), time stamps 12
    # (RFC 7323 appendix A).
    assert seen.header_bytes == {4: 20, 6: 40}[family] + 20 + 12


@pytest.mark.parametrize(("host", "family"), HOSTS.items())
def test_the_example_takes_one_file_per_flow(nginx, host, family):
    port, folder = nginx
    for old in (folder / "up").glob("flow-*"):
        old.unlink()
    measured = measure(f"http://{host}:{port}/up/", Direction.UP, body_bytes=2_000_000)
    seen = assert_whole(measured, CountedBy.ACKNOWLEDGED)
    assert measured.family == family
    stored = [path.stat().st_size for path in (folder / "up").glob("flow-*")]
    assert stored == [2_000_000] * PLAN.flows
    assert min(seen.flow_bytes) > 2_000_000
