"""Asking the operator's server over a scripted port."""

from urllib.parse import parse_qs, urlsplit

import pytest

from agent.codec.card import (
    Card,
    Endpoints,
    Limits,
    Load,
    ReflectorGrant,
    ReflectorReport,
    Refusal,
    Seen,
    UploadReceipt,
)
from agent.codec.document import write_document
from agent.errors import BadReply, MalformedMessage, Refused, ServerBusy
from agent.measurements import Direction
from agent.ports.http import HttpExchange, ScriptedHttp
from agent.probes.server import (
    DEFAULT_WAIT_S,
    endpoint,
    open_reflector,
    read_card,
    reflector_report,
    transfer_urls,
    upload_receipt,
)

CARD_URL = "http://192.0.2.80:8080/card"
CARD = Card(
    server_id="tern-bay",
    software="doorstep",
    endpoints=Endpoints(
        download="/download", upload="/upload", receipts="/receipts", reflector="/reflector"
    ),
    limits=Limits(seconds=60, bytes=7_000, upload_bytes=9_000, flows=8, clients=3),
    load=Load(transfers=0, clients=0),
    seen=Seen(address="203.0.113.5", port=4242),
    reflector_port=862,
    token_required=True,
    time="2026-03-02T09:00:00+00:00",
)
GRANT = ReflectorGrant(
    port=862, ssid=7, session="ab" * 8, seconds=60.0, packets_per_s=100, max_packets=1000
)


def answering(status=200, document=None, body=b"", headers=(), fault=None):
    content = body if document is None else write_document(document)

    def answer(request):
        return HttpExchange(
            url=request.url, status=status, body=content, headers=headers, fault=fault
        )

    return ScriptedHttp(answer)


def test_the_card_is_read_with_the_token():
    http = answering(document=CARD.to_document())
    assert read_card(http, CARD_URL, "t0ken", 2.5) == CARD
    asked = http.asked[0]
    assert (asked.method, asked.url, asked.token) == ("GET", CARD_URL, "t0ken")
    assert http.waits_s == [2.5]
    assert "t0ken" not in repr(asked)


def test_transfer_urls_ask_for_all_that_is_allowed_under_a_new_run():
    first, second = transfer_urls(CARD_URL, CARD), transfer_urls(CARD_URL, CARD)
    assert first[Direction.DOWN] == "http://192.0.2.80:8080/download?bytes=7000"
    up = urlsplit(first[Direction.UP])
    assert up.path == "/upload"
    assert len(parse_qs(up.query)["run"][0]) == 16
    assert first[Direction.UP] != second[Direction.UP]


@pytest.mark.parametrize(
    ("place", "query", "url"),
    [
        ("/x", {}, "http://192.0.2.80:8080/x"),
        ("/x?a=1", {"b": 2}, "http://192.0.2.80:8080/x?a=1&b=2"),
        ("https://198.51.100.2/y", {"b": 2}, "https://198.51.100.2/y?b=2"),
    ],
)
def test_endpoints_are_paths_or_whole_urls(place, query, url):
    assert endpoint(CARD_URL, place, **query) == url


def test_an_endpoint_that_makes_no_url_is_told():
    with pytest.raises(BadReply):
        endpoint(CARD_URL, "http://[x/upload", run="1f")


def test_a_grant_is_asked_for_by_post():
    http = answering(201, GRANT.to_document())
    assert open_reflector(http, CARD_URL, CARD, "t", within_s=1) == GRANT
    assert (http.asked[0].method, http.asked[0].url) == ("POST", "http://192.0.2.80:8080/reflector")


def test_authenticated_mode_is_asked_for_by_name_and_a_grant_without_a_key_stands():
    http = answering(201, GRANT.to_document())
    grant = open_reflector(http, CARD_URL, CARD, "t", within_s=1, authenticated=True)
    assert http.asked[0].url == "http://192.0.2.80:8080/reflector?mode=authenticated"
    assert grant.secret is None
    keyed = GRANT.to_document() | {"key": "ab" * 32}
    grant = open_reflector(answering(201, keyed), CARD_URL, CARD, None, within_s=1)
    assert grant.secret == b"\xab" * 32


def test_a_report_names_its_session():
    report = ReflectorReport(received=3, reflected=3, refused=0, runs=((0, 3),))
    http = answering(document=report.to_document())
    assert reflector_report(http, CARD_URL, CARD, GRANT, None, within_s=1) == report
    assert http.asked[0].url == f"http://192.0.2.80:8080/reflector?session={GRANT.session}"


def test_a_receipt_names_its_run():
    receipt = UploadReceipt(bytes=5, seconds=0.1, complete=True, slices_100ms=(5,))
    http = answering(document=receipt.to_document())
    assert upload_receipt(http, CARD_URL, CARD, "ab", None, within_s=1) == receipt
    assert http.asked[0].url.endswith("/receipts?run=ab")


def test_a_card_without_a_reflector_grants_nothing():
    from dataclasses import replace

    ends = replace(CARD.endpoints, reflector=None)
    with pytest.raises(BadReply):
        open_reflector(answering(), CARD_URL, replace(CARD, endpoints=ends), None, within_s=1)


BUSY = Refusal(code="busy", wait_s=17.0).to_document()


@pytest.mark.parametrize(
    ("http", "wait_s"),
    [
        (answering(503, BUSY), 17.0),
        (answering(503, body=b"<html>", headers=(("Retry-After", "30"),)), 30.0),
        (answering(503, headers=(("Retry-After", "Wed, 25 Nov 2026 20:00:00 GMT"),)), None),
        (answering(503, headers=(("Retry-After", "9" * 40),)), None),
    ],
)
def test_a_busy_server_says_how_long_to_wait(http, wait_s):
    with pytest.raises(ServerBusy) as told:
        read_card(http, CARD_URL, None, 1)
    assert told.value.fields["wait_s"] == (DEFAULT_WAIT_S if wait_s is None else wait_s)


def test_a_refusal_carries_the_servers_own_code():
    http = answering(401, Refusal(code="token").to_document())
    with pytest.raises(BadReply) as told:
        read_card(http, CARD_URL, "wrong", 1)
    assert told.value.fields["problem"] == "HTTP status 401 (token)"


@pytest.mark.parametrize("status", [301, 404, 500])
def test_any_other_status_is_no_card(status):
    with pytest.raises(BadReply):
        read_card(answering(status, body=b"<html>"), CARD_URL, None, 1)


def test_a_page_instead_of_a_card_is_malformed():
    with pytest.raises(MalformedMessage):
        read_card(answering(body=b"<html>log in</html>"), CARD_URL, None, 1)


def test_a_fault_of_the_connection_passes_through():
    fault = Refused(address="192.0.2.80")
    with pytest.raises(Refused):
        read_card(answering(fault=fault), CARD_URL, None, 1)
