"""Each measured pair of a site, beside what is predicted for it."""

from collections import defaultdict
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, replace
from enum import IntEnum

from resilience.building.files.layouts import is_moved
from resilience.building.settings import Radio
from resilience.building.site import Calibration, Device, GivenLink, Layout, Place, Site
from resilience.connectivity.links import Heard, Link, link_table
from resilience.connectivity.paths.averaging import shortest_h
from resilience.connectivity.reception import reception_curve
from resilience.units import db_from_cdb

# A try is some twenty frames or more, so a ratio of which one frame would have been heard.
TRIED_PRR = 0.05


class Tells(IntEnum):
    """What a reading says of the loss of its path."""

    AT_MOST = -1
    EXACTLY = 0
    AT_LEAST = 1


Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Reading:
    """One measured path: both of its directions together, and what is predicted for them.

    Parameters
    ----------
    layout : str
        The first layout that holds it. [-]
    link : Link
        The path as predicted, without any correction. [-]
    ends_m : tuple of two points
        Where its two devices hang. [m]
    measured_dbm, predicted_dbm : float
        Mean over the directions that were measured; a limit where it is not exact. [dBm]
    tells : Tells
        Whether the loss is known, or a limit of it. [-]
    n_ways : int
        Directions that were measured, 1 or 2. [-]
    difference_db : float or None
        Loss from a to b less that from b to a; None unless both strengths were read. [dB]
    taken_db : float
        What something that was changed then took from it; it is put back in ``measured_dbm``. [dB]
    measured_h : float or None
        How long it was averaged over, the shorter of both directions; None for a spot reading. [h]
    models : tuple of str
        Names of the models of its two devices. [-]
    """

    layout: str
    link: Link
    ends_m: tuple[Point, Point]
    measured_dbm: float
    predicted_dbm: float
    tells: Tells
    n_ways: int
    difference_db: float | None
    taken_db: float = 0.0
    measured_h: float | None = None
    models: tuple[str, ...] = ()

    @property
    def extra_db(self) -> float:
        """Loss as measured less loss as predicted."""
        return self.predicted_dbm - self.measured_dbm


@dataclass(frozen=True, slots=True)
class Way:
    """One measured direction.

    Parameters
    ----------
    measured_dbm, predicted_dbm : float
        Strength at the receiver; measured may be a limit. [dBm]
    tells : Tells
        Whether the loss is known, or a limit of it. [-]
    is_strength : bool
        Whether a strength was read, not a reception ratio alone. [-]
    taken_db : float
        What something that was changed then took, put back in ``measured_dbm``. [dB]
    measured_h : float or None
        How long it was averaged over; None for a spot reading. [h]
    """

    measured_dbm: float
    predicted_dbm: float
    tells: Tells
    is_strength: bool
    taken_db: float
    measured_h: float | None


def readings(site: Site) -> tuple[Reading, ...]:
    """Every measured path between placed devices, each once, in order of layout and link.

    Equal rows are one measurement that several layouts use, unless an end hangs elsewhere.

    A path whose directions contradict each other (near certainty there, nothing heard back) says
    nothing of the building and is left out.

    Parameters
    ----------
    site : Site
        A site that predicts links. [-]
    """
    bare = replace(site, calibration=None)
    found: list[Reading] = []
    hung: dict[tuple[GivenLink, ...], list[tuple[Place | None, ...]]] = defaultdict(list)
    for layout in bare.layouts:
        places = {device.id: device.place for device in layout.devices}
        for given, reading in _of_layout(bare, layout):
            ends = places[reading.link.a], places[reading.link.b]
            if all(any(map(is_moved, ends, earlier)) for earlier in hung[given]):
                hung[given].append(ends)
                found.append(reading)
    return tuple(found)


def corrected_dbm(
    site: Site, calibration: Calibration, found: Sequence[Reading]
) -> tuple[float, ...]:
    """What the site predicts for each reading once it is calibrated.

    Parameters
    ----------
    site : Site
        Whose readings they are. [-]
    calibration : Calibration
        The corrections. [-]
    found : sequence of Reading
        The readings. [-]
    """
    calibrated = replace(site, calibration=calibration)
    ends: dict[str, set[str]] = defaultdict(set)
    for reading in found:
        ends[reading.layout] |= {reading.link.a, reading.link.b}
    links = {
        (name, link.id): link
        for name, ids in ends.items()
        for link in _tried(calibrated, _among(site.layout(name), ids))
    }
    return tuple(
        reading.predicted_dbm
        + _there_dbm(links[reading.layout, reading.link.id])
        - _there_dbm(reading.link)
        for reading in found
    )


def _of_layout(site: Site, layout: Layout) -> Iterator[tuple[tuple[GivenLink, ...], Reading]]:
    given = {
        (link.a, link.b): link
        for link in layout.links
        if link.prr is not None or link.rssi_dbm is not None
    }
    devices = {one.id: one for one in layout.devices}
    for link in _tried(site, layout):
        rows = given.get((link.a, link.b)), given.get((link.b, link.a))
        ways = [
            _way(site, row, heard, predicted_dbm)
            for row, heard, predicted_dbm in zip(
                rows, (link.there, link.back), link.predicted_dbm or (), strict=True
            )
            if row is not None
        ]
        ends_m = (_point_m(site, devices[link.a]), _point_m(site, devices[link.b]))
        reading = _reading(layout.name, link, ends_m, ways)
        if reading is not None and _is_one_row(rows):
            reading = replace(reading, n_ways=1, difference_db=None)
        if reading is not None:
            models = devices[link.a].model_name, devices[link.b].model_name
            reading = replace(reading, models=models)
            yield tuple(row for row in rows if row is not None), reading


def _tried(site: Site, layout: Layout) -> tuple[Link, ...]:
    """Measured links of a layout, those tried and not heard among them, if both ends are placed."""
    ends = {id for link in layout.links for id in (link.a, link.b)}
    small = _among(layout, ends)
    small = replace(small, links=tuple(_as_heard(site, link) for link in small.links))
    return tuple(link for link in link_table(site, small).links if link.measured)


def _among(layout: Layout, ids: Set[str]) -> Layout:
    """Layout of some of its devices, those that nobody placed left out."""
    devices = tuple(one for one in layout.devices if one.id in ids and one.place is not None)
    here = {one.id for one in devices}
    links = tuple(link for link in layout.links if link.a in here and link.b in here)
    return replace(layout, devices=devices, links=links)


def _there_dbm(link: Link) -> float:
    assert link.predicted_dbm is not None  # both ends are placed, and the site predicts
    return link.predicted_dbm[0]


def _is_one_row(rows: tuple[GivenLink | None, GivenLink | None]) -> bool:
    """Whether the two directions are one row, which the reader of files lets hold both ways.

    Two rows that are alike to the last digit are taken for one as well: a little is lost with them.
    """
    there, back = rows
    if there is None or back is None:
        return True
    return replace(there, a=back.a, b=back.b) == back


def _as_heard(site: Site, given: GivenLink) -> GivenLink:
    """Return a row with the limit in the place of "not heard", which the link table leaves out."""
    if given.prr != 0:
        return given
    limit_dbm = db_from_cdb(reception_curve(site.radio).rssi_cdbm(TRIED_PRR))
    return replace(given, prr=None, rssi_dbm=limit_dbm)


def _way(site: Site, given: GivenLink, heard: Heard, predicted_dbm: float) -> Way:
    curve, tells = reception_curve(site.radio), Tells.EXACTLY
    certain_dbm = _certain_dbm(site.radio)
    then_dbm = _as_heard(site, given).rssi_dbm
    if then_dbm is None:
        then_dbm = db_from_cdb(curve.rssi_cdbm(given.prr or 0.0))
    taken_db = heard.rssi_dbm - then_dbm
    if given.prr == 0:
        tells = Tells.AT_LEAST
        then_dbm = max(then_dbm, heard.floor_dbm)
    elif given.rssi_dbm is None and then_dbm >= certain_dbm:
        tells, then_dbm = Tells.AT_MOST, certain_dbm
    is_strength = given.rssi_dbm is not None
    return Way(then_dbm + taken_db, predicted_dbm, tells, is_strength, taken_db, given.measured_h)


def _certain_dbm(radio: Radio) -> float:
    """Strength from which on reception hardly depends on it.

    In a quiet band 99 % and 97 % lie 5 dB apart, and frames lost to collisions make up that
    difference. A ratio that is reached here says alone only "at least so strong".
    """
    return radio.quiet_95_dbm if radio.environment == "quiet" else radio.busy_95_dbm


def _reading(
    layout: str, link: Link, ends_m: tuple[Point, Point], ways: list[Way]
) -> Reading | None:
    """Return both directions as one reading; what is known beats a limit."""
    known = [way for way in ways if way.tells is Tells.EXACTLY]
    used = known or ways
    if len({way.tells for way in used}) != 1:
        return None
    difference_db = None
    if len(known) == 2 and all(way.is_strength for way in known):
        there, back = (way.predicted_dbm - way.measured_dbm for way in known)
        difference_db = there - back
    return Reading(
        layout,
        link,
        ends_m,
        measured_dbm=sum(way.measured_dbm for way in used) / len(used),
        predicted_dbm=sum(way.predicted_dbm for way in used) / len(used),
        tells=used[0].tells,
        n_ways=len(used),
        difference_db=difference_db,
        taken_db=sum(way.taken_db for way in used) / len(used),
        measured_h=shortest_h(way.measured_h for way in used),
    )


def _point_m(site: Site, device: Device) -> Point:
    place = device.place
    assert place is not None  # only placed devices are looked at
    return place.x_m, place.y_m, site.building.level(place.level).floor_m + place.height_m
