"""Settings that cannot be used: every fault at its place, with what was found and is allowed."""

import pytest

from agent.errors import DoorstepError, Fault, SettingsError
from agent.settings.checks.limits import probes_needed
from agent.settings.loader import load, remarks
from agent.stats.proportions import attempts_to_prove

TIER = '[[tiers]]\nname = "Home"\ndown_bps = 20_000_000\nup_bps = 5_000_000\n'

# content of one file, key path of the fault, a piece of what was found, a piece of what is allowed
CASES = [
    # unknown and misspelt keys
    ("[sever]\ncard = 'http://a/'\n", "sever", "unknown key", "did you mean server?"),
    ("[server]\ncrad = 'http://a/'\n", "server.crad", "unknown key", "did you mean card?"),
    ("[server]\nzzz = 1\n", "server.zzz", "unknown key", "one of card, download, upload, token"),
    (TIER + "acept = {}\n", "tiers.Home.acept", "unknown key", "did you mean accept?"),
    ("[limits.dsl]\nserver_los = {}\n", "limits.dsl.server_los", "unknown key", "server_loss?"),
    # an address is no name
    (
        "[targets]\necho = ['www.example.com']\n",
        "targets",
        "contradiction",
        "addresses of IPv4 or IPv6",
    ),
    # wrong unit
    (
        TIER.replace("down_bps = 20_000_000", "down_mbps = 20"),
        "tiers.Home.down_mbps",
        "unknown key",
        "down_bps = 20_000_000 (bit/s; 100 Mbit/s is 100_000_000)",
    ),
    (
        TIER.replace("down_bps = 20_000_000", "down = 20"),
        "tiers.Home.down",
        "unknown key",
        "down_bps (bit/s",
    ),
    (TIER.replace("20_000_000", "100"), "tiers.Home.down_bps", "100", "100 Mbit/s is 100_000_000"),
    (
        "[[plans]]\nname = 'standard'\nserver_echo = { interval_ms = 20 }\n",
        "plans.standard.server_echo.interval_ms",
        "unknown key",
        "interval_s = 0.02 (seconds)",
    ),
    (
        "[limits.dsl]\ndns_median = { unit = 'ratio', value = 0.5 }\n",
        "limits.dsl.dns_median.unit",
        '"ratio"',
        '"ms"',
    ),
    (
        "[limits.dsl]\ndns_median = { unit = 'minutes' }\n",
        "limits.dsl.dns_median.unit",
        '"minutes"',
        '"ms"',
    ),
    (
        "[limits.dsl.server_loss]\nvalue = 5\n",
        "limits.dsl.server_loss.value",
        "5",
        "0.5 % is 0.005",
    ),
    (
        "[limits.dsl.dns_unanswered]\nvalue = 0.5\n",
        "limits.dsl.dns_unanswered.value",
        "0.5",
        "a whole number",
    ),
    ("[limits.dsl.dns_p95]\nvalue = 0\n", "limits.dsl.dns_p95.value", "0", "more than 0 (ms)"),
    # wrong kind of value
    (TIER.replace("5_000_000", "'5M'"), "tiers.Home.up_bps", '"5M"', "a whole number"),
    (TIER.replace("5_000_000", "5e6"), "tiers.Home.up_bps", "5000000.0", "a whole number"),
    (TIER.replace("5_000_000", "2026-03-02"), "tiers.Home.up_bps", "2026", "a whole number"),
    (TIER + "provisioned = nan\n", "tiers.Home.provisioned", "nan", "≥ 0.5 and ≤ 3"),
    (TIER + "minimum = 5\n", "tiers.Home.minimum", "5", "a table"),
    (TIER + "accept = { down = 2, up = 0.9 }\n", "tiers.Home.accept.down", "2", "> 0 and ≤ 1"),
    ("[server]\ncard = true\n", "server.card", "true", "a text"),
    ("[targets]\nnames = 'a.example'\n", "targets.names", '"a.example"', "a list in [ ]"),
    ("[targets]\nnames = ['a.example', 5]\n", "targets.names[1]", "5", "a text"),
    ("server = 5\n", "server", "5", "a table"),
    ("[[plans]]\nname = 'long'\nlease = { probe = 1 }\n", "plans.long.lease.probe", "1", "true or"),
    # missing, twice, of the wrong shape
    (TIER.replace("up_bps = 5_000_000\n", ""), "tiers.Home.up_bps", "nothing", "it is required"),
    ("[[tiers]]\ndown_bps = 1\n", "tiers", "entry 1 without a name", 'name = "…"'),
    ("[[tiers]]\nname = 5\n", "tiers", "entry 1 without a name", 'name = "…"'),
    (TIER + TIER, "tiers.Home", "entry 2 with the same name", "each name once"),
    ("[tiers]\nname = 'Home'\n", "tiers", "single brackets", "[[tiers]]"),
    ("tiers = 5\n", "tiers", "5", "[[tiers]]"),
    ("[[targets.web]]\nurl = 'http://a/'\n", "targets.web", "without a name", 'name = "…"'),
    # values out of a list
    (TIER + "access = 'fiber'\n", "tiers.Home.access", '"fiber"', "did you mean fibre?"),
    (TIER + "layer = 'tcp'\n", "tiers.Home.layer", '"tcp"', '"payload", "ip", "frame"'),
    (
        "[accept.fiber]\ndown = 0.9\nup = 0.9\n",
        "accept.fiber",
        '"fiber"',
        "did you mean fibre?",
    ),
    (
        "[[plans]]\nname = 'no-fill'\nsteps = ['link', 'dsn']\n",
        "plans.no-fill.steps[1]",
        '"dsn"',
        "did you mean dns?",
    ),
    ("[[plans]]\nname = 'no-fill'\nsteps = []\n", "plans.no-fill.steps", "no step", "once"),
    (
        "[[plans]]\nname = 'no-fill'\nsteps = ['link', 'link']\n",
        "plans.no-fill.steps",
        "a step twice",
        "once",
    ),
    # rates in the wrong order
    (
        TIER + "minimum = { down_bps = 15_000_000, up_bps = 4_000_000 }\n"
        "normal = { down_bps = 14_000_000, up_bps = 4_000_000 }\n",
        "tiers.Home.normal.down_bps",
        "14_000_000, under minimum.down_bps",
        "at least 15_000_000",
    ),
    (
        TIER + "minimum = { down_bps = 15_000_000, up_bps = 4_000_000 }\n"
        "maximum = { down_bps = 20_000_000, up_bps = 3_000_000 }\n",
        "tiers.Home.maximum.up_bps",
        "3_000_000, under minimum.up_bps",
        "at least 4_000_000",
    ),
    (
        TIER + "minimum = { down_bps = 19_000_000, up_bps = 4_000_000 }\n",
        "tiers.Home.minimum.down_bps",
        "19_000_000, over the accepted 18_000_000",
        "at most 18_000_000 bit/s",
    ),
    (
        TIER + "provisioned = 0.9\naccept = { down = 0.95, up = 0.9 }\n",
        "tiers.Home.provisioned",
        "0.9, less than the accepted share 0.95",
        "at least 0.95",
    ),
    (
        TIER + "maximum = { down_bps = 17_000_000, up_bps = 5_000_000 }\n",
        "tiers.Home.maximum.down_bps",
        "17_000_000, under the accepted 18_000_000",
        "a lower accept.down",
    ),
    (TIER + "advertised = { down_bps = 20 }\n", "tiers.Home.advertised.up_bps", "nothing", "bit/s"),
    (TIER + "advertised = 20_000_000\n", "tiers.Home.advertised", "20000000", "a table"),
    # names that nobody could tell apart by typing them
    (
        TIER + TIER.replace("Home", "HOME!"),
        'tiers."HOME!"',
        "the same name as 'Home' but for case and marks",
        "letters or digits",
    ),
    (TIER + TIER.replace("Home", "Hömé"), 'tiers."Hömé"', "the same name as 'Home'", "letters"),
    # plans that cannot do what they say
    (
        "[[plans]]\nname = 'standard'\nserver_echo = { count = 8000, interval_s = 0.01 }\n",
        "plans.standard.server_echo",
        "81 s of work, but wall_s.delay cuts it short after 30 s",
        "wall_s.delay of at least 81",
    ),
    (
        "[[plans]]\nname = 'standard'\nwall_s = { throughput = 19 }\n",
        "plans.standard.wall_s.throughput",
        "19 s for a step that takes 20 s",
        "at least 20",
    ),
    (
        "[[plans]]\nname = 'no-fill'\nserver_echo = { count = 764 }\n",
        "plans.no-fill.server_echo.count",
        "764, which cannot prove a limit of 0.005",
        "at least 765, or a higher limit",
    ),
    (
        "[limits.wireless.server_loss]\nvalue = 0.004\n",
        "limits.wireless.server_loss.value",
        "800 probes of plan 'standard' cannot prove",
        "server_echo.count of at least 957",
    ),
    (
        TIER + "loss_ratio = 0.001\n",
        "tiers.Home.loss_ratio",
        "800 probes of plan 'standard' cannot prove",
        "server_echo.count of at least 3_838",
    ),
    (
        "[limits.dsl]\ngateway_loss = { value = 0.01, unit = 'ratio', needed = true }\n",
        "limits.dsl.gateway_loss.value",
        "200 probes of plan 'standard' cannot prove",
        "near_echo.count of at least 381",
    ),
    (
        "[limits.dsl]\ndns_unanswered = { value = 0.05, unit = 'ratio' }\n",
        "limits.dsl.dns_unanswered.value",
        "66 probes of plan 'standard' cannot prove",
        "dns.queries of at least 73",
    ),
    (
        "[limits.dsl.down_share]\nvalue = 0.9\nunit = 'ratio'\nsource = 'own'\nreason = 'own'\n",
        "limits.dsl.down_share",
        "a share of the tier",
        "accept.dsl.down",
    ),
    (
        "[limits.dsl.web_reached]\nvalue = 3\n",
        "limits.dsl.web_reached.value",
        "3, more than the 2 pages",
        "at most 2",
    ),
    # addresses
    (
        "[line]\noperator_prefixes = ['192.0.2.0/24', '192.0.2.1/24']\n",
        "line.operator_prefixes",
        '"192.0.2.1/24"',
        '"192.0.2.0/24"',
    ),
    (
        "[line]\nnetwork_prefixes = ['2001:db8::1/32']\n",
        "line.network_prefixes",
        '"2001:db8::1/32"',
        '"2001:db8::/32"',
    ),
    ("[line]\nexpected_pools = ['here']\n", "line.expected_pools", '"here"', "a prefix such as"),
    ("[line]\nmodem_address = '192.0.2'\n", "line.modem_address", '"192.0.2"', "an IP address"),
    ("[server]\ncard = '192.0.2.10'\n", "server.card", '"192.0.2.10"', "^https?://"),
    ("[server]\ncard = 'http://a:99999/'\n", "server.card", "out of range", "scheme://host"),
    ("[server]\ncard = 'http://:80/'\n", "server.card", "no host", "scheme://host"),
    ("[server]\ndownload = 'ftp://a:0/'\n", "server.download", "port 0", "scheme://host"),
    (
        "[server]\ncard = 'http://a/'\nupload = 'http://b/'\n",
        "server",
        "a contradiction",
        "either card, or download and upload",
    ),
    ("[[targets.web]]\nname = 'x'\nurl = 'http://[::/'\n", "targets.web.x.url", "IPv6", "scheme"),
    # fitness
    ("[fitness.tunnel]\nthreshold = 5\n", "fitness.tunnel.threshold", "5", "no threshold"),
    (
        "[fitness.other_traffic]\nunit = 'ms'\n",
        "fitness.other_traffic.unit",
        '"ms"',
        '"bps" or "ratio"',
    ),
    ("[fitness.wireless]\nunit = 'ms'\n", "fitness.wireless.unit", '"ms"', '"none"'),
    ("[fitness.on_batery]\nunit = 'none'\n", "fitness.on_batery", "unknown", "on_battery?"),
    ("[fitness.tunnel]\nvoids = ['speed']\n", "fitness.tunnel.voids[0]", '"speed"', "throughput"),
]


@pytest.mark.parametrize(("content", "key", "found", "allowed"), CASES, ids=[c[1] for c in CASES])
def test_one_fault_is_found_where_it_stands(tmp_path, content, key, found, allowed):
    path = tmp_path / "company.toml"
    path.write_text(content)
    with pytest.raises(SettingsError) as caught:
        load(path, {}, {})
    faults = [fault for fault in caught.value.faults if fault.key == key]
    assert faults, caught.value.faults
    assert faults[0].place == str(path)
    assert found in faults[0].found
    assert allowed in faults[0].allowed


def test_every_fault_of_every_file_at_once(tmp_path):
    tiers, other = tmp_path / "a.toml", tmp_path / "b.toml"
    tiers.write_text(
        TIER.replace("down_bps", "down_mbps")
        + TIER.replace("Home", "Home 2")
        + "minimum = { down_bps = 19_000_000, up_bps = 1_000_000 }\n"
    )
    other.write_text("[server]\ncrad = 5\n[[plans]]\nname = 'long'\nserver_echo = { count = 9 }\n")
    (tmp_path / "c.toml").write_text("[[[\n")
    with pytest.raises(SettingsError) as caught:
        load(tmp_path, {"DOORSTEP_LINE__MODEM_ADRESS": "192.0.2.1"}, {"server.card": "x"})
    found = {(fault.place, fault.key) for fault in caught.value.faults}
    assert found >= {
        (str(tiers), "tiers.Home.down_mbps"),
        (str(tiers), "tiers.Home.down_bps"),
        (str(tiers), 'tiers."Home 2".minimum.down_bps'),
        (str(other), "server.crad"),
        (str(tmp_path / "c.toml"), ""),
        ("DOORSTEP_LINE__MODEM_ADRESS", "line.modem_adress"),
        ("command line", "server.card"),
    }
    unproven = [f for f in caught.value.faults if f.key == "plans.long.server_echo.count"]
    assert {(f.place, f.allowed) for f in unproven} == {
        (str(other), "at least 765, or a higher limit"),
        (str(other), "at least 381, or a higher limit"),
    }


def test_a_part_that_cannot_be_read_causes_no_further_faults(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text(
        "[targets]\nnames = 5\n[accept]\ndsl = 5\n"
        + TIER
        + 'access = "dsl"\nminimum = { down_bps = 19_000_000, up_bps = 1_000_000 }\n'
    )
    with pytest.raises(SettingsError) as caught:
        load(path, {}, {})
    assert {fault.key for fault in caught.value.faults} == {"targets.names", "accept.dsl"}


def test_a_minimum_equal_to_what_is_accepted_is_sound(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text(
        TIER + "accept = { down = 0.7, up = 0.7 }\n"
        "minimum = { down_bps = 14_000_000, up_bps = 3_500_000 }\n"
    )
    assert load(path, {}, {}).settings.tiers[-1].minimum.down_bps == 14_000_000


def test_an_advisory_limit_needs_no_proof(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text("[limits.dsl.server_loss]\nvalue = 0.001\nneeded = false\n")
    assert load(path, {}, {}).settings.limits["dsl"].server_loss.value == 0.001


def test_a_plan_without_the_step_proves_nothing_and_need_not(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text("[[plans]]\nname = 'quick'\nsteps = ['link']\nserver_echo = { count = 1 }\n")
    assert load(path, {}, {}).settings.plans[-1].name == "quick"


def wilson_upper(lost, count):
    """Wilson 1927, two-sided 95 %, written out in full: the check on the solved form."""
    z, share = 1.959963984540054, lost / count
    root = (share * (1 - share) / count + z**2 / (4 * count**2)) ** 0.5
    return (share + z**2 / (2 * count) + z * root) / (1 + z**2 / count)


# Published comparison (Newcombe 1998, Table I, from memory): 0 of 20 gives 0 to 0.1611.
def test_the_oracle_itself_agrees_with_the_published_interval():
    assert wilson_upper(0, 20) == pytest.approx(0.1611, abs=5e-5)
    assert wilson_upper(15, 148) == pytest.approx(0.1605, abs=5e-5)


@pytest.mark.parametrize("limit", [0.1, 0.05, 0.01, 0.005, 0.001])
def test_the_probes_needed_are_the_fewest_that_prove_a_limit(limit):
    needed = probes_needed(limit)
    assert needed == attempts_to_prove(limit)
    assert wilson_upper(0, needed) <= limit < wilson_upper(0, needed - 1)


def test_settings_without_a_line_nobody_named_are_refused(tmp_path):
    (tmp_path / "bare.toml").write_text(
        "plans = []\n[limits]\n[accept]\n[fitness]\n"
        + "".join(
            f"{name} = {{ source = 'own rule' }}\n"
            for name in (
                "wireless",
                "half_duplex",
                "tunnel",
                "another_line",
                "on_battery",
                "others_on",
            )
        )
        + "".join(
            f"{name} = {{ source = 'own rule', threshold = 1, unit = '{unit}' }}\n"
            for name, unit in (
                ("other_traffic", "bps"),
                ("processor_busy", "ratio"),
                ("port_ceiling", "ratio"),
                ("clock_offset", "ms"),
            )
        )
    )
    with pytest.raises(SettingsError) as caught:
        load(None, {}, {}, defaults=tmp_path)
    assert [fault.allowed for fault in caught.value.faults] == [
        "limits.unknown and accept.unknown, for a line nobody named"
    ]


def test_the_error_is_a_sentence_with_one_harmless_line_for_each_fault():
    hostile = Fault(place="a\x1b[31m\n", key="k\r", found="f" * 900, allowed="x\N{RLO}", line=3)
    error = SettingsError(faults=(hostile, hostile))
    first, *lines = error.sentence().split("\n")
    assert isinstance(error, DoorstepError)
    assert error.exit_code == 2
    assert "2 to mend" in first
    assert len(lines) == 2
    assert all(line.isprintable() and len(line) < 800 for line in lines)
    assert ", line 3: " in lines[0]


def test_what_is_odd_but_allowed_is_told_and_stops_nothing(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text(
        TIER + "provisioned = 0.95\nmaximum = { down_bps = 20_000_000, up_bps = 5_000_000 }\n"
        "advertised = { down_bps = 25_000_000, up_bps = 5_000_000 }\n"
    )
    told = {fault.key: fault for fault in remarks(load(path, {}, {}))}
    assert set(told) == {"tiers.Home.provisioned", "tiers.Home.advertised.down_bps"}
    assert {fault.place for fault in told.values()} == {str(path)}
    assert "25_000_000, over maximum.down_bps" in told["tiers.Home.advertised.down_bps"].found


def test_the_shipped_settings_are_not_odd():
    assert remarks(load(None, {}, {})) == ()


def test_names_in_other_scripts_are_told_apart(tmp_path):
    path = tmp_path / "company.toml"
    path.write_text(TIER.replace("Home", "Дом 20") + TIER.replace("Home", "宽带 20"))
    settings = load(path, {}, {}).settings
    assert {"Дом 20", "宽带 20"} <= {tier.name for tier in settings.tiers}
