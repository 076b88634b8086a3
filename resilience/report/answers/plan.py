"""What ``plan`` draws of one layout: each device and each usable link, and what they tell."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from resilience.building.site import Device, Kind, Site
from resilience.connectivity.hearing import LIMITS_DB, NEAR_DB, THIN_MARGIN_DB, Ear, ears, other_end
from resilience.connectivity.rows import Link
from resilience.connectivity.table import LinkTable
from resilience.report.answers.checking import kind_counts
from resilience.report.answers.radio import MOST_NEIGHBOURS, Known, basis, in_the_way, known_of
from resilience.report.drawing.frame import frame_of, plan_points_m
from resilience.report.drawing.marks import Figure, Mark
from resilience.report.drawing.plans import graph, level_plan
from resilience.report.drawing.sections import cut_of, section
from resilience.report.drawing.strokes import Installed, Stroke, Weight
from resilience.report.legend import legend
from resilience.report.pages import NOT_SURVEYED, Alert, Page, Text, cautions, page, titled
from resilience.report.sheet import Sheet
from resilience.report.words import counted, listed, rounded, visible

STRONG_DB = 20.0
MOST_SHOWN = 24  # of each device, while it is pointed at
AXES = "On plans x runs to the right and y upwards; where north is, nobody said."


@dataclass(frozen=True, slots=True)
class Planned:
    """The pictures of one layout.

    Parameters
    ----------
    site : Site
        The site. [-]
    links : LinkTable
        Who hears whom in the layout. [-]
    figures : tuple of Figure
        The section, then the levels from the highest to the lowest; or a graph. [-]
    n_drawn : int
        Usable links that have a line. [-]
    """

    site: Site
    links: LinkTable
    figures: tuple[Figure, ...]
    n_drawn: int

    @property
    def title(self) -> str:
        """Site and layout."""
        return f"{self.site.name}: layout {self.links.layout.name}"

    @property
    def summary(self) -> str:
        """What is installed, and what the pictures show of its links."""
        n_usable = int(self.links.usable.sum())
        n_measured = int((self.links.usable & self.links.is_measured).sum())
        kinds = zip(kind_counts(self.links.layout), ("gateway", "sensor", "repeater"), strict=True)
        some = listed([counted(n, kind) for n, kind in kinds])
        drawn = (
            f"; of each device the best {MOST_NEIGHBOURS} are drawn, and its best {MOST_SHOWN} "
            "show while you point at it"
            if self.n_drawn < n_usable
            else ""
        )
        return (
            f"{some}; {counted(n_usable, 'usable link')}, {n_measured} of them measured, with "
            f"everything calm{drawn}."
        )

    @property
    def frail(self) -> str:
        """Who lacks a second neighbour; empty where nobody does."""
        few = [ear.device.id for ear in ears(self.links) if ear.lacks_parents]
        if not few:
            return ""
        return f"Fewer than two neighbours can be parent of {listed(few)} (dashed ring)."

    def to_json(self) -> dict[str, object]:
        """Return what was drawn under stable keys."""
        return {
            "format": 1,
            "site": self.site.name,
            "layout": self.links.layout.name,
            "figures": [one.title for one in self.figures],
            "devices": len(self.links.devices),
            "usable_links": int(self.links.usable.sum()),
            "drawn_links": self.n_drawn,
        }


def plan(site: Site, links: LinkTable) -> Planned:
    """Draw one layout of a site.

    Parameters
    ----------
    site : Site
        The site. [-]
    links : LinkTable
        Who hears whom in the layout, at mean shadowing. [-]
    """
    known, heard = known_of(links), ears(links)
    best = {link.row for ear in heard for link in ear.usable[:MOST_NEIGHBOURS]}
    shown = best | {link.row for ear in heard for link in ear.usable[:MOST_SHOWN]}
    margins_db = links.margins_db
    rows = sorted(shown, key=lambda row: (margins_db[row], links.link_ids[row]))
    strokes = tuple(_stroke(known, links.link(row), row in best) for row in rows)
    ways = _ways(links)
    marks = tuple(_mark(known, ear, ways.get(ear.device.id, "")) for ear in heard)
    return Planned(site, links, _figures(Installed(site.building, marks, strokes)), len(best))


def _ways(links: LinkTable) -> dict[str, str]:
    """How many usable links each device has to levels above and below, where it has any."""
    order = {level.id: n for n, level in enumerate(links.building.levels)}
    on = [order[one.place.level] if one.place else None for one in links.devices]
    n_up, n_down = Counter[str](), Counter[str]()
    for a, b in links.ends[links.usable].tolist():
        for row, other in ((a, b), (b, a)):
            here, there = on[row], on[other]
            if here is not None and there is not None and here != there:
                (n_up if there > here else n_down)[links.ids[row]] += 1
    signs = ((n_up, "\N{UPWARDS ARROW}"), (n_down, "\N{DOWNWARDS ARROW}"))
    return {
        id: " " + "".join(f"{sign}{some[id]}" for some, sign in signs if some[id])
        for id in n_up | n_down
    }


def _figures(installed: Installed) -> tuple[Figure, ...]:
    places = [one.place for one in installed.marks if one.place]
    found = []
    if places:
        cut = cut_of(installed.building, installed.marks)
        frame = frame_of(plan_points_m(installed.building, places))
        levels = reversed(installed.building.levels)
        found += [legend(installed, frame.units_per_m), section(installed, cut)]
        found += [level_plan(installed, level, frame, cut) for level in levels]
    if len(places) < len(installed.marks):
        found += [*([] if places else [legend(installed, 1.0)]), graph(installed)]
    return tuple(found)


def plan_sheet(planned: Planned) -> Sheet:
    """Return the pictures of a layout with what has to be said beside them.

    Parameters
    ----------
    planned : Planned
        The pictures. [-]
    """
    is_surveyed = bool(planned.links.is_measured.all())
    has_plans = any(one.place for one in planned.links.devices)
    lead = (planned.summary, planned.frail, AXES if has_plans else "")
    stamp = "As measured, with everything calm." if is_surveyed else NOT_SURVEYED.strip()
    told = tuple(one for one in (stamp, *lead) if one)
    return Sheet(planned.title, told, planned.figures, cautions(is_surveyed).text, stamp)


def plan_page(planned: Planned, target: Path, other_layouts: Sequence[str]) -> Page:
    """Return what ``plan`` tells when it has drawn.

    Parameters
    ----------
    planned : Planned
        The pictures. [-]
    target : Path
        Where they are. [-]
    other_layouts : sequence of str
        Names of the site's other layouts. [-]
    """
    others = f" The site also has {listed(other_layouts)} (--layout)." if other_layouts else ""
    return page(
        titled(f"Plan of layout {visible(planned.links.layout.name)}", planned.summary + others),
        Alert(planned.frail) if planned.frail else (),
        Text(f"Drawn in {visible(str(target))}: open it in a browser."),
        cautions(bool(planned.links.is_measured.all())),
    )


def _mark(known: Known, ear: Ear, ways: str) -> Mark:
    device = ear.device
    best = ", ".join(
        f"{visible(other_end(link, device.id))} {rounded(known.links.margin_db(link), 0)} dB"
        for link in ear.usable[:MOST_NEIGHBOURS]
    )
    n_more = len(ear.usable) - MOST_NEIGHBOURS
    hears = f"hears with so much to spare: {best}" if best else "hears nobody"
    more = f" and {n_more} more" if n_more > 0 else ""
    frail = "; fewer than two neighbours can be its parent" if ear.lacks_parents else ""
    return Mark(
        device.id,
        device.kind,
        device.place,
        f"{device.id}, {_what(device)}{_where(device)}; {hears}{more}{frail}",
        ways,
        device.standby,
        ear.lacks_parents,
    )


def _what(device: Device) -> str:
    standby = "standby " if device.kind is Kind.GATEWAY and device.standby else ""
    return f"{standby}{device.kind.value} on {device.supply.value}"


def _where(device: Device) -> str:
    place = device.place
    if place is None:
        return ""
    return f", at {place.x_m:g}, {place.y_m:g}, {place.height_m:g} m above floor {place.level}"


def _stroke(known: Known, link: Link, is_drawn: bool) -> Stroke:
    margin_db = known.links.margin_db(link)
    far = "" if link.distance_m is None else f", {link.distance_m:.1f} m"
    way = in_the_way(known, link, is_forward=True)
    told = (
        f"{link.a} to {link.b}: {rounded(margin_db, 0)} dB to spare, sure to "
        f"{known.spread_db[link.row]:.0f} dB, {basis(link)}{far}; in the way: {way}"
    )
    label = rounded(margin_db, 0)
    return Stroke(
        link.id, link.a, link.b, weight_of(margin_db), link.measured, label, told, is_drawn
    )


def weight_of(margin_db: float) -> Weight:
    """How the line of a usable link looks.

    Parameters
    ----------
    margin_db : float
        Loss that it can still take. [dB]
    """
    if margin_db < LIMITS_DB[0] + NEAR_DB:
        return Weight.NEAR
    if margin_db < THIN_MARGIN_DB:
        return Weight.THIN
    return Weight.AMPLE if margin_db < STRONG_DB else Weight.STRONG
