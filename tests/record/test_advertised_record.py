"""A record keeps what routers and servers said, and their addresses leave the open body."""

import json

import pytest

from agent.codec.dhcp6 import duid_text, link_layer_duid
from agent.measurements import (
    AdvertisedPrefix,
    AdvertisedProbe,
    AdvertisedRouter,
    AdvertisedView,
    HeldPrefix,
    HeldRouter,
    Kind,
    LeaseFacts,
    Measurement,
    OfferedNetwork,
    Role,
    ServerAnswer,
    State,
)
from agent.record.addresses import hidden
from agent.record.typed import measurement_document, measurement_of

HARDWARE = "02:00:5e:10:00:01"
PROBE = AdvertisedProbe(
    routers_asked=1,
    servers_asked=1,
    information_asked=1,
    listened_s=6.0,
    routers=(
        AdvertisedRouter(
            after_ms=1.5,
            address="fe80::1",
            hardware_address=HARDWARE,
            router_lifetime_s=1800,
            managed=True,
            other=False,
            prefixes=(
                AdvertisedPrefix(
                    network="2001:db8:1::",
                    prefix=64,
                    on_link=True,
                    autonomous=False,
                    valid_s=0xFFFFFFFF,
                    preferred_s=0,
                ),
            ),
        ),
    ),
    servers=(
        ServerAnswer(
            after_ms=2.5,
            kind="advertise",
            server_id=duid_text(link_layer_duid(bytes.fromhex(HARDWARE.replace(":", "")))),
            address="fe80::1",
            hardware_address=HARDWARE,
            delegated=(
                OfferedNetwork(network="2001:db8:100::", prefix=56, preferred_s=1, valid_s=2),
            ),
            delegation_status=0,
        ),
    ),
)
VIEW = AdvertisedView(
    received=True,
    managed=True,
    routers=(HeldRouter(address="fe80::1", left_s=9.5),),
    prefixes=(HeldPrefix(network="2001:db8:1::", prefix=64),),
    sources={"managed": "netlink"},
)


def lease(**facts):
    return Measurement(
        kind=Kind.LEASE,
        role=Role.LOCAL,
        state=State.COMPLETE,
        method="system",
        started_s=0.0,
        duration_s=6.0,
        family=6,
        observed=LeaseFacts(family=6, origin="kernel", **facts),
    )


@pytest.mark.parametrize(
    "facts",
    [
        {"advertised": PROBE},
        {"advertised_view": VIEW, "advertised_reason": "right-missing"},
        {},
    ],
)
def test_it_is_read_again_as_itself(facts):
    document = json.loads(json.dumps(measurement_document(lease(**facts))))
    assert measurement_of(document) == lease(**facts)


def test_a_record_from_before_is_read():
    document = measurement_document(lease())
    observed = {k: v for k, v in document["observed"].items() if not k.startswith("advertised")}
    assert measurement_of({**document, "observed": observed}) == lease()


def test_no_address_stays_in_the_open_body():
    document = measurement_document(lease(advertised=PROBE, advertised_view=VIEW))
    text = json.dumps(hidden({"measurements": [document]})[0])
    assert "2001:db8" not in text
    assert "fe80" not in text
    assert HARDWARE not in text
    assert "02005e100001" not in text
