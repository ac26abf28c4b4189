"""Hosts as network namespaces, and the hands that lay cables and addresses between them."""

from __future__ import annotations

import array
import fcntl
import os
import socket
import struct
from contextlib import suppress
from pathlib import Path
from typing import Any

from agent.practice.kernel import inside, new_network

SIOCETHTOOL = 0x8946
ETHTOOL_SET = {"tx": 0x17, "sg": 0x19, "tso": 0x1F, "gso": 0x24, "gro": 0x2C}
"""linux/ethtool.h, the commands that switch one kind of offload."""

IFA_F_DEPRECATED, RTPROT_RA = 0x20, 9
"""linux/if_addr.h, linux/rtnetlink.h."""


class Bench:
    """The namespaces of one practice network; everything here runs as its supervisor."""

    def __init__(self) -> None:
        self.networks: dict[str, int] = {}
        self._netlinks: dict[str, Any] = {}

    def add_host(self, name: str) -> None:
        """Make a namespace with its loopback up."""
        from pyroute2 import IPRoute  # noqa: PLC0415 - costs 0.3 s; only the supervisor pays

        self.networks[name] = new_network()
        self._netlinks[name] = IPRoute()
        self.up(name, "lo")

    def cable(self, host: str, port: str, far_host: str, far_port: str) -> None:
        """Lay a cable between two hosts and bring both ports up."""
        peer = {"ifname": far_port, "net_ns_fd": self.networks[far_host]}
        self._netlinks[host].link("add", ifname=port, kind="veth", peer=peer)
        self.up(host, port)
        self.up(far_host, far_port)

    def move(self, host: str, port: str, far_host: str, far_port: str) -> None:
        """Move one end of a cable to another host; it loses its addresses and is up again."""
        netlink, index = self._netlinks[host], self.index(host, port)
        netlink.link("set", index=index, state="down")
        netlink.link("set", index=index, ifname=far_port)
        netlink.link("set", index=index, net_ns_fd=self.networks[far_host])
        self.up(far_host, far_port)

    def bridge(self, host: str, name: str, ports: tuple[str, ...]) -> None:
        """Make a bridge of ports; it forwards at once."""
        netlink = self._netlinks[host]
        netlink.link("add", ifname=name, kind="bridge", br_stp_state=0, br_forward_delay=0)
        for port in ports:
            netlink.link("set", index=self.index(host, port), master=self.index(host, name))
        self.up(host, name)

    def tunnel(
        self, host: str, name: str, port: str, *, own: str, far: str, number: int, udp_port: int
    ) -> None:
        """Make one end of a tunnel of frames over UDP (VXLAN, RFC 7348) and bring it up."""
        self._netlinks[host].link(
            "add",
            ifname=name,
            kind="vxlan",
            vxlan_link=self.index(host, port),
            vxlan_id=number,
            vxlan_local=own,
            vxlan_group=far,
            vxlan_port=udp_port,
        )
        self.up(host, name)

    def index(self, host: str, port: str) -> int:
        """Return the interface index of a port."""
        return int(self._netlinks[host].link_lookup(ifname=port)[0])

    def up(self, host: str, port: str) -> None:
        """Bring a port up."""
        self._netlinks[host].link("set", index=self.index(host, port), state="up")

    def down(self, host: str, port: str) -> None:
        """Take a port down."""
        self._netlinks[host].link("set", index=self.index(host, port), state="down")

    def mtu(self, host: str, port: str, mtu_bytes: int) -> None:
        """Set the largest IP packet that a port sends and takes."""
        self._netlinks[host].link("set", index=self.index(host, port), mtu=mtu_bytes)

    def address(self, host: str, port: str, address: str, bits: int) -> None:
        """Give a port an address with its prefix length."""
        self._netlinks[host].addr("add", index=self.index(host, port), address=address, mask=bits)

    def forget_addresses(self, host: str, port: str) -> None:
        """Take every address from a port."""
        self._netlinks[host].flush_addr(index=self.index(host, port))

    def lease(self, host: str, port: str, address: str, bits: int, lease_s: int) -> None:
        """Give a port an address that the kernel lets expire."""
        self._netlinks[host].addr(
            "add",
            index=self.index(host, port),
            address=address,
            mask=bits,
            IFA_CACHEINFO={"ifa_preferred": lease_s, "ifa_valid": lease_s},
            proto=3,
        )

    def route(self, host: str, prefix: str, gateway: str) -> None:
        """Send a prefix (or "default") to a gateway of either family."""
        family = socket.AF_INET6 if ":" in gateway else socket.AF_INET
        if prefix == "default" and family == socket.AF_INET6:
            prefix = "::/0"
        self._netlinks[host].route("add", family=family, dst=prefix, gateway=gateway)

    def reach(self, host: str, port: str, prefix: str) -> None:
        """Send a prefix of IPv4 out of a port, where all of it stands on the link."""
        self._netlinks[host].route("add", dst=prefix, oif=self.index(host, port), scope="link")

    def addresses_4(self, host: str, port: str) -> tuple[str, ...]:
        """Return the IPv4 addresses of a port."""
        found = self._netlinks[host].get_addr(family=socket.AF_INET, index=self.index(host, port))
        return tuple(str(one.get_attr("IFA_ADDRESS")) for one in found)

    def unroute_6(self, host: str) -> None:
        """Take the default route of IPv6 from a host."""
        self._netlinks[host].route("del", family=socket.AF_INET6, dst="::/0")

    def addresses_6(self, host: str, port: str) -> tuple[str, ...]:
        """Return the IPv6 addresses of a port that are meant for more than its link."""
        found = self._netlinks[host].get_addr(
            family=socket.AF_INET6, index=self.index(host, port), scope=0
        )
        return tuple(str(one.get_attr("IFA_ADDRESS")) for one in found)

    def preferred_6(self, host: str, port: str) -> tuple[str, ...]:
        """Return those of `addresses_6` that may be used for new flows (RFC 4862 §5.5.4)."""
        found = self._netlinks[host].get_addr(
            family=socket.AF_INET6, index=self.index(host, port), scope=0
        )
        preferred = (one for one in found if not one["flags"] & IFA_F_DEPRECATED)
        return tuple(str(one.get_attr("IFA_ADDRESS")) for one in preferred)

    def advertised_ways(self, host: str, port: str) -> tuple[str, ...]:
        """Return the routers that a host took as default routers from advertisements."""
        index = self.index(host, port)
        found = self._netlinks[host].get_default_routes(family=socket.AF_INET6)
        ways = (one for one in found if one["proto"] == RTPROT_RA)
        return tuple(
            str(one.get_attr("RTA_GATEWAY")) for one in ways if one.get_attr("RTA_OIF") == index
        )

    def forget_addresses_6(self, host: str, port: str) -> None:
        """Take from a port the IPv6 addresses that are meant for more than its link."""
        self._netlinks[host].flush_addr(
            family=socket.AF_INET6, index=self.index(host, port), scope=0
        )

    def set_hardware_address(self, host: str, port: str, address: str) -> None:
        """Give a port its six octets, written with colons."""
        self._netlinks[host].link("set", index=self.index(host, port), address=address)

    def hardware_address(self, host: str, port: str) -> bytes:
        """Return the six octets of a port."""
        link = self._netlinks[host].link("get", index=self.index(host, port))[0]
        return bytes.fromhex(link.get_attr("IFLA_ADDRESS").replace(":", ""))

    def shape(
        self, host: str, port: str, rate_bps: int, burst_bytes: int, limit_bytes: int
    ) -> None:
        """Let frames leave a port at a rate, with a byte-counted queue; another one gives way."""
        self._netlinks[host].tc(
            "replace",
            "tbf",
            self.index(host, port),
            0x10000,
            rate=rate_bps // 8,
            burst=burst_bytes,
            limit=limit_bytes,
        )

    def switch(self, host: str, name: str, value: object) -> None:
        """Write a sysctl of a host; one that this kernel lacks is passed over."""
        path = Path("/proc/sys") / name.replace(".", "/")
        with inside(self.networks[host]), suppress(FileNotFoundError):
            path.write_text(f"{value}\n")

    def offloads_off(self, host: str, port: str) -> None:
        """Make every frame of a port a whole frame of its own, check sums included."""
        with (
            inside(self.networks[host]),
            socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as handle,
        ):
            for command in ETHTOOL_SET.values():
                value = array.array("I", [command, 0])
                request = struct.pack("16sP", port.encode(), value.buffer_info()[0])
                with suppress(OSError):
                    fcntl.ioctl(handle, SIOCETHTOOL, request.ljust(40, b"\0"))

    def close(self) -> None:
        """Let go of every namespace."""
        for netlink in self._netlinks.values():
            netlink.close()
        for network in self.networks.values():
            os.close(network)
