"""What moves in a building, by kind: what it adds while it is changed, how often, how long.

How often a door is shut is a habit of the house, so most of these are prior ranges: whoever knows
the house states its own.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from resilience.assumptions.catalogue import COMMON_PRACTICE, LOW, Setting
from resilience.assumptions.hazards import duration, timetable

DOORS_MEASURED = (
    "a compilation of measured doors, second hand (wood 3 to 4 dB, wired glass 9 dB, steel 12 dB); "
    "cold rooms from memory"
)
LARGE_METAL = "single readings of 15 to 40 dB behind lift cars and vehicles, weakly sourced"
CHURN_SURVEYS = (
    "consistent with surveys of occupants moved (7 to 41 % a year); the rest is common practice"
)


@dataclass(frozen=True, slots=True)
class Habit:
    """How one kind of thing moves; each number is (default, plausible low, plausible high).

    Parameters
    ----------
    adds_db : tuple of float
        Loss that it adds while it is changed. [dB]
    per_year : tuple of float
        Changes per year of standing as drawn. [1/year]
    median_h : tuple of float
        Half of the changes are shorter. [h]
    p90_h : float
        Nine of ten are shorter. [h]
    source : str
        Who says what it adds; rates and durations are common practice where nothing is said. [-]
    """

    adds_db: tuple[float, float, float]
    per_year: tuple[float, float, float]
    median_h: tuple[float, float, float]
    p90_h: float
    source: str


OVERNIGHT = ((52.0, 10.0, 900.0), (12.0, 0.5, 48.0), 16.0)  # a night a week, unless known better
SHUTTER = Habit((18.0, 12.0, 30.0), (365.0, 50.0, 900.0), (12.0, 2.0, 48.0), 16.0, DOORS_MEASURED)
DOORS: dict[str, Habit] = {
    "wooden_door": Habit((3.0, 2.0, 5.0), *OVERNIGHT, DOORS_MEASURED),
    "fire_door": Habit((8.0, 4.0, 12.0), *OVERNIGHT, DOORS_MEASURED),
    "steel_door": Habit((18.0, 12.0, 30.0), *OVERNIGHT, DOORS_MEASURED),
    "shutter": SHUTTER,
}
OBSTACLES: dict[str, Habit] = {
    "lift_car": Habit(
        (20.0, 8.0, 40.0), (365.0, 50.0, 3000.0), (2.0, 0.5, 12.0), 10.0, LARGE_METAL
    ),
    "vehicle": Habit((20.0, 8.0, 40.0), (250.0, 50.0, 1000.0), (2.0, 0.5, 24.0), 10.0, LARGE_METAL),
    "racking": Habit(
        (6.0, 3.0, 15.0), (12.0, 2.0, 50.0), (240.0, 24.0, 2000.0), 720.0, COMMON_PRACTICE
    ),
    "shutter": SHUTTER,
    "furniture": Habit(
        (6.0, 3.0, 15.0), (0.2, 0.05, 1.0), (4383.0, 720.0, 20_000.0), 17_532.0, CHURN_SURVEYS
    ),
    "other": Habit((10.0, 5.0, 20.0), (12.0, 1.0, 100.0), (2.0, 0.3, 24.0), 12.0, COMMON_PRACTICE),
}
HABITS = DOORS | OBSTACLES


def settings_of_kind(kind: str, habit: Habit) -> Iterator[Setting]:
    """Yield the settings of one kind: loss, rate, duration and timetable."""
    adds_db, adds_low_db, adds_high_db = habit.adds_db
    yield Setting(
        f"changes.{kind}.adds_db",
        f"Loss that a change of kind {kind} adds.",
        adds_db,
        "dB",
        "added to both directions of every link through it",
        habit.source,
        LOW,
        low=adds_low_db,
        high=adds_high_db,
        least=0.0,
        most=100.0,
        above=True,
    )
    default, low, high = habit.per_year
    yield Setting(
        f"changes.{kind}.per_year",
        "How often it changes, per year of standing as drawn; 0 is never.",
        default,
        "1/year",
        "mean time as drawn = 8766 h / rate",
        habit.source if habit.source == CHURN_SURVEYS else COMMON_PRACTICE,
        LOW,
        low=low,
        high=high,
        least=0.0,
        most=100_000.0,
    )
    median_h, shortest_h, longest_h = habit.median_h
    yield from duration(
        f"changes.{kind}", median_h, habit.p90_h, (shortest_h, longest_h), COMMON_PRACTICE
    )
    yield from timetable(
        f"changes.{kind}",
        "it is changed, or, where per_year or how long it lasts is stated too, may come to be",
    )


ALL_DOORS = Setting(
    "changes.all_doors",
    "Whether every door of a known leaf that says nothing of changes stands open as drawn and is "
    "shut at times, as its kind is.",
    False,
    "text",
    "its construction becomes its kind, and it stands open",
    COMMON_PRACTICE,
    LOW,
    choices=(True, False),
)
SETTINGS = (
    ALL_DOORS,
    *(setting for kind, habit in HABITS.items() for setting in settings_of_kind(kind, habit)),
)
