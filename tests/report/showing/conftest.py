"""A small invented house with names that nobody should trust, played by the reference engine."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from resilience.building.files.folder import read_site
from resilience.building.files.policies import read_policy
from resilience.connectivity.links import site_table
from resilience.connectivity.luck.routes import Routes
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.retelling import Retold
from resilience.montecarlo.runs.running import Budget, Undertaking
from resilience.montecarlo.study import Study, studies
from resilience.policy.bounds import watch_of
from resilience.ranking.comparison import ranked
from resilience.report.showing.facts import Shown, Within
from resilience.terminal.runs.gathering import gathered

SCRIPT = "<svg onload=alert(1)>"  # an id holds neither a stroke nor a tilde
IMAGE = '"><img src=x onerror=alert(1)>'
FORMULA = "=cmd|' C calc'!A0"
SITE = f"""\
format: 1
name: 'Mill {IMAGE}'
horizon_years: 1
building:
  outline: [[0, 0], [60, 0], [60, 8], [0, 8]]
  levels:
    - {{id: ground, height_m: 3.0, slab: concrete_300}}
    - {{id: loft, height_m: 3.0, slab: concrete_300}}
radio: {{environment: quiet, swing_db: 0}}
routing: {{look_around_h: 168}}
hazards:
  battery: {{spread: 0.1}}
  hardware: {{mttf_h: 2000}}
  link_blockage: {{per_year: 6, mean_h: 30}}
  gateway_outage: {{per_year: 4}}
  all_others: off
"""
FILES = {
    "site.yaml": SITE,
    "policy.yaml": "format: 1\nmax_orphans: 1\nlonger_than_h: 24\nkept_with_probability: 0.9\n",
    "walls.csv": "id,level,x1_m,y1_m,x2_m,y2_m,construction\n"
    f'"{SCRIPT}",ground,20,0,20,8,concrete_200\nloft-wall,loft,40,0,40,8,concrete_200\n',
    "sensors.csv": "id,level,x_m,y_m,height_m,note\n"
    f'S1,ground,16,2,2,"{SCRIPT}"\nS2,ground,30,6,2,\n"{FORMULA}",ground,44,2,2,\nS4,loft,56,6,2,\n',
    "layouts/bare/devices.csv": "id,kind,level,x_m,y_m,height_m\nG1,gateway,ground,2,4,2\n",
    "layouts/with-relay/devices.csv": "id,kind,level,x_m,y_m,height_m\n"
    "G1,gateway,ground,2,4,2\nR1,repeater,loft,36,4,2\n",
}
LIFETIMES = 2


def write_site(folder: Path, files: dict[str, str] = FILES) -> Path:
    """Write the files of a site into a folder."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder


@pytest.fixture(scope="session")
def house(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The house as a folder."""
    return write_site(tmp_path_factory.mktemp("sites") / "house")


@pytest.fixture(scope="session")
def house_shown(house: Path) -> Shown:
    """Everything that a report of the house shows, played by the reference engine."""
    site = read_site(house)
    policy = read_policy(house, site)
    assert policy is not None
    asked = Undertaking(site, site.layouts, 7, False, "reference", watch=watch_of(policy))

    def play(question):
        return studies(asked, Budget(LIFETIMES, 600.0), question)

    return gathered(asked, play, policy, 600.0)


@pytest.fixture(scope="session")
def crowd_of(tmp_path_factory: pytest.TempPathFactory, study_of) -> Callable[..., Shown]:
    """Everything of layouts with so many sensors on four levels, their figures made up."""

    def made(n_sensors: int, *names: str) -> Shown:
        return _crowd(tmp_path_factory.mktemp("sites") / "crowd", n_sensors, names, study_of)

    return made


def _crowd(
    folder: Path, n_sensors: int, names: tuple[str, ...], study_of: Callable[..., Study]
) -> Shown:
    """Layouts that differ by where the gateway hangs; each sensor sends to the six before it."""
    levels = "abcd"
    rows = [
        f"S{n:03d},{levels[n % 4]},{2 + 3 * (n // 4 % 20)},{2 + 3 * (n // 80)},2"
        for n in range(n_sensors)
    ]
    drawn = "".join(f"    - {{id: {one}, height_m: 3, slab: concrete_300}}\n" for one in levels)
    files = {
        "site.yaml": f"format: 1\nname: Invented crowd\nbuilding:\n  levels:\n{drawn}",
        "sensors.csv": "\n".join(["id,level,x_m,y_m,height_m", *rows]) + "\n",
        **{
            f"layouts/{name}/devices.csv": "id,kind,level,x_m,y_m,height_m\n"
            f"G1,gateway,a,30,{8 + n},2\n"
            for n, name in enumerate(names)
        },
    }
    site = read_site(write_site(folder, files))
    hours = [12.0, 14.0] * 40
    studies_of = [study_of(one, hours, {("hardware", "G1"): 1040}) for one in site.layouts]
    comparison = ranked(site, studies_of)
    ids = [one.id for one in site.layouts[0].sensors]
    carried = {(id, before): 0.15 for n, id in enumerate(ids) for before in ids[max(0, n - 6) : n]}
    told = Retold(
        80, 1.0, carried, {0: 0.9, 1: 0.1}, {1: 0.4, 2: 0.5}, (Estimate(1, 0.5, 1.5, 0.95, ""),)
    )
    paths = site_table(site, site.layouts)
    ways = Routes(frozenset(ids), dict.fromkeys(ids, 1), 1, 1, {})
    layouts = [Within(one, paths.of(one.layout), ways, told) for one in comparison.placed]
    return Shown(comparison, tuple(layouts), None, None, date(2030, 1, 2), "none")
