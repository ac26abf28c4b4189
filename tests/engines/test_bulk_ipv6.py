"""Bulk flows over IPv6 on loopback; those of FTP are in test_ftp_engine, by EPSV alone."""

import ssl

import pytest
from bulk_runs import CAP, assert_whole, http_engine, measure
from loopback_servers import nginx, operator

from agent.measurements import CountedBy, Direction, State
from agent.probes.server import read_card, transfer_urls

pytestmark = pytest.mark.loopback

LOOPBACK = "::1"
PATHS = {Direction.DOWN: "/big", Direction.UP: "/put/"}
COUNTS = {Direction.DOWN: CountedBy.CLIENT, Direction.UP: CountedBy.ACKNOWLEDGED}
# IPv6 40 (RFC 8200 §3), TCP 20 (RFC 9293 §3.1), time stamps 12 (RFC 7323 appendix A).
HEADERS = 40 + 20 + 12


@pytest.mark.parametrize("direction", list(PATHS))
def test_plain_nginx(tmp_path, direction):
    with nginx(tmp_path, address=LOOPBACK) as base:
        measured = measure(base + PATHS[direction], direction, body_bytes=2_000_000)
        seen = assert_whole(measured, COUNTS[direction])
        stored = {path.stat().st_size for path in (tmp_path / "put").iterdir()}
    assert (measured.family, measured.address) == (6, LOOPBACK)
    assert seen.header_bytes == HEADERS
    assert stored == ({2_000_000} if direction is Direction.UP else set())


@pytest.mark.parametrize("direction", list(PATHS))
def test_the_operators_server(direction):
    with operator(host=LOOPBACK) as card_url:
        http = http_engine()
        urls = transfer_urls(card_url, read_card(http, card_url, None, 5))
        measured = measure(urls[direction], direction, http=http)
    seen = assert_whole(measured, COUNTS[direction])
    assert (measured.family, seen.header_bytes) == (6, HEADERS)
    if direction is Direction.UP:
        assert sum(seen.slice_bytes) <= seen.server_bytes < sum(seen.slice_bytes) + 2 * CAP


@pytest.mark.parametrize("direction", list(PATHS))
def test_tls(tmp_path, authority, direction):
    context = ssl.create_default_context()
    authority.configure_trust(context)
    certificate = authority.issue_cert("www.tern.example")
    with nginx(tmp_path, certificate=certificate, address=LOOPBACK) as base:
        url = base.replace(f"[{LOOPBACK}]", "www.tern.example") + PATHS[direction]
        http = http_engine(context, address=LOOPBACK)
        measured = measure(url, direction, http=http, body_bytes=2_000_000)
    assert measured.state is State.COMPLETE, measured.reason
    assert (measured.family, measured.observed.secure) == (6, True)
    assert measured.observed.counted_by is COUNTS[direction]
    assert sum(measured.observed.slice_bytes) > CAP / 3
