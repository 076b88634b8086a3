"""What splitting saves on a loss that is rare: work of plain lifetimes for the same relative error.

Plain lifetimes need (1 - p) / (p r^2) for a relative standard error of r, whatever they are.
"""

import math
from time import process_time

import networkx

from benchmarks.measuring import Page, number
from resilience.building.site import Kind
from resilience.hazards.causes import Effect
from resilience.hazards.elements import Element, Mended
from resilience.hazards.laws import exponential
from resilience.hazards.table import HazardTable
from resilience.lifetime.branching.splitter import Splitter
from resilience.lifetime.casting.worlds import cast_of
from resilience.lifetime.mesh import GivenPath, Mesh, MeshDevice, MeshLink, Rules
from resilience.montecarlo.splitting.cuts import Loss
from resilience.montecarlo.splitting.nearness import aim_of
from resilience.montecarlo.splitting.runs import RareFigure, rare_figure
from resilience.units import MS_PER_H

AIM_GAIN = 200.0
YEAR_H = 8766.0
HORIZON_H, DAY_H = 5 * YEAR_H, 24.0
N_SENSORS, RADIUS, SEED = 30, 0.38, 4  # of a random geometric graph on the unit square
MAX_COUNT = 3
UP_YEARS, VISIT_H = (10.0, 20.0, 50.0), 24.0
N_PLAIN = 1_000


def tell_rare(page: Page) -> None:
    """Tell how much less work splitting is, rarer and rarer.

    Parameters
    ----------
    page : Page
        Where it is told. [-]
    """
    rows = []
    for up_years in UP_YEARS:
        splitter = _splitter(up_years * YEAR_H)
        splitter.make_ready()
        plain_s = _plain_s(splitter)
        started_s = process_time()
        found = rare_figure(splitter, 1, lambda _: True, lambda: math.inf)
        split_s = process_time() - started_s
        gain = _plain_lifetimes(found) * plain_s / split_s if found.is_told else 0.0
        rows.append(_row(up_years, found, plain_s, split_s, gain))
        if found.is_told and 3e-6 < found.estimate.mean < 3e-5:
            page.aim("rare loss at 1e-5: plain work by that of splitting", gain, AIM_GAIN)
    page.say(
        f"{N_SENSORS} sensors that relay and fail with a constant rate, visits of {VISIT_H:g} h on "
        f"average, links that never change, {HORIZON_H / YEAR_H:g} years: more than {MAX_COUNT} "
        "orphans at once. Pilots count for the work of splitting."
    )
    page.table(
        ("fail every, years", "share", "rel. error, %", "plain ms", "splitting s", "plain by it"),
        rows,
    )


def _row(
    up_years: float, found: RareFigure, plain_s: float, split_s: float, gain: float
) -> tuple[str, ...]:
    mean = found.estimate.mean
    error = 100 * found.standard_error / mean if mean else 0.0
    shown = (number(error), number(1000 * plain_s), number(split_s), number(gain))
    return (f"{up_years:g}", f"{mean:.2e}", *shown)


def _plain_lifetimes(found: RareFigure) -> float:
    """Plain lifetimes for the same relative error."""
    p = found.estimate.mean
    return (1 - p) * p / found.standard_error**2


def _plain_s(splitter: Splitter) -> float:
    """Seconds of a lifetime without branches."""
    started_s = process_time()
    splitter.play(1, 0, N_PLAIN, [1] * splitter.aim.n_levels)
    return (process_time() - started_s) / N_PLAIN


def _splitter(up_h: float) -> Splitter:
    mesh = _mesh()
    repair = exponential(VISIT_H)
    elements = tuple(
        Element("hardware", id, Effect.DOWN, (id,), clock=Mended(exponential(up_h), repair))
        for id in mesh.sensors
    )
    hazards = HazardTable(elements, ())
    horizon_ms, day_ms = round(HORIZON_H * MS_PER_H), round(DAY_H * MS_PER_H)
    rules = Rules(horizon_ms, 192, 1, 1, 1, 0, look_around_ms=day_ms)
    aim = aim_of(mesh, hazards, Loss(MAX_COUNT, False, False), 0)
    return Splitter(cast_of(mesh, hazards, rules), aim)


def _mesh() -> Mesh:
    """A random geometric graph, its gateway the device nearest to the middle."""
    graph = networkx.random_geometric_graph(N_SENSORS + 1, RADIUS, seed=SEED)
    places = networkx.get_node_attributes(graph, "pos")
    middle = min(places, key=lambda n: (places[n][0] - 0.5) ** 2 + (places[n][1] - 0.5) ** 2)
    names = {n: "g" if n == middle else f"s{n:02}" for n in graph}
    links = sorted(tuple(sorted((names[a], names[b]))) for a, b in graph.edges)
    return Mesh(
        tuple(
            MeshDevice(id, Kind.GATEWAY if id == "g" else Kind.SENSOR)
            for id in sorted(names.values())
        ),
        tuple(MeshLink(f"{a}~{b}", a, b, GivenPath(128)) for a, b in links),
        frozenset(),
    )
