"""What the customer is told in German: plain, short, blameless, and the same as in English."""

import re

import pytest
from plain_words import PlainWords, sentences, words

from agent.diagnosis.table import RULES
from agent.sheet.de import customer
from agent.sheet.en import customer as english

# Short words of the trade, and those that also stand inside longer ones: "Datenpaket" (common
# practice, no source).
ALONE = (
    "arp dhcp dhcpv6 dns dnssec frame frames hop hops icmp ip ipv4 ipv6 isp lan mac mtu nat ont "
    "port ports pppoe snr tcp udp usb vlan vpn wan"
)
INSIDE = (
    "auflösung bandbreite dienstgüte duplex durchsatz gateway halbduplex jitter latenz laufzeit "
    "lease netzleitstelle paket pegel präfix protokoll provision proxy resolver schnittstelle "
    "segment server subnetz tunnel zertifikat"
)
GERMAN = PlainWords(
    longest=112,
    jargon=re.compile(rf"{'|'.join(ALONE.split())}|\w*(?:{'|'.join(INSIDE.split())})\w*"),
    # Small "sie" is nobody in the home, so the case of letters counts.
    blame=re.compile(
        r"\bSie (?:haben|hätten|müssen|müssten|sollen|sollten|dürfen|vergaßen)\b"
        r"|\b(?:haben|hätten|müssen|müssten|sollen|sollten|dürfen|vergaßen) Sie\b"
        r"|\b(?:durch|von|wegen) Ihnen\b|\bIhretwegen\b|\bIhr (?:Fehler|Versehen|Verschulden)\b"
        r"|\b[Ss]chuld\b|\b[Uu]nsachgemäß|\b[Ff]alsch (?:an|be|ein|ver)\w+"
    ),
    turn=re.compile(
        r"\b(?:wir|uns|unsere (?:Netztechnik|Sache)|(?:der|ihr) Inhaber|nichts zu tun"
        r"|wer [^.;]*\bbetreibt)\b",
        re.IGNORECASE,
    ),
)


@pytest.mark.parametrize("code", customer.SAID)
def test_a_sentence_is_short_plain_and_blames_nobody(code):
    assert not GERMAN.broken(customer.SAID[code])


# Each breaks one rule and no other.
@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("length", f"Wir {'prüfen und ' * 10}prüfen."),
        ("end", "Es gehen Daten verloren. Wir prüfen die Leitung"),
        ("jargon", "Es gehen Datenpakete verloren. Wir prüfen die Leitung."),
        ("jargon", "Der IPv6-Weg ist langsam. Wir prüfen die Leitung."),
        ("jargon", "Unser Messserver ist langsam. Wir messen erneut."),
        ("blame", "Das Kabel haben Sie vertauscht. Wir stecken es um."),
        ("blame", "Das Kabel ist falsch angeschlossen. Wir stecken es um."),
        ("turn", "Wir haben gemessen. Der Anschluss wird langsam."),
        ("values", "Es gingen {lost} verloren. Wir prüfen die Leitung."),
    ],
)
def test_a_sentence_that_breaks_a_rule_is_found(rule, said):
    assert GERMAN.broken(said) == {rule}


@pytest.mark.parametrize(
    "said",
    [
        "Die Geräte sind aus. Sie zu starten, haben wir vor.",
        "Websites sind fort. Das kann nur ihr Inhaber beheben.",
        "Im Webshop hakt der Transport. Wir prüfen die Leitung.",
    ],
)
def test_a_sentence_is_not_taken_for_what_it_only_resembles(said):
    assert not GERMAN.broken(said)


def test_every_finding_has_its_sentence_and_none_is_left_over():
    assert {rule.code for rule in RULES} <= set(customer.SAID)
    assert list(customer.SAID) == list(english.SAID)


# Who is close enough to the customer to say it differently is too close (common practice, no
# source).
FAMILIAR = re.compile(r"\b(?:du|dich|dir|dein\w*|euch|euer|eure\w*)\b", re.IGNORECASE)
# Swiss or typewriter spelling of words with ß or an umlaut (official German spelling rules, § 25,
# from memory), and quotation marks that German does not use (common practice, no source).
FOREIGN = re.compile(
    r"\b(?:\w*gross|\w*schliess|\w*heiss|\w*ausser|\w*strass|fuer|ueber|pruef|koenn|muess|geraet)"
    r"|[\"'`”]",
    re.IGNORECASE,
)


@pytest.mark.parametrize("code", customer.SAID)
def test_a_sentence_is_polite_and_spelled_as_in_germany(code):
    said = customer.SAID[code]
    assert not FAMILIAR.search(said)
    assert not FOREIGN.search(said)


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (FAMILIAR, "Wir prüfen deine Leitung."),
        (FOREIGN, "Wir pruefen die Leitung."),
        (FOREIGN, "Wir schliessen den Laptop an."),
        (FOREIGN, 'Wir prüfen die "Leitung".'),
    ],
)
def test_a_spelling_that_is_not_ours_is_found(rule, said):
    assert rule.search(said)


def reading_index(said):
    """Return the reading index LIX: words for each period or colon, and long words of a hundred.

    Björnsson, Läsbarhet (1968): a word of more than six letters is long.
    """
    spoken = words(said)
    return len(spoken) / len(re.findall(r"[.:]", said)) + 100 * sum(
        len(word) > 6 for word in spoken
    ) / len(spoken)


def test_the_reading_index_is_that_of_its_author():
    # Counted by hand: ten words in two sentences, "Rechnung" and "Leitung" are long.
    assert reading_index("Sie ist schon da. Die Rechnung und die Leitung auch.") == 5 + 20


def test_the_whole_reads_like_a_book_for_the_young():
    # Under 40 on Björnsson's scale as it is used for German.
    assert reading_index(" ".join(customer.SAID.values())) < 40


@pytest.mark.parametrize("code", customer.SAID)
def test_no_sentence_is_longer_than_reads_easily(code):
    # Reiners' Stilfibel: to 18 words a German sentence is easily understood (as often quoted).
    assert all(len(words(one)) <= 18 for one in sentences(customer.SAID[code]))


# Where the English names it the German does, so no sentence stands under another's code.
NAMED = {
    r"\blaptop\b": r"\bLaptops?\b",
    r"\brouters?\b": r"\bRouters?\b",
    r"\bmodem\b": r"\bModem\b",
    r"\bcable\b": r"\bKabel",
    r"\bsome data is lost\b": r"\bDaten verloren\b",
    r"\bwebsites?\b": r"\bWebsites?\b",
    r"\btest again\b": r"\bmessen\b.* erneut\b",
    r"\brestart\b": r"\bstarten\b.* neu\b",
    r"\bnetwork team\b": r"\bNetztechnik\b",
    r"\bwith you\b": r"\bmit Ihnen\b",
    r"\b(?:it|see) together\b": r"\bgemeinsam\b",
    r"\bask us\b": r"\b[Ff]ragen Sie uns\b",
    r"\bits owner\b": r"\bInhaber\b",
    r"\bhave it (?:mended|looked at|corrected)\b": r"\blassen (?:das|es)\b",
    r"\bpower\b": r"\bStrom\b",
    r"\bmemory\b": r"\bSpeicher\b",
    r"\bclock\b": r"\bUhr\b",
    r"\bwi-fi\b": r"\bWLAN\b",
}


@pytest.mark.parametrize("named", NAMED)
def test_what_the_english_names_the_german_names(named):
    told = {code for code, said in english.SAID.items() if re.search(named, said.lower())}
    assert told
    assert {code for code in told if not re.search(NAMED[named], customer.SAID[code])} == set()


def test_what_is_told_apart_in_english_is_told_apart():
    apart = {(english.SAID[code], said) for code, said in customer.SAID.items()}
    assert len(apart) == len(set(english.SAID.values())) == len(set(customer.SAID.values()))
