"""One layout played by whatever state of the project stands first on the path, when asked to.

``python -P player.py 20 45 5 32 0``: sensors, spacing, years, lifetimes, whether to cut. Tells a
line of JSON once it is ready and for each line that it reads. It keeps to what all states share.
"""

import json
import sys
from dataclasses import replace
from time import process_time
from typing import Any

import resilience
from benchmarks import layouts
from resilience.lifetime import playing

WARM = (20, 45.0)
SEED = 1


def stage(n_sensors: int, spacing_m: float, years: float, is_cut: bool) -> Any:
    """Site and stage of a scattered layout.

    Parameters
    ----------
    n_sensors : int
        How many. [-]
    spacing_m : float
        Side of the floor by the root of that number. [m]
    years : float
        How long a lifetime is. [year]
    is_cut : bool
        Whether pairs out of reach are left out. [-]
    """
    site = replace(layouts.scattered_site(n_sensors, spacing_m), horizon_years=years)
    whole: Any = playing.link_table
    near: Any = getattr(layouts, "near_links", None) or getattr(layouts, "_near_links", None)
    if is_cut:
        setattr(playing, "link_table", lambda site, _layout: near(site))  # noqa: B010 - for mypy
    try:
        return playing.Stage(site, site.layouts[0], SEED, count_site_outages=False)
    finally:
        setattr(playing, "link_table", whole)  # noqa: B010


def n_steps(played: Any) -> int:
    """Steps of the lifetime that a stage played last.

    Parameters
    ----------
    played : Stage
        Of either state. [-]
    """
    if hasattr(played, "_tallier"):
        return int(played._tallier._cast.world.now["step"][0])
    return int(played._many._arrays.now[0])  # where the first of the plain numbers counts steps


def main() -> None:
    """Get ready, and play for each line read."""
    n_sensors, spacing_m, years, n, is_cut = (float(one) for one in sys.argv[1:])
    stage(*WARM, 1.0, is_cut=False).tally(0, 2)  # compiled, or taken from the cache
    started_s = process_time()
    played = stage(int(n_sensors), spacing_m, years, bool(is_cut))
    played.tally(0, 2)
    told = {"prepared_s": process_time() - started_s, "file": resilience.__file__, "steps": 0.0}
    for first in range(0, int(n), 2):  # the second of each building stands for both
        played.tally(first, 2)
        told["steps"] += n_steps(played) / (int(n) // 2)
    print(json.dumps(told), flush=True)
    for _ in sys.stdin:
        started_s = process_time()
        played.tally(0, int(n))
        print(json.dumps((process_time() - started_s) / int(n)), flush=True)


if __name__ == "__main__":
    main()
