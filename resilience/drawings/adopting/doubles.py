"""Walls from lines: two faces a wall's thickness apart become one wall on their middle line.

Where a line could be a face of two walls it is kept as it is, and told. Walls that end at the face
of another are drawn out to its middle line, so that no path slips through a corner.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from resilience.drawings.account import Account
from resilience.drawings.runs import (
    SAME_M,
    THICKEST_M,
    Run,
    are_parallel,
    groups,
    meet,
    near_runs,
    on_one_line,
)

THINNEST_M = 0.04
LEAST_M = 0.05  # of what is left of a line outside all walls
INSIDE = "a line inside a wall"
CLEARLY = 1.5  # so many times farther is another wall's face

Stretch = tuple[float, float]


def walls_from(lines: Sequence[Run], account: Account) -> list[Run]:
    """Return the walls that single and double lines stand for.

    Parameters
    ----------
    lines : sequence of Run
        Lines as drawn, in any order; each without thickness. [-]
    account : Account
        Where it is told what became of them. [-]
    """
    doubles: list[Run] = []
    rest: list[Run] = []
    n_unclear = 0
    for construction in sorted({line.construction for line in lines}):
        faces = _joined([line for line in lines if line.construction == construction])
        shared, unclear = _shared(faces)
        doubles += _middles(faces, shared)
        rest += _uncovered(faces, shared)
        n_unclear += unclear
    meet(doubles)
    singles = _outside(rest, doubles, account)
    walls = [*doubles, *singles]
    meet(walls)
    if doubles:
        thin_m, *_, thick_m = sorted(2 * [wall.thick_m for wall in doubles])
        span = f"{thin_m:.2f}" if thick_m - thin_m < 0.01 else f"{thin_m:.2f} to {thick_m:.2f}"
        account.note(
            f"Walls drawn as two lines, {span} m apart: {len(doubles)}; each became one wall on "
            "the middle line."
            + (f" Lines that stay walls by themselves: {len(singles)}." if singles else "")
        )
    if n_unclear:
        account.note(
            f"Lines that could be faces of more than one wall: {n_unclear}. They stay walls by "
            "themselves, which counts some walls twice. Correct them in walls.csv."
        )
    return walls


def _joined(lines: Sequence[Run]) -> list[Run]:
    """Return the lines with those on one line that touch or overlap made one."""
    pairs = (
        (i, j)
        for i, j in near_runs(lines, SAME_M)
        if are_parallel(lines[i], lines[j]) and on_one_line(lines[i], lines[j], SAME_M)
    )
    joined = []
    for group in groups(len(lines), pairs):
        longest = max((lines[i] for i in group), key=lambda line: line.length_m)
        spans = []
        for line in (lines[i] for i in group):
            if on_one_line(longest, line, 2 * SAME_M):
                spans.append(sorted((longest.along_m(line.a), longest.along_m(line.b))))
            else:  # a chain of pieces, each nearly in line with the next, is a curve
                joined.append(line)
        joined += [
            Run(longest.at(start), longest.at(end), longest.construction, source=longest.source)
            for start, end in _united(spans, SAME_M)
        ]
    return joined


def _united(spans: Iterable[Sequence[float]], gap_m: float) -> list[Stretch]:
    """Return spans in order, those that overlap or come so near made one."""
    united: list[Stretch] = []
    for start, end in sorted((span[0], span[1]) for span in spans):
        if united and start <= united[-1][1] + gap_m:
            united[-1] = (united[-1][0], max(end, united[-1][1]))
        else:
            united.append((start, end))
    return united


@dataclass(frozen=True, slots=True)
class _Facing:
    """A stretch of one line along which another runs as the other face of a wall might.

    Parameters
    ----------
    start_m, end_m : float
        Along the first line. [m]
    apart_m : float
        Distance to the other, above 0 on the left. [m]
    other : int
        Which. [-]
    """

    start_m: float
    end_m: float
    apart_m: float
    other: int


def _facing(one: Run, other: Run, number: int) -> _Facing | None:
    apart_m = one.off_m(((other.a[0] + other.b[0]) / 2, (other.a[1] + other.b[1]) / 2))
    if not THINNEST_M <= abs(apart_m) <= THICKEST_M:
        return None
    ends = sorted((one.along_m(other.a), one.along_m(other.b)))
    start_m, end_m = max(0.0, ends[0]), min(one.length_m, ends[1])
    if end_m - start_m < abs(apart_m):  # shorter than thick: it is the end of a wall
        return None
    return _Facing(start_m, end_m, apart_m, number)


def _chosen(facing: Sequence[_Facing]) -> tuple[list[_Facing], bool]:
    """Return the stretches whose other face is clear, and whether any is not."""
    cuts = sorted({cut for one in facing for cut in (one.start_m, one.end_m)})
    chosen: list[_Facing] = []
    is_unclear = False
    for start_m, end_m in pairwise(cuts):
        if end_m - start_m < SAME_M:
            continue
        middle_m = (start_m + end_m) / 2
        here = [one for one in facing if one.start_m < middle_m < one.end_m]
        here.sort(key=lambda one: abs(one.apart_m))
        if len(here) > 1 and abs(here[1].apart_m) < CLEARLY * abs(here[0].apart_m):
            is_unclear = True
        elif here:
            chosen.append(_Facing(start_m, end_m, here[0].apart_m, here[0].other))
    return chosen, is_unclear


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A part of a wall whose two faces are known: which they are, and from where to where.

    Parameters
    ----------
    face, other : int
        The two lines. [-]
    start_m, end_m : float
        Along the first. [m]
    apart_m : float
        Thickness, above 0 where the other face is on the left of the first. [m]
    """

    face: int
    other: int
    start_m: float
    end_m: float
    apart_m: float


def _shared(faces: Sequence[Run]) -> tuple[list[_Stretch], int]:
    """Return the stretches along which two faces choose each other, and how many are unclear."""
    facing: dict[int, list[_Facing]] = {}
    for i, j in near_runs(faces, THICKEST_M):
        if are_parallel(faces[i], faces[j]):
            one, other = _facing(faces[i], faces[j], j), _facing(faces[j], faces[i], i)
            if one and other:
                facing.setdefault(i, []).append(one)
                facing.setdefault(j, []).append(other)
    chosen = {i: _chosen(candidates) for i, candidates in facing.items()}
    shared = []
    for i, (choices, _) in chosen.items():
        for one in (choice for choice in choices if choice.other > i):
            back = [choice for choice in chosen[one.other][0] if choice.other == i]
            for choice in back:
                ends = (faces[one.other].at(choice.start_m), faces[one.other].at(choice.end_m))
                low_m, high_m = sorted(faces[i].along_m(end) for end in ends)
                start_m, end_m = max(one.start_m, low_m), min(one.end_m, high_m)
                if end_m - start_m >= SAME_M:
                    shared.append(_Stretch(i, one.other, start_m, end_m, one.apart_m))
    return shared, sum(is_unclear for _, is_unclear in chosen.values())


def _middles(faces: Sequence[Run], shared: Sequence[_Stretch]) -> list[Run]:
    """Return one wall for every row of stretches that hang together by a face."""
    middles = []
    for stretch in shared:
        face = faces[stretch.face]
        half_m = stretch.apart_m / 2
        ux, uy = face.direction
        ends = (face.at(stretch.start_m), face.at(stretch.end_m))
        a, b = ((x - half_m * uy, y + half_m * ux) for x, y in ends)
        middles.append(Run(a, b, face.construction, abs(stretch.apart_m), source=face.source))
    walls = []
    for group in groups(len(shared), _neighbours(faces, shared, middles)):
        longest = max((middles[i] for i in group), key=lambda wall: wall.length_m)
        along = [longest.along_m(end) for i in group for end in (middles[i].a, middles[i].b)]
        start, end = longest.at(min(along)), longest.at(max(along))
        walls.append(Run(start, end, longest.construction, longest.thick_m, source=longest.source))
    return [wall for wall in walls if wall.length_m >= wall.thick_m]


def _neighbours(
    faces: Sequence[Run], shared: Sequence[_Stretch], middles: Sequence[Run]
) -> Iterator[tuple[int, int]]:
    """Yield stretches that follow each other along one face, with no more between than a wall."""
    rows: dict[int, list[int]] = {}
    for number, stretch in enumerate(shared):
        rows.setdefault(stretch.face, []).append(number)
        rows.setdefault(stretch.other, []).append(number)
    for face, numbers in rows.items():
        spans = {
            n: sorted(faces[face].along_m(end) for end in (middles[n].a, middles[n].b))
            for n in numbers
        }
        numbers.sort(key=lambda n: spans[n][0])
        for one, other in pairwise(numbers):
            is_near = spans[other][0] - spans[one][1] <= THICKEST_M
            if is_near and on_one_line(middles[one], middles[other], 2 * SAME_M):
                yield one, other


def _uncovered(faces: Sequence[Run], shared: Sequence[_Stretch]) -> list[Run]:
    """Return what is left of the lines where they are not the face of a wall with two."""
    covered: dict[int, list[Stretch]] = {}
    for stretch in shared:
        other = faces[stretch.other]
        ends = (faces[stretch.face].at(m) for m in (stretch.start_m, stretch.end_m))
        low_m, high_m = sorted(other.along_m(end) for end in ends)
        covered.setdefault(stretch.face, []).append((stretch.start_m, stretch.end_m))
        covered.setdefault(stretch.other, []).append((low_m, high_m))
    rest = []
    for number, face in enumerate(faces):
        spans = _united(covered.get(number, ()), SAME_M)
        edges = [0.0, *(edge for span in spans for edge in span), face.length_m]
        for start_m, end_m in zip(edges[::2], edges[1::2], strict=True):
            if end_m - start_m > 2 * SAME_M:
                start, end = face.at(start_m), face.at(end_m)
                rest.append(Run(start, end, face.construction, source=face.source))
    return rest


def _outside(rest: Sequence[Run], doubles: Sequence[Run], account: Account) -> list[Run]:
    """Return the lines that do not lie in the body of a wall, as its ends and corners do."""
    import shapely

    if not doubles:
        return list(rest)
    bodies = np.array(
        [
            shapely.LineString([wall.a, wall.b]).buffer(wall.thick_m / 2 + 0.02, cap_style="square")
            for wall in doubles
        ]
    )
    tree = shapely.STRtree(bodies)
    longest_end_m = max(wall.thick_m for wall in doubles) + LEAST_M
    outside = []
    for line in rest:
        shape = shapely.LineString([line.a, line.b])
        near = bodies[tree.query(shape, "intersects")]
        left = shape.difference(shapely.union_all(near)) if len(near) else shape
        if left.length <= LEAST_M < line.length_m - left.length and line.length_m > longest_end_m:
            account.leave_out("line", INSIDE, 1, line.source)
        for piece in shapely.get_parts(left):
            if piece.length > LEAST_M:
                start, *_, end = piece.coords
                outside.append(Run(start, end, line.construction, source=line.source))
    return outside
