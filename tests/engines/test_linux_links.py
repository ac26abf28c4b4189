"""Ports as the kernel tells them, /sys and /proc built by hand."""

from dataclasses import replace

import pytest

from agent.codec.rtnetlink import LinkEntry
from agent.engines.linux_links import Means, describe, medium_of
from agent.engines.linux_sysfs import Device, device, pppoe_ports, read_number, virtual_machine
from agent.measurements import Medium

MBPS = 1_000_000


@pytest.fixture
def tree(tmp_path):
    """Return a writer of files under a root."""

    def write(path, text=""):
        target = tmp_path / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text)
        return target

    return write


def net(tree, tmp_path, name, index, where="devices/virtual"):
    """Build sys/class/net/NAME as the kernel does: a link into the device tree."""
    tree(f"sys/{where}/net/{name}/ifindex", f"{index}\n")
    entry = tmp_path / "sys/class/net" / name
    entry.parent.mkdir(parents=True, exist_ok=True)
    entry.symlink_to(tmp_path / "sys" / where / "net" / name)
    return tmp_path / "sys" / where / "net" / name


def test_a_usb_adapter_tells_its_bus(tree, tmp_path):
    # Documentation/ABI/testing/sysfs-bus-usb: speed in Mbit/s beside busnum of the USB device.
    where = "devices/pci0000:00/0000:00:14.0/usb2/2-1/2-1:1.0"
    entry = net(tree, tmp_path, "enx0", 3, where)
    tree(f"sys/{where}/../busnum", "2\n")
    tree(f"sys/{where}/../speed", "480\n")
    tree("sys/bus/usb/drivers/r8152/module")
    (tmp_path / "sys" / where / "driver").symlink_to(tmp_path / "sys/bus/usb/drivers/r8152")
    (entry / "device").symlink_to(tmp_path / "sys" / where)
    found = device(tmp_path, "enx0", 3)
    assert found == Device(physical=True, driver="r8152", bus_bps=480 * MBPS)


def test_a_radio_is_seen_by_its_phy(tree, tmp_path):
    entry = net(tree, tmp_path, "wlan0", 4, "devices/pci0000:00/0000:00:1c.0")
    (entry / "phy80211").mkdir()
    tree("sys/class/net/wlan0/uevent", "DEVTYPE=wlan\nINTERFACE=wlan0\nIFINDEX=4\n")
    found = device(tmp_path, "wlan0", 4)
    assert (found.radio, found.role) == (True, "wlan")


def test_another_namespace_is_not_believed(tree, tmp_path):
    net(tree, tmp_path, "eth0", 2)
    assert device(tmp_path, "eth0", 7) is None
    assert device(tmp_path, "eth9", 2) is None


@pytest.mark.parametrize(("text", "number"), [("12\n", 12), ("-1\n", -1), ("", None), ("x", None)])
def test_numbers_in_files(tree, tmp_path, text, number):
    tree("n", text)
    assert read_number(tmp_path / "n") == number
    assert read_number(tmp_path / "absent") is None


def test_pppoe_sessions_name_their_port(tree, tmp_path):
    # drivers/net/ppp/pppoe.c, pppoe_seq_show: header, then id, address, device.
    tree(
        "proc/net/pppoe",
        "Id       Address              Device\n000A0000 02:00:5E:10:00:FE       eth0\n",
    )
    assert pppoe_ports(tmp_path) == ("eth0",)
    assert pppoe_ports(tmp_path / "none") == ()


@pytest.mark.parametrize(
    ("text", "guest"),
    [("flags\t\t: fpu hypervisor\n", True), ("flags\t\t: fpu vme\n", False), ("model: x\n", False)],
)
def test_a_guest_processor_says_so(tree, tmp_path, text, guest):
    tree("proc/cpuinfo", text)
    assert virtual_machine(tmp_path) is guest
    assert virtual_machine(tmp_path / "none") is None


def entry(index, name, hardware_type=1, **kwargs):
    kwargs.setdefault("running", True)
    return LinkEntry(index=index, name=name, hardware_type=hardware_type, **kwargs)


@pytest.mark.parametrize(
    ("hardware_type", "kind", "seen", "medium"),
    [
        # ARPHRD numbers: linux/if_arp.h.
        (1, None, Device(physical=True), Medium.WIRED),
        (1, None, None, Medium.WIRED),
        (1, None, Device(physical=True, radio=True), Medium.WIRELESS),
        (1, None, Device(physical=True, role="wwan"), Medium.MOBILE),
        (1, None, Device(physical=True, driver="ipheth"), Medium.MOBILE),
        (1, "tun", Device(), Medium.TUNNEL),
        (65534, "tun", Device(), Medium.TUNNEL),
        (65534, "wireguard", Device(), Medium.TUNNEL),
        (65534, None, Device(), Medium.UNKNOWN),
        (776, "sit", Device(), Medium.TUNNEL),
        (778, "gre", Device(), Medium.TUNNEL),
        (512, "ppp", Device(), Medium.PPP),
        (772, None, Device(), Medium.LOOPBACK),
    ],
)
def test_the_medium(hardware_type, kind, seen, medium):
    assert medium_of(entry(9, "x", hardware_type, kind=kind), seen) is medium


PORT = entry(
    2,
    "eth0",
    address=bytes.fromhex("02005e100001"),
    carrier=True,
    carrier_changes=4,
    mtu_bytes=1500,
    receive_errors=7,
    transmit_errors=1,
)
MEANS = Means(
    device=lambda e: Device(physical=e.name == "eth0", bus_bps=5000 * MBPS),
    speed=lambda name: (1000 * MBPS, "full") if name == "eth0" else (10_000 * MBPS, "full"),
    pppoe=("eth0",),
)


def test_a_plain_port():
    facts = describe(PORT, (PORT,), MEANS)
    assert (facts.up, facts.medium, facts.virtual) == (True, Medium.WIRED, False)
    assert facts.hardware_address == "02:00:5e:10:00:01"
    assert (facts.speed_bps, facts.duplex, facts.mtu_bytes) == (1000 * MBPS, "full", 1500)
    assert (facts.receive_errors, facts.transmit_errors, facts.carrier_changes) == (7, 1, 4)


@pytest.mark.parametrize(
    ("upper", "kind", "mtu"),
    [
        (entry(5, "eth0.7", kind="vlan", parent_index=2, mtu_bytes=1500), "vlan", 1500),
        (entry(6, "ppp0", 512, kind="ppp", mtu_bytes=1492), "pppoe", 1492),
        (entry(7, "br0", kind="bridge", mtu_bytes=1500), "bridge", 1500),
    ],
)
def test_port_facts_come_from_the_parent(upper, kind, mtu):
    joined = LinkEntry(
        **{f: getattr(PORT, f) for f in PORT.__slots__ if f != "master_index"}, master_index=7
    )
    port = joined if kind == "bridge" else PORT
    veth = entry(8, "v0", kind="veth", master_index=7)
    facts = describe(upper, (port, veth, upper), MEANS)
    assert (facts.parent, facts.parent_kind, facts.mtu_bytes) == ("eth0", kind, mtu)
    assert (facts.speed_bps, facts.receive_errors) == (1000 * MBPS, 7)
    assert facts.bus_bps == 5000 * MBPS
    assert facts.virtual is False


def test_a_session_over_a_tagged_port_is_the_line_and_the_port_tells_the_rest():
    """PPPoE over a VLAN, as operators hand it over; 1492 octets by RFC 2516 §7."""
    tagged = entry(5, "eth0.7", kind="vlan", parent_index=2, vlan_id=7, mtu_bytes=1500)
    session = entry(6, "ppp0", 512, kind="ppp", mtu_bytes=1492)
    means = replace(MEANS, pppoe=("eth0.7",))
    facts = describe(session, (PORT, tagged, session), means)
    assert (facts.medium, facts.mtu_bytes, facts.vlan_id) == (Medium.PPP, 1492, 7)
    assert (facts.parent, facts.parent_kind) == ("eth0.7", "pppoe")
    assert (facts.speed_bps, facts.duplex, facts.receive_errors) == (1000 * MBPS, "full", 7)
    assert (facts.bus_bps, facts.virtual) == (5000 * MBPS, False)


def test_a_bridge_over_a_tagged_port_says_which_tag():
    tagged = entry(5, "eth0.7", kind="vlan", parent_index=2, vlan_id=7, master_index=7)
    bridge = entry(7, "br0", kind="bridge")
    facts = describe(bridge, (PORT, tagged, bridge), MEANS)
    assert (facts.parent, facts.vlan_id, facts.speed_bps) == ("eth0.7", 7, 1000 * MBPS)
    assert describe(PORT, (PORT, tagged, bridge), MEANS).vlan_id is None


def test_of_two_sessions_none_is_guessed_to_be_on_a_port():
    session = entry(6, "ppp0", 512, kind="ppp", mtu_bytes=1492)
    means = replace(MEANS, pppoe=("eth0", "eth1"))
    assert describe(session, (PORT, session), means).parent is None


def test_the_far_end_of_a_veth_is_no_parent():
    veth = entry(8, "v0", kind="veth", parent_index=2)
    facts = describe(veth, (PORT, veth), MEANS)
    assert (facts.parent, facts.virtual) == (None, True)


def test_links_that_point_at_each_other_end():
    one = entry(1, "a", kind="vlan", parent_index=2)
    two = entry(2, "b", kind="vlan", parent_index=1)
    assert describe(one, (one, two), MEANS).parent == "b"


@pytest.mark.parametrize(
    ("running", "carrier", "up"),
    [(True, True, True), (True, None, True), (True, False, False), (False, None, False)],
)
def test_up_means_switched_on_and_a_signal(running, carrier, up):
    assert describe(entry(1, "a", running=running, carrier=carrier), (), MEANS).up is up
