"""What each finding means for the customer: plain words, no figures, and whose turn it is.

"We" are the operator with its technician. No sentence takes a value, so none can carry what the
network said; none blames anyone in the home.
"""

from __future__ import annotations

from agent.sheet.en.customer_addresses import ADDRESSES, NEWER

TITLE = "In plain words"
_NAMES = "The service that finds websites by their names"

_NEAREST = {
    "no-interface": (
        "Our test laptop lacks a working network socket. Our mistake to mend; it says nothing "
        "about your line."
    ),
    "port-down": (
        "No signal arrives on the cable to our test laptop. We check the cable and both its ends."
    ),
    "tunnel-on": (
        "Our laptop was testing through another network, so this says nothing about your line. We "
        "test again."
    ),
    "another-line": (
        "The test ran over another connection, not over your line. We test again on yours."
    ),
    "no-lease": (
        "The box our laptop is plugged into does not let it onto the internet. We restart that "
        "box and test again."
    ),
    "half-duplex": (
        "The cable to our test laptop works in a slow way. We set it right and test again."
    ),
    "port-below-tier": (
        "The cable or socket of this test is too slow to judge your line. We change it and test "
        "again."
    ),
    "gateway-silent": (
        "Nothing answers our test laptop, not even the nearest box. We look at the box and its "
        "cable first."
    ),
    "modem-silent": (
        "The modem does not answer. We check the line and the modem, and change it if that is "
        "needed."
    ),
    "nothing-past-modem": (
        "Your modem works, but nothing comes through behind it. We check the line to your home."
    ),
    "nothing-past-gateway": (
        "The box here works, but nothing comes through behind it. We check the modem and the line."
    ),
    "loss-at-gateway": (
        "Some data is lost inside the home, on the short way to our laptop. We change the cable "
        "and test again."
    ),
    "silent-at-modem": (
        "Nothing answers our test laptop from here on. We check the modem and the line."
    ),
    "loss-at-modem": (
        "Some data is lost between our laptop and the modem. We change the cable and test again."
    ),
    "loss-before-modem": (
        "Some data is lost on the cable between your two boxes. We change it and test again."
    ),
    "loss-past-modem": (
        "Some data is lost on the line to your home. We check the line and its connectors."
    ),
    "loss-before-first-hop": (
        "Some data is lost close to your home, indoors or on the line. We check both."
    ),
    "loss-in-operator": (
        "Your home and line are fine; some data is lost further on in our network. Our network "
        "team takes over."
    ),
    "loss-past-gateway": "Some data is lost behind the box in your home. We check the line first.",
    "loss-unplaced": (
        "Some data is lost on the way. We still have to find out where, starting at the line."
    ),
    "large-packets-vanish": (
        "Small messages get through, large ones do not, so some pages hang. We mend that setting."
    ),
}

_RATES = {
    "slow-line": "Your line measured slower than agreed. We check how it is set up on our side.",
    "laptop-limits": (
        "Our test laptop was too slow to judge your line. We test again with it freed or another "
        "one."
    ),
    "window-limits": (
        "A setting held this test back, not necessarily your line. We correct it and test again."
    ),
    "server-limits": (
        "Our test computer was the slow part, not necessarily your line. We test again."
    ),
    "other-traffic-limits": (
        "Our test laptop was busy with other things. We stop them and test again."
    ),
    "rate-unsteady": (
        "The speed changed too much between two tests to name one. We test again later."
    ),
    "slow-not-attributable": (
        "It was slow, but this test cannot tell whether your line is. We test again the right way."
    ),
    "held-in-home": (
        "The line may be fine: data waits inside the home first. We test at the modem to be sure."
    ),
    "held-past-line": (
        "Your line has room to spare; our network or test computer holds it back. Our network "
        "team takes over."
    ),
    "router-limits": (
        "The line is fast; the router in the home passes on less. We talk with you about what can "
        "be done."
    ),
    "other-profile": (
        "Your line seems to be set to a different product than yours. We have the setting "
        "corrected."
    ),
    "rate-differs-from-previous": (
        "The speed differs clearly from the last test here. We test again to see which one holds."
    ),
    "household-traffic": (
        "Something else seems to use the connection just now. We pause it together and test again."
    ),
}

_WAVERS = {
    "operator-congested": (
        "Our network is crowded beyond your line at this time. Our network team has to make room."
    ),
    "path-detour": (
        "Your data takes a long way round through our network. Our network team has to shorten it."
    ),
    "delay-varies": (
        "The line answers now fast, now slowly, which disturbs calls and games. We check the line."
    ),
    "line-drops": (
        "Your line goes quiet for moments and comes back. We check the line and the modem."
    ),
    "port-flaps": (
        "The cable to our test laptop kept losing contact. We change the cable and test again."
    ),
    "duplex-mismatch": (
        "Two ends of a cable do not agree on how to talk. We set them right and test again."
    ),
    "cable-loses-when-busy": (
        "The cable in the home loses data when it is busy. We change it or set its ends right."
    ),
    "long-frames-lost": (
        "The cable to our test laptop loses data. We change it or set its ends right."
    ),
    "delay-high": (
        "Your connection answers later than promised. We find the slow stretch and deal with it."
    ),
    "delay-rises-under-load": (
        "When the line is full, calls and games may stutter. We tell you what can ease that."
    ),
    "server-silent": (
        "Your line works; our own test computer does not. We mend that and test again."
    ),
}

_LAPTOP = {
    "hidden-hop": (
        "Something stands between our laptop and the router and slows the test. We plug in "
        "directly."
    ),
    "laptop-on-wireless": (
        "This test ran over Wi-Fi, so it cannot judge the line. We plug in a cable and test again."
    ),
    "laptop-clock-off": (
        "The clock of our test laptop is wrong. We set it; your line has nothing to do with it."
    ),
    "clock-wrong": (
        "The clock of our test laptop is wrong. We set it; your line has nothing to do with it."
    ),
    "usb-bus-below-tier": (
        "The network adapter of our laptop is too slow for your line. We use another one."
    ),
    "laptop-check-below-tier": (
        "Our test laptop is too slow to judge your line. We come back to it with a faster one."
    ),
    "laptop-saves-power": (
        "Our test laptop was saving power and may be the slow part. We plug it in and test again."
    ),
    "laptop-memory-low": "Our test laptop was short of memory. We free it and test again.",
    "laptop-busy": "Our test laptop was too busy to measure well. We free it and test again.",
    "laptop-has-other-traffic": (
        "Our test laptop was busy with other things. We stop them and test again."
    ),
    "laptop-proxy": (
        "Our test laptop sends its own pages another way. That is ours to mind, not a fault of "
        "your line."
    ),
}

_SITES = {
    "dns-silent": f"{_NAMES} is silent, so pages do not open. We have it mended; your line works.",
    "dns-failing": f"{_NAMES} gives no useful answers. We have it mended; your line works.",
    "dns-first-silent": (
        "Websites open late, because the first place that is asked for them is silent. We have it "
        "mended."
    ),
    "dns-partly-silent": (
        "One of the places that find websites by name is silent, the others work. We report it."
    ),
    "dns-often-silent": (
        "Finding websites by name works only now and then. Our network team looks after it."
    ),
    "dns-private-answer": "A website's name leads to the wrong place. We have it corrected.",
    "dns-rewritten": (
        "Mistyped website names lead to a page that is not theirs. We have it looked at."
    ),
    "dns-disagree": (
        "Two of our own services answer one question differently. Our network team looks into it."
    ),
    "dns-signed-refused": "Some sound websites are refused by mistake. We have it mended.",
    "dns-large-answers-lost": "Some websites are found late or not at all. We have it mended.",
    "dns-tcp-blocked": "Some websites may not be found. We have it mended; your line works.",
    "dns-slow": "Websites take too long to be found. We have it looked at; your line works.",
    "encrypted-resolver-silent": (
        "The private way to look up websites is broken on our side. We have it mended."
    ),
    "dns-not-validating": (
        "Nothing is broken. One safety check of website names is not done here; we can ask for it."
    ),
    "walled-garden": (
        "Your line still waits to be switched on. We finish that, then it needs some minutes."
    ),
    "login-page": (
        "A login or payment page stands before the internet here. We see together whose page it is."
    ),
    "certificate-problem": (
        "A website cannot show that it is what it says. Do not click the warning away; its owner "
        "must act."
    ),
    "content-changed": "A page does not arrive as its owner sends it. We find out who changes it.",
    "proxy-in-the-way": (
        "Something on the way reads and passes on plain pages. We find out what it is."
    ),
    "web-unreached": (
        "Your line works as far as our network, but no outside website answers. Our network team "
        "takes over."
    ),
    "site-unreached": (
        "One website does not answer, others do. Only its owner can mend that; your line is fine."
    ),
    "web-slow": (
        "A website answers late, though your line is not slow: whoever runs it, or the way to it, "
        "is late."
    ),
    "port-blocked": (
        "One kind of service does not get through. We find out who stops it and whether it may be "
        "opened."
    ),
    "port-refused": (
        "Your line is fine: the far end turns this one service away. Whoever runs it has to open "
        "it."
    ),
    "second-router": (
        "Two routers stand one behind the other here. Nothing needs doing unless games or calls "
        "suffer; ask us."
    ),
    "shared-address": (
        "Your address is shared with others, so nothing can call in from outside. Ask us if you "
        "need that."
    ),
    "carrier-translation": (
        "Nothing can call in from outside on this line. Ask us if you need that."
    ),
}

SAID: dict[str, str] = {
    **_NEAREST,
    **_RATES,
    **_WAVERS,
    **ADDRESSES,
    **NEWER,
    **_LAPTOP,
    **_SITES,
}
