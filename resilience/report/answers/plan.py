"""What ``plan`` draws of one layout: each device and each usable link, and what they tell."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from resilience.building.site import Device, Kind, Site
from resilience.connectivity.hearing import Ear, ears, other_end
from resilience.connectivity.luck.routes import Routes, routes
from resilience.connectivity.rows import Link
from resilience.connectivity.table import LinkTable
from resilience.report.answers.checking import kind_counts
from resilience.report.answers.radio import MOST_NEIGHBOURS, Known, basis, in_the_way, known_of
from resilience.report.drawing.frame import frame_of, plan_points_m
from resilience.report.drawing.marks import Figure, Mark
from resilience.report.drawing.plans import graph, level_plan
from resilience.report.drawing.sections import cut_of, section
from resilience.report.drawing.strokes import Installed, Stroke, weight_of
from resilience.report.evidence import evidence_block
from resilience.report.legend import BESIDE, DOWN, UP, legend
from resilience.report.pages import NOT_SURVEYED, Alert, Page, Text, cautions, page, titled
from resilience.report.sheet import Sheet
from resilience.report.words import counted, listed, rounded, visible

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
    soles : dict of tuple of str by str
        Sensors whose every way leads through a device, by the device. [-]
    """

    site: Site
    links: LinkTable
    figures: tuple[Figure, ...]
    n_drawn: int
    soles: Mapping[str, tuple[str, ...]]

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
        """Who is unheard, lacks a second neighbour or is one that others cannot do without."""
        heard = ears(self.links)
        deaf = [ear.device.id for ear in heard if not ear.usable]
        few = [ear.device.id for ear in heard if ear.usable and ear.lacks_parents]
        told = [f"Nobody hears {listed(deaf)} (dashed ring)."] if deaf else []
        if few:
            told.append(f"Fewer than two neighbours can be parent of {listed(few)} (dashed ring).")
        if self.soles:
            named = listed(list(self.soles))
            told.append(f"Single points of failure (corners round their signs): {named}.")
        return " ".join(told)

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
    soles = soles_of(links, routes(links, seed=1, n_buildings=1))  # as drawn, whatever the luck
    ways = ways_of(links)
    marks = tuple(_mark(known, ear, ways, soles) for ear in heard)
    drawn = figures_of(Installed(site.building, marks, strokes))
    return Planned(site, links, drawn, len(best), soles)


def soles_of(links: LinkTable, found: Routes) -> dict[str, tuple[str, ...]]:
    """Single points of failure: sensors whose every way leads through a device, by the device.

    Parameters
    ----------
    links : LinkTable
        Of the layout. [-]
    found : Routes
        Its ways, which name a gateway only beside another one. [-]
    """
    gateways = [one.id for one in links.devices if one.kind is Kind.GATEWAY]
    is_alone = len(gateways) == 1 and found.as_drawn
    only = {gateways[0]: tuple(sorted(found.as_drawn))} if is_alone else {}
    return {**only, **found.behind}


def sole_words(behind: Sequence[str]) -> str:
    """What is told of a single point of failure.

    Parameters
    ----------
    behind : sequence of str
        Sensors that have no way without it. [-]
    """
    return f"single point of failure: all ways of {listed(list(behind))} lead through it"


def ways_of(links: LinkTable) -> dict[str, str]:
    """How many usable links each device has to levels above and below, where it has any.

    Parameters
    ----------
    links : LinkTable
        Who hears whom in the layout. [-]
    """
    on = [links.building.level(one.place.level) if one.place else None for one in links.devices]
    found: dict[str, Counter[str]] = defaultdict(Counter)
    for a, b in links.ends[links.usable].tolist():
        for row, other in ((a, b), (b, a)):
            here, there = on[row], on[other]
            if here and there and here.id != there.id:
                rise_m = there.floor_m - here.floor_m
                found[links.ids[row]][UP if rise_m > 0 else DOWN if rise_m < 0 else BESIDE] += 1
    return {
        id: " " + "".join(f"{sign}{some[sign]}" for sign in (UP, DOWN, BESIDE) if some[sign])
        for id, some in found.items()
    }


def figures_of(installed: Installed) -> tuple[Figure, ...]:
    """Legend, section and levels from the highest to the lowest; a graph of what has no place.

    Parameters
    ----------
    installed : Installed
        Building, devices and links. [-]
    """
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
        evidence_block(planned.site, is_played=False),
        cautions(bool(planned.links.is_measured.all())),
    )


def _mark(
    known: Known, ear: Ear, ways: Mapping[str, str], soles: Mapping[str, tuple[str, ...]]
) -> Mark:
    device, behind = ear.device, soles.get(ear.device.id)
    best = ", ".join(
        f"{visible(other_end(link, device.id))} {rounded(known.links.margin_db(link), 0)} dB"
        for link in ear.usable[:MOST_NEIGHBOURS]
    )
    n_more = len(ear.usable) - MOST_NEIGHBOURS
    hears = f"hears with so much to spare: {best}" if best else "hears nobody"
    more = f" and {n_more} more" if n_more > 0 else ""
    frail = "; fewer than two neighbours can be its parent" if ear.lacks_parents else ""
    sole = f"; {sole_words(behind)}" if behind else ""
    return Mark(
        device.id,
        device.kind,
        device.place,
        f"{device.id}, {what_words(device)}{where_words(device)}{sole}; {hears}{more}{frail}",
        ways.get(device.id, ""),
        device.standby,
        ear.lacks_parents or not ear.usable,
        is_sole=bool(behind),
    )


def what_words(device: Device) -> str:
    """What a device is, as in ``sensor on battery``.

    Parameters
    ----------
    device : Device
        Any. [-]
    """
    standby = "standby " if device.kind is Kind.GATEWAY and device.standby else ""
    return f"{standby}{device.kind.value} on {device.supply.value}"


def where_words(device: Device) -> str:
    """Where a device hangs, after a comma; empty where nobody said.

    Parameters
    ----------
    device : Device
        Any. [-]
    """
    place = device.place
    if place is None:
        return ""
    return (
        f", at x {place.x_m:g} m and y {place.y_m:g} m, {place.height_m:g} m above the floor of "
        f"{place.level}"
    )


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
