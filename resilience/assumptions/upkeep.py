"""Upkeep: who is called when something falls silent, when they come, and what it costs."""

from dataclasses import replace

from resilience.assumptions.catalogue import COMMON_PRACTICE, HIGH, LOW, Setting
from resilience.assumptions.hazards import duration

NOTICED = "from silence to call: a day, 2.4 h to two weeks (common practice)"
RESPONSE = (
    "classes of service in building automation, from two hours to five business days (a trade "
    "article on service levels), and common practice"
)
UNLESS_ASKED = "; without this section nothing comes before the repair."


def _response() -> tuple[Setting, ...]:
    """Travel and waiting, which are off unless somebody states them."""
    return tuple(
        replace(one, meaning=one.meaning.rstrip(".") + UNLESS_ASKED)
        for one in duration("upkeep.response", 24.0, 96.0, (2.0, 240.0), RESPONSE)
    )


# Planned rounds, which there are only where somebody states them.
ROUNDS = (
    Setting(
        "upkeep.rounds.every_years",
        "Time from one planned round to the next, and from hand-over to the first. Without "
        "this section there are none.",
        1.0,
        "years",
        "a crew of its own moves from device to device in order of id",
        COMMON_PRACTICE,
        LOW,
        least=0.01,
        most=100.0,
    ),
    Setting(
        "upkeep.rounds.older_than_years",
        "Age from which a round renews cells; 0 is no reason, or any age if the charge is none "
        "either.",
        0.0,
        "years",
        "age as the crew gets there",
        COMMON_PRACTICE,
        LOW,
        least=0.0,
        most=100.0,
    ),
    Setting(
        "upkeep.rounds.below_charge_share",
        "Share of its charge below which a round renews a set of cells; 0 is no reason.",
        0.0,
        "-",
        "charge as the crew gets there",
        COMMON_PRACTICE,
        LOW,
        least=0.0,
        most=1.0,
    ),
    Setting(
        "upkeep.rounds.service_h",
        "Time for which a device is off the mesh while a round renews its cells.",
        0.25,
        "h",
        "once begun it is finished; the next device is begun in working hours",
        COMMON_PRACTICE,
        LOW,
        least=0.0,
        most=24.0,
    ),
)


# Parts on the shelf, which do not count where nobody states them.
SHELF = "ordered so that shelf and orders make up the stock and one for each call that waits"
KEPT = {
    "devices": "Spare devices kept: unlimited, or how many; a call waits for one.",
    "cells": "Spare sets of cells kept: unlimited, or how many; a call waits for one.",
}
SPARES = (
    *(
        Setting(
            f"upkeep.spares.{name}",
            meaning,
            "unlimited",
            "text",
            SHELF,
            COMMON_PRACTICE,
            LOW,
            least=0,
            most=10_000,
            choices=("unlimited",),
        )
        for name, meaning in KEPT.items()
    ),
    Setting(
        "upkeep.spares.dead_share",
        "Share of parts that turn out dead when they are put in: the visit has to be repeated.",
        0.0,
        "-",
        "drawn by device and number of the part",
        COMMON_PRACTICE,
        LOW,
        least=0.0,
        most=0.99,
    ),
    *(
        # A contract, not an assumption: there is no range over which it could be played.
        replace(
            one, meaning=one.meaning.rstrip(".") + "; from order to shelf.", low=None, high=None
        )
        for one in duration("upkeep.spares", 336.0, 1008.0, (24.0, 4380.0), COMMON_PRACTICE)
    ),
)


PRICED = {
    "device": "Price of a sensor or repeater without its cells",
    "gateway": "Price of a gateway",
    "cells": "Price of a set of cells",
    "visit": "Price of getting to the site once, by visit or round",
    "hour": "Price of an hour of travel or work",
}


# Prices: inputs, every one of them; what has none is counted and not priced.
PRICES = (
    Setting(
        "prices.currency",
        "What prices are told in, such as EUR.",
        "",
        "text",
        "shown behind costs",
        "an input",
        HIGH,
    ),
    *(
        Setting(
            f"prices.{name}",
            f"{meaning}; nothing unless stated.",
            None,
            "currency",
            "cost = number x price",
            "an input",
            HIGH,
            least=0.0,
            most=1e9,
        )
        for name, meaning in PRICED.items()
    ),
)


SETTINGS = (
    *duration("upkeep.repair", 120.0, 480.0, (24.0, 720.0), COMMON_PRACTICE),
    Setting(
        "upkeep.repair.crews",
        "The same as upkeep.crews, told among the repairs.",
        "unlimited",
        "text",
        "no queue",
        COMMON_PRACTICE,
        LOW,
        least=1,
        most=10_000,
        choices=("unlimited",),
    ),
    *duration("upkeep.gateway_repair", 48.0, 120.0, (12.0, 240.0), COMMON_PRACTICE),
    *_response(),
    Setting(
        "upkeep.alarm_h",
        "Silence after which a call is opened; with 0 a failure is known at once, silence of any "
        "other reason never.",
        0.0,
        "h",
        "a call opens as the silence has lasted so long without a break",
        NOTICED,
        LOW,
        low=0.0,
        high=336.0,
        least=0.0,
        most=100_000.0,
    ),
    Setting(
        "upkeep.alarm_on",
        "Which silence opens a call: dark (down, not measuring, or without a way to a gateway) or "
        "down (down or not measuring).",
        "dark",
        "text",
        "counts where alarm_h is above 0",
        COMMON_PRACTICE,
        LOW,
        choices=("dark", "down"),
    ),
    Setting(
        "upkeep.crews",
        "Crews that answer calls at the same time: unlimited, or how many.",
        "unlimited",
        "text",
        "a queue, first come first served; a crew is bound from setting out to the end of its work",
        COMMON_PRACTICE,
        LOW,
        least=1,
        most=10_000,
        choices=("unlimited",),
    ),
    Setting(
        "upkeep.mends",
        "What one visit mends: its device, or all of the site that is down when work begins.",
        "device",
        "text",
        "gateways have a service of their own",
        COMMON_PRACTICE,
        LOW,
        choices=("device", "site"),
    ),
    Setting(
        "upkeep.resurvey",
        "Whether a visit to a sensor without a way works round the lasting change that it is put "
        "down to.",
        False,
        "-",
        "its end ends the change; unless on such a visit is in vain",
        COMMON_PRACTICE,
        LOW,
    ),
    *ROUNDS,
    *SPARES,
    Setting(
        "horizon_years",
        "Length of one simulated lifetime, from hand-over.",
        5.0,
        "years",
        "what falls at or after the horizon does not happen",
        COMMON_PRACTICE,
        LOW,
        low=1.0,
        high=20.0,
        least=0.0,
        most=100.0,
        above=True,
    ),
    Setting(
        "calendar.hand_over",
        "Date of hand-over: what a told lifetime counts from, at midnight, local standard time.",
        "2030-01-01",
        "text",
        "dates in trace; weekdays of upkeep",
        "any date serves",
        HIGH,
    ),
    Setting(
        "calendar.today",
        "Date that state.csv tells of, from which lifetimes then count in the place of hand_over.",
        "hand_over",
        "text",
        "ages, and what is left of cells; dates in trace; weekdays of upkeep",
        "the day on which somebody looked",
        HIGH,
    ),
    Setting(
        "calendar.opens_h",
        "Hour of the day from which crews can travel and work, local standard time.",
        0.0,
        "h",
        "response and repair stand still outside working hours",
        COMMON_PRACTICE,
        LOW,
        low=0.0,
        high=10.0,
        least=0.0,
        most=23.9,
    ),
    Setting(
        "calendar.closes_h",
        "Hour of the day up to which crews can travel and work, local standard time.",
        24.0,
        "h",
        "response and repair stand still outside working hours",
        COMMON_PRACTICE,
        LOW,
        low=15.0,
        high=24.0,
        least=0.1,
        most=24.0,
    ),
    Setting(
        "calendar.access_days",
        "Days on which crews are let in: every, or some of mon tue wed thu fri sat sun.",
        "every",
        "text",
        "response and repair stand still on other days",
        COMMON_PRACTICE,
        LOW,
    ),
    *PRICES,
)
