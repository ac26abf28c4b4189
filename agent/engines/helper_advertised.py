"""The helper's answer of routers and DHCPv6 servers as a frozen measurement.

As in `helper_answers`, another form raises KeyError, TypeError, ValueError or OverflowError.
"""

from __future__ import annotations

from agent.engines.helper_answers import (
    Form,
    each,
    number,
    perhaps_number,
    perhaps_text,
    texts,
    truth,
)
from agent.measurements import (
    AdvertisedPrefix,
    AdvertisedProbe,
    AdvertisedRoute,
    AdvertisedRouter,
    OfferedNetwork,
    ServerAnswer,
)


def advertised_probe(form: Form) -> AdvertisedProbe:
    """Return the probe of an answer to a wish for routers."""
    return AdvertisedProbe(
        routers_asked=number(form["routers_asked"]),
        servers_asked=number(form["servers_asked"]),
        information_asked=number(form["information_asked"]),
        listened_s=float(form["listened_s"]),
        routers=each(form["routers"], _router),
        servers=each(form["servers"], _server),
        malformed=number(form["malformed"]),
        far=number(form["far"]),
    )


def _router(form: Form) -> AdvertisedRouter:
    return AdvertisedRouter(
        after_ms=float(form["after_ms"]),
        address=str(form["address"]),
        hardware_address=str(form["hardware_address"]),
        router_lifetime_s=number(form["router_lifetime_s"]),
        managed=truth(form["managed"]),
        other=truth(form["other"]),
        preference=str(form["preference"]),
        prefixes=each(form["prefixes"], _prefix),
        routes=each(form["routes"], _route),
        mtu_bytes=perhaps_number(form["mtu_bytes"]),
        dns=texts(form["dns"]),
        dns_lifetime_s=perhaps_number(form["dns_lifetime_s"]),
        domains=texts(form["domains"]),
        captive_api=perhaps_text(form["captive_api"]),
        translator=perhaps_text(form["translator"]),
        faulty_options=each(form["faulty_options"], number),
    )


def _prefix(form: Form) -> AdvertisedPrefix:
    return AdvertisedPrefix(
        network=str(form["network"]),
        prefix=number(form["prefix"]),
        on_link=truth(form["on_link"]),
        autonomous=truth(form["autonomous"]),
        valid_s=number(form["valid_s"]),
        preferred_s=number(form["preferred_s"]),
    )


def _route(form: Form) -> AdvertisedRoute:
    return AdvertisedRoute(
        network=str(form["network"]),
        prefix=number(form["prefix"]),
        lifetime_s=number(form["lifetime_s"]),
    )


def _server(form: Form) -> ServerAnswer:
    return ServerAnswer(
        after_ms=float(form["after_ms"]),
        kind=str(form["kind"]),
        server_id=str(form["server_id"]),
        address=str(form["address"]),
        hardware_address=str(form["hardware_address"]),
        preference=number(form["preference"]),
        addresses=each(form["addresses"], _network),
        t1_s=perhaps_number(form["t1_s"]),
        t2_s=perhaps_number(form["t2_s"]),
        delegated=each(form["delegated"], _network),
        delegated_t1_s=perhaps_number(form["delegated_t1_s"]),
        delegated_t2_s=perhaps_number(form["delegated_t2_s"]),
        status=perhaps_number(form["status"]),
        address_status=perhaps_number(form["address_status"]),
        delegation_status=perhaps_number(form["delegation_status"]),
        dns=texts(form["dns"]),
        domains=texts(form["domains"]),
        captive_api=perhaps_text(form["captive_api"]),
        refresh_s=perhaps_number(form["refresh_s"]),
        faulty_options=each(form["faulty_options"], number),
    )


def _network(form: Form) -> OfferedNetwork:
    return OfferedNetwork(
        network=str(form["network"]),
        prefix=number(form["prefix"]),
        preferred_s=number(form["preferred_s"]),
        valid_s=number(form["valid_s"]),
    )
