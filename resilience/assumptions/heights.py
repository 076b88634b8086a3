"""Heights: of floors and slabs that nobody measured, and of devices whose height is left blank."""

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, MEDIUM, Setting


def hanging(kind: str, default_m: float, span_m: tuple[float, float], meaning: str) -> Setting:
    """Return the height at which devices of one kind hang unless their row says otherwise."""
    low, high = span_m
    return Setting(
        f"building.{kind}_height_m",
        meaning,
        default_m,
        "m",
        "height above the level's floor, at most the level's own height",
        COMMON_PRACTICE,
        LOW,
        low=low,
        high=high,
        least=0.0,
        most=50.0,
    )


SETTINGS = (
    Setting(
        "building.level_height_m",
        "Floor to ceiling of a level that does not say.",
        3.0,
        "m",
        "stacks the levels",
        COMMON_PRACTICE,
        MEDIUM,
        low=2.4,
        high=5.0,
        least=1.0,
        most=100.0,
    ),
    Setting(
        "building.slab_depth_m",
        "From a ceiling to the floor above it, where that floor's height is not given.",
        0.3,
        "m",
        "stacks the levels",
        COMMON_PRACTICE,
        LOW,
        low=0.2,
        high=1.0,
        least=0.0,
        most=10.0,
    ),
    hanging("gateway", 2.0, (0.5, 3.0), "Height of a gateway: on a wall or a cabinet."),
    hanging("repeater", 2.8, (2.0, 5.0), "Height of a repeater: at the ceiling, out of reach."),
    hanging("sensor", 2.2, (0.5, 3.0), "Height of a sensor: above the door's edge."),
)
