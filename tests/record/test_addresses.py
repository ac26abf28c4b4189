"""What counts as an address is checked against the text forms of RFC 4291 §2.2 and RFC 5952."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.record.addresses import hidden, shown

ADDRESSES = [
    "192.0.2.7",
    "2001:db8::1",
    "::1",
    "::",
    "2001:DB8:0:0:8:800:200C:417A",
    "::ffff:192.0.2.128",
    "fe80::1%eth0",
    "02:00:5e:10:00:01",
    "02-00-5E-10-00-01",
]
AROUND = [
    "{}",
    "{}/24",
    "http://[{}]:8080/card",
    "{}: refused",
    "no route to {}.",
    "({})",
    "from={}",
    "{}, {}",
]
NOT_ADDRESSES = [
    "2026-03-02T09:14:07Z",
    "12:34:56",
    "Linux 6.1.0",
    "1.2.3.4.5",
    "300.1.1.1",
    "doorstep 0.1.0",
    "m01",
    "a:b:c",
    "::::::",
    "ab" * 32,
]


@pytest.mark.parametrize("address", ADDRESSES)
@pytest.mark.parametrize("around", AROUND)
def test_an_address_is_hidden_wherever_it_stands(address, around):
    text = around.format(address, address)
    body, values = hidden({"x": text})
    assert address not in body["x"]
    assert values == {"address:1": address}
    assert shown(body, values) == {"x": text}


@pytest.mark.parametrize("text", ["http://192.0.2.7:8080/card", "2001:db8:0:0:8:800:200c:417a:53"])
def test_a_port_stays_beside_the_token(text):
    body, _ = hidden({"x": text})
    assert re.fullmatch(r"(http://)?address:1:(8080/card|53)", body["x"])


@pytest.mark.parametrize("text", NOT_ADDRESSES)
def test_what_is_no_address_stays(text):
    assert hidden({"x": [text]}) == ({"x": [text]}, {})


def test_one_value_has_one_token_and_names_of_members_are_covered():
    body, values = hidden({"192.0.2.1": ["192.0.2.1", "192.0.2.2"]})
    assert body == {"address:1": ["address:1", "address:2"]}
    assert values == {"address:1": "192.0.2.1", "address:2": "192.0.2.2"}


def test_a_host_name_of_a_hop_is_hidden_everywhere():
    name = "cpe-7-slipway.ternbay.example"
    measurements = [{"observed": {"names": [["192.0.2.9", name]]}, "statistics": None}]
    body, values = hidden({"measurements": measurements, "note": name})
    assert name not in str(body)
    assert name in values.values()


texts = st.one_of(
    st.text(max_size=30),
    st.sampled_from([a.format(x, x) for a in AROUND for x in ADDRESSES]),
    st.sampled_from(["address:1", "address:2 and 192.0.2.1", "address:999"]),
)
documents = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), texts),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(texts, inner, max_size=4),
    max_leaves=12,
)


@given(documents)
def test_showing_undoes_hiding(document):
    body, values = hidden(document)
    assert shown(body, values) == document
