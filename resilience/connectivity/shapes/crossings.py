"""What the straight lines between places have to pass, and what each of these takes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import overload

import numpy as np
from numpy.typing import NDArray

from resilience.building.settings import Radio
from resilience.building.site import Calibration, Place
from resilience.building.structure import Building
from resilience.connectivity.losses.slabs import SPEED_OF_LIGHT_M_PER_S, PriceList
from resilience.connectivity.shapes.compiled import AS_THEY_STAND, compiled, is_much
from resilience.connectivity.shapes.detours import free_ends, lean
from resilience.connectivity.shapes.faces import CLEAR_M, Floats, Ints
from resilience.connectivity.shapes.grid import Grid, grid_over
from resilience.connectivity.shapes.meetings import Meetings, Paths
from resilience.connectivity.shapes.reckoning import Bounds, Paid, Reckoning
from resilience.connectivity.shapes.scene import FREE, Label, Scene, scene_of

# A construction that states so much says "opaque": nobody measures it indoors, because some of the
# power always finds a way, by reflections if by no other. One such sheet, one pillar and one shaft
# take at most ``radio.obstacle_most_db``, boxed in or not.
OPAQUE_DB = 60.0

BATCH_ROWS = 1 << 17  # meetings that are written down at a time: a few megabytes


@dataclass(frozen=True, slots=True)
class Hindrance:
    """One thing in the way.

    Parameters
    ----------
    what : str
        In plain words: ``slab under L2``, ``wall W3``, ``door D1``, ``round pillar P2``. [-]
    construction : str
        Name of what it is made of; empty for obstacles and for ways round. [-]
    loss_db : float
        What it takes, at the angle at which the path meets it. [dB]
    id : str
        Id of the door or obstacle that it is or leads past; empty for what never changes. [-]
    times : int
        How often its construction is crossed; 0 where the loss says nothing of a construction. [-]
    """

    what: str
    construction: str
    loss_db: float
    id: str = ""
    times: int = 1


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A building made ready for many paths.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    scene : Scene
        The same as arrays. [-]
    labels : tuple of Label
        What the scene's things are called. [-]
    grid : Grid
        Where they stand. [-]
    prices : Prices
        What they take. [-]
    wavelength_m, most_db : float
        Wavelength, and largest loss of a pillar or a lining. [m, dB]
    """

    building: Building
    scene: Scene
    labels: tuple[Label, ...]
    grid: Grid
    prices: "Prices"
    wavelength_m: float
    most_db: float


def drawing(building: Building, radio: Radio, calibration: Calibration | None = None) -> Drawing:
    """Building made ready for many paths.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    radio : Radio
        Frequency and largest loss of an obstacle. [-]
    calibration : Calibration or None
        Corrects what constructions take. [-]
    """
    wavelength_m = SPEED_OF_LIGHT_M_PER_S / (1e6 * radio.frequency_mhz)
    # A slit narrower than half a wavelength lets nothing through, and drawings leave such slits.
    scene, labels = scene_of(building, wavelength_m / 2)
    grid, scene = grid_over(scene), lean(scene, wavelength_m / 2)
    scene.things[: scene.n_walls, FREE] = free_ends(scene, grid, wavelength_m / 2)
    return Drawing(
        building,
        scene,
        labels,
        grid,
        _prices(building, labels, radio, calibration),
        wavelength_m,
        radio.obstacle_most_db,
    )


def point_of(building: Building, place: Place) -> tuple[float, float, float]:
    """Where a place is: x, y and height above the site's zero, clear of floor and ceiling.

    Parameters
    ----------
    building : Building
        Whose levels are meant. [-]
    place : Place
        The place. [-]
    """
    level = building.level(place.level)
    height_m = place.height_m
    if abs(height_m) <= CLEAR_M:
        height_m = CLEAR_M
    elif abs(height_m - level.height_m) <= CLEAR_M:
        height_m = level.height_m - CLEAR_M
    return place.x_m, place.y_m, level.floor_m + height_m


def hindrances(drawn: Drawing, a: Place, b: Place) -> tuple[Hindrance, ...]:
    """Everything that the straight line from a to b has to pass, in that order.

    Parameters
    ----------
    drawn : Drawing
        The building. [-]
    a, b : Place
        The two ends; a path and its reverse meet the same things. [-]
    """
    points_m = np.array([point_of(drawn.building, place) for place in (a, b)])
    paths = Paths(points_m, np.array([[0, 1]]))
    return tuple(crossed(drawn, paths, np.full(1, math.inf)).of(0))


class Hindrances(Sequence[Hindrance]):
    """What stands in one path, as values that are made when they are asked for."""

    __slots__ = ("_crossings", "_end", "_first")

    def __init__(self, crossings: "Crossings", first: int, end: int) -> None:
        self._crossings = crossings
        self._first, self._end = first, end

    def __len__(self) -> int:
        return self._end - self._first

    @overload
    def __getitem__(self, place: int) -> Hindrance: ...

    @overload
    def __getitem__(self, place: slice) -> tuple[Hindrance, ...]: ...

    def __getitem__(self, place: int | slice) -> Hindrance | tuple[Hindrance, ...]:
        rows = range(self._first, self._end)
        if isinstance(place, slice):
            return tuple(self._crossings.hindrance(row) for row in rows[place])
        return self._crossings.hindrance(rows[place])

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and tuple(self) == tuple(other)

    def __hash__(self) -> int:
        return hash(tuple(self))

    def __repr__(self) -> str:
        return repr(tuple(self))


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """What many paths have to pass.

    Parameters
    ----------
    labels : tuple of Label
        What things are called. [-]
    start : Ints
        Where the hindrances of each path start, shape (paths + 1,). [-]
    label : Ints
        What each is called. [-]
    loss_db : Floats
        What each takes. [dB]
    times : Ints
        How often each crosses its construction. [-]
    total_db : Floats
        Shape (paths,): sum along the path. [dB]
    """

    labels: tuple[Label, ...]
    start: Ints
    label: Ints
    loss_db: Floats
    times: Ints
    total_db: Floats

    def __post_init__(self) -> None:
        for column in (self.start, self.label, self.loss_db, self.times, self.total_db):
            column.flags.writeable = False

    def of(self, path: int) -> Sequence[Hindrance]:
        """Hindrances of one path, in order along it.

        Parameters
        ----------
        path : int
            Its row. [-]
        """
        first, end = int(self.start[path]), int(self.start[path + 1])
        return Hindrances(self, first, end) if end > first else ()

    def taken(self, paths: Ints) -> "Crossings":
        """Return what some of the paths have to pass.

        Parameters
        ----------
        paths : Ints
            Their rows; below 0 stands for a path that passes nothing anybody knows of. [-]
        """
        first, end = self.start[paths], self.start[paths + 1]
        counts = np.where(paths < 0, 0, end - first)
        start = np.concatenate(([0], np.cumsum(counts)))
        rows = np.repeat(first - start[:-1], counts) + np.arange(start[-1])
        total_db = np.append(self.total_db, 0.0)[np.maximum(paths, -1)]
        return Crossings(
            self.labels, start, self.label[rows], self.loss_db[rows], self.times[rows], total_db
        )

    @property
    def path(self) -> Ints:
        """Row of the path to which each hindrance belongs."""
        return np.repeat(np.arange(len(self.start) - 1), np.diff(self.start))

    def hindrance(self, row: int) -> Hindrance:
        """Return one hindrance.

        Parameters
        ----------
        row : int
            Its row. [-]
        """
        told, loss_db, times = self.labels[self.label[row]], self.loss_db[row], self.times[row]
        return Hindrance(told.what, told.construction, float(loss_db), told.id, int(times))


def crossed(drawn: Drawing, paths: Paths, spare_db: Floats) -> Crossings:
    """What many paths have to pass; few are looked at as they stand, many in compiled functions.

    Parameters
    ----------
    drawn : Drawing
        The building. [-]
    paths : Paths
        The paths. [-]
    spare_db : Floats
        Shape (paths,): a path that takes more is dropped, and keeps its total only. [dB]
    """
    scene, n_paths = drawn.scene, len(paths.ends)
    if not drawn.labels:
        nothing = np.zeros(n_paths + 1, np.int64)
        return Crossings((), nothing, nothing[:0], np.zeros(0), nothing[:0], np.zeros(n_paths))
    kernels = compiled() if is_much(n_paths, len(scene.things)) else AS_THEY_STAND
    bounds = Bounds(drawn.wavelength_m, drawn.most_db, spare_db)
    met = _room(scene, n_paths)
    total_db, start = np.zeros(n_paths), np.zeros(n_paths + 1, np.int64)
    labels, losses_db, times = [met.label[:0]], [met.along[:0]], [met.label[:0]]
    first = 0
    while first < n_paths:
        end = kernels.meet_paths(scene, drawn.grid, paths, met, first)
        n_met = met.start[end - first]
        met.through_db[:n_met] = drawn.prices.through_db(met.label[:n_met], met.measure[:n_met])
        paid = Paid(
            np.empty(end - first + 1, np.int64),
            np.empty_like(met.label[:n_met]),
            np.empty_like(met.along[:n_met]),
            np.empty_like(met.along[:n_met]),
            np.empty_like(met.label[:n_met]),
            total_db[first:end],
        )
        kernels.reckon_paths(Reckoning(scene, met, bounds, paid), paths, first)
        start[first : end + 1] = start[first] + paid.start
        labels.append(paid.label[: paid.start[-1]].copy())
        losses_db.append(paid.loss_db[: paid.start[-1]].copy())
        times.append(paid.times[: paid.start[-1]].copy())
        first = end
    label, loss_db = np.concatenate(labels), np.concatenate(losses_db)
    n_times = np.where(drawn.prices.is_told[label], np.concatenate(times), 0)
    return Crossings(drawn.labels, start, label, loss_db, n_times, total_db)


def _room(scene: Scene, n_paths: int) -> Meetings:
    """Room for the meetings of a batch of paths, of one path at least."""
    n_most = len(scene.things) + len(scene.floors_m)
    n_rows = max(n_most, min(BATCH_ROWS, n_most * n_paths))
    whole, real = np.zeros((2, n_rows), np.int64), np.zeros((3, n_rows))
    return Meetings(
        start=np.zeros(n_paths + 1, np.int64),
        thing=whole[0],
        label=whole[1],
        along=real[0],
        measure=real[1],
        through_db=real[2],
        seen=np.full(len(scene.things), -1, np.int64),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Prices:
    """What everything takes that has a label.

    Parameters
    ----------
    flat_db : Floats
        Shape (labels,): what is the same for every path. [dB]
    is_told : array of bool
        Shape (labels,): whether a loss tells what a construction takes. [-]
    list_of : Ints
        Shape (labels,): place of the price list, -1 where ``flat_db`` holds. [-]
    lists : tuple of PriceList
        Every price list. [-]
    """

    flat_db: Floats
    is_told: NDArray[np.bool_]
    list_of: Ints
    lists: tuple[PriceList, ...]

    def through_db(self, label: Ints, measure: Floats) -> Floats:
        """What it takes to go straight through.

        Parameters
        ----------
        label : Ints
            Label of each crossing. [-]
        measure : Floats
            Cosine of each incidence, or the way inside a block. [-, m]
        """
        losses_db, lists = self.flat_db[label], self.list_of[label]
        for place, priced in enumerate(self.lists):
            (rows,) = np.nonzero(lists == place)
            if len(rows):
                losses_db[rows] = priced.losses_db(measure[rows])
        return losses_db


def _prices(
    building: Building, labels: Sequence[Label], radio: Radio, calibration: Calibration | None
) -> Prices:
    built = dict(building.constructions)
    offsets_db = (
        {name: one.offset for name, one in calibration.constructions} if calibration else {}
    )
    obstacles_db = {obstacle.id: obstacle.loss_db for obstacle in building.obstacles}
    flat_db, list_of = np.zeros(len(labels)), np.full(len(labels), -1, np.int64)
    is_told = np.array([label.construction != "" for label in labels], np.bool_)
    lists: dict[PriceList, int] = {}
    for place, label in enumerate(labels):
        if not label.construction:
            flat_db[place] = obstacles_db.get(label.id, 0.0)
            continue
        construction, offset_db = built[label.construction], offsets_db.get(label.construction, 0.0)
        if construction.loss_db is None:
            priced = PriceList(construction, label.is_solid, offset_db, radio.frequency_mhz)
            list_of[place] = lists.setdefault(priced, len(lists))
            continue
        flat_db[place] = max(0.0, construction.loss_db + offset_db)
        if construction.loss_db >= OPAQUE_DB and flat_db[place] >= radio.obstacle_most_db:
            flat_db[place], is_told[place] = radio.obstacle_most_db, False
    return Prices(flat_db, is_told, list_of, tuple(lists))
