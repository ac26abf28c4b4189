"""What further faults of names and sites do to the built network."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import partial

from agent.practice.bent_names import Bend, serve_bent
from agent.practice.faults import played_figures
from agent.practice.filtering import strike_packets
from agent.practice.kernel import inside
from agent.practice.services import DNS_PORT, WEB_PORT, Service, dhcp_service, find, mute
from agent.practice.sites import doors, secure_site, site_page, web_service
from agent.practice.stage import Stage
from agent.practice.strikes_more import chance
from agent.practice.topology import giver_of_addresses
from agent.practice.trust import Wish, certificate_file
from agent.practice.web_server import Served, serve_answers
from agent.units import MS_PER_S


def first_resolver_slow(stage: Stage) -> None:
    """Let the router hand out a resolver that takes its time, and a quick one after it."""
    delay_s = played_figures(stage.spec)["first_resolver_ms"] / MS_PER_S
    _put_first(stage, Bend(delay_s=delay_s))


def first_resolver_fails(stage: Stage) -> None:
    """Let the router hand out a resolver that fails at every name, and a sound one after it."""
    _put_first(stage, Bend(fails=True))


def second_resolver_dead(stage: Stage) -> None:
    """Let the router hand out the right resolver, and one after it that is silent."""
    with inside(stage.bench.networks["outside"]):
        stage.silent.extend(mute(stage.addresses.outside, DNS_PORT))
    _hand_out(stage, (stage.addresses.resolver, stage.addresses.outside))


def resolver_drops(stage: Stage) -> None:
    """Let a share of the questions never reach the resolver."""
    share = played_figures(stage.spec)["resolver_drops"]
    strike_packets(stage, "outside", "input", f"udp dport {DNS_PORT} {chance(share)} drop")


def other_site_refuses(stage: Stage) -> None:
    """Let one site refuse every connection."""
    refuse = f"ip daddr {stage.addresses.sites[1].address} tcp dport {WEB_PORT}"
    strike_packets(stage, "outside", "input", f"{refuse} reject with tcp reset")


def certificate_not_yet(stage: Stage) -> None:
    """Give the secure site a certificate that begins the day after tomorrow."""
    wish = Wish(
        name=secure_site(stage.addresses).name,
        begins=timedelta(days=2),
        ends=timedelta(days=90),
    )
    nginx = find("nginx") if stage.spec.real_servers else None
    stage.stop("web")
    stage.serve(web_service(stage.addresses, stage.scratch, nginx, certificate=wish))


def other_site_thinks(stage: Stage) -> None:
    """Let one site think before it answers."""
    after_s = played_figures(stage.spec)["site_after_s"]
    addresses, slow = stage.addresses, stage.addresses.sites[1].name

    def answer(host: str, path: str) -> Served:
        body = site_page(addresses, host, path).body
        return Served(body=body, after_s=after_s if host == slow else 0.0)

    at = doors(addresses, certificate_file(stage.scratch, Wish(name=secure_site(addresses).name)))
    stage.stop("web")
    run = partial(serve_answers, at, answer)
    listens = (at[-1].address, at[-1].port)
    stage.serve(Service(name="web", host="outside", run=run, listens=listens))


def _put_first(stage: Stage, bend: Bend) -> None:
    """Hand out a bending resolver on the outside host, before the operator's own."""
    first, behind = stage.addresses.outside, stage.addresses.resolver
    run = partial(serve_bent, (first,), DNS_PORT, (behind, DNS_PORT), bend)
    listens = (first, DNS_PORT)
    stage.serve(Service(name="first-resolver", host="outside", run=run, listens=listens))
    _hand_out(stage, (first, behind))


def _hand_out(stage: Stage, resolvers: tuple[str, ...]) -> None:
    dnsmasq = find("dnsmasq") if stage.spec.real_servers else None
    stage.stop("dhcp")
    addresses = replace(stage.addresses, leased_resolvers=resolvers)
    at = giver_of_addresses(stage.spec)
    stage.serve(dhcp_service(addresses, stage.scratch, dnsmasq, at=at))


STRIKES = (
    first_resolver_slow,
    first_resolver_fails,
    second_resolver_dead,
    resolver_drops,
    other_site_refuses,
    certificate_not_yet,
    other_site_thinks,
)
