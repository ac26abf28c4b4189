"""The settings of a visit on the practice line, as the text of one settings file.

It holds all settings in force with what is true of the practice network put in their place, and
nothing of its faults.
"""

from __future__ import annotations

import json
from hashlib import sha256

from agent.practice.addresses import ACTIVATION_NAME, LONG_NAME, Addresses, Addresses6, Site
from agent.practice.open_ports import ANSWER_PORT, MAIL_PORT
from agent.practice.simple import page
from agent.practice.sites import secure_site
from agent.settings.keys import NAMED, leaves, written
from agent.settings.model import Line, NameTests, PortCheck, Server, Settings, Targets, WebTarget

SERVER_PORT = 8642


def settings_for_line(
    settings: Settings,
    addresses: Addresses,
    *,
    translated: bool,
    addresses_6: Addresses6 | None = None,
    server: str | None = None,
) -> Settings:
    """Return the settings with the practice line's prefixes, modem, targets and server.

    `addresses_6` are given where the home has IPv6, `server` where that is not reached by its
    IPv4 address.
    """
    prefixes = addresses.operator_prefixes if translated else (addresses.lan,)
    prefixes += (addresses_6.prefix,) if addresses_6 else ()
    secured = secure_site(addresses)
    web = (
        *(_target(site, f"http://{site.name}/") for site in addresses.sites),
        _target(secured, f"https://{secured.name}/", f"{secured.name}, secure"),
    )
    return settings.model_copy(
        update={
            "line": Line(
                operator_prefixes=prefixes,
                modem_address=addresses.modem,
                expected_pools=(addresses.lan,),
                activation_hosts=(ACTIVATION_NAME,),
            ),
            "targets": Targets(
                web=web,
                names=tuple(addresses.names),
                name_tests=_name_tests(addresses),
                time_servers=(addresses.outside,),
                ports=_ports(addresses),
            ),
            "server": Server(card=f"{server_url(server or addresses.server)}/card"),
        }
    )


def _ports(addresses: Addresses) -> tuple[PortCheck, ...]:
    return (
        PortCheck(name="server, TCP", port=ANSWER_PORT),
        PortCheck(name="server, UDP", transport="udp", port=ANSWER_PORT),
        PortCheck(name="mail submission", host=addresses.sites[0].name, port=MAIL_PORT),
    )


def _target(site: Site, url: str, name: str | None = None) -> WebTarget:
    digest = sha256(page(site).encode()).hexdigest()
    return WebTarget(name=name or site.name, url=url, marker=site.marker, sha256=digest)


def _name_tests(addresses: Addresses) -> NameTests:
    return NameTests(long=LONG_NAME, same=(addresses.server_name,))


def server_url(address: str) -> str:
    """Return where the operator's server is; by address, so that it is found without names."""
    return f"http://{f'[{address}]' if ':' in address else address}:{SERVER_PORT}"


def settings_text(settings: Settings) -> str:
    """Return a settings file that says everything anew."""
    document = settings.model_dump(mode="json", exclude_none=True)
    replaces = [written(path) for path in NAMED]
    lines = [f"replaces = {_value(replaces)}"]
    lines += [f"{written(path)} = {_value(value)}" for path, value in leaves(document)]
    return "\n".join(lines) + "\n"


def _value(value: object) -> str:
    """Return a value as TOML; each entry of a list has its own line, tables are inline."""
    if isinstance(value, list):
        return "[" + "".join(f"\n  {_value(entry)}," for entry in value) + "]"
    if isinstance(value, dict):
        pairs = (f"{written((key,))} = {_inline(entry)}" for key, entry in value.items())
        return "{ " + ", ".join(pairs) + " }"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _inline(value: object) -> str:
    if isinstance(value, list):
        return "[" + ", ".join(_inline(entry) for entry in value) + "]"
    return _value(value)
