"""One invented building: an oblong of levels alike, with rooms along a corridor or an open hall."""

from dataclasses import dataclass

from resilience.sweep.inventing.kinds import AGES, Age, Kind
from resilience.sweep.inventing.luck import Luck

CORRIDOR_M = 2.4
UNDRAWN_SHARE = 0.2  # of sites of which nobody has drawn the walls
PILLARS_M = 12.0  # between those of a hall


@dataclass(frozen=True, slots=True)
class Building:
    """An invented building.

    Parameters
    ----------
    kind : Kind
        What it is. [-]
    age : Age
        What it is made of. [-]
    length_m, width_m : float
        Of its plan. [m]
    levels : tuple of str
        Ids, the lowest first. [-]
    has_walls : bool
        Whether somebody has drawn them. [-]
    """

    kind: Kind
    age: Age
    length_m: float
    width_m: float
    levels: tuple[str, ...]
    has_walls: bool

    @property
    def middle_m(self) -> float:
        """Where the corridor runs, or the middle of a hall."""
        return self.width_m / 2

    def walls(self) -> list[str]:
        """Return the rows of ``walls.csv``."""
        if not self.has_walls:
            return []
        return [row for level in self.levels for row in self._walls_of(level)]

    def _walls_of(self, level: str) -> list[str]:
        if not self.kind.room_m:
            half_m = round(self.length_m / 2, 1)
            return [
                f"{level}-half,{level},{half_m:g},0,{half_m:g},{self.middle_m:g},{self.age.cross}"
            ]
        low_m, high_m = (round(self.middle_m + side * CORRIDOR_M / 2, 1) for side in (-1, 1))
        rows = [
            f"{level}-{name},{level},0,{y_m:g},{self.length_m:g},{y_m:g},{self.age.spine}"
            for name, y_m in (("south", low_m), ("north", high_m))
        ]
        n_rooms = max(1, round(self.length_m / self.kind.room_m))
        for k in range(1, n_rooms):
            x_m = round(k * self.length_m / n_rooms, 1)
            for name, y1_m, y2_m in (("s", 0.0, low_m), ("n", high_m, self.width_m)):
                place = f"{x_m:g},{y1_m:g},{x_m:g},{y2_m:g}"
                rows.append(f"{level}-{name}{k},{level},{place},{self.age.cross}")
        return rows

    def pillars(self) -> list[str]:
        """Return the entries of section ``pillars``, of halls alone."""
        if self.kind.room_m or not self.has_walls:
            return []
        n = max(1, round(self.length_m / PILLARS_M))
        places = [round((k + 0.5) * self.length_m / n, 1) for k in range(n)]
        return [
            f"{{id: P{k}, level: {self.levels[0]}, x_m: {x_m:g}, y_m: {self.middle_m + 1:g}, "
            "width_m: 0.5, depth_m: 0.5, construction: concrete_300}"
            for k, x_m in enumerate(places, start=1)
        ]


def building_of(kind: Kind, luck: Luck) -> Building:
    """Invent a building.

    Parameters
    ----------
    kind : Kind
        What it is. [-]
    luck : Luck
        Draws of the site. [-]
    """
    n_levels = luck.whole(*kind.n_levels)
    return Building(
        kind,
        luck.one_of(AGES),
        float(round(luck.between(*kind.length_m))),
        float(round(luck.between(*kind.width_m))),
        tuple(f"L{k}" for k in range(n_levels)),
        not luck.happens(UNDRAWN_SHARE),
    )
