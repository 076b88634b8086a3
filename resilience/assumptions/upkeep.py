"""Upkeep: how what has failed is mended."""

from resilience.assumptions.catalogue import COMMON_PRACTICE, HIGH, LOW, Setting
from resilience.assumptions.hazards import duration

SETTINGS = (
    *duration("upkeep.repair", 120.0, 480.0, (24.0, 720.0), COMMON_PRACTICE),
    Setting(
        "upkeep.repair.crews",
        "Crews that repair at the same time; for now every repair is independent.",
        "unlimited",
        "text",
        "no queue",
        COMMON_PRACTICE,
        LOW,
        choices=("unlimited",),
    ),
    *duration("upkeep.gateway_repair", 48.0, 120.0, (12.0, 240.0), COMMON_PRACTICE),
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
        "Date of hand-over: what a told lifetime counts from.",
        "2030-01-01",
        "text",
        "dates in trace",
        "any date serves",
        HIGH,
    ),
)
