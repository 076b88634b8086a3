"""What can be drawn: each kind of part with its keys, for reader, schema, template and writer.

Another key of a door, say, is one line here; what it means stands where ``sections`` reads it.
"""

from dataclasses import dataclass, replace
from enum import Enum

from resilience.assumptions.catalogue import section
from resilience.assumptions.changes import OBSTACLES as HABITS
from resilience.building.text.entries import Span
from resilience.building.text.tables import Columns

FARTHEST_M = 10_000.0
PLACE = Span("m", least=-FARTHEST_M, most=FARTHEST_M)
SIZE = Span("m", least=0, most=FARTHEST_M, above=True)
UP = Span("m", least=0, most=FARTHEST_M)
LOSS = Span("dB", least=0, most=100)
RATE = Span("1/year", least=0, most=100_000)


class Holds(Enum):
    """What stands at a key that holds no plain number."""

    ID = "an id of its own"
    REFERENCE = "the id of something else"
    CONSTRUCTION = "a construction"
    DOOR_KIND = "a kind of door"
    WORD = "a word of the user's own"
    SWITCH = "on or off"
    HABIT = "a setting of section changes"
    OUTLINE = "corners [x, y]"
    SHEET = "corners [x, y, height]"


NESTED = (Holds.OUTLINE, Holds.SHEET)


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a part.

    Parameters
    ----------
    name : str
        As it is written. [-]
    holds : Holds or Span
        What stands there; a span for a number. [-]
    needed : bool
        Whether a part without it is refused. [-]
    about : str
        What editors show beside it, where its name does not say it. [-]
    """

    name: str
    holds: Holds | Span
    needed: bool = True
    about: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """One kind of part.

    Parameters
    ----------
    name : str
        The list that holds them in section ``building``, and in a ``Building``. [-]
    keys : tuple of Key
        In the order in which they are written. [-]
    table : str
        The table that may hold them, or has to; empty for none. [-]
    """

    name: str
    keys: tuple[Key, ...]
    table: str = ""

    @property
    def single(self) -> tuple[str, ...]:
        """Keys of single values."""
        return tuple(key.name for key in self.keys if key.holds not in NESTED)

    @property
    def nested(self) -> tuple[str, ...]:
        """Keys of lists."""
        return tuple(key.name for key in self.keys if key.holds in NESTED)

    @property
    def needed(self) -> tuple[str, ...]:
        """Keys without which a part is refused."""
        return tuple(key.name for key in self.keys if key.needed)

    @property
    def columns(self) -> Columns:
        """The columns of its table."""
        return Columns(self.needed, tuple(key.name for key in self.keys if not key.needed))

    @property
    def is_mover(self) -> bool:
        """Whether it may change."""
        return CHANGES[0] in self.keys

    def limits(self, name: str) -> Span:
        """What the number at a key may be; KeyError where there is none."""
        for key in self.keys:
            if key.name == name and isinstance(key.holds, Span):
                return key.holds
        raise KeyError(name)


def _optional(*keys: Key) -> tuple[Key, ...]:
    return tuple(replace(key, needed=False) for key in keys)


ID = Key("id", Holds.ID)
LEVEL = Key("level", Holds.REFERENCE)
OUTLINE = Key("outline", Holds.OUTLINE)
CONSTRUCTION = Key("construction", Holds.CONSTRUCTION)
HEIGHT = Key("height_m", SIZE)
SPAN = _optional(LEVEL, Key("lowest", Holds.REFERENCE), Key("highest", Holds.REFERENCE))
BLOCK = (Key("x_m", PLACE), Key("y_m", PLACE), Key("width_m", SIZE), Key("depth_m", SIZE))
ENDS = tuple(Key(name, PLACE) for name in ("x1_m", "y1_m", "x2_m", "y2_m"))
IN_WALL = (Key("wall", Holds.REFERENCE), Key("at_m", UP))
ON = "On: it changes, as its kind does where nothing else is said."
CHANGES = _optional(
    Key("changes", Holds.SWITCH, about=ON),
    *(Key(one.name, Holds.HABIT, about=one.meaning) for one in section("changes.other")),
)

LEVELS = Part(
    "levels",
    (
        ID,
        *_optional(Key("floor_m", PLACE), HEIGHT, Key("slab", Holds.CONSTRUCTION), OUTLINE),
    ),
)
WALLS = Part("walls", (ID, LEVEL, *ENDS, CONSTRUCTION, *_optional(HEIGHT)), "walls.csv")
DOORS = Part(
    "doors",
    (
        *(ID, *IN_WALL, Key("width_m", SIZE), HEIGHT),
        # One that changes may leave its construction out: it stands open as drawn.
        *_optional(CONSTRUCTION),
        Key("kind", Holds.DOOR_KIND, False, "What moves in the doorway; only if it changes."),
        *CHANGES,
    ),
)
WINDOWS = Part(
    "windows",
    (
        *(ID, *IN_WALL, Key("sill_m", UP), Key("width_m", SIZE), HEIGHT),
        *_optional(CONSTRUCTION),
    ),
)
PILLARS = Part("pillars", (ID, *SPAN, *BLOCK, CONSTRUCTION))
SHAFTS = Part("shafts", (ID, *SPAN, Key("lining", Holds.CONSTRUCTION), OUTLINE))
OPENINGS = Part("openings", (ID, LEVEL, *_optional(CONSTRUCTION), OUTLINE))
PLATES = Part("plates", (ID, LEVEL, CONSTRUCTION, Key("corners", Holds.SHEET)))
OBSTACLES = Part(
    "obstacles",
    (
        ID,
        Key("kind", Holds.WORD, False, f"What it is; defaults are known of {', '.join(HABITS)}."),
        *(LEVEL, *BLOCK),
        *_optional(Key("foot_m", UP), HEIGHT),
        Key("loss_db", LOSS, False, "Decibels while it stands as drawn."),
        *CHANGES,
    ),
    "obstacles.csv",
)
# Hazards that strike zones, with the key at which a zone states its own rate.
ZONE_RATES = {
    "zone_works": "works_per_year",
    "zone_water": "water_per_year",
    "zone_interference": "interference_per_year",
    "zone_heat": "heat_per_year",
    "lasting_change": "changes_per_year",
    "removed": "removed_per_year",
}
ZONES = Part(
    "zones",
    (
        ID,
        *_optional(LEVEL, OUTLINE),
        *(
            Key(name, RATE, False, f"A year, here, in the place of what hazards.{hazard} has.")
            for hazard, name in ZONE_RATES.items()
        ),
    ),
)
LISTED = (LEVELS, DOORS, WINDOWS, PILLARS, SHAFTS, OPENINGS, PLATES, OBSTACLES, ZONES)
