"""What the customer is told: plain, short, blameless, and once on each face."""

import io
import re
import shutil
import subprocess

import pytest
from plain_words import PlainWords
from records import CASES

from agent.diagnosis.table import RULES
from agent.record.seal import seal
from agent.sheet.catalogue import areas, customer
from agent.sheet.html import html_of
from agent.sheet.pdf import pdf_of
from agent.sheet.terminal import console_for, print_sheet
from agent.sheet.view import build_sheet

# Words of the trade that a household need not know (common practice, no source).
JARGON = (
    "arp dhcp dhcpv6 dns dnssec duplex frame gateway hop icmp ip ipv4 ipv6 isp jitter lan "
    "lease mac mtu nat ont packet packets port pppoe prefix protocol provisioning proxy "
    "resolver server snr subnet tcp throughput tier udp vlan vpn wan"
)
ENGLISH = PlainWords(
    longest=140,
    jargon=re.compile("|".join(JARGON.split())),
    blame=re.compile(
        r"\byou(?:r own)? (?:have|did|should|must|forgot|broke|need to)\b|\byour fault\b"
        r"|fault of yours",
        re.IGNORECASE,
    ),
    turn=re.compile(
        r"\b(?:we|us|our network team|our mistake|ours to mind|its owner|whoever runs it)\b",
        re.IGNORECASE,
    ),
)


def test_every_finding_has_both_sentences_and_a_step():
    for rule in RULES:
        assert rule.code in areas.FINDING, rule.code
        assert customer.SAID.get(rule.code, ""), rule.code
        assert areas.STEP[rule.next_step][0], rule.code


def test_a_code_that_is_not_known_has_no_words():
    assert not customer.SAID.get("of-a-later-version", "")


@pytest.mark.parametrize("code", customer.SAID)
def test_a_sentence_is_short_plain_and_blames_nobody(code):
    assert not ENGLISH.broken(customer.SAID[code])


# Each breaks one rule and no other.
@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("length", f"We {'really ' * 20}look at it."),
        ("end", "Data is lost on the line. We look at it"),
        ("jargon", "Packets are lost on the line. We look at it."),
        ("jargon", "The IPv6-only line is slow. We look at it."),
        ("blame", "You must change your cable. We test again."),
        ("turn", "We looked at the line. It is slow."),
        ("values", "Lost were {lost} times. We look at it."),
    ],
)
def test_a_sentence_that_breaks_a_rule_is_found(rule, said):
    assert ENGLISH.broken(said) == {rule}


# What can cut off phone or alarm, or leads to plant (common practice, no source).
TOUCHES = re.compile(r"\b(?:modem|levels|connectors?|restart|unplug|drop|sync|alarm|phone)\b")


def test_a_step_that_touches_line_modem_alarm_or_phone_says_what_to_mind():
    for code, (text, caution) in areas.STEP.items():
        assert caution or not TOUCHES.search(text), code


def faces(sheet):
    out = io.StringIO()
    print_sheet(sheet, console_for(out, 120))
    return {"terminal": out.getvalue(), "html": html_of(sheet)}


@pytest.mark.parametrize("case", CASES)
def test_it_stands_once_on_each_face(case):
    record = CASES[case]()
    sheet = build_sheet(seal(record))
    first = next((f.code for f in record.diagnosis.findings), "")
    wanted = 1 if customer.SAID.get(first, "") else 0
    for face, text in faces(sheet).items():
        assert text.count(f"{customer.TITLE}:") == wanted, face
    assert (sheet.next_step.plain is not None) == bool(wanted)


@pytest.mark.parametrize("case", ["healthy", "below"])
def test_it_stands_on_paper_too(case):
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    sheet = build_sheet(seal(CASES[case]()))
    argv = ["pdftotext", "-raw", "-", "-"]
    done = subprocess.run(argv, input=pdf_of(sheet), capture_output=True, timeout=60, check=True)
    printed = " ".join(done.stdout.decode().split())
    said = sheet.next_step.plain
    assert printed.count(f"{customer.TITLE}:") == (said is not None)
    assert said is None or said.value in printed
