"""What a screen saves: states looked at 64 at once, and options that are never played in full."""

from collections import defaultdict
from time import monotonic, process_time

import numpy as np

from benchmarks.layouts import scattered_site
from benchmarks.measuring import Page, number
from resilience.building.service.places import CandidatePlace
from resilience.building.site import Kind, Place, Site
from resilience.connectivity.luck.routes import forwards, of_kind
from resilience.draws import DEFAULT_SEED
from resilience.remedies.groundwork.chances import BITS, States
from resilience.remedies.groundwork.snapshots import gateways_up, spread, ways_of
from resilience.remedies.reinforcing.confirming import Effort
from resilience.remedies.reinforcing.screening import Screen
from resilience.remedies.reinforcing.steps import reinforce

N_SENSORS, SPACING_M = 60, 28.0
ACROSS, ALONG = 20, 10  # candidate places
BUDGET = 3
N_ONE_BY_ONE = 512  # states
AIM_SNAPSHOTS, AIM_SECONDS = 35.0, 60.0


def tell_reinforcing(page: Page) -> None:
    """Tell how fast states are looked at, and how long a budget takes.

    Parameters
    ----------
    page : Page
        Where it is told. [-]
    """
    site = scattered_site(N_SENSORS, SPACING_M)
    gain = _snapshots(site, page)
    page.aim("snapshots: one by one by 64 at once", gain, AIM_SNAPSHOTS)
    places = _places(site)
    effort = Effort(seconds=AIM_SECONDS, workers=2)
    began_s, began_work_s = monotonic(), process_time()
    found = reinforce(site, places=places, devices=BUDGET, effort=effort)
    wall_s, work_s = monotonic() - began_s, process_time() - began_work_s
    n_played = sum(len(step.confirmed) + 1 for step in found.steps)
    n_units = max(
        (one.pair.n_buildings for step in found.steps for one in step.confirmed), default=0
    )
    page.say(
        f"{N_SENSORS} sensors, {len(places)} places, a budget of {BUDGET}: {number(wall_s)} s by "
        f"the wall with two threads ({number(work_s)} s with a processor, compiling not left out), "
        f"{found.n_options} options, of which {n_played} were played, in up to {n_units} possible "
        f"buildings each; {found.stopped_because}. To play every option as often is "
        f"{number(found.n_options / max(1, n_played))} times as much work for lifetimes alone."
    )
    page.aim("reinforce: seconds by the wall", wall_s, AIM_SECONDS, at_most=True)


def _places(site: Site) -> tuple[CandidatePlace, ...]:
    placed = [one.place for one in site.layouts[0].devices if one.place]
    wide_m, deep_m = max(one.x_m for one in placed), max(one.y_m for one in placed)
    return tuple(
        CandidatePlace(
            f"P{row}-{column}",
            Place("L1", wide_m * (column + 0.5) / ACROSS, deep_m * (row + 0.5) / ALONG, 2.0),
        )
        for row in range(ALONG)
        for column in range(ACROSS)
    )


def _snapshots(site: Site, page: Page) -> float:
    """How much faster a state is looked at beside others than by itself."""
    screen = Screen(site, site.layouts[0], [], DEFAULT_SEED, False)
    states = screen.states
    present = np.ones(len(states.up), np.bool_)
    began_s = process_time()
    together = spread(states, ways_of(states), gateways_up(states, present))
    n_states = states.up.shape[1] * BITS
    each_s = (process_time() - began_s) / n_states
    bits = np.unpackbits(together.view(np.uint8), axis=1)[:, :N_ONE_BY_ONE].astype(bool)
    began_s = process_time()
    alone = _one_by_one(states)
    alone_s = (process_time() - began_s) / N_ONE_BY_ONE
    is_same = page.agree("snapshots", all((bits[:, n] == one).all() for n, one in enumerate(alone)))
    page.say(
        f"{number(1 / each_s)} states a second at {len(states.up)} devices and "
        f"{len(states.is_open)} links, 64 a word; {number(1 / alone_s)} one by one in plain "
        f"Python, {is_same} answers."
    )
    return alone_s / each_s


def _one_by_one(states: States) -> list[np.ndarray]:
    """Who is reached in the first states, each by a search of its own."""
    table = states.table
    is_up, is_open = (
        np.unpackbits(one.view(np.uint8), axis=1)[:, :N_ONE_BY_ONE].T.tolist()
        for one in (states.up, states.is_open)
    )
    passes, starts = forwards(table).tolist(), np.flatnonzero(of_kind(table, Kind.GATEWAY)).tolist()
    steps = defaultdict(list)
    for link, (a, b) in enumerate(table.ends.tolist()):
        steps[a].append((b, link))
        steps[b].append((a, link))
    found = []
    for up, is_usable in zip(is_up, is_open, strict=True):
        waiting = [one for one in starts if up[one]]
        reached = set(waiting)
        while waiting:
            here = waiting.pop()
            if passes[here]:
                for there, link in steps[here]:
                    if is_usable[link] and up[there] and there not in reached:
                        reached.add(there)
                        waiting.append(there)
        found.append(np.isin(np.arange(len(up)), list(reached)))
    return found


if __name__ == "__main__":
    PAGE = Page()
    tell_reinforcing(PAGE)
    PAGE.tell_targets()
