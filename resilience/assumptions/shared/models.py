"""What devices of one model have in common, and what people do to single ones."""

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, Setting
from resilience.assumptions.hazards import IF_NAMED, duration, rate, share

SETTINGS = (
    share(
        "common_cause.beta",
        "Share of hardware failures that takes all sensors and repeaters of a model at once "
        f"(beta factor). {IF_NAMED}",
        0.05,
        (0.01, 0.10),
        "IEC 61508-6 annex D, 0.01 to 0.10 for field devices (from memory)",
    ),
    rate(
        "software_release",
        f"Faulty releases of a model's software, gateways left out. {IF_NAMED}",
        0.1,
        (0.02, 0.5),
        COMMON_PRACTICE,
    ),
    share(
        "software_release.share",
        "Share of the devices of the model that such a release takes down.",
        1.0,
        (0.1, 1.0),
        COMMON_PRACTICE,
    ),
    Setting(
        "hazards.software_release.staged_h",
        "Time over which a release reaches the devices of its model; it ends for all at once, and "
        "spares those that it has not reached by then. 0 is all at once.",
        0.0,
        "h",
        "each device at an even draw within that time",
        COMMON_PRACTICE,
        LOW,
        low=0.0,
        high=720.0,
        least=0.0,
        most=1e6,
    ),
    *duration("hazards.software_release", 8.0, 24.0, (1.0, 72.0), COMMON_PRACTICE),
    rate(
        "removed",
        "Times that people take a sensor or repeater away, cover or break it, within their reach. "
        f"{IF_NAMED}",
        0.06,
        (0.02, 0.25),
        COMMON_PRACTICE,
        "reach_per_year",
    ),
    rate(
        "removed",
        "The same above their reach.",
        0.015,
        (0.005, 0.05),
        COMMON_PRACTICE,
        "high_per_year",
    ),
    Setting(
        "hazards.removed.reach_m",
        "Height above the floor up to which people reach; a device without a place is within it.",
        2.5,
        "m",
        "height of the device",
        COMMON_PRACTICE,
        LOW,
        low=1.8,
        high=3.0,
        least=0.0,
        most=100.0,
    ),
    rate(
        "device_mute",
        f"Times that a sensor stops measuring and goes on relaying. {IF_NAMED}",
        0.01,
        (0.002, 0.05),
        "such a state exists (Deif and Gadallah 2017); its rate is a guess",
    ),
)
