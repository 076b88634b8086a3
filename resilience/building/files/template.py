"""A first site folder from six answers, with every section explained in place."""

import json
import math
import textwrap
from dataclasses import dataclass
from pathlib import Path

from resilience.assumptions.catalogue import default
from resilience.building.parts import (
    DOORS,
    OBSTACLES,
    OPENINGS,
    PILLARS,
    PLATES,
    SHAFTS,
    WINDOWS,
    ZONES,
    Part,
)
from resilience.building.text.drafts import draft_of, write
from resilience.building.text.entries import id_problem
from resilience.errors import UsageError

EDGE_M = 1.0  # nearest that an invented device stands to the outline
MOST_SENSORS = 10_000
DEVICE_HEADER = "id,kind,level,x_m,y_m,supply"


@dataclass(frozen=True, slots=True)
class Answers:
    """What somebody who starts a site is asked.

    Parameters
    ----------
    name : str
        Title of the site. [-]
    n_levels : int
        Number of levels, 1 to 100. [-]
    length_m, width_m : float
        Extent of the building along x and along y, from 4 to 1000. [m]
    n_sensors_per_level : int
        Sensors on each level, at least 1. [-]
    gateway : str
        Where the gateway hangs on the lowest level: ``corner`` or ``centre``. [-]
    """

    name: str
    n_levels: int
    length_m: float
    width_m: float
    n_sensors_per_level: int
    gateway: str

    def __post_init__(self) -> None:
        if not self.name.strip() or not self.name.isprintable():
            raise UsageError("the name of a site is text without control characters")
        if not 1 <= self.n_levels <= 100:
            raise UsageError(f"a site has 1 to 100 levels, not {self.n_levels}")
        if not (4 <= self.length_m <= 1000 and 4 <= self.width_m <= 1000):
            raise UsageError("length and width of a site are 4 to 1000 m")
        if not 1 <= self.n_sensors_per_level <= MOST_SENSORS // self.n_levels:
            raise UsageError(f"a new site has 1 to {MOST_SENSORS} sensors")
        if self.gateway not in ("corner", "centre"):
            raise UsageError(f"the gateway is at the corner or the centre, not {self.gateway!r}")

    @property
    def levels(self) -> tuple[str, ...]:
        """Ids of the levels, from the lowest to the highest."""
        return tuple(f"L{number}" for number in range(1, self.n_levels + 1))


def new_site(folder: str | Path, answers: Answers) -> Path:
    """Write a commented site folder and return its path; nothing is left half written.

    Parameters
    ----------
    folder : str or Path
        Where it shall be; missing or empty. [-]
    answers : Answers
        The six answers. [-]
    """
    target = Path(folder)
    if id_problem(target.name):
        raise UsageError(f"{target.name!r} cannot be the name of a site folder")
    if target.is_symlink() or (target.exists() and not target.is_dir()):
        raise UsageError(f"{target} exists and is not a folder")
    if target.is_dir() and any(target.iterdir()):
        raise UsageError(f"{target} exists and is not empty")
    with draft_of(target) as draft:
        for file, text in _pages(answers).items():
            write(draft, file, text)
    return target


def _pages(answers: Answers) -> dict[str, str]:
    """Return the text of every file, by its path in the folder."""
    gateway = _gateway_row(answers)
    repeaters = [_repeater_row(answers, number) for number in range(1, answers.n_levels + 1)]
    return {
        "site.yaml": _site_page(answers),
        "sensors.csv": _table("id,level,x_m,y_m", _sensor_rows(answers)),
        "layouts/gateway-only/devices.csv": _table(DEVICE_HEADER, [gateway]),
        "layouts/with-repeaters/devices.csv": _table(DEVICE_HEADER, [gateway, *repeaters]),
        "README.md": _readme(answers),
    }


def _table(header: str, rows: list[str]) -> str:
    return "\n".join([header, *rows]) + "\n"


def _place(x_m: float, y_m: float) -> str:
    return f"{x_m:.2f},{y_m:.2f}"


def _gateway_row(answers: Answers) -> str:
    x_m, y_m = EDGE_M, EDGE_M
    if answers.gateway == "centre":
        x_m, y_m = answers.length_m / 2, answers.width_m / 2
    return f"G1,gateway,{answers.levels[0]},{_place(x_m, y_m)},mains"


def _repeater_row(answers: Answers, number: int) -> str:
    # A third along the length: in the middle it would double a gateway at the centre.
    place = _place(answers.length_m / 3, answers.width_m / 2)
    return f"R{number},repeater,{answers.levels[number - 1]},{place},battery"


def _sensor_rows(answers: Answers) -> list[str]:
    """Return the sensors, on each level on an even grid of nearly square fields."""
    n = answers.n_sensors_per_level
    n_columns = min(n, max(1, round(math.sqrt(n * answers.length_m / answers.width_m))))
    n_rows = math.ceil(n / n_columns)
    digits = len(str(n * answers.n_levels))
    rows = []
    for storey, level in enumerate(answers.levels):
        for position in range(n):
            row, column = divmod(position, n_columns)
            n_here = min(n_columns, n - row * n_columns)  # the last row may be shorter
            x_m = answers.length_m * (column + 0.5) / n_here
            y_m = answers.width_m * (row + 0.5) / n_rows
            name = f"S{storey * n + position + 1:0{digits}d}"
            rows.append(f"{name},{level},{_place(x_m, y_m)}")
    return rows


def _site_page(answers: Answers) -> str:
    x_m, y_m = f"{answers.length_m:g}", f"{answers.width_m:g}"
    levels = "\n".join(f"    - {{id: {level}}}" for level in answers.levels)
    return SITE_PAGE.format(
        name=json.dumps(answers.name, ensure_ascii=False),
        outline=f"[[0, 0], [{x_m}, 0], [{x_m}, {y_m}], [0, {y_m}]]",
        levels=levels,
        drawn=_drawn_examples(answers.levels[0]),
        horizon_years=f"{default('horizon_years'):g}",
        level_height_m=f"{default('building.level_height_m'):g}",
        slab_depth_m=f"{default('building.slab_depth_m'):g}",
        hardware=f"{default('hazards.hardware.per_year'):g}",
        mains=f"{default('hazards.mains_outage.per_year'):g}",
        outages=f"{default('hazards.gateway_outage.per_year'):g}",
        repair_h=f"{default('upkeep.repair.median_h'):g}",
        repair_p90_h=f"{default('upkeep.repair.p90_h'):g}",
        alarm_h=f"{default('upkeep.alarm_h'):g}",
        crews=default("upkeep.crews"),
        mends=default("upkeep.mends"),
        hand_over=default("calendar.hand_over"),
        opens_h=f"{default('calendar.opens_h'):g}",
        closes_h=f"{default('calendar.closes_h'):g}",
        access_days=default("calendar.access_days"),
    )


def _drawn_examples(level: str) -> str:
    """Return an example of everything that can be drawn, as comments."""
    lines = []
    for part, (about, *examples) in EXAMPLES.items():
        keys = f"{about} Keys: {', '.join(key.name for key in part.keys)}."
        lines += textwrap.wrap(keys, 98, initial_indent="  # ", subsequent_indent="  # ")
        lines.append(f"  # {part.name}:")
        for example in examples:
            text = f"- {{{example.format(level=level)}}}".replace(": ", ":\0")  # stay together
            wrapped = textwrap.wrap(
                text, 98, initial_indent="  #   ", subsequent_indent="  #      "
            )
            lines += [line.replace("\0", " ") for line in wrapped]
    return "\n".join(lines)


def _readme(answers: Answers) -> str:
    title = " ".join(answers.name.split()).replace("<", "&lt;").replace("[", "\\[")
    return README.format(
        name=title,
        n_sensors=answers.n_levels * answers.n_sensors_per_level,
        n_levels=answers.n_levels,
        gateway=answers.gateway,
    )


EXAMPLES: dict[Part, tuple[str, ...]] = {
    DOORS: (
        "Each in a wall of walls.csv, at_m metres from the wall's first end. A door that changes "
        "stands open as drawn and is shut at times: how often and how long its kind says, or you.",
        "id: D1, wall: W1, at_m: 2, width_m: 0.9, height_m: 2.1, construction: wooden_door",
        "id: D2, wall: W1, at_m: 4, width_m: 1.8, height_m: 2.1, construction: open, "
        "kind: fire_door, changes: on",
    ),
    WINDOWS: (
        "In a wall as well, sill_m above the floor.",
        "id: F1, wall: W1, at_m: 6, sill_m: 0.9, width_m: 1.5, height_m: 1.2",
    ),
    PILLARS: (
        "Upright blocks by their centre, on one level or from lowest to highest.",
        "id: P1, level: {level}, x_m: 3, y_m: 3, width_m: 0.4, depth_m: 0.4, "
        "construction: concrete_300",
    ),
    SHAFTS: (
        "Holes through slabs, with walls around them (lining) or open, as a stairwell is.",
        "id: T1, level: {level}, lining: brick_120, outline: [[0, 0], [2, 0], [2, 2], [0, 2]]",
    ),
    OPENINGS: (
        "Parts of a level's slab that are missing, or made of something else.",
        "id: O1, level: {level}, outline: [[2, 2], [3, 2], [3, 3], [2, 3]]",
    ),
    PLATES: (
        "Flat sheets at any slope, such as a ramp: corners [x, y, height above the floor].",
        "id: R1, level: {level}, construction: concrete_200, "
        "corners: [[2, 0, 0], [4, 0, 1], [4, 1, 1], [2, 1, 0]]",
    ),
    OBSTACLES: (
        "What comes and goes, or fills and empties: lift_car, vehicle, racking, shutter, "
        "furniture. A table obstacles.csv with these columns serves as well.",
        "id: V1, kind: vehicle, level: {level}, x_m: 2, y_m: 2, width_m: 2, depth_m: 1.5, "
        "per_year: 250, median_h: 3, p90_h: 9",
        "id: V2, kind: vehicle, level: {level}, x_m: 3, y_m: 2, width_m: 2, depth_m: 1.5, "
        "hours: 08:00-17:00, weekdays: mon-fri",
    ),
    ZONES: (
        "Parts of a level whose devices share works, water, interference, heat and lasting "
        "changes. A device is in the one that column zone names, else in the one it hangs in, else "
        "in its level's. Rates a year that a zone states hold there; without hazards to match they "
        "strike nowhere else.",
        "id: Z1, level: {level}, outline: [[0, 0], [4, 0], [4, 4], [0, 4]], works_per_year: 0.2",
    ),
}

SITE_PAGE = """\
# A site: the building, and what is assumed of radio, hazards and upkeep.
# A line that begins with # is a comment. A key that is left out keeps its documented default;
# `resilience defaults` lists every one with its source. To change a default, take away the # in
# front of the section's name and of the key, and write your own value.
format: 1
name: {name}

# Length of one simulated lifetime, from hand-over.
horizon_years: {horizon_years}

# What is drawn, in metres: x to the right, y up on the plan, levels from the lowest to the highest.
# A level takes {level_height_m} m from floor to ceiling and {slab_depth_m} m of slab unless it says
# floor_m and height_m. Walls go into walls.csv; doors, windows, pillars, shafts and the site's own
# constructions come below. As long as nothing is drawn, links are predicted by a model of an
# average building.
building:
  outline: {outline}
  levels:
{levels}
{drawn}

# How crowded the band is: quiet, or busy (many access points). Busy is the cautious choice.
radio:
  environment: busy

# What moves, for all of a kind: adds_db, per_year, median_h, p90_h, or hours, weekdays and months
# in which it is changed (08:00-17:00, mon-fri, oct-mar). With all_doors: on, every door of
# wooden_door, fire_door, steel_door or shutter stands open as drawn and is shut at times; one that
# says changes: off stays as it is.
# changes:
#   all_doors: on

# How a sensor chooses its parent: etx (expected transmissions) or hops.
# routing:
#   objective: etx

# Data sheets. `standard` serves every device that names no model, `gateway` every gateway. What
# feeds one device, its row in sensors.csv or devices.csv says: column supply battery or mains
# (blank: a gateway mains, all others battery), column battery which cells. Column mounting says
# free, flush_box, metal_behind or cabinet.
# models:
#   standard: {{transmit_dbm: 0, receive_floor_dbm: -100, battery: two_aa_lithium}}

# Battery profiles of your own. A chemistry (lithium_iron, alkaline, lithium_thionyl,
# lithium_manganese, nickel_metal) says what they lose by themselves and in the cold.
# batteries:
#   my_cells: {{capacity_mah: 3000, usable_share: 0.8, chemistry: alkaline}}

# How warm the cells have it (20 C where nothing is said): everywhere, in a level, or in a zone that
# column zone names; by_month_c is a list of twelve, from January on.
# temperatures:
#   everywhere: {{all_year_c: 20}}

# Supply circuits that column circuit of the tables names, or a level whose devices on mains share
# one: how long a backup lasts, and how often the supply is lost, if you know that better.
# circuits: {{C1: {{backup_h: 4}}}}

# What strikes, and how often, per year at risk. Any hazard can be off; all_others: off leaves only
# those that are named. Some are played only if they are named here: zone_works, zone_water,
# zone_heat, zone_interference, lasting_change, software_release, common_cause, removed,
# busy_hours, device_mute.
# hazards:
#   hardware: {{per_year: {hardware}}}
#   gateway_outage: {{per_year: {outages}}}
#   mains_outage: {{per_year: {mains}}}

# How what failed is mended: half of the repairs within median_h, nine of ten within p90_h. Unless
# alarm_h, crews, response, mends or spares is stated, every failure has a visit of its own at once.
# Planned rounds that renew cells (rounds), spare parts (spares) and prices are off unless stated.
# upkeep:
#   repair: {{median_h: {repair_h}, p90_h: {repair_p90_h}}}
#   alarm_h: {alarm_h}
#   crews: {crews}
#   mends: {mends}

# What the dates of a told lifetime count from, and when crews travel and work.
calendar:
  hand_over: {hand_over}
#   opens_h: {opens_h}
#   closes_h: {closes_h}
#   access_days: {access_days}
"""

README = """\
# {name}

A starting point, not a survey. The {n_sensors} sensors on {n_levels} level(s) stand on an even grid
that nobody has seen; the gateway hangs at the {gateway} of the lowest level. Every position here is
invented: put the real ones into `sensors.csv` and `layouts/*/devices.csv`.

- `site.yaml` holds the building and every assumption that you want to change.
- `sensors.csv` holds the sensors that every layout has.
- `layouts/gateway-only` has the gateway and nothing else.
- `layouts/with-repeaters` adds one repeater a level.

No walls are drawn, so links are predicted for an average building. Expect no verdict from it before
the walls, or measured links, are in.

## Cautions

- Links are predicted, not surveyed. Measure before you promise.
- Not for fire, gas, medical or other life-safety signalling.
- Radio limits, electrical work, lithium cells, work at height and old building fabric follow local
  codes and licensed practice.
"""
