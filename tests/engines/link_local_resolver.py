"""Ask a resolver at a link-local address over UDP and TCP; for a network namespace of its own."""

import socket
import subprocess
import sys
import threading
from pathlib import Path

import dns.message
import dns.rrset

from agent.engines.names import BoundNames
from agent.measurements import NameTransport
from agent.ports.binding import Binding
from agent.ports.names import NameQuestion

NAME, ADDRESS = "www.tern.example", "fe80::53"
COMMANDS = (
    "link set lo up",
    "link add va type veth peer name vb",
    "link set va up",
    "link set vb up",
    f"address add {ADDRESS}/64 dev va nodad",
)


def answer(wire):
    """Return the answer to a query."""
    reply = dns.message.make_response(dns.message.from_wire(wire))
    reply.answer.append(dns.rrset.from_text(f"{NAME}.", 60, "IN", "A", "198.51.100.7"))
    return reply.to_wire()


def serve(udp, tcp):
    """Answer one query over each."""
    wire, source = udp.recvfrom(4096)
    udp.sendto(answer(wire), source)
    stream, _ = tcp.accept()
    with stream:
        reply = answer(stream.recv(4096)[2:])
        stream.sendall(len(reply).to_bytes(2) + reply)


def main():
    """Lay the link, serve on it and print the addresses found."""
    Path("/proc/sys/net/ipv6/conf/default/accept_dad").write_text("0")
    for command in COMMANDS:
        subprocess.run(["ip", *command.split()], check=True)
    at = (ADDRESS, 53, 0, socket.if_nametoindex("va"))
    with (
        socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as udp,
        socket.socket(socket.AF_INET6) as tcp,
    ):
        udp.bind(at)
        tcp.bind(at)
        tcp.listen()
        threading.Thread(target=serve, args=(udp, tcp), daemon=True).start()
        for transport in (NameTransport.UDP, NameTransport.TCP):
            asked = NameQuestion(resolver=f"{ADDRESS}%va", name=NAME, transport=transport)
            sys.stdout.write(f"{BoundNames(Binding(), ()).ask(asked, 5.0).addresses[0]}\n")


if __name__ == "__main__":
    main()
