"""Hazards: what strikes, how often, and how it ends, unless the site says otherwise.

No published data give a failure rate of modern indoor battery mesh devices: the defaults are
prior ranges to be swept, not facts.
"""

from typing import Any

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, MEDIUM, Setting

RARE_READINGS = (
    "handbook counts (MIL-HDBK-217F style, from memory) and smart-meter first-year returns"
)
GATEWAY_RESTARTS = (
    "Brun-Laguna et al. 2018: joins after gateway-side power faults, an upper bound; EIA and CEER "
    "supply statistics, a lower one"
)
DROPS = (
    "own analysis of Brun-Laguna et al. 2018, connectivity traces: falls of 8 dB and more in an "
    "office (14 in 0.43 link-years), an orchard (4 in 4.3) and a laboratory (none)"
)


# What a site has only where it names it: no rate of these is published, and some of them hold
# wherever nobody said where a zone ends.
ON_REQUEST = (
    *("busy_hours", "common_cause", "device_mute", "lasting_change", "removed"),
    "software_release",
    *("zone_heat", "zone_interference", "zone_water", "zone_works"),
)
IF_NAMED = "Off unless named."
MAINS = (
    "interruptions of the public supply, 0.3 to 1.5 a year of 80 to 140 min (EIA and CEER "
    "statistics), and work on circuits and pulled plugs beside it: common practice"
)


def rate(  # noqa: PLR0913, PLR0917 - a row of the catalogue
    key: str,
    meaning: str,
    default: float,
    span: tuple[float, float],
    source: str,
    name: str = "per_year",
) -> Setting:
    """Return a rate per year at risk with its plausible span."""
    low, high = span
    return Setting(
        f"hazards.{key}.{name}",
        meaning,
        default,
        "1/year",
        "mean time at risk = 8766 h / rate",
        source,
        MEDIUM if "Brun-Laguna" in source else LOW,
        low=low,
        high=high,
        least=0.0,
        most=100_000.0,
    )


def instead_of_rate(key: str) -> Setting:
    """Return the mean time to failure that may stand in the place of a rate."""
    return Setting(
        f"hazards.{key}.mttf_h",
        "Mean time to failure, in the place of per_year.",
        None,
        "h",
        "mean time at risk",
        "definition",
        LOW,
        least=0.0,
        most=1e12,
        above=True,
        instead_of="per_year",
    )


def weibull_slope(key: str) -> Setting:
    """Return the slope of a Weibull life."""
    return Setting(
        f"hazards.{key}.shape",
        "Weibull slope of hardware life; at 1 the failure rate is constant.",
        1.0,
        "-",
        "Weibull",
        COMMON_PRACTICE,
        LOW,
        low=0.8,
        high=2.0,
        least=0.1,
        most=20.0,
    )


def duration(
    section: str, median_h: float, p90_h: float, span: tuple[float, float], source: str
) -> tuple[Setting, ...]:
    """Return the four keys that describe how long something lasts.

    Either ``median_h`` with ``p90_h`` (lognormal), or ``mean_h`` (exponential or fixed).
    """
    law = "lognormal through median and 90 % point, or exponential, or fixed"

    def hours(name: str, meaning: str, default: float | None, **more: Any) -> Setting:
        limits: dict[str, Any] = {"least": 0.0, "most": 1e6, "above": True}
        return Setting(
            f"{section}.{name}", meaning, default, "h", law, source, LOW, **limits, **more
        )

    return (
        Setting(
            f"{section}.distribution",
            "Shape of the duration; follows from mean_h or median_h where it is not given.",
            "lognormal",
            "text",
            law,
            COMMON_PRACTICE,
            LOW,
            choices=("lognormal", "exponential", "fixed"),
        ),
        hours(
            "median_h",
            "Half of them are shorter (lognormal).",
            median_h,
            low=span[0],
            high=span[1],
        ),
        hours("p90_h", "Nine of ten are shorter (lognormal).", p90_h),
        hours(
            "mean_h",
            "Mean duration (exponential or fixed), in the place of median_h and p90_h.",
            None,
            instead_of="median_h",
        ),
    )


def timetable(
    section: str, what: str, usual: tuple[str, str, str] = ("every", "every", "every")
) -> tuple[Setting, ...]:
    """Return the three keys of a timetable: hours of days of the week in months of the year."""
    meanings = (
        f"Hours of the day in which {what}: every, or spans such as 08:00-17:00.",
        f"Days of the week in which {what}: every, or such as mon-fri.",
        f"Months in which {what}: every, or such as oct-mar.",
    )
    law = "local standard time; hours over midnight belong to the day on which they begin"
    return tuple(
        Setting(f"{section}.{name}", meaning, words, "text", law, COMMON_PRACTICE, LOW)
        for name, meaning, words in zip(
            ("hours", "weekdays", "months"), meanings, usual, strict=True
        )
    )


def share(
    key: str, meaning: str, default: float, span: tuple[float, float], source: str
) -> Setting:
    """Return a share from 0 to 1 with its plausible span."""
    low, high = span
    return Setting(
        f"hazards.{key}",
        meaning,
        default,
        "-",
        "chance by event and device, or factor on a rate",
        source,
        LOW,
        low=low,
        high=high,
        least=0.0,
        most=1.0,
    )


SETTINGS = (
    rate(
        "hardware",
        "Failures of a device's electronics, connector or fixing in useful life.",
        0.025,
        (0.005, 0.11),
        RARE_READINGS,
    ),
    instead_of_rate("hardware"),
    weibull_slope("hardware"),
    Setting(
        "hazards.early_failure.share",
        "Share of new devices that are weak and fail early.",
        0.02,
        "-",
        "a weak device also fails after an exponential time",
        COMMON_PRACTICE,
        LOW,
        low=0.0,
        high=0.10,
        least=0.0,
        most=1.0,
    ),
    Setting(
        "hazards.early_failure.mean_h",
        "Mean time of a weak device to failure.",
        720.0,
        "h",
        "exponential",
        COMMON_PRACTICE,
        LOW,
        low=168.0,
        high=2160.0,
        least=0.0,
        most=1e6,
        above=True,
    ),
    Setting(
        "hazards.battery.spread",
        "Coefficient of variation of usable charge between cells at equal load.",
        0.12,
        "-",
        "Weibull with mean 1; its slope follows from the coefficient of variation",
        COMMON_PRACTICE,
        LOW,
        low=0.05,
        high=0.25,
        least=0.001,
        most=1.0,
    ),
    Setting(
        "hazards.battery.batch_share",
        "Share of that spread, as a variance, which cells of one delivery have in common: devices "
        "of the same word in column batch.",
        0.8,
        "-",
        "spread of a batch and within it: (1 + CV batch^2) (1 + CV within^2) = 1 + CV^2",
        "2 to 5 % within a fresh batch, 5 to 10 % across batches and makes: common practice",
        LOW,
        low=0.5,
        high=0.95,
        least=0.0,
        most=1.0,
    ),
    Setting(
        "hazards.link_blockage.per_year",
        "Times that something comes to stand in the way of one link and goes again, in the place "
        "of what the environment has.",
        None,
        "1/year",
        "mean time at risk = 8766 h / rate",
        "as quiet_per_year and busy_per_year",
        LOW,
        low=0.06,
        high=50.0,
        least=0.0,
        most=100_000.0,
        instead_of="busy_per_year",
    ),
    rate(
        "link_blockage",
        "The same in a quiet environment, where it is not stated.",
        0.5,
        (0.06, 2.0),
        DROPS,
        "quiet_per_year",
    ),
    rate(
        "link_blockage",
        "The same in a busy one.",
        20.0,
        (5.0, 50.0),
        DROPS,
        "busy_per_year",
    ),
    Setting(
        "hazards.link_blockage.loss_db",
        "Loss that such an obstruction adds.",
        10.0,
        "dB",
        "added to both directions",
        DROPS,
        MEDIUM,
        low=8.0,
        high=25.0,
        least=0.0,
        most=100.0,
        above=True,
    ),
    *duration("hazards.link_blockage", 2.0, 6.0, (1.4, 4.0), DROPS),
    *timetable("hazards.link_blockage", "they come, as many a year as ever"),
    Setting(
        "hazards.obstacles.blockage_share",
        "Least share of link_blockage.per_year left on links through a door or obstacle that "
        "changes, whose part that rate counts as well.",
        0.5,
        "-",
        "rate left = the larger of share x rate and rate - changes a year of what is drawn",
        COMMON_PRACTICE,
        LOW,
        low=0.3,
        high=1.0,
        least=0.0,
        most=1.0,
        above=True,
    ),
    rate(
        "gateway_outage",
        "Outages of a gateway's supply, backhaul or computer.",
        6.0,
        (2.0, 18.0),
        GATEWAY_RESTARTS,
    ),
    *duration("hazards.gateway_outage", 1.5, 12.0, (0.25, 8.0), GATEWAY_RESTARTS),
    rate(
        "mains_outage",
        "Losses of mains supply of a sensor or repeater whose supply says mains, by its own plug "
        "or with its circuit; that of a gateway is part of gateway_outage.",
        0.7,
        (0.2, 3.0),
        MAINS,
    ),
    *duration("hazards.mains_outage", 2.0, 8.0, (0.5, 12.0), MAINS),
    rate(
        "gateway_hardware",
        "Failures of a gateway's own hardware; mended as upkeep.gateway_repair says.",
        0.05,
        (0.02, 0.15),
        COMMON_PRACTICE,
    ),
    instead_of_rate("gateway_hardware"),
    weibull_slope("gateway_hardware"),
)
