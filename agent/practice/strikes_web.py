"""What the faults of web pages do to the built network."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import timedelta
from functools import partial

from agent.codec.dhcp_options import Option
from agent.errors import PracticeBroken
from agent.practice.addresses import ACTIVATION_NAME, Addresses
from agent.practice.filtering import strike_packets, strike_table
from agent.practice.services import WEB_PORT, Service, dhcp_service, find
from agent.practice.sites import SECURE_PORT, doors, secure_site, site_page, web_service
from agent.practice.stage import Stage
from agent.practice.strikes_laptop import tell_time
from agent.practice.topology import giver_of_addresses
from agent.practice.trust import Wish, certificate_file
from agent.practice.web_server import Answer, Door, Served, relayed, serve_answers

ANY = "0.0.0.0"  # noqa: S104 - inside a network of our own
PLAIN = (Door(address=ANY, port=WEB_PORT),)
API_PATH = "/captive"
PROXY_NAME = "1.1 cache.ternbay.example"
NOTICE = b"<p>A notice of Tern Bay Fibre.</p>\n"


def announce_portal(stage: Stage) -> None:
    """Let the lease name the captive portal API (RFC 8910 §2.1), whether it is asked for or not."""
    dnsmasq = find("dnsmasq") if stage.spec.real_servers else None
    at = giver_of_addresses(stage.spec)
    service = dhcp_service(stage.addresses, stage.scratch, dnsmasq, at=at)
    if not isinstance(service.run, Sequence):
        raise PracticeBroken(problem="naming a portal in the lease needs dnsmasq")
    option = f"--dhcp-option-force={Option.CAPTIVE_PORTAL},https://{ACTIVATION_NAME}{API_PATH}"
    stage.stop("dhcp")
    stage.serve(replace(service, run=(*service.run, option)))


def walled_garden(stage: Stage) -> None:
    """Let the edge answer every plain page with the way to the activation, and refuse the rest."""
    _capture(stage, "edge", "line", secure_refused=True)
    _serve(
        stage, "edge", partial(_activation, stage.addresses), (Door(address=ANY, port=WEB_PORT),)
    )


def walled_garden_with_api(stage: Stage) -> None:
    """The same, with the captive portal API of the network beside it (RFC 8908)."""
    _capture(stage, "edge", "line", secure_refused=True)
    secured = certificate_file(stage.scratch, Wish(name=ACTIVATION_NAME))
    door = Door(address=stage.addresses.edge, port=SECURE_PORT, certificate=secured)
    _serve(stage, "edge", partial(_activation, stage.addresses), (*PLAIN, door))


def login_page(stage: Stage) -> None:
    """Let the home router answer every plain page with its own sign-in."""
    _capture(stage, "router", "lan", secure_refused=False)
    _serve(stage, "router", partial(_sign_in, stage.addresses))


def transparent_proxy(stage: Stage) -> None:
    """Let the edge fetch plain pages itself and hand them on with its name (RFC 9110 §7.6.3)."""
    via = (("Via", PROXY_NAME),)
    _relay(stage, lambda came: Served(status=came.status, body=came.body, headers=via))


def content_changed(stage: Stage) -> None:
    """Let the edge fetch plain pages itself and write something of its own into them."""
    _relay(stage, lambda came: Served(status=came.status, body=came.body + NOTICE))


def one_site_down(stage: Stage) -> None:
    """Let one site take nothing."""
    mute = f"ip daddr {stage.addresses.sites[0].address} tcp dport {WEB_PORT} drop"
    strike_packets(stage, "outside", "input", mute)


def all_sites_down(stage: Stage) -> None:
    """Let no site take anything; names are still answered."""
    mute = f"meta nfproto ipv4 tcp dport {{ {WEB_PORT}, {SECURE_PORT} }} drop"
    strike_packets(stage, "outside", "input", mute)


def certificate_expired(stage: Stage) -> None:
    """Give the secure site a certificate of yesterday."""
    _certify(stage, begins=timedelta(days=-90), ends=timedelta(days=-1))


def certificate_wrong_name(stage: Stage) -> None:
    """Give the secure site another site's certificate."""
    _certify(stage, name="elsewhere.example")


def certificate_self_signed(stage: Stage) -> None:
    """Give the secure site a certificate that nobody but itself vouches for."""
    _certify(stage, self_signed=True)


def clock_hours_slow(stage: Stage) -> None:
    """Let everybody beyond live three hours ahead of this computer's clock."""
    _live_apart(stage, timedelta(hours=3))


def clock_year_slow(stage: Stage) -> None:
    """Let everybody beyond live more than a year ahead of this computer's clock."""
    _live_apart(stage, timedelta(days=400))


def clock_years_fast(stage: Stage) -> None:
    """Let everybody beyond live six years behind this computer's clock."""
    _live_apart(stage, timedelta(days=-6 * 365))


def slow_site_light(stage: Stage) -> None:
    """Let one site think for somewhat too long."""
    _think(stage, 3.4)


def slow_site_medium(stage: Stage) -> None:
    """Let one site think for long."""
    _think(stage, 3.8)


def slow_site_severe(stage: Stage) -> None:
    """Let one site think for almost as long as anybody waits."""
    _think(stage, 4.3)


def _activation(addresses: Addresses, host: str, path: str) -> Served:
    if host != ACTIVATION_NAME:
        to = ("Location", f"http://{ACTIVATION_NAME}/?wan={addresses.wan}")
        return Served(status=302, headers=(to,))
    if path == API_PATH:
        state = f'{{"captive": true, "user-portal-url": "https://{ACTIVATION_NAME}/"}}'
        return Served(body=state.encode(), content_type="application/captive+json")
    return Served(body=b"<title>Tern Bay activation</title><p>Your line waits for you.</p>\n")


def _sign_in(addresses: Addresses, _host: str, path: str) -> Served:
    if path != "/guest":
        to = ("Location", f"http://{addresses.router}/guest")
        return Served(status=302, headers=(to,))
    form = b"<form method=post><input name=user><input name=word type=password></form>\n"
    return Served(body=b"<title>Guest network</title>" + form)


def _capture(stage: Stage, host: str, port: str, *, secure_refused: bool) -> None:
    """Send plain pages that come in at a port to the host itself, whoever they are for."""
    taken = f'iifname "{port}" tcp dport {WEB_PORT} redirect to :{WEB_PORT};'
    chain = f"chain captured {{ type nat hook prerouting priority dstnat; {taken} }}"
    strike_table(stage, host, f"table ip struck {{\n{chain}\n}}\n")
    if secure_refused:
        refused = (
            f'iifname "{port}" meta nfproto ipv4 tcp dport {SECURE_PORT} reject with tcp reset'
        )
        strike_packets(stage, host, "forward", refused)


def _relay(stage: Stage, done_to: Callable[[Served], Served]) -> None:
    """Let the edge fetch plain pages on behalf of whoever asks, and do something to them."""
    at = {site.name: site.address for site in stage.addresses.sites}

    def answer(host: str, path: str) -> Served:
        return done_to(relayed(at.get(host, host), host, path))

    _capture(stage, "edge", "line", secure_refused=False)
    _serve(stage, "edge", answer)


def _certify(
    stage: Stage,
    *,
    name: str | None = None,
    begins: timedelta = timedelta(days=-1),
    ends: timedelta = timedelta(days=90),
    self_signed: bool = False,
) -> None:
    own = secure_site(stage.addresses).name
    wish = Wish(name=name or own, begins=begins, ends=ends, self_signed=self_signed)
    nginx = find("nginx") if stage.spec.real_servers else None
    stage.stop("web")
    stage.serve(
        web_service(
            stage.addresses, stage.scratch, nginx, addresses_6=stage.addresses_6, certificate=wish
        )
    )


def _live_apart(stage: Stage, apart: timedelta) -> None:
    """Let all sites live at another time: their dates and certificates are right there.

    This computer's own clock cannot be set in a network of its own, so the world's is.
    """
    name = secure_site(stage.addresses).name
    wish = Wish(name=name, begins=apart - timedelta(days=30), ends=apart + timedelta(days=60))

    def answer(host: str, path: str) -> Served:
        return Served(body=site_page(stage.addresses, host, path).body, clock=apart)

    _instead(stage, answer, wish)
    tell_time(stage, apart)


def _think(stage: Stage, after_s: float) -> None:
    slow = stage.addresses.sites[0].name

    def answer(host: str, path: str) -> Served:
        body = site_page(stage.addresses, host, path).body
        return Served(body=body, after_s=after_s if host == slow else 0.0)

    _instead(stage, answer, Wish(name=secure_site(stage.addresses).name))


def _instead(stage: Stage, answer: Answer, wish: Wish) -> None:
    """Let a server of our own answer for all sites."""
    secured = certificate_file(stage.scratch, wish)
    stage.stop("web")
    at = doors(stage.addresses, secured)
    listens = (at[-1].address, at[-1].port)
    run = partial(serve_answers, at, answer)
    stage.serve(Service(name="web", host="outside", run=run, listens=listens))


def _serve(stage: Stage, host: str, answer: Answer, at: tuple[Door, ...] = PLAIN) -> None:
    run = partial(serve_answers, at, answer)
    own = stage.addresses.edge if host == "edge" else stage.addresses.router
    stage.serve(Service(name="portal", host=host, run=run, listens=(own, at[-1].port)))


STRIKES = (
    announce_portal,
    walled_garden,
    walled_garden_with_api,
    login_page,
    transparent_proxy,
    content_changed,
    one_site_down,
    all_sites_down,
    certificate_expired,
    certificate_wrong_name,
    certificate_self_signed,
    clock_hours_slow,
    clock_year_slow,
    clock_years_fast,
    slow_site_light,
    slow_site_medium,
    slow_site_severe,
)
