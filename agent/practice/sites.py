"""The web sites beyond the operator: nginx where installed, else a small server of our own."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from agent.practice.addresses import Addresses, Addresses6, Site
from agent.practice.services import WEB_PORT, Service
from agent.practice.simple import page
from agent.practice.trust import Wish, certificate_file
from agent.practice.web_server import Door, Served, serve_answers

SECURE_PORT = 443


def secure_site(addresses: Addresses) -> Site:
    """Return the site that has a secure page beside its plain one."""
    return addresses.sites[-1]


def web_service(
    addresses: Addresses,
    scratch: Path,
    nginx: str | None,
    *,
    addresses_6: Addresses6 | None = None,
    certificate: Wish | None = None,
) -> Service:
    """Return the web sites: one page each with its marker, over IPv6 too with `addresses_6`.

    One of them has its page secured as well; `certificate` takes the place of a sound one there.
    """
    secured = certificate_file(scratch, certificate or Wish(name=secure_site(addresses).name))
    listens = (addresses.sites[-1].address, WEB_PORT)
    if nginx is None:
        run = partial(serve_answers, doors(addresses, secured), partial(site_page, addresses))
        return Service(name="web", host="outside", run=run, listens=listens)
    folder = scratch / "web"
    for site in addresses.sites:
        (folder / site.name).mkdir(parents=True, exist_ok=True)
        (folder / site.name / "index.html").write_text(page(site))
    text = _nginx_configuration(addresses, folder, addresses_6, secured)
    (folder / "nginx.conf").write_text(text)
    argv = (nginx, "-p", f"{folder}/", "-c", f"{folder}/nginx.conf", "-e", "/dev/null")
    return Service(name="web", host="outside", run=argv, listens=listens)


def doors(addresses: Addresses, secured: Path) -> tuple[Door, ...]:
    """Return where the sites listen: each plainly, one securely as well."""
    plain = tuple(Door(address=site.address, port=WEB_PORT) for site in addresses.sites)
    at = secure_site(addresses).address
    return (*plain, Door(address=at, port=SECURE_PORT, certificate=secured))


def site_page(addresses: Addresses, host: str, _path: str) -> Served:
    """Return the page of the site of that name or address."""
    found = next((s for s in addresses.sites if host in (s.name, s.address)), None)
    return Served(status=404) if found is None else Served(body=page(found).encode())


def _nginx_configuration(
    addresses: Addresses, folder: Path, addresses_6: Addresses6 | None, secured: Path
) -> str:
    kinds = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    scraps = "\n".join(f"  {kind}_temp_path {folder}/{kind};" for kind in kinds)
    sites_6 = addresses_6.sites if addresses_6 else (None,) * len(addresses.sites)
    pairs = zip(addresses.sites, sites_6, strict=True)
    servers = "\n".join(
        f"  server {{ {_listens(site, at_6, WEB_PORT)} root {folder}/{site.name}; }}"
        for site, at_6 in pairs
    )
    site = secure_site(addresses)
    return f"""daemon off; master_process off; pid {folder}/nginx.pid; worker_processes 1;
events {{ worker_connections 64; }}
http {{
  access_log off; default_type text/html; server_tokens off;
{scraps}
{servers}
  server {{ {_listens(site, sites_6[-1], SECURE_PORT, " ssl")} root {folder}/{site.name};
    ssl_certificate {secured}; ssl_certificate_key {secured}; }}
}}
"""


def _listens(site: Site, at_6: str | None, port: int, how: str = "") -> str:
    over_6 = f" listen [{at_6}]:{port}{how};" if at_6 else ""
    return f"listen {site.address}:{port}{how};{over_6}"
