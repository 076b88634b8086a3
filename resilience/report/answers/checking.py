"""What was read of a site, and whether it is sound: the answer of ``check``."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from resilience.building.site import Kind, Layout, Site
from resilience.building.structure import Building
from resilience.connectivity.hearing import Ear, ears, other_end
from resilience.connectivity.luck.routes import Routes, routes
from resilience.connectivity.table import LinkTable
from resilience.errors import Fault
from resilience.hazards.table import links_through
from resilience.report.evidence import drawn_kinds, drawn_words, on_trust, start_words
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
    Page,
    Part,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.words import changing_thing, counted, listed, rounded, visible

MOST_NAMED = 3
LEAST_BEHIND = 2  # sensors; one alone is told as having few parents
SURE_SHARE = 0.95  # of possible buildings


@dataclass(frozen=True, slots=True)
class Looked:
    """One layout as ``check`` looks at it.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    heard : tuple of Ear
        The same, device by device. [-]
    routes : Routes
        Who has a way to a gateway. [-]
    """

    links: LinkTable
    heard: tuple[Ear, ...]
    routes: Routes

    @classmethod
    def at(cls, links: LinkTable, seed: int) -> "Looked":
        """Look at the links of a layout, and at possible buildings of a seed."""
        return cls(links, ears(links), routes(links, seed))

    @property
    def deaf(self) -> list[Ear]:
        """Devices other than gateways that nobody hears."""
        return [one for one in self.heard if not one.usable and one.device.kind is not Kind.GATEWAY]

    @property
    def lonely(self) -> list[str]:
        """Sensors with fewer than two possible parents."""
        return [one.device.id for one in self.heard if _is_lonely_sensor(one)]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """Gateways that nobody hears."""
        where = f"layouts/{visible(self.links.layout.name)}/devices.csv"
        return tuple(
            Fault(
                f"{where}, gateway {visible(ear.device.id)}",
                "nobody who hears it",
                f"{_nearest(ear, self.links)}move it, put a repeater between, or measure the path",
            )
            for ear in self.heard
            if not ear.usable and ear.device.kind is Kind.GATEWAY
        )


def _nearest(ear: Ear, links: LinkTable) -> str:
    """Who comes nearest to hearing a device that nobody hears."""
    if not ear.missed:
        return "nothing comes near; "
    link = ear.missed[0]
    through = ", ".join(visible(one.what) for one in link.hindrances[:MOST_NAMED])
    name, short_db = other_end(link, ear.device.id), rounded(-links.margin_db(link), 0)
    return (
        f"{visible(name)} comes nearest, {short_db} dB short"
        f"{f' through {through}' if through else ''}; "
    )


def faults_of(found: Sequence[Looked]) -> tuple[Fault, ...]:
    """Return what makes layouts unsound though every file could be read.

    Parameters
    ----------
    found : sequence of Looked
        The layouts. [-]
    """
    return tuple(fault for one in found for fault in one.faults)


def check_page(site: Site, found: Sequence[Looked]) -> Page:
    """Return what ``check`` tells of a site that could be read.

    Parameters
    ----------
    site : Site
        As read. [-]
    found : sequence of Looked
        Its layouts, in their order. [-]
    """
    faults = faults_of(found)
    verdict = f"not sound ({counted(len(faults), 'fault')})" if faults else "sound"
    summary = (
        f"{visible(site.name)} is {verdict}: {drawn_words(site.building)}, "
        f"{counted(len(site.layouts), 'layout')}; a lifetime is {site.horizon_years:g} years from "
        f"{site.begins.isoformat()}."
    )
    told = (*site.notes, *_still(site.building))
    return page(
        [
            *(Alert(f"{fault}.") for fault in faults),
            Text(summary),
            Text(on_trust(site), Tone.QUIET),
            *([Text(start_words(site))] if site.standing.today else []),
        ],
        _layouts(found),
        *(_told(site, one) for one in found),
        Bullets("Notes", told) if told else (),
        cautions(is_surveyed=all(one.links.is_measured.all() for one in found)),
    )


def _told(site: Site, one: Looked) -> Block:
    """What somebody should know of one layout, the worst first."""
    told = [*_cut_off(one), *_bottlenecks(one)]
    few = [id for id in one.lonely if id not in {ear.device.id for ear in one.deaf}]
    if few:
        told.append(Alert(f"Fewer than two neighbours can be parent of {listed(few)}."))
    told += _unsure(one.routes)
    idle = _in_no_way(site, one.links)
    if idle:
        told.append(Text(f"No link passes {listed(idle)}: no hazard there."))
    return titled(f"Layout {one.links.layout.name}", "", *told) if told else ()


def _cut_off(one: Looked) -> list[Part]:
    """Who hears nobody, and who is heard but has no way to a gateway."""
    told: list[Part] = []
    for ear in one.deaf[:MOST_NAMED]:
        near = _nearest(ear, one.links).removesuffix("; ")
        told.append(Alert(f"Nobody hears {visible(ear.device.id)}: {near}."))
    if len(one.deaf) > MOST_NAMED:
        more = listed([ear.device.id for ear in one.deaf[MOST_NAMED:]])
        told.append(Alert(f"Nobody hears {more} either."))
    alone = {ear.device.id for ear in one.deaf} | one.routes.as_drawn
    astray = [id for id in one.routes.in_buildings if id not in alone]
    if astray:
        told.append(Alert(f"No way to a gateway as drawn: {listed(astray)}."))
    return told


def _bottlenecks(one: Looked) -> list[Part]:
    """Devices that all ways of some sensors lead through."""
    n_sensors = len(one.routes.in_buildings)
    told: list[Part] = []
    for id, behind in list(one.routes.behind.items())[:MOST_NAMED]:
        some = f"{'all' if len(behind) == n_sensors else f'{len(behind)} of'} {n_sensors}"
        sensors = "the one sensor" if n_sensors == 1 else f"{some} sensors"
        sentence = f"All ways of {sensors} lead through {visible(id)}."
        if len(behind) >= n_sensors / 2:
            told.append(Alert(sentence))
        elif len(behind) >= LEAST_BEHIND:
            told.append(Text(sentence))
    return told


def _unsure(found: Routes) -> list[Part]:
    """Sensors with a way as drawn, but not in enough of the possible buildings."""
    enough = SURE_SHARE * found.n_buildings
    by_count: dict[int, list[str]] = defaultdict(list)
    for id, n in found.in_buildings.items():
        if id in found.as_drawn and n < enough:
            by_count[n].append(id)
    told = [f"{listed(ids)} in {n}" for n, ids in sorted(by_count.items())]
    if not told:
        return []
    n_more = sum(len(ids) for _, ids in sorted(by_count.items())[MOST_NAMED:])
    others = f"; {n_more} more not in all" if n_more else ""
    named = "; ".join(told[:MOST_NAMED])
    return [Text(f"Of {found.n_buildings} possible buildings there is a way for {named}{others}.")]


def still_doors(building: Building) -> tuple[str, ...]:
    """Ids of the doors that stay as drawn in every lifetime.

    Parameters
    ----------
    building : Building
        As drawn. [-]
    """
    return tuple(door.id for door in building.doors if door.change is None)


def _still(building: Building) -> list[str]:
    still = still_doors(building)
    if not still:
        return []
    return [f"Doors that never change: {listed(still)}. Say changes: on where a leaf moves."]


def _in_no_way(site: Site, links: LinkTable) -> list[str]:
    """Doors and obstacles that change and that no link passes."""
    if site.hazards.obstacles is None:
        return []
    passed = links_through(links)
    building = site.building
    return [changing_thing(building, id)[0] for id in building.changing if id not in passed]


def _is_lonely_sensor(ear: Ear) -> bool:
    return ear.device.kind is Kind.SENSOR and ear.lacks_parents


def _layouts(found: Sequence[Looked]) -> Block:
    rows = []
    for one in found:
        links, ways = one.links, one.routes
        n_usable, n_measured = links.usable.sum(), (links.usable & links.is_measured).sum()
        kinds = " + ".join(str(n) for n in kind_counts(links.layout))
        counts = (str(n_usable), str(n_measured), str(len(ways.as_drawn)))
        shares = (f"{ways.n_all} of {ways.n_buildings}", str(len(one.lonely)))
        rows.append((links.layout.name, kinds, *counts, *shares))
    columns = (
        *words("layout"),
        *figures("gateways\n+ sensors\n+ repeaters"),
        Column("links\nusable", note="both ways, when calm and as predicted on average"),
        *figures("of these\nmeasured"),
        Column("route\nas drawn", note="sensors with a way to a gateway over such links"),
        Column(
            "all have one\nin buildings",
            note="possible buildings, drawn as compare draws them, in which every sensor has a way",
        ),
        Column("one\nparent", note="sensors with fewer than two neighbours that pass readings on"),
    )
    return titled("Layouts", "", Table(columns, tuple(rows)))


def kind_counts(layout: Layout) -> tuple[int, int, int]:
    """Numbers of gateways, sensors and repeaters.

    Parameters
    ----------
    layout : Layout
        What is installed. [-]
    """
    kinds = (Kind.GATEWAY, Kind.SENSOR, Kind.REPEATER)
    return tuple(len(layout.of_kind(kind)) for kind in kinds)  # type: ignore[return-value]


def check_json(site: Site, found: Sequence[Looked]) -> dict[str, object]:
    """Return what ``check`` tells of a site that could be read under stable keys.

    Parameters
    ----------
    site : Site
        As read. [-]
    found : sequence of Looked
        Its layouts, in their order. [-]
    """
    faults = faults_of(found)
    return {
        "format": 1,
        "site": site.name,
        "sound": not faults,
        "faults": [asdict(fault) for fault in faults],
        "levels": [level.id for level in site.building.levels],
        "walls": len(site.building.walls),
        "drawn": {kind: len(things) for kind, things in drawn_kinds(site.building).items()},
        "doors_that_never_change": list(still_doors(site.building)),
        "horizon_years": site.horizon_years,
        "hand_over": site.hand_over.isoformat(),
        "begins": site.begins.isoformat(),
        "in_service": [one.id for one in site.standing.devices],
        "layouts": [_layout_json(one) for one in found],
        "notes": list(site.notes),
    }


def _layout_json(one: Looked) -> dict[str, object]:
    n_gateways, n_sensors, n_repeaters = kind_counts(one.links.layout)
    ways = one.routes
    return {
        "name": one.links.layout.name,
        "gateways": n_gateways,
        "sensors": n_sensors,
        "repeaters": n_repeaters,
        "usable_links": int(one.links.usable.sum()),
        "unheard": [ear.device.id for ear in one.heard if not ear.usable],
        "sensors_with_fewer_than_two_parents": one.lonely,
        "sensors_with_a_route_as_drawn": sorted(ways.as_drawn),
        "possible_buildings": ways.n_buildings,
        "possible_buildings_in_which_all_have_a_route": ways.n_all,
        "possible_buildings_with_a_route": ways.in_buildings,
        "only_way_of": {id: list(behind) for id, behind in ways.behind.items()},
    }


def faults_json(faults: Sequence[Fault]) -> dict[str, object]:
    """Return the mistakes of a site under stable keys.

    Parameters
    ----------
    faults : sequence of Fault
        All mistakes. [-]
    """
    return {"format": 1, "sound": False, "faults": [asdict(fault) for fault in faults]}
