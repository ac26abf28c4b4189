"""Faults of web pages: portals, proxies, sites, certificates, and a clock that is wrong."""

from __future__ import annotations

from agent.practice.fault import Effect, Fault, always, each

CERTIFICATE = ("certificate-problem",)

FAULTS: tuple[Fault, ...] = (
    Fault(
        name="walled-garden",
        segment="operator",
        sentence="The line is not activated: every plain page leads to the activation.",
        effects=always(Effect(strike="walled_garden")),
        findings=("walled-garden",),
    ),
    Fault(
        name="walled-garden-announced",
        segment="operator",
        sentence="The same, and the lease names an interface that says so (RFC 8910, RFC 8908).",
        effects=always(Effect(prepare="announce_portal", strike="walled_garden_with_api")),
        findings=("walled-garden",),
    ),
    Fault(
        name="login-page",
        segment="home",
        sentence="The home router is a guest network: every plain page leads to its sign-in.",
        effects=always(Effect(strike="login_page")),
        findings=("login-page",),
    ),
    Fault(
        name="transparent-proxy",
        segment="operator",
        sentence="The operator fetches plain pages itself and hands them on.",
        effects=always(Effect(strike="transparent_proxy")),
        findings=("proxy-in-the-way",),
    ),
    Fault(
        name="content-changed",
        segment="operator",
        sentence="The operator writes a notice of its own into plain pages.",
        effects=always(Effect(strike="content_changed")),
        findings=("content-changed",),
    ),
    Fault(
        name="one-site-down",
        segment="beyond",
        sentence="One outside site takes nothing.",
        effects=always(Effect(strike="one_site_down")),
        findings=("site-unreached",),
    ),
    Fault(
        name="all-sites-down",
        segment="beyond",
        sentence="No outside site takes anything; names are still answered.",
        effects=always(Effect(strike="all_sites_down")),
        findings=("web-unreached",),
    ),
    Fault(
        name="slow-site",
        segment="beyond",
        sentence="One outside site answers only after seconds.",
        effects=each(
            Effect(strike="slow_site_light"),
            Effect(strike="slow_site_medium"),
            Effect(strike="slow_site_severe"),
        ),
        findings=("web-slow",),
    ),
    Fault(
        name="certificate-expired",
        segment="beyond",
        sentence="The certificate of one site expired yesterday.",
        effects=always(Effect(strike="certificate_expired")),
        findings=CERTIFICATE,
    ),
    Fault(
        name="certificate-wrong-name",
        segment="beyond",
        sentence="One site shows a certificate made out to another.",
        effects=always(Effect(strike="certificate_wrong_name")),
        findings=CERTIFICATE,
    ),
    Fault(
        name="certificate-self-signed",
        segment="beyond",
        sentence="One site shows a certificate that nobody but itself vouches for.",
        effects=always(Effect(strike="certificate_self_signed")),
        findings=CERTIFICATE,
    ),
    Fault(
        name="clock-wrong",
        segment="laptop",
        sentence=(
            "The laptop's clock is wrong; played by letting every outside site live at another "
            "time, for no computer's own clock is changed."
        ),
        effects=each(
            Effect(strike="clock_hours_slow"),
            Effect(strike="clock_year_slow"),
            Effect(strike="clock_years_fast"),
        ),
        findings=("clock-wrong", "laptop-clock-off"),
    ),
)
