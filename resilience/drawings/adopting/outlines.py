"""Closed lines that mean one thing: the two faces of a shaft, and the ring of the outer walls."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from resilience.building.structure import Opening, Outline, Pillar, Wall
from resilience.drawings.account import Account
from resilience.drawings.plan import Stroke, ring
from resilience.drawings.runs import THICKEST_M

if TYPE_CHECKING:
    from shapely.geometry import Polygon

JOINT_M = 0.01  # walls that nearly meet close a ring
STRAY_M = 0.05

Closed = tuple[Stroke, Outline]


def without_faces(found: Iterable[Closed], account: Account) -> list[Closed]:
    """Return outlines, the two faces of a lining become one on its middle line.

    Parameters
    ----------
    found : iterable of (Stroke, outline)
        What lines close. [-]
    account : Account
        Where it is told. [-]
    """
    from shapely.geometry import Polygon

    rest = [(stroke, Polygon(outline), place) for place, (stroke, outline) in enumerate(found)]
    rest.sort(key=lambda one: -one[1].area)
    kept: dict[int, Closed] = {}
    n_merged = 0
    while rest:
        stroke, outer, place = rest.pop(0)
        inner = [one for one in rest if _alike(stroke, one[0]) and _are_faces(outer, one[1])]
        rest = [one for one in rest if one not in inner]
        n_merged += bool(inner)
        kept[place] = (stroke, _middle(outer, inner[0][1]) if inner else ring(_corners(outer)))
    if n_merged:
        account.note(
            f"{n_merged} {'shafts are' if n_merged > 1 else 'shaft is'} drawn as one outline "
            f"inside another, at most {THICKEST_M:g} m apart; the middle line of the two is taken."
        )
    return [kept[place] for place in sorted(kept)]


def without_cores(found: Sequence[Pillar], account: Account) -> list[Pillar]:
    """Return pillars, one inside another become one on the middle line of the two.

    Parameters
    ----------
    found : sequence of Pillar
        As drawn. [-]
    account : Account
        Where it is told. [-]
    """
    rest = sorted(found, key=lambda one: -one.width_m * one.depth_m)
    kept: dict[str, Pillar] = {}
    n_merged = 0
    while rest:
        outer = rest.pop(0)
        inner = [one for one in rest if _is_core(one, outer)]
        rest = [one for one in rest if one not in inner]
        n_merged += bool(inner)
        kept[outer.id] = _mean(outer, inner[0]) if inner else outer
    if n_merged:
        account.note(
            f"{n_merged} {'pillars are' if n_merged > 1 else 'pillar is'} drawn as one outline "
            f"inside another, at most {THICKEST_M:g} m apart; the middle line of the two is taken."
        )
    return [kept[one.id] for one in found if one.id in kept]


def ring_of(walls: Sequence[Wall], openings: Sequence[Opening]) -> Outline:
    """Return the ring that the outer walls close around everything; empty if they do not.

    Parameters
    ----------
    walls : sequence of Wall
        Of one level. [-]
    openings : sequence of Opening
        Holes in its slab. [-]
    """
    from shapely.geometry import LineString, Polygon
    from shapely.ops import unary_union

    lines = [LineString([(w.x1_m, w.y1_m), (w.x2_m, w.y2_m)]) for w in walls]
    walled = unary_union([line.buffer(JOINT_M, cap_style="square") for line in lines])
    pieces = [Polygon(piece.exterior) for piece in getattr(walled, "geoms", [walled])]
    # What the walls do not close is no wider than they are drawn, and is gone when this shrinks.
    area = unary_union(pieces).buffer(-JOINT_M * 1.01, join_style="mitre")
    area = area.buffer(JOINT_M * 0.01, join_style="mitre").simplify(JOINT_M)
    everything = [*lines, *(Polygon(opening.outline) for opening in openings)]
    if area.geom_type != "Polygon" or not all(map(area.buffer(STRAY_M).covers, everything)):
        return ()
    return tuple((x + 0.0, y + 0.0) for x, y in ring(_corners(area)))  # no minus zero


def _corners(area: "Polygon") -> Sequence[tuple[float, float]]:
    return [(x, y) for x, y in area.exterior.coords[:-1]]


def _alike(one: Stroke, other: Stroke) -> bool:
    return (one.becomes, one.construction) == (other.becomes, other.construction)


def _are_faces(outer: "Polygon", inner: "Polygon") -> bool:
    """Whether one outline lies inside another, nowhere farther off than a wall is thick."""
    return bool(outer.covers(inner) and inner.covers(outer.buffer(-THICKEST_M, join_style="mitre")))


def _middle(outer: "Polygon", inner: "Polygon") -> Outline:
    """Outline halfway between two."""
    # A wall of even thickness covers its thickness times the length of its middle line, which is
    # the mean of its faces where corners are square.
    thick_m = 2 * (outer.area - inner.area) / (outer.length + inner.length)
    middle = outer.buffer(-thick_m / 2, join_style="mitre")
    found = ring(_corners(middle)) if middle.geom_type == "Polygon" else ()
    return found or ring(_corners(outer))


def _is_core(inner: Pillar, outer: Pillar) -> bool:
    if (inner.lowest, inner.construction) != (outer.lowest, outer.construction):
        return False
    spare_x_m = (outer.width_m - inner.width_m) / 2 - abs(outer.x_m - inner.x_m)
    spare_y_m = (outer.depth_m - inner.depth_m) / 2 - abs(outer.y_m - inner.y_m)
    most_m = max(outer.width_m - inner.width_m, outer.depth_m - inner.depth_m)
    return min(spare_x_m, spare_y_m) >= -JOINT_M and most_m <= 2 * THICKEST_M


def _mean(one: Pillar, other: Pillar) -> Pillar:
    sides = ("x_m", "y_m", "width_m", "depth_m")
    return replace(
        one, **{key: round((getattr(one, key) + getattr(other, key)) / 2, 4) for key in sides}
    )
