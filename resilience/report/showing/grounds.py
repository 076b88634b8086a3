"""What all of it rests on: what was put in, what was assumed and who says so, what made it."""

from resilience.assumptions.catalogue import settings
from resilience.draws import STREAM_VERSION
from resilience.report.answers.catalogue import setting_cells
from resilience.report.binding.document import Chapter, Listing
from resilience.report.evidence import drawn_words
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.showing.facts import Shown
from resilience.report.words import counted


def grounds_chapter(shown: Shown) -> Chapter:
    """Chapter of inputs, assumptions, seed and versions.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    site, leader = shown.site, shown.comparison.leader
    lead = Text(
        f"{drawn_words(site.building)}; {counted(len(site.layouts), 'layout')} of "
        f"{counted(len(leader.sensors), 'sensor')}; a lifetime is {site.horizon_years:g} years "
        f"from {site.hand_over.isoformat()}."
    )
    versions = ", ".join(f"{name} {value}" for name, value in shown.versions.items())
    made = (
        f"Made on {shown.made_on.isoformat()} with {versions}; draws of version {STREAM_VERSION}; "
        f"{shown.engine} engine.",
        f"Seed {leader.seed}; the same seed and the same files give the same figures.",
        f"It stopped because {leader.stopped_because}.",
        *site.notes,
    )
    return Chapter(
        "What it rests on",
        (lead, Bullets("How it was made", made), *_devices(shown), _assumed(shown)),
    )


def _devices(shown: Shown) -> list[Listing]:
    columns = (
        *words("device", "kind", "level"),
        *(Column(head) for head in ("x, m", "y, m", "height, m")),
        *words("supply", "model", "circuit", "note"),
    )
    found = []
    for one in shown.layouts:
        rows: list[Row] = []
        for device in one.placed.layout.devices:
            place = device.place
            where: tuple[str, ...] = ("", "", "", "")
            if place is not None:
                where = (place.level, *(f"{m:g}" for m in (place.x_m, place.y_m, place.height_m)))
            more = (device.supply.value, device.model_name, device.circuit_id, device.note)
            rows.append((device.id, device.kind.value, *where, *more))
        title = f"Devices of layout {one.name}"
        found.append(Listing(title, Table(columns, tuple(rows)), is_folded=True))
    return found


def _assumed(shown: Shown) -> Listing:
    columns = (
        *words("key", "stated by"),
        Column("default"),
        *words("unit", "range", "confidence", "meaning; source"),
    )
    rows = tuple(
        (one.key, "the site" if shown.site.states(one.key) else "nobody", *setting_cells(one)[1:])
        for one in settings()
    )
    note = (
        "Every number that is taken for granted, with the range of plausible values, how much it "
        "is trusted, and who says so. What the site states itself takes the place of the default."
    )
    return Listing("Assumptions with their sources", Table(columns, rows), note, is_folded=True)
