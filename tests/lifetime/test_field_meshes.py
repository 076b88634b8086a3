"""Two measured meshes beside the engines' own law of links, where RESILIENCE_FIELD_DATA is set.

Public traces published with Brun-Laguna et al. 2016 and 2018: an office floor over three days and
an orchard over three months, both at 2.4 GHz. All traffic of the office ends at N16, which never
sends; in the orchard all others send to N5. The sites know of a link its means alone; how it moves
about them is the engines' law at the catalogue's defaults, none of it fitted here.

A mesh tells of a link only while it uses it, and it uses what works: states are compared twice,
with unseen link-hours hidden, and with what was last seen carried for a day (see ``field_replay``).
Ratios are simulation / measurement over random layouts of half the devices, with a bootstrap
interval over the layouts; those of links that never move stand beside them as a control. They are
recorded, so that `pytest --junitxml` keeps them.
"""

import os
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from resilience.building.site import GivenLink, Layout, Site
from resilience.connectivity.air import Air
from resilience.connectivity.links import link_table
from resilience.draws import element_key, level_place, phase_ms, stream
from resilience.hazards.elements import Effect, Fate
from resilience.hazards.table import hazard_table
from resilience.lifetime.engines import COMPILED, REFERENCE
from resilience.lifetime.playing import Stage
from resilience.units import MS_PER_H

FOLDER = os.environ.get("RESILIENCE_FIELD_DATA")
IS_SOAK = os.environ.get("RESILIENCE_SIZE", "gate") == "soak"
SEED = 7
DAYS = 365.25
HOURS_PER_YEAR = 8766
FALL_DB = 8.0  # what hazards.link_blockage counts as one
BELIEVED_H = 24
FIGURES = ("orphan_share", "spells_per_year", "changes_per_day", "mean_hops")

pytestmark = pytest.mark.skipif(FOLDER is None, reason="RESILIENCE_FIELD_DATA names no folder")


@dataclass(frozen=True, slots=True)
class Field:
    """One of the meshes, as it was measured and as a site of its mean links.

    Falls a link-year are what `hazards.link_blockage` says of such an environment; the layouts of
    the gate are as many as a few seconds allow.
    """

    name: str
    trace: Any
    site: Site
    n_layouts: int
    falls_per_year: tuple[float, float]

    def stage(self, engine: str = COMPILED) -> Stage:
        return Stage(self.site, self.site.layouts[0], SEED, False, engine)

    def still(self) -> "Field":
        """The same links, but nothing moves them."""
        return replace(self, site=still(self.site))


def still(site):
    radio = replace(site.radio, swing_db=0.0)
    return replace(site, radio=radio, hazards=replace(site.hazards, link_blockage=None))


# File, gateway, environment, layouts in the gate and the soak, falls a link-year
MEASURED = {
    "office": ("office34", "N16", "busy", (30, 60), (12.0, 59.0)),
    "orchard": ("orchard16", "N5", "quiet", (4, 60), (0.2, 2.0)),
}


@pytest.fixture(scope="module", params=MEASURED)
def field(request, small_site, field_replay):
    """A year on one of the meshes, with every hazard at its default."""
    file, gateway, environment, n_layouts, falls = MEASURED[request.param]
    path = Path(FOLDER) / f"{file}-hourly.csv.gz"
    trace = field_replay.read_trace(path, gateway, acknowledged=True)
    devices = tuple(small_site.device(id) for id in sorted(ids_of(trace)))
    layout = Layout("measured", devices, tuple(mean_links(trace)))
    site = small_site(layout, radio={"predict": False, "environment": environment})
    return Field(request.param, trace, site, n_layouts[IS_SOAK], falls)


def ids_of(trace) -> list[str]:
    return ["g1", *(device.replace("N", "s") for device in trace.devices[1:])]


def link_ids(trace) -> list[str]:
    ids = ids_of(trace)
    return ["~".join(sorted((ids[low], ids[high]))) for low, high in trace.pairs]


def mean_links(trace) -> Iterator[GivenLink]:
    """Links at the mean of the hours in which they were seen; the trace is of one way already."""
    seen_h = trace.seen.sum(axis=0)
    means = np.nanmean(trace.prr_share, axis=0), np.nanmean(trace.rssi_dbm, axis=0)
    for link, prr, rssi_dbm, hours in zip(link_ids(trace), *means, seen_h, strict=True):
        yield GivenLink(*link.split("~"), float(prr), float(rssi_dbm), measured_h=float(hours))


def shifts_cdb(field, trace, lifetime):
    """Level less losses of each link in the hours of a trace, shape (hours, pairs)."""
    site, layout = field.site, field.site.layouts[0]
    times_ms = trace.hours * MS_PER_H
    ids = link_ids(trace)
    air = Air.of(site.radio, site.routing)
    shifts = np.stack([levels_cdb(air, id, lifetime, times_ms) for id in ids], axis=1)
    column = {id: n for n, id in enumerate(ids)}
    for element in hazard_table(site, link_table(site, layout)).elements:
        for id in column.keys() & set(element.targets):
            assert element.effect is Effect.LOSS
            absences = Fate.of(element, SEED, lifetime).absences_ms(element, int(times_ms[-1]) + 1)
            for start_ms, end_ms in absences:
                away = (times_ms >= start_ms) & ((end_ms is None) | (times_ms < (end_ms or 0)))
                shifts[away, column[id]] -= element.amount
    return shifts


def levels_cdb(air, link, lifetime, times_ms):
    start = stream(SEED, lifetime, element_key("link", link, "swing"))
    holds = (times_ms + phase_ms(start, air.holds_ms)) // air.holds_ms
    distinct, which = np.unique(holds, return_inverse=True)
    places = [level_place(start, hold) for hold in distinct.tolist()]
    return air.levels_cdb[places][which]


def simulated(field, stage, trace, lifetime):
    """Costs of the links of a trace in its hours by the engines' law; 0 where not usable."""
    mesh, _ = stage.building(lifetime)
    shifts = shifts_cdb(field, trace, lifetime)
    costs = np.zeros_like(shifts)
    for n, id in enumerate(link_ids(trace)):
        if id in mesh.link:
            distinct, which = np.unique(shifts[:, n], return_inverse=True)
            path = mesh.link[id].path
            costs[:, n] = np.array([path.cost(-shift) or 0 for shift in distinct.tolist()])[which]
    return costs


def strength_figures(strength_db, seen):
    """Spread about each link's median without falls, and falls a link-year, of seen hours alone.

    A fall begins where a link is as much below its median, but was not when last seen before.
    """
    distances, n_falls = [], 0
    for column, was_seen in zip(strength_db.T, seen.T, strict=True):
        off_db = column[was_seen] - np.median(column[was_seen])
        n_falls += int((np.diff(off_db <= -FALL_DB, prepend=False) & (off_db <= -FALL_DB)).sum())
        distances.append(off_db[np.abs(off_db) < FALL_DB])
    return np.concatenate(distances).std(), n_falls / seen.sum() * HOURS_PER_YEAR


@pytest.fixture(scope="module")
def played(field, field_replay):
    """Figures by layout of the measured, simulated and still states, hidden and carried."""
    rules = field_replay.Rules(
        field.site.routing.hysteresis, int(field.site.routing.look_around_h)
    )
    rng = np.random.default_rng(SEED)
    sources = [(one, one.stage()) for one in (field, field.still())]
    found = {}
    for n in range(field.n_layouts):
        trace = field_replay.thinned(field.trace, len(field.trace.devices) // 2, rng)
        moving, fixed = (simulated(*source, trace, 2 * n) for source in sources)
        costs = {"field": field_replay.measured(trace, rules), "moving": moving, "still": fixed}
        for law, one in costs.items():
            states = {
                "hidden": field_replay.hidden(one, trace),
                "carried": field_replay.carried(one, trace, BELIEVED_H),
            }
            for name, state in states.items():
                figures = field_replay.replay(trace, state, rules)
                found.setdefault((name, law), []).append(figures)
    return found


def ratio(played, states, law, figure):
    """Simulation / measurement of the sums over layouts, with 95 % of its bootstrap."""
    top, below = played[states, law], played[states, "field"]
    nothing = type(top[0])()

    def of(chosen):
        sums = [sum((one[n] for n in chosen), nothing) for one in (top, below)]
        over, under = (getattr(one, figure) for one in sums)
        return over / under if under else float("nan")

    rng = np.random.default_rng(SEED)
    n = len(top)
    again = [of(rng.integers(0, n, n).tolist()) for _ in range(400)]
    low, high = np.nanquantile(again, [0.025, 0.975])
    return of(range(n)), low, high


def test_both_engines_tell_the_same_story_of_a_measured_mesh(field):
    short = replace(field, site=replace(field.site, horizon_years=0.03))
    told = [short.stage(engine).play(0) for engine in (COMPILED, REFERENCE)]
    assert told[0] == told[1]
    assert any(one.before and one.after for one in told[0].history.parents)


def test_ratios(field, played, record_property):
    for states in ("hidden", "carried"):
        for figure in FIGURES:
            for law in ("moving", "still"):
                print(field.name, states, figure, law, "%.2f (%.2f %.2f)"%ratio(played, states, law, figure), getattr(sum(played[states,"field"], type(played[states,"field"][0])()), figure))


def test_strength(field):
    seen = field.trace.seen
    f = strength_figures(field.trace.rssi_dbm, seen)
    s = [strength_figures(shifts_cdb(field, field.trace, n)/100, seen) for n in range(20)]
    lows = []
    for db in (0.8, 2.5):
        other = replace(field, site=replace(field.site, radio=replace(field.site.radio, swing_db=db)))
        lows.append(strength_figures(shifts_cdb(other, field.trace, 0)/100, seen))
    print(field.name, "strength field", f, "sim", np.mean(s, axis=0), lows)


def test_year(field, field_replay):
    n = 16
    tally = field.stage().tally(0, n)
    moves = tally.column("reparentings").sum() / n / DAYS / len(field.site.layouts[0].sensors)
    print(field.name, "year", moves, field.still().stage().tally(0, n).column("reparentings").sum() / n / DAYS / len(field.site.layouts[0].sensors))
