"""Run doorstep on Linux as if on Windows: its name, its calls stood in for, none of its own truth.

Every echo is answered at once by its own target over IPv4; the registry is empty. What POSIX alone
has is not there. Whatever a real Windows does differently, this does not show.
"""

import http.client
import logging
import select
import socket
import ssl
import struct
import subprocess
import sys
import types
import uuid
import zoneinfo

import cryptography.x509
import httpx
import psutil
import pydantic.main
import rich.console
import typer

import agent.cli.app
from agent.engines import windows_calls
from agent.session.prober import client

LOADED = (
    http.client, logging, select, ssl, subprocess, uuid, cryptography.x509, httpx, psutil,
    pydantic.main, rich.console, typer, zoneinfo, agent.cli.app,
)  # fmt: skip
"""Loaded under their own system's name: they choose their parts by it."""

REPLY = struct.Struct("<4sIIHHQ16x")
"""ICMP_ECHO_REPLY of ipexport.h (from memory)."""


class StandInHelper:
    """The IP helper library on a line without delay and without routers."""

    def open(self, family):
        return family

    def close(self, handle):
        del handle

    def echo(self, handle, asked):
        if handle == 6:
            return b"", 0
        size, source = len(asked.payload), socket.inet_aton(asked.target)
        return REPLY.pack(source, 0, 0, size, 0, REPLY.size) + asked.payload, 0

    def best_route(self, address):
        del address
        return b""


def no_key(*_):
    raise OSError("no such key")


def main():
    windows_calls.IpHelper = StandInHelper
    client.HANDS_SOCKETS = False
    # It reads the computer's own time zone from the registry as it is loaded; no page uses that.
    import babel.dates  # noqa: F401

    sys.modules["winreg"] = types.SimpleNamespace(HKEY_LOCAL_MACHINE=0, OpenKey=no_key)
    for name in ("fcntl", "pwd", "grp", "resource", "termios"):
        sys.modules[name] = None
    sys.platform = "win32"
    from agent.__main__ import main as run

    run()


if __name__ == "__main__":
    main()
