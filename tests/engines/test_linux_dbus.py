"""Leases told over a real bus (dbus-daemon) by services with the managers' own interfaces.

Values as NetworkManager 1.42.4 and systemd-networkd 252 answered on a private bus; the form of
networkd's answer since 256 is that of its source (networkd-json.c).
"""

import json
import os
import socket
import subprocess
import sys
import threading
from contextlib import contextmanager, suppress
from datetime import UTC, datetime

import pytest
from private_bus import bus_program, private_bus, serving

from agent.engines import linux_dbus
from agent.engines.linux_dbus import PLACE, connect
from agent.engines.linux_dbus_leases import (
    EXTERNAL,
    MANAGER,
    MANAGER_PATH,
    NETWORKD,
    NETWORKD_PATH,
    BusLeases,
)

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
GET_ALL = "org.freedesktop.DBus.Properties.GetAll"
DEVICE = f"{MANAGER_PATH}/Devices/2"
ACTIVE = f"{MANAGER_PATH}/ActiveConnection/2"
LEASE = f"{MANAGER_PATH}/DHCP4Config/1"
ADDRESSES = f"{MANAGER_PATH}/IP4Config/2"
OPTIONS = {
    "ip_address": ("s", "192.0.2.39"),
    "dhcp_lease_time": ("s", "3600"),
    "dhcp_server_identifier": ("s", "192.0.2.1"),
    "domain_name_servers": ("s", "192.0.2.53"),
    "routers": ("s", "192.0.2.1"),
    "subnet_mask": ("s", "255.255.255.0"),
    "expiry": ("s", "1772445600"),
}
NETWORKD_SAYS = {
    "Addresses": [
        {
            "Family": 2,
            "Address": [192, 0, 2, 38],
            "PrefixLength": 24,
            "ConfigSource": "DHCPv4",
            "ConfigProvider": [192, 0, 2, 1],
            "ValidLifetimeUSec": 4_000_000_000,
        }
    ],
    "DHCPv4Client": {
        "Lease": {
            "LeaseTimestampUSec": 400_000_000,
            "Timeout1USec": 2_200_000_000,
            "Timeout2USec": 3_550_000_000,
        }
    },
}

pytestmark = [
    pytest.mark.loopback,
    pytest.mark.skipif(
        bus_program() is None and os.environ.get("REQUIRE_LAB") != "1",
        reason="dbus-daemon is not installed",
    ),
]


def networkmanager(lease=LEASE, flags=0, options=OPTIONS):
    """What NetworkManager answers of one device; `lease` "/" is none."""
    device = {
        "Dhcp4Config": ("o", lease),
        "Ip4Config": ("o", ADDRESSES),
        "ActiveConnection": ("o", ACTIVE),
    }
    addresses = {
        "AddressData": ("aa{sv}", [{"address": ("s", "192.0.2.39"), "prefix": ("u", 24)}]),
        "Gateway": ("s", "192.0.2.1"),
        "NameserverData": ("aa{sv}", [{"address": ("s", "192.0.2.53")}]),
    }

    def told(path, interface, properties):
        return {(path, GET_ALL, (f"{MANAGER}.{interface}",)): ("a{sv}", (properties,))}

    asked = (MANAGER_PATH, f"{MANAGER}.GetDeviceByIpIface", ("n0",))
    return (
        {asked: ("o", (DEVICE,))}
        | told(DEVICE, "Device", device)
        | told(LEASE, "DHCP4Config", {"Options": ("a{sv}", options)})
        | told(ADDRESSES, "IP4Config", addresses)
        | told(ACTIVE, "Connection.Active", {"StateFlags": ("u", flags)})
    )


NO_OPTIONS = {(LEASE, GET_ALL, (f"{MANAGER}.DHCP4Config",)): ("s", ("x",))}


def networkd(text=None):
    asked = (NETWORKD_PATH, f"{NETWORKD}.Manager.DescribeLink", (3,))
    return {asked: ("s", (json.dumps(NETWORKD_SAYS) if text is None else text,))}


@pytest.fixture
def told(tmp_path):
    """Return what is told where services own `names` and answer so."""

    def ask(names, answers, name="n0", index=3):
        with serving(tmp_path, names, answers):
            return BusLeases(tmp_path, lambda: 1000.0).leases(name, index, NOW)

    return ask


def test_networkmanager_tells_its_lease(told):
    ((lease, source),) = told([MANAGER], networkmanager())
    assert source == "networkmanager-dbus"
    assert (lease.address, lease.server_id, lease.lease_s) == ("192.0.2.39", "192.0.2.1", 3600)
    assert (lease.routers, lease.dns, lease.whole) == (("192.0.2.1",), ("192.0.2.53",), True)


def test_networkd_tells_its_lease(told):
    ((lease, source),) = told([NETWORKD], networkd())
    assert source == "networkd-dbus"
    assert (lease.address, lease.server_id) == ("192.0.2.38", "192.0.2.1")
    assert (lease.lease_s, lease.t1_s, lease.t2_s) == (3600, 1800, 3150)
    assert lease.expires == datetime(2026, 3, 2, 9, 50, tzinfo=UTC)


def test_networkmanager_is_believed_before_networkd(told):
    found = told([MANAGER, NETWORKD], networkmanager() | networkd())
    assert [source for _, source in found] == ["networkmanager-dbus", "networkd-dbus"]


def test_an_address_typed_in_is_known_as_such(told):
    ((lease, _),) = told([MANAGER], networkmanager(lease="/"))
    assert (lease.origin, lease.address, lease.routers) == ("static", "192.0.2.39", ("192.0.2.1",))


def test_what_networkmanager_only_mirrors_is_not_its_own(told):
    assert told([MANAGER], networkmanager(lease="/", flags=EXTERNAL)) == ()


@pytest.mark.parametrize(
    ("names", "answers"),
    [
        ([], {}),
        ([MANAGER, NETWORKD], {}),
        ([NETWORKD], networkd("no description")),
        ([MANAGER], networkmanager(options={"ip_address": ("as", ["192.0.2.39"])})),
        (
            [MANAGER],
            networkmanager() | {(LEASE, GET_ALL, (f"{MANAGER}.DHCP4Config",)): ("s", ("x",))},
        ),
    ],
)
def test_managers_that_are_absent_refuse_or_say_something_else(told, names, answers):
    assert told(names, answers) == ()


def test_another_port_is_not_asked_of(told):
    assert told([MANAGER, NETWORKD], networkmanager() | networkd(), name="n1", index=4) == ()


def test_asking_starts_no_service(tmp_path):
    """D-Bus specification, NO_AUTO_START: a definition that could be started is left alone."""
    services, started = tmp_path / "services", tmp_path / "started"
    services.mkdir()
    (services / f"{NETWORKD}.service").write_text(
        f"[D-BUS Service]\nName={NETWORKD}\nExec=/usr/bin/touch {started}\n"
    )
    with private_bus(tmp_path, services):
        assert BusLeases(tmp_path).leases("n0", 3, NOW) == ()
    assert not started.exists()


@contextmanager
def mute_bus(root, say=b""):
    """Listen where the bus would be, say something to whoever comes, and then nothing."""
    place = root / PLACE
    place.parent.mkdir(parents=True)
    with socket.socket(socket.AF_UNIX) as listener:
        listener.bind(str(place))
        listener.listen(8)
        done = threading.Event()
        thread = threading.Thread(target=_accept, args=(listener, say, done))
        thread.start()
        try:
            yield
        finally:
            done.set()
            with socket.socket(socket.AF_UNIX) as last:
                last.connect(str(place))
            thread.join(5.0)


def _accept(listener, say, done):
    held = []
    while not done.is_set():
        client, _ = listener.accept()
        with suppress(BrokenPipeError):
            client.sendall(say)
        held.append(client)
    for client in held:
        client.close()


AUTHENTICATED = b"OK 0123456789abcdef0123456789abcdef\r\n"
"""D-Bus specification, authentication protocol."""


@pytest.mark.parametrize("say", [b"", AUTHENTICATED])
def test_a_bus_that_never_answers_is_waited_for_once_and_briefly(tmp_path, monkeypatch, say):
    waits = []
    monkeypatch.setattr("agent.engines.linux_dbus_leases.connect", lambda root: connect(root, 0.05))
    leases = BusLeases(tmp_path)
    with mute_bus(tmp_path, say):
        assert leases.leases("n0", 3, NOW) == ()
    monkeypatch.setattr("agent.engines.linux_dbus_leases.connect", waits.append)
    assert leases.leases("n0", 3, NOW) == ()
    assert waits == []


@pytest.mark.parametrize(
    "say", [b"REJECTED EXTERNAL\r\n", b"HELLO\r\n", AUTHENTICATED + b"x" * 64, bytes(4096)]
)
def test_what_speaks_no_dbus_tells_nothing(tmp_path, say):
    with mute_bus(tmp_path, say):
        assert BusLeases(tmp_path).leases("n0", 3, NOW) == ()


def test_an_answer_without_end_is_given_up(tmp_path, monkeypatch):
    monkeypatch.setattr(linux_dbus, "MOST_BYTES", 500)
    with serving(tmp_path, [NETWORKD], networkd(" " * 1000)):
        assert BusLeases(tmp_path).leases("n0", 3, NOW) == ()


def test_without_a_bus_nothing_is_loaded_or_waited_for(tmp_path):
    code = (
        "import sys; from pathlib import Path; from datetime import datetime, UTC\n"
        "from agent.engines.linux_dbus_leases import BusLeases\n"
        f"found = BusLeases(Path({str(tmp_path)!r})).leases('n0', 3, datetime.now(UTC))\n"
        "assert found == () and 'jeepney' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=30)
