"""What was measured over a path, and what it says of the path as drawn."""

from collections.abc import Mapping
from typing import NamedTuple

import numpy as np

from resilience.building.settings import Radio
from resilience.building.site import GivenLink, Layout, Site
from resilience.connectivity.paths.averaging import shortest_h, survey_spread_db
from resilience.connectivity.reception import reception_curve
from resilience.connectivity.shapes.crossings import Crossings
from resilience.connectivity.shapes.faces import Floats
from resilience.units import db_from_cdb

CERTAIN_PRR = 0.999  # no measurement tells more than that from 1

Pair = tuple[int, int]  # rows of two devices in order of their ids, the lesser first
Rows = tuple[GivenLink, GivenLink]  # what was measured there and back


def given(layout: Layout, row: Mapping[str, int]) -> dict[Pair, Rows]:
    """What was measured between devices that may link; a missing direction takes the other's.

    Parameters
    ----------
    layout : Layout
        Devices and measured links. [-]
    row : mapping
        Row of each device by its id. [-]
    """
    gateways = {row[device.id] for device in layout.gateways}
    heard = {
        (row[link.a], row[link.b]): link
        for link in layout.links
        if link.prr is not None or link.rssi_dbm is not None
    }
    return {
        (a, b): (heard.get((a, b)) or heard[b, a], heard.get((b, a)) or heard[a, b])
        for a, b in sorted({(min(pair), max(pair)) for pair in heard})
        if not (a in gateways and b in gateways)
    }


class Told(NamedTuple):
    """What the measurements of a layout say of paths.

    Parameters
    ----------
    paths : list of int
        Rows of the paths that are links, in order. [-]
    strengths_dbm : Floats
        Shape (paths, 2, 2): there and back, strength and what stands for reception. [dBm]
    spread_db : Floats
        Shape (paths,): how far the true strengths may lie from these. [dB]
    in_vain : list of int
        Rows of the paths that were tried and not heard. [-]
    """

    paths: list[int]
    strengths_dbm: Floats
    spread_db: Floats
    in_vain: list[int]


def told(site: Site, hindrances: Crossings, measured: Mapping[int, Rows]) -> Told:
    """What measurements say of paths as drawn.

    Parameters
    ----------
    site : Site
        Radio, and what changes in the building. [-]
    hindrances : Crossings
        What stands in each path. [-]
    measured : mapping
        What was measured, by the row of the path. [-]
    """
    found, spread_db, in_vain = {}, [], []
    for path, rows in measured.items():
        ways = _ways(site, hindrances, path, rows)
        if any(row.prr == 0 for row, _ in ways):
            in_vain.append(path)
        elif ways:
            found[path] = [_as_drawn(*ways[way], site.radio) for way in (0, -1)]
            measured_h = shortest_h(row.measured_h for row, _ in ways)
            spread_db.append(survey_spread_db(site.radio, measured_h))
    strengths_dbm = np.array(list(found.values()), np.float64).reshape(-1, 2, 2)
    return Told(list(found), strengths_dbm, np.array(spread_db), in_vain)


def _ways(
    site: Site, hindrances: Crossings, path: int, rows: Rows
) -> tuple[tuple[GivenLink, float], ...]:
    """What was measured there and back, each with what something changed took from it then.

    What was not heard through something that was changed says nothing of the path as drawn.
    """
    if not any(row.changed for row in rows):
        return tuple((row, 0.0) for row in rows)
    changing = site.building.changing
    standing = {one.id for one in hindrances.of(path)} & changing.keys()
    ways = []
    for row in rows:
        taken_db = sum((changing[id].adds_db for id in row.changed if id in standing), 0.0)
        if row.prr != 0 or taken_db == 0:
            ways.append((row, taken_db))
    return tuple(ways)


def _as_drawn(given: GivenLink, taken_db: float, radio: Radio) -> tuple[float, float]:
    """One direction as it would have been measured with everything as drawn, in dBm.

    First its strength, then the strength that stands for its reception ratio.
    """
    curve, prr = reception_curve(radio), given.prr
    heard_dbm = given.rssi_dbm if prr is None else db_from_cdb(curve.rssi_cdbm(prr))
    rssi_dbm = heard_dbm if given.rssi_dbm is None else given.rssi_dbm
    assert heard_dbm is not None  # one of the two was measured
    assert rssi_dbm is not None
    if prr is not None and prr >= CERTAIN_PRR and given.rssi_dbm is not None:
        certain_dbm = db_from_cdb(curve.rssi_cdbm(CERTAIN_PRR))
        heard_dbm = max(rssi_dbm, certain_dbm)  # that all arrived does not bound it from above
    return rssi_dbm + taken_db, heard_dbm + taken_db
