"""A private message bus with real dbus-daemon, and scripted services on it."""

from __future__ import annotations

import shutil
import subprocess
import threading
from contextlib import contextmanager, suppress

from jeepney import HeaderFields, MessageType, new_error, new_method_return
from jeepney.bus_messages import message_bus
from jeepney.io.blocking import DBusConnection, prep_socket

from agent.engines.linux_dbus import PLACE

CONFIGURATION = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>session</type>
  <listen>unix:path={place}</listen>
  <auth>EXTERNAL</auth>
  <servicedir>{services}</servicedir>
  <policy context="default">
    <allow user="*"/><allow own="*"/>
    <allow send_destination="*"/><allow receive_sender="*"/>
  </policy>
</busconfig>
"""
"""dbus-daemon(1)."""

NOT_THERE = "org.freedesktop.DBus.Error.UnknownObject"


def bus_program():
    """Return the path of dbus-daemon, None where it is not installed."""
    return shutil.which("dbus-daemon") or shutil.which("dbus-daemon", path="/usr/bin:/bin")


@contextmanager
def private_bus(root, services=None):
    """Run a bus under `root` where the system's would be; `services` is a folder of definitions."""
    place = root / PLACE
    place.parent.mkdir(parents=True)
    settings = root / "bus.conf"
    settings.write_text(CONFIGURATION.format(place=place, services=services or root))
    argv = [bus_program(), f"--config-file={settings}", "--nofork", "--nopidfile"]
    with subprocess.Popen(
        [*argv, "--print-address=1"], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL
    ) as daemon:
        try:
            assert daemon.stdout.readline(), "the bus did not start"
            yield place
        finally:
            daemon.kill()


class Service:
    """Owns names on the bus and answers as scripted, in a thread that ends with the bus.

    `answers` maps (path, interface.method, arguments) to (signature, body); anything else is an
    error. `asked` are the calls that came.
    """

    def __init__(self, place, names, answers):
        self.asked = []
        self._answers = answers
        self._connection = DBusConnection(prep_socket(str(place), timeout=5.0))
        for name in names:
            self._connection.send_and_get_reply(message_bus.RequestName(name), timeout=5.0)
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()

    def _serve(self):
        with suppress(OSError), self._connection as connection:
            while True:
                message = connection.receive()
                if message.header.message_type is MessageType.method_call:
                    connection.send(self._reply(message))

    def _reply(self, message):
        fields = message.header.fields
        member = f"{fields[HeaderFields.interface]}.{fields[HeaderFields.member]}"
        key = (fields[HeaderFields.path], member, tuple(message.body))
        self.asked.append(key)
        if key not in self._answers:
            return new_error(message, NOT_THERE)
        signature, body = self._answers[key]
        return new_method_return(message, signature, body)

    def join(self):
        """Wait for the end that the end of the bus brings."""
        self._thread.join(5.0)
        assert not self._thread.is_alive()


@contextmanager
def serving(root, names, answers):
    """Run a bus with one service that owns all the names."""
    with private_bus(root) as place:
        service = Service(place, names, answers)
        yield service
    service.join()
