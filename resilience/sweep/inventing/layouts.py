"""What could hang in an invented building: sensors in rooms, a gateway where a socket was free."""

from collections.abc import Iterator

from resilience.sweep.inventing.buildings import Building
from resilience.sweep.inventing.luck import Luck

LEAST_SENSORS = 2  # of a level
MOST_SENSORS = 20  # of a building
EDGE_M = 0.6  # from a wall
REPEATERS_M = (14.0, 24.0)  # apart along a corridor
TWO_GATEWAYS_SHARE = 0.3


def sensors(building: Building, luck: Luck) -> list[str]:
    """Return the rows of ``sensors.csv``: spread evenly, each somewhere in its field.

    Parameters
    ----------
    building : Building
        Where they hang. [-]
    luck : Luck
        Draws of the site. [-]
    """
    area_m2 = building.length_m * building.width_m
    wanted = round(area_m2 * building.kind.sensor_per_m2)
    n = min(MOST_SENSORS // len(building.levels), max(LEAST_SENSORS, wanted))
    rows: list[str] = []
    for level in building.levels:
        for k in range(n):
            field_m = building.length_m / n
            x_m = luck.between(k * field_m + EDGE_M, (k + 1) * field_m - EDGE_M)
            side_m = building.width_m / 2 - 2.5
            y_m = luck.between(EDGE_M, side_m)
            if luck.happens(0.5):
                y_m = building.width_m - y_m
            rows.append(f"S{len(rows) + 1:02d},{level},{x_m:.1f},{y_m:.1f}")
    return rows


def layouts(building: Building, luck: Luck) -> Iterator[tuple[str, list[str]]]:
    """Yield name and rows of ``devices.csv`` of each candidate.

    Parameters
    ----------
    building : Building
        Where they hang. [-]
    luck : Luck
        Draws of the site. [-]
    """
    gateway = _gateway(building, luck, 1)
    apart_m = luck.between(*REPEATERS_M)
    yield "gateway-only", [gateway]
    yield "with-repeaters", [gateway, *_repeaters(building, apart_m)]
    if luck.happens(TWO_GATEWAYS_SHARE):
        yield (
            "two-gateways",
            [gateway, _gateway(building, luck, 2), *_repeaters(building, 2 * apart_m)],
        )


def _gateway(building: Building, luck: Luck, number: int) -> str:
    """A gateway: the first in a corner below, the second at the other end above."""
    is_first = number == 1
    level = building.levels[0 if is_first else -1]
    x_m = luck.between(1.0, 3.0)
    y_m = building.middle_m + luck.between(-0.8, 0.8)
    if luck.happens(0.4):
        y_m = luck.between(1.0, 2.0)  # in a corner room, as it comes
    place = f"{x_m if is_first else building.length_m - x_m:.1f},{y_m:.1f}"
    return f"G{number},gateway,{level},{place}"


def _repeaters(building: Building, apart_m: float) -> Iterator[str]:
    n = max(1, round(building.length_m / apart_m))
    number = 0
    for level in building.levels:
        for k in range(n):
            number += 1
            x_m = building.length_m * (k + 0.5) / n
            yield f"R{number},repeater,{level},{x_m:.1f},{building.middle_m:.1f}"
