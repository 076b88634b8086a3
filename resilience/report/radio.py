"""What the radio says before anything is played: the answers of ``check`` and ``links``."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Group
from rich.text import Text

from resilience.building.site import Device, Kind, Layout, Site
from resilience.building.structure import Building
from resilience.connectivity.links import Link, LinkTable
from resilience.connectivity.reception import COST_PER_TRANSMISSION
from resilience.report.look import (
    ALERT,
    add_row,
    alert,
    bullets,
    cautions,
    heading,
    plain,
    spaced,
    table,
)
from resilience.report.words import counted, listed, visible

THIN_MARGIN_DB = 10.0
LEAST_PARENTS = 2
MOST_NEIGHBOURS = 6  # of each device; the rest is counted


@dataclass(frozen=True, slots=True)
class Ear:
    """One device with what it hears.

    Parameters
    ----------
    device : Device
        The device. [-]
    usable : tuple of Link
        Its usable links, the cheapest first. [-]
    nearest_miss : Link or None
        The link that comes closest to being usable without being so. [-]
    n_parents : int
        Usable neighbours that may be its parent. [-]
    """

    device: Device
    usable: tuple[Link, ...]
    nearest_miss: Link | None
    n_parents: int

    @property
    def lacks_parents(self) -> bool:
        """Whether the loss of one neighbour can silence it."""
        return self.device.kind is not Kind.GATEWAY and self.n_parents < LEAST_PARENTS


def ears(links: LinkTable) -> tuple[Ear, ...]:
    """Return every device of a layout with its usable links, in order of id.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    """
    usable: dict[str, list[tuple[int, float, str, Link]]] = defaultdict(list)
    misses: dict[str, list[tuple[float, str, Link]]] = defaultdict(list)
    for link in links.links:
        cost, margin_db = links.cost(link), links.margin_db(link)
        for end in (link.a, link.b):
            if cost is None:
                misses[end].append((-margin_db, link.id, link))
            else:
                usable[end].append((cost, -margin_db, link.id, link))
    relays = {
        one.id for one in links.layout.devices if one.kind is Kind.GATEWAY or one.model.forwards
    }
    found = []
    for device in links.layout.devices:
        own = tuple(entry[-1] for entry in sorted(usable[device.id], key=lambda entry: entry[:3]))
        missed = min(misses[device.id], key=lambda entry: entry[:2], default=None)
        n_parents = sum(other_end(link, device.id) in relays for link in own)
        found.append(Ear(device, own, missed[-1] if missed else None, n_parents))
    return tuple(found)


def other_end(link: Link, device_id: str) -> str:
    """Id of the device at the other end of a link."""
    return link.b if link.a == device_id else link.a


def links_page(links: LinkTable, other_layouts: Sequence[str] = ()) -> Group:
    """Return everything that ``links`` tells of one layout.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    other_layouts : sequence of str
        Names of the site's other layouts. [-]
    """
    found = ears(links)
    n_usable = sum(links.is_usable(link) for link in links.links)
    title = f"Links of layout {visible(links.layout.name)}"
    others = f" The site also has {listed(other_layouts)} (--layout)." if other_layouts else ""
    surveyed = all(link.measured for link in links.links)
    summary = (
        f"{counted(len(found), 'device')}, {counted(n_usable, 'usable link')}, with everything "
        f"calm and paths as {'measured' if surveyed else 'predicted on average'}.{others}"
    )
    parts = [heading(title, summary), _warnings(links, found), _neighbours(links, found)]
    return spaced([*parts, cautions(is_surveyed=surveyed)])


def _warnings(links: LinkTable, found: Sequence[Ear]) -> Group:
    deaf = [ear.device.id for ear in found if not ear.usable]
    few = [ear.device.id for ear in found if ear.usable and ear.lacks_parents]
    n_thin = sum(
        links.is_usable(link) and links.margin_db(link) < THIN_MARGIN_DB for link in links.links
    )
    told = []
    if deaf:
        told.append(alert(f"Nobody hears {listed(deaf)}."))
    if few:
        told.append(alert(f"Fewer than two neighbours that could be a parent: {listed(few)}."))
    if n_thin:
        told.append(
            alert(
                f"{counted(n_thin, 'usable link')} with less than {THIN_MARGIN_DB:g} dB to spare."
            )
        )
    if not told:
        told.append(plain("Every device has two neighbours or more, each with 10 dB to spare."))
    return Group(*told)


def _neighbours(links: LinkTable, found: Sequence[Ear]) -> Group:
    made = table(
        (
            "device",
            "hears",
            "dist.\nm",
            "sent\ndBm",
            "heard\ndBm",
            "margin\ndB",
            "sends\neach",
            "basis",
            "in the way, dB",
        ),
        texts=(0, 1, 7, 8),
    )
    for ear in found:
        rows: list[list[str | Text]] = [
            _link_row(links, ear, link) for link in ear.usable[:MOST_NEIGHBOURS]
        ]
        n_more = len(ear.usable) - MOST_NEIGHBOURS
        if n_more > 0:
            rows.append([f"{n_more} more", *[""] * 6, "see --json"])
        rows = rows or [_miss_row(links, ear)]
        marks = _device(ear)
        rows += [[""] * 8] * (len(marks) - len(rows))
        for row, mark in zip(rows, [*marks, *[Text()] * len(rows)], strict=False):
            add_row(made, [mark, *row])
        made.add_section()
    note = (
        "Neighbours that are usable both ways, the best first. Sent: strength at the neighbour; "
        "heard: strength at the device. Margin: what the weaker way can still lose; ! marks less "
        f"than {THIN_MARGIN_DB:g} dB. Sends each: transmissions that a reading needs on average, "
        "there and acknowledged. In the way: what the straight line crosses, and what it takes."
    )
    return Group(heading("Who hears whom", note), made)


def _device(ear: Ear) -> list[Text]:
    """What stands beside the rows of a device: id, kind, and a mark where it is fragile."""
    told = [plain(ear.device.id, "bold"), plain(ear.device.kind.value)]
    if not ear.usable:
        told.append(Text("! unheard", ALERT))
    elif ear.lacks_parents:
        told.append(Text("! one parent" if ear.n_parents else "! no parent", ALERT))
    return told


def _link_row(links: LinkTable, ear: Ear, link: Link) -> list[str | Text]:
    is_sender = link.a == ear.device.id
    sent, heard = (link.there, link.back) if is_sender else (link.back, link.there)
    margin_db, cost = links.margin_db(link), links.cost(link)
    margin = Text(f"{margin_db:.0f}")
    if margin_db < THIN_MARGIN_DB:
        margin = Text(f"! {margin_db:.0f}", ALERT)
    return [
        other_end(link, ear.device.id),
        "" if link.distance_m is None else f"{link.distance_m:.1f}",
        f"{sent.rssi_dbm:.0f}",
        f"{heard.rssi_dbm:.0f}",
        margin,
        "" if cost is None else f"{cost / COST_PER_TRANSMISSION:.2f}",
        "measured" if link.measured else "predicted",
        _in_the_way(links, link, is_sender),
    ]


def _in_the_way(links: LinkTable, link: Link, is_forward: bool) -> str:
    """What stands in the way, seen from the device, with what each takes."""
    if not link.hindrances:
        return "nothing" if links.building.is_drawn else "not drawn"
    ordered = link.hindrances if is_forward else link.hindrances[::-1]
    return ", ".join(f"{visible(one.what)} {one.loss_db:.0f}" for one in ordered)


def _miss_row(links: LinkTable, ear: Ear) -> list[str | Text]:
    link = ear.nearest_miss
    if link is None:
        return ["nobody", "", "", "", "", "", "", "no link within reach"]
    row = _link_row(links, ear, link)
    return [f"({visible(str(row[0]))})", *row[1:-1], f"not usable; {row[-1]}"]


def check_page(site: Site, tables: Sequence[LinkTable]) -> Group:
    """Return what ``check`` tells of a sound site.

    Parameters
    ----------
    site : Site
        As read. [-]
    tables : sequence of LinkTable
        One for each layout, in their order. [-]
    """
    found = [(links, ears(links)) for links in tables]
    summary = (
        f"{visible(site.name)} is sound: {_drawn(site.building)}, "
        f"{counted(len(site.layouts), 'layout')}; a lifetime is {site.horizon_years:g} years from "
        f"{site.hand_over.isoformat()}."
    )
    parts = [plain(summary)]
    for links, heard in found:
        few = [ear.device.id for ear in heard if _is_lonely_sensor(ear)]
        if few:
            name = visible(links.layout.name)
            parts.append(
                alert(f"In layout {name} fewer than two neighbours can be parent of {listed(few)}.")
            )
    notes = [bullets("Notes", site.notes)] if site.notes else []
    surveyed = all(link.measured for links in tables for link in links.links)
    return spaced([*parts, _layouts(found), *notes, cautions(is_surveyed=surveyed)])


def _drawn(building: Building) -> str:
    """What the reader found drawn, each kind counted."""
    kinds = {
        "level": building.levels,
        "wall": building.walls,
        "door": building.doors,
        "pillar": building.pillars,
        "shaft": building.shafts,
    }
    present = [counted(len(things), kind) for kind, things in kinds.items() if things]
    return ", ".join(present) or "no building drawn"


def _is_lonely_sensor(ear: Ear) -> bool:
    return ear.device.kind is Kind.SENSOR and ear.lacks_parents


def _layouts(found: Sequence[tuple[LinkTable, tuple[Ear, ...]]]) -> Group:
    made = table(
        (
            "layout",
            "gateways",
            "sensors",
            "repeaters",
            "links usable",
            "measured",
            "sensors with fewer\nthan two parents",
        )
    )
    for links, heard in found:
        usable = [link for link in links.links if links.is_usable(link)]
        n_measured = sum(link.measured for link in usable)
        n_lonely = sum(_is_lonely_sensor(ear) for ear in heard)
        counts = (*kind_counts(links.layout), len(usable), n_measured, n_lonely)
        add_row(made, [links.layout.name, *(str(count) for count in counts)])
    note = (
        "Links usable both ways, with everything calm and paths as predicted on average. A parent "
        "is the neighbour that passes a sensor's readings on."
    )
    return Group(heading("Layouts", note), made)


def kind_counts(layout: Layout) -> tuple[int, int, int]:
    """Numbers of gateways, sensors and repeaters.

    Parameters
    ----------
    layout : Layout
        What is installed. [-]
    """
    kinds = (Kind.GATEWAY, Kind.SENSOR, Kind.REPEATER)
    return tuple(len(layout.of_kind(kind)) for kind in kinds)  # type: ignore[return-value]


def check_json(site: Site, tables: Sequence[LinkTable]) -> dict[str, object]:
    """Return what ``check`` tells of a sound site under stable keys.

    Parameters
    ----------
    site : Site
        As read. [-]
    tables : sequence of LinkTable
        One for each layout, in their order. [-]
    """
    layouts = []
    for links in tables:
        n_gateways, n_sensors, n_repeaters = kind_counts(links.layout)
        layouts.append(
            {
                "name": links.layout.name,
                "gateways": n_gateways,
                "sensors": n_sensors,
                "repeaters": n_repeaters,
                "usable_links": sum(links.is_usable(link) for link in links.links),
                "sensors_with_fewer_than_two_parents": [
                    ear.device.id for ear in ears(links) if _is_lonely_sensor(ear)
                ],
            }
        )
    return {
        "format": 1,
        "site": site.name,
        "sound": True,
        "levels": [level.id for level in site.building.levels],
        "walls": len(site.building.walls),
        "horizon_years": site.horizon_years,
        "hand_over": site.hand_over.isoformat(),
        "layouts": layouts,
        "notes": list(site.notes),
    }
