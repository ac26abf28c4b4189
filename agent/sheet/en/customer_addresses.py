"""What findings about addresses and IPv6 mean for the customer, in plain words."""

from __future__ import annotations

ADDRESSES = {
    "tag-missing": (
        "Our test laptop was not set up for your kind of line. We set it right and test again."
    ),
    "self-assigned": (
        "The box our laptop is plugged into does not let it onto the internet. We restart it and "
        "test again."
    ),
    "lease-expired": (
        "The permission to use the internet ran out and was not renewed. We renew it and test "
        "again."
    ),
    "address-duplicate": (
        "Two devices were given the same address, so they disturb each other. We sort that out "
        "with you."
    ),
    "two-leases": (
        "Two boxes here both try to run the home network. We find the second one with you."
    ),
    "two-ways": (
        "Our test laptop sees two ways to the internet and mixes them up. We leave only the right "
        "one."
    ),
    "no-default-way": (
        "Our test laptop was not told the way to the internet. We ask for it again or set it."
    ),
    "no-resolver": (
        "Our test laptop was not told how to find websites. We ask for it again or set it."
    ),
    "lease-without-resolver": (
        "Devices here are not told how to find websites. We add that setting with you."
    ),
    "prefix-withdrawn": (
        "Part of the home's internet address is out of date. We restart the router to renew it."
    ),
    "port-beside": (
        "Our test laptop is connected twice. We switch one off, so that the test is clean."
    ),
    "pool-exhausted": (
        "What lets devices onto the internet here has no place left for more. We see to room."
    ),
    "lease-refused": (
        "What lets devices onto the internet turns our laptop away. We clear it up and test again."
    ),
    "lease-not-taken": (
        "Our test laptop did not take the address it was offered. We let it ask again."
    ),
    "pppoe-silent": "Nothing answers at the far end of your line. We check the modem and the line.",
    "pppoe-not-started": (
        "The line is ready, but nobody has logged in on it yet. We log in and test again."
    ),
    "pppoe-no-session": "This line needs a login before it works. We log in and test again.",
    "two-dhcp-servers": (
        "Two boxes here both try to run the home network. We find the second one with you."
    ),
    "address-in-use": (
        "Two devices use the same address and disturb each other. We find the other one with you."
    ),
    "offered-address-in-use": (
        "A device here uses an address meant for others. We find it with you."
    ),
    "offer-without-router": (
        "Devices here are not told the way to the internet. We correct that setting with you."
    ),
    "offer-without-dns": (
        "Devices here are not told how to find websites. We correct that setting with you."
    ),
    "mask-misfits-router": (
        "Two settings of the home network do not fit together. We correct them with you."
    ),
    "lease-time-zero": (
        "Devices here get their place in the home network for no time at all. We correct that "
        "setting."
    ),
    "timers-out-of-order": (
        "Devices here may lose their connection now and then, by a setting. We correct it with you."
    ),
    "lease-server-silent": (
        "It works now, but may stop: the box that connects your devices is not answering. We "
        "restart it."
    ),
    "address-of-another-pool": (
        "This may be somebody else's line. We compare the labels and have the line checked."
    ),
    "unexpected-dhcp-server": (
        "This may be somebody else's line. We compare the labels and have the line checked."
    ),
}

NEWER = {
    "two-ipv6-routers": (
        "Two boxes here both claim to be the way out. We find the second one with you."
    ),
    "ipv6-prefix-expired": (
        "Part of the home's internet address is out of date. We restart the router to renew it."
    ),
    "ipv6-lifetimes-reversed": (
        "A setting of the router can make devices lose contact. We correct it with you."
    ),
    "no-ipv6-router": (
        "The router hands out newer addresses but does not carry them. We restart it and test "
        "again."
    ),
    "managed-without-server": (
        "Devices here wait for newer addresses that nobody gives. We correct the router's setting."
    ),
    "ipv6-server-without-address": (
        "Devices here wait for newer addresses that nobody gives. We correct the router's setting."
    ),
    "no-delegated-prefix": (
        "Our line does not give your home its newer kind of addresses. Our network team takes over."
    ),
    "ipv6-without-resolver": (
        "Devices here are not told how to find websites. We correct that setting with you."
    ),
    "portals-differ": "Two different login pages are announced here. We leave only the right one.",
    "ipv4-missing": (
        "Only the newer half of the internet is reached from here. We restart the router and test "
        "again."
    ),
    "ipv6-no-route": (
        "The newer half of the internet is not reached from here. We look at the router first."
    ),
    "ipv6-dead": (
        "The newer way to websites is broken, so pages start late. We report it and have it mended."
    ),
    "ipv6-large-packets-vanish": (
        "Pages can hang on the newer way to websites. Our network team has to mend it."
    ),
    "ipv6-names-silent": (
        "Websites are found late, because one kind of question gets no answer. We have it mended."
    ),
    "ipv6-slower": (
        "The newer way to websites is slower than the old one. Our network team looks into it."
    ),
    "ipv6-site-unanswered": (
        "One website does not answer on the newer way. Only its owner can mend that; your line is "
        "fine."
    ),
}
