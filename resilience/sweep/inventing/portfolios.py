"""Many invented sites, named and written; each depends on the seed and its own number alone."""

from collections.abc import Callable
from pathlib import Path

from resilience.building.text.drafts import draft_of, write
from resilience.errors import UsageError
from resilience.sweep.inventing.buildings import Building, building_of
from resilience.sweep.inventing.kinds import KINDS
from resilience.sweep.inventing.layouts import layouts, sensors
from resilience.sweep.inventing.luck import Luck

FIRST = ("Am", "Bren", "Cald", "Dor", "El", "Fen", "Gar", "Hol", "Is", "Kel", "Lor", "Mor", "Nev")
SECOND = ("ber", "do", "il", "mar", "neth", "o", "ra", "sel", "ti", "ver", "wen", "yl")
THIRD = ("beck", "by", "combe", "dell", "ford", "garth", "ham", "holt", "low", "mere", "wick")
PROMISED_SHARE = 0.8  # of sites that promise something
DURATIONS_H = (24, 72, 168)
PROBABILITIES = (0.8, 0.9, 0.95)
SHARES = (0.1, 0.2, 0.3)

SITE = """\
# {name}: invented, {age}; no such place is known to us.
format: 1
name: {name}
tags: {tags}
building:
  outline: [[0, 0], [{length:g}, 0], [{length:g}, {width:g}], [0, {width:g}]]
  levels:
{levels}
{pillars}radio:
  environment: {environment}
"""
POLICY = """\
format: 1
max_orphan_share: {share:g}
longer_than_h: {duration}
kept_with_probability: {probability:g}
"""
README = """\
# Invented portfolio

{n_sites} sites made up by `resilience invent --sites {n_sites} --seed {seed}`: no such place is
known to us. `resilience portfolio` scores them.
"""


def invent(
    target: Path, n_sites: int, seed: int, tell: Callable[[int], None] = lambda _: None
) -> None:
    """Write a portfolio of invented sites, whole or not at all.

    Parameters
    ----------
    target : Path
        The folder; missing or empty. [-]
    n_sites : int
        How many. [-]
    seed : int
        Same seed, same sites; more of them begin with the same ones. [-]
    tell : callable
        Told after each site how many there are. [-]

    Raises
    ------
    UsageError
        Something is there already, or it cannot be written.
    """
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise UsageError(f"{target} is there already and not empty; name another folder")
    names: set[str] = set()
    with draft_of(target) as draft:
        write(draft, "README.md", README.format(n_sites=n_sites, seed=seed))
        for number in range(n_sites):
            name, files = invented_site(seed, number)
            folder = name.lower().replace(" ", "-")
            folder += f"-{number + 1}" if folder in names else ""
            names.add(folder)
            for file, text in files.items():
                write(draft, f"{folder}/{file}", text)
            tell(number + 1)


def invented_site(seed: int, number: int) -> tuple[str, dict[str, str]]:
    """Return name and files of one site.

    Parameters
    ----------
    seed : int
        Of the portfolio. [-]
    number : int
        Of the site. [-]
    """
    luck = Luck(seed, number)
    place = luck.one_of(FIRST) + luck.one_of(SECOND) + luck.one_of(THIRD)
    building = building_of(luck.one_of(KINDS), luck)
    name = f"{place} {building.kind.name}"
    files = {
        "site.yaml": _site_page(name, building),
        "sensors.csv": _table("id,level,x_m,y_m", sensors(building, luck)),
    }
    if walls := building.walls():
        files["walls.csv"] = _table("id,level,x1_m,y1_m,x2_m,y2_m,construction", walls)
    for layout, rows in layouts(building, luck):
        files[f"layouts/{layout}/devices.csv"] = _table("id,kind,level,x_m,y_m", rows)
    if luck.happens(PROMISED_SHARE):
        files["policy.yaml"] = POLICY.format(
            share=luck.one_of(SHARES),
            duration=luck.one_of(DURATIONS_H),
            probability=luck.one_of(PROBABILITIES),
        )
    return name, files


def _table(head: str, rows: list[str]) -> str:
    return "\n".join([head, *rows]) + "\n"


def _site_page(name: str, building: Building) -> str:
    height = f"height_m: {building.kind.level_height_m:g}, slab: {building.age.slab}"
    pillars = "".join(f"    - {one}\n" for one in building.pillars())
    return SITE.format(
        name=name,
        age=building.age.name,
        tags=building.kind.name.lower(),
        length=building.length_m,
        width=building.width_m,
        levels="\n".join(f"    - {{id: {level}, {height}}}" for level in building.levels),
        pillars=f"  pillars:\n{pillars}" if pillars else "",
        environment=building.kind.environment,
    )
