"""Doors and windows find the walls they sit in, and close the gaps that are drawn for them."""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from resilience.drawings.account import Account
from resilience.drawings.plan import Point, Stroke, sides
from resilience.drawings.runs import Run, on_one_line

NARROWEST_M, WIDEST_M = 0.4, 8.0  # of a door or window
BESIDE_M = 0.08  # how far off the face of its wall a door may be drawn
GAP_M = 0.15  # between a door's edge and the end of the wall
NEAR_M = 0.5  # half the thickest wall, and the gap


@dataclass(slots=True)
class Fitting:
    """A door or window and the wall it was found to sit in."""

    stroke: Stroke
    a: Point
    b: Point
    wall: Run


@dataclass(slots=True)
class Gapped:
    """The walls of one level while doors and windows close their gaps."""

    runs: list[Run]  # one place for each wall at the start; a wall that is closed up holds several
    account: Account
    fittings: list[Fitting] = field(default_factory=list)

    def fit_all(self, symbols: Iterable[Sequence[Stroke]]) -> None:
        """Find the walls of all symbols."""
        import shapely

        tree = shapely.STRtree([shapely.LineString([run.a, run.b]) for run in self.runs])
        for symbol in symbols:
            points = [point for stroke in symbol for point in stroke.points]
            found = tree.query(shapely.MultiPoint(points).envelope, "dwithin", NEAR_M)
            near = {id(self.runs[i]): self.runs[i] for i in found.tolist()}
            self.fit(symbol, list(near.values()))

    def fit(self, symbol: Sequence[Stroke], near: Sequence[Run]) -> None:
        """Find the wall of a symbol; a gap in the wall at that place is closed."""
        places = [(place, run) for run in near if (place := _place(symbol, run))]
        first = symbol[0]
        if not places:
            x_m, y_m = first.points[0]
            why = f"in no wall, as at {x_m:.2f}, {y_m:.2f}"
            self.account.leave_out(first.becomes, why, 1, first.source)
            return
        place, run = min(places, key=lambda found: found[0].rank)
        a, b = run.at(place.start_m), run.at(place.end_m)
        along_m = [0.0, run.length_m, place.start_m, place.end_m]
        for other in near:
            if other is not run and _continues(run, other, place):
                along_m += [run.along_m(other.a), run.along_m(other.b)]
                self._swallow(run, other)
        run.a, run.b = run.at(min(along_m)), run.at(max(along_m))
        self.fittings.append(Fitting(first, a, b, run))

    def _swallow(self, run: Run, other: Run) -> None:
        self.runs = [run if one is other else one for one in self.runs]
        for fitting in self.fittings:
            if fitting.wall is other:
                fitting.wall = run


@dataclass(frozen=True, slots=True)
class _Place:
    """Where on a wall's line a symbol lies, and how well that fits."""

    start_m: float
    end_m: float
    is_gap: bool
    off_m: float

    @property
    def rank(self) -> tuple[bool, float]:
        """Gaps first, then the nearest line."""
        return (not self.is_gap, self.off_m)


def _place(symbol: Sequence[Stroke], run: Run) -> _Place | None:
    """Return where the symbol lies on the line of a wall; None if it does not."""
    most_m = run.thick_m / 2 + BESIDE_M
    hits, off_m = [], math.inf
    for start, end in (piece for stroke in symbol for piece in _closings(stroke)):
        if abs(run.off_m(start)) <= most_m and abs(run.off_m(end)) <= most_m:
            hits += [run.along_m(start), run.along_m(end)]
            off_m = min(off_m, abs(run.off_m(start)) + abs(run.off_m(end)))
    if not hits:
        return None
    start_m, end_m = min(hits), max(hits)
    if not NARROWEST_M <= end_m - start_m <= WIDEST_M:
        return None
    if start_m > run.length_m + GAP_M or end_m < -GAP_M:
        return None
    inside_m = min(end_m, run.length_m) - max(start_m, 0.0)
    return _Place(start_m, end_m, inside_m < (end_m - start_m) / 2, off_m)


def _closings(stroke: Stroke) -> Iterable[tuple[Point, Point]]:
    """Yield the pieces that may be the closed leaf: of a swing, from the hinge to either end."""
    if stroke.centre is None:
        yield from sides(stroke.points, stroke.closed)
    elif not stroke.closed:
        yield from ((stroke.centre, stroke.points[0]), (stroke.centre, stroke.points[-1]))


def _continues(run: Run, other: Run, place: _Place) -> bool:
    """Whether another wall goes on where a door in the gap between the two ends."""
    if run.construction != other.construction or not on_one_line(run, other, 0.02):
        return False
    low_m, high_m = sorted((run.along_m(other.a), run.along_m(other.b)))
    after = low_m >= run.length_m - GAP_M and low_m <= place.end_m + GAP_M
    before = high_m <= GAP_M and high_m >= place.start_m - GAP_M
    return after or before


def stretch(fitting: Fitting) -> tuple[float, float]:
    """Return where a door begins and ends along its wall, within it."""
    wall = fitting.wall
    ends = sorted((wall.along_m(fitting.a), wall.along_m(fitting.b)))
    return max(0.0, ends[0]), min(wall.length_m, ends[1])


def apart(fittings: Sequence[Fitting], account: Account) -> list[Fitting]:
    """Return doors and windows of which none lies over another in its wall."""
    kept: list[Fitting] = []
    taken: dict[int, list[tuple[float, float]]] = {}
    for fitting in fittings:
        start_m, end_m = stretch(fitting)
        others = taken.setdefault(id(fitting.wall), [])
        if any(start_m < end - 0.01 and begin < end_m - 0.01 for begin, end in others):
            why = "another lies at the same place of its wall"
            account.leave_out(fitting.stroke.becomes, why, 1, fitting.stroke.source)
        else:
            others.append((start_m, end_m))
            kept.append(fitting)
    return kept
