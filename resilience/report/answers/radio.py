"""What the radio says before anything is played: the answer of ``links``."""

from collections.abc import Sequence
from dataclasses import dataclass

from resilience.building.site import Site
from resilience.building.text.entries import alternatives
from resilience.connectivity.hearing import (
    DISAGREE_DB,
    LIMITS_DB,
    NEAR_DB,
    THIN_MARGIN_DB,
    Ear,
    Opinion,
    ears,
    is_near_limit,
    opinions,
    other_end,
)
from resilience.connectivity.luck.spreads import spreads_db
from resilience.connectivity.reception import COST_PER_TRANSMISSION
from resilience.connectivity.rows import Link
from resilience.connectivity.table import Floats, LinkTable
from resilience.errors import UsageError
from resilience.report.evidence import evidence_block
from resilience.report.pages import (
    GAP,
    Alert,
    Block,
    Column,
    Page,
    Part,
    Row,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.words import counted, listed, rounded, visible

MOST_NEIGHBOURS = 6  # of each device; the rest is counted
MOST_MISSES = 2
MOST_OPINIONS = 30
THIN, NEAR = "!", "?"


@dataclass(frozen=True, slots=True)
class Known:
    """A link table with how sure each strength is.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    spread_db : Floats
        Of each link, one standard deviation. [dB]
    adds_db : dict of float by str
        What each door or obstacle that changes adds. [dB]
    """

    links: LinkTable
    spread_db: Floats
    adds_db: dict[str, float]


def links_page(
    links: LinkTable,
    other_layouts: Sequence[str] = (),
    second_opinion: bool = False,
    device: str | None = None,
    site: Site | None = None,
) -> Page:
    """Return everything that ``links`` tells of one layout.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    other_layouts : sequence of str
        Names of the site's other layouts. [-]
    second_opinion : bool
        Whether to add where the multi-wall model says otherwise. [-]
    device : str or None
        Id of the one device whose neighbours are wanted, all of them; None shows the best of each.
        [-]
    site : Site or None
        The site, to be told what all of that rests on. [-]

    Raises
    ------
    UsageError
        The layout has no such device.
    """
    found = ears(links)
    asked = [ear for ear in found if device in (None, ear.device.id)]
    if not asked:
        way_out = alternatives(device or "", (ear.device.id for ear in found))
        raise UsageError(f"layout {links.layout.name} has no device {device!r}: {way_out}")
    n_usable = int(links.usable.sum())
    title = f"Links of layout {visible(links.layout.name)}"
    others = f" The site also has {listed(other_layouts)} (--layout)." if other_layouts else ""
    surveyed = bool(links.is_measured.all())
    summary = (
        f"{counted(len(found), 'device')}, {counted(n_usable, 'usable link')}, with everything "
        f"calm and paths as {'measured' if surveyed else 'predicted on average'}.{others}"
    )
    known = known_of(links)
    return page(
        titled(title, summary),
        _warnings(links, found),
        _neighbours(known, asked, device),
        _second_opinion(known) if second_opinion else (),
        evidence_block(site, is_played=False) if site else (),
        cautions(is_surveyed=surveyed),
    )


def known_of(links: LinkTable) -> Known:
    """Return how sure each link of a table is.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    """
    adds_db = {id: change.adds_db for id, change in links.building.changing.items()}
    return Known(links, spreads_db(links), adds_db)


def _warnings(links: LinkTable, found: Sequence[Ear]) -> Block:
    deaf = [ear.device.id for ear in found if not ear.usable]
    few = [ear.device.id for ear in found if ear.usable and ear.lacks_parents]
    n_thin = int((links.margins_db[links.usable] < THIN_MARGIN_DB).sum())
    n_near = sum(map(is_near_limit, links.margins_db.tolist()))
    told: list[Part] = []
    if deaf:
        told.append(Alert(f"Nobody hears {listed(deaf)}."))
    if few:
        told.append(Alert(f"Fewer than two neighbours that could be a parent: {listed(few)}."))
    if n_thin:
        thin = counted(n_thin, "usable link")
        told.append(Alert(f"{thin} with less than {THIN_MARGIN_DB:g} dB to spare."))
    if not told:
        told.append(Text("Every device has two neighbours or more, each with 10 dB to spare."))
    if n_near:
        told.append(
            Text(
                f"{NEAR} {counted(n_near, 'link')} within {NEAR_DB:g} dB of what is usable "
                f"({LIMITS_DB[0]:g} dB) or accepted at hand-over ({LIMITS_DB[1]:g} dB): measure "
                "these first."
            )
        )
    return tuple(told)


def _neighbours(known: Known, found: Sequence[Ear], device: str | None) -> Block:
    rows = [row for ear in found for row in (*_device_rows(known, ear, device is None), GAP)]
    return titled("Who hears whom", "", Table(_columns(known), tuple(rows[:-1])))


def _columns(known: Known) -> tuple[Column, ...]:
    corrected = "corrected: with what the site's measured links say of the others"
    way = "what the straight line crosses, or how it gets round, and what that takes"
    if known.adds_db:
        way += "; behind a plus: what it adds while a door is shut, or a thing stands there"
    return (
        *words("device"),
        Column("hears", is_text=True, note="usable both ways, the best first; (in brackets) fail"),
        *figures("dist.\nm"),
        Column("sent\ndBm", note="strength at the neighbour"),
        Column("heard\ndBm", note="strength at the device"),
        Column(
            "margin\ndB",
            note=f"what the weaker way can still lose; {THIN} less than {THIN_MARGIN_DB:g} dB, "
            f"{NEAR} within {NEAR_DB:g} dB of a limit",
        ),
        Column("sure\nto dB", note="two of three such paths turn out within so many dB"),
        Column("sends\neach", note="transmissions for a reading on average, acknowledged"),
        Column("basis", is_text=True, note=corrected if known.links.correction_db.any() else ""),
        Column("in the way, dB", is_text=True, note=way),
    )


def _device_rows(known: Known, ear: Ear, is_short: bool) -> list[Row]:
    """Rows of one device, with what it is beside those of its neighbours."""
    n_shown = MOST_NEIGHBOURS if is_short else len(ear.usable)
    rows = [_link_row(known, ear, link) for link in ear.usable[:n_shown]]
    n_more = len(ear.usable) - n_shown
    if n_more > 0:
        rows.append((f"{n_more} more", *[""] * 7, f"see --device {visible(ear.device.id)}"))
    rows += _missed(known, ear)
    marks = _device(ear)
    n_rows = max(len(rows), len(marks))
    rows += [("",) * 9] * (n_rows - len(rows))
    marks += [Text("")] * (n_rows - len(marks))
    return [(mark, *row) for mark, row in zip(marks, rows, strict=True)]


def _device(ear: Ear) -> list[Text]:
    """What stands beside the rows of a device: id, kind, and a mark where it is fragile."""
    told = [Text(ear.device.id, Tone.STRONG), Text(ear.device.kind.value)]
    if not ear.usable:
        told.append(Text("! unheard", Tone.ALERT))
    elif ear.lacks_parents:
        told.append(Text("! one parent" if ear.n_parents else "! no parent", Tone.ALERT))
    return told


def _link_row(known: Known, ear: Ear, link: Link) -> Row:
    is_sender = link.a == ear.device.id
    sent, heard = (link.there, link.back) if is_sender else (link.back, link.there)
    margin_db, cost = known.links.margin_db(link), known.links.cost(link)
    return (
        other_end(link, ear.device.id),
        "" if link.distance_m is None else f"{link.distance_m:.1f}",
        f"{sent.rssi_dbm:.0f}",
        f"{heard.rssi_dbm:.0f}",
        _margin(margin_db),
        f"{known.spread_db[link.row]:.0f}",
        "" if cost is None else f"{cost / COST_PER_TRANSMISSION:.2f}",
        basis(link),
        in_the_way(known, link, is_sender),
    )


def basis(link: Link) -> str:
    """Return in one word what the strength of a link rests on."""
    if link.measured:
        return "measured"
    return "corrected" if link.correction_db else "predicted"


def _margin(margin_db: float) -> Text:
    is_thin, is_near = margin_db < THIN_MARGIN_DB, is_near_limit(margin_db)
    marks = f"{THIN if is_thin else ''}{NEAR if is_near else ''}"
    return Text(f"{marks} {rounded(margin_db, 0)}".strip(), Tone.ALERT if is_thin else Tone.PLAIN)


def in_the_way(known: Known, link: Link, is_forward: bool) -> str:
    """What stands in the way, seen from the device, with what each takes, and adds at times.

    Parameters
    ----------
    known : Known
        The table that the link is of. [-]
    link : Link
        The link. [-]
    is_forward : bool
        Whether from its first end to its second. [-]
    """
    if not link.hindrances:
        return "nothing" if known.links.building.is_drawn else "not drawn"
    told = []
    for one in link.hindrances if is_forward else link.hindrances[::-1]:
        adds_db = known.adds_db.get(one.id)
        more = "" if adds_db is None else f" + {adds_db:.0f}"
        told.append(f"{visible(one.what)} {one.loss_db:.0f}{more}")
    return ", ".join(told)


def _missed(known: Known, ear: Ear) -> list[Row]:
    """Rows of links that nearly serve; of one that does not, where a device has nothing else."""
    nearly = [
        link for link in ear.missed[:MOST_MISSES] if is_near_limit(known.links.margin_db(link))
    ]
    rows: list[Row] = []
    for link in nearly or ([] if ear.usable else ear.missed[:1]):
        row = _link_row(known, ear, link)
        rows.append((f"({row[0]})", *row[1:-1], f"not usable; {row[-1]}"))
    if not rows and not ear.usable:
        rows.append(("nobody", *[""] * 7, "no link within reach"))
    return rows


def _second_opinion(known: Known) -> Block:
    title = "Second opinion"
    if not known.links.building.is_drawn:
        note = "Nothing is drawn for the multi-wall model of COST 231 to count."
        return titled(title, note)
    found = opinions(known.links)
    far_apart = [one for one in found if one.differs and one.may_serve(known.links)]
    note = (
        "The multi-wall model of COST 231 counts walls and floors at any angle and knows no "
        f"metal. Of {counted(len(found), 'path')}, these {len(far_apart)} are usable by one of the "
        f"two models at least, and more than {DISAGREE_DB:g} dB apart. Measure those that carry "
        "much."
    )
    rows: list[Row] = [_opinion_row(known, one) for one in far_apart[:MOST_OPINIONS]]
    if len(far_apart) > MOST_OPINIONS:
        rows.append((f"{len(far_apart) - MOST_OPINIONS} more", *[""] * 4, "see --json"))
    columns = (
        *words("path"),
        *figures("loss\nused, dB", "multi-\nwall, dB", "margin\ndB", "multi-\nwall, dB"),
        *words("in the way, dB"),
    )
    return titled(title, note, Table(columns, tuple(rows)))


def _opinion_row(known: Known, one: Opinion) -> Row:
    link, margin_db = one.link, known.links.margin_db(one.link)
    return (
        f"{link.a} to {link.b}",
        rounded(one.loss_db, 0),
        rounded(one.other_db, 0),
        _margin(margin_db),
        rounded(margin_db - one.apart_db, 0),
        in_the_way(known, link, is_forward=True),
    )


def links_json(links: LinkTable, second_opinion: bool = False) -> dict[str, object]:
    """Return what ``links`` tells of one layout under stable keys.

    Parameters
    ----------
    links : LinkTable
        Who hears whom at mean shadowing. [-]
    second_opinion : bool
        Whether to add what the multi-wall model says. [-]
    """
    known, document = known_of(links), links.to_json()
    told = document["links"]
    assert isinstance(told, list)
    if second_opinion:
        document["second_opinion"] = [
            {"id": one.link.id, "loss_db": one.loss_db, "multi_wall_db": one.other_db}
            for one in opinions(links)
        ]
    return {
        **document,
        "limits": {"usable_db": LIMITS_DB[0], "accepted_db": LIMITS_DB[1], "near_db": NEAR_DB},
        "devices": [_ear_json(ear) for ear in ears(links)],
        "links": [
            {**one, **_link_json(known, link)} for one, link in zip(told, links.links, strict=True)
        ],
    }


def _ear_json(ear: Ear) -> dict[str, object]:
    return {
        "id": ear.device.id,
        "kind": ear.device.kind.value,
        "usable_neighbours": [other_end(link, ear.device.id) for link in ear.usable],
        "possible_parents": ear.n_parents,
        "unheard": not ear.usable,
        "fewer_than_two_parents": ear.lacks_parents,
    }


def _link_json(known: Known, link: Link) -> dict[str, object]:
    margin_db = known.links.margin_db(link)
    return {
        "spread_db": float(known.spread_db[link.row]),
        "thin": margin_db < THIN_MARGIN_DB,
        "near_a_limit": is_near_limit(margin_db),
        "changing": [
            {"id": one.id, "adds_db": known.adds_db[one.id]}
            for one in link.hindrances
            if one.id in known.adds_db
        ],
    }
