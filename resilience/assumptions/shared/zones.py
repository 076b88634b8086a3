"""What happens to a zone: works, water, interference, and changes that stay."""

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, Setting
from resilience.assumptions.hazards import IF_NAMED, duration, rate, share, timetable

COME = "they come, as many a year as ever"


def loss(
    key: str,
    meaning: str,
    default: float,
    span: tuple[float, float],
    source: str = COMMON_PRACTICE,
) -> Setting:
    """Return a loss on links in a zone with its plausible span."""
    low, high = span
    return Setting(
        f"hazards.{key}.loss_db",
        meaning,
        default,
        "dB",
        "added to both directions of every link with an end in the zone",
        source,
        LOW,
        low=low,
        high=high,
        least=0.0,
        most=100.0,
        above=True,
    )


SETTINGS = (
    rate(
        "zone_works",
        f"Building works in a zone (column zone, else the level). {IF_NAMED}",
        0.1,
        (0.02, 0.4),
        COMMON_PRACTICE,
    ),
    share(
        "zone_works.share",
        "Share of the devices in the zone that are taken down or covered until the works end.",
        0.3,
        (0.1, 0.8),
        COMMON_PRACTICE,
    ),
    *duration("hazards.zone_works", 1080.0, 2160.0, (168.0, 2880.0), COMMON_PRACTICE),
    rate(
        "zone_water",
        f"Leaks and floods in a zone (column zone, else the level). {IF_NAMED}",
        0.03,
        (0.005, 0.1),
        COMMON_PRACTICE,
    ),
    share(
        "zone_water.share",
        "Share of the devices in the zone that it kills; they are replaced as upkeep says.",
        0.2,
        (0.05, 0.6),
        COMMON_PRACTICE,
    ),
    rate(
        "zone_interference",
        f"New sources of interference in a zone (column zone, else the level). {IF_NAMED}",
        0.5,
        (0.1, 3.0),
        COMMON_PRACTICE,
    ),
    loss("zone_interference", "What such a source costs a link.", 6.0, (2.0, 15.0)),
    *duration("hazards.zone_interference", 168.0, 1440.0, (8.0, 2160.0), COMMON_PRACTICE),
    *timetable("hazards.zone_interference", COME),
    rate(
        "zone_heat",
        f"Hot spells in a zone (column zone, else the level). {IF_NAMED}",
        3.0,
        (0.5, 10.0),
        COMMON_PRACTICE,
    ),
    loss(
        "zone_heat",
        "What 10 degrees more cost a link by the radios at its ends.",
        2.0,
        (1.0, 5.0),
        "Bannister, Giorgetti and Gupta 2008: up to 8 dB between 25 and 65 degrees",
    ),
    *duration("hazards.zone_heat", 72.0, 240.0, (8.0, 720.0), COMMON_PRACTICE),
    *timetable("hazards.zone_heat", COME),
    rate(
        "lasting_change",
        "Times that furniture, racking or partitions of a zone change for long, counted from the "
        f"last survey (column zone, else the level). {IF_NAMED}",
        0.2,
        (0.05, 1.0),
        "occupant churn of 7 to 41 % a year (offices): common practice",
    ),
    loss(
        "lasting_change",
        "What such a change costs a link; the next one of a zone comes after a new survey only, so "
        "this is the most, twice that between two zones.",
        6.0,
        (3.0, 15.0),
    ),
    *duration("hazards.lasting_change", 4383.0, 17532.0, (720.0, 43830.0), COMMON_PRACTICE),
    *timetable("hazards.lasting_change", COME),
)
