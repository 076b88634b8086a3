"""What happens within one layout: what it hangs on, year by year, device by device."""

import math
from collections.abc import Iterator

from resilience.montecarlo.figures import CellLife
from resilience.report.advising.weakness import helping_blocks
from resilience.report.answers.radio import in_the_way, known_of
from resilience.report.binding.document import Chapter, Listing, Piece, listed_block
from resilience.report.charts.bars import Bar, bars
from resilience.report.charts.whiskers import Whisker, whiskers
from resilience.report.comparing.dependence import dependences
from resilience.report.drawing.marks import Figure
from resilience.report.pages import Column, Heading, Row, Table, Text, words
from resilience.report.showing.drawn import LEAST_SHARE, pictures
from resilience.report.showing.facts import Shown, Within, bound_cells
from resilience.report.showing.order import whisker
from resilience.report.words import counted, per_year, rounded, two_digits, visible
from resilience.units import HOURS_PER_YEAR

MOST_THINGS, LEAST_THING = 12, 0.005
MOST_CELLS = 30
LEAST_TOLD = 0.0001  # share of the time; of less only that it is less
MONTHS_PER_YEAR = 12


def layout_chapter(shown: Shown, within: Within) -> Chapter:
    """Chapter of one layout.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    within : Within
        The layout. [-]
    """
    title = f"Layout {within.name}"
    twin = _twin(shown, within)
    if twin:
        told = (
            f"A copy of {visible(twin)}: the same devices at the same places, with the same links. "
            "What its chapter says holds here, too."
        )
        return Chapter(title, (Text(told),))
    pieces: list[Piece] = [
        *pictures(within),
        Heading(f"What {within.name} hangs on"),
        *_blame(shown, within),
        *_helping(within),
        Heading(f"Year by year, and how deep, with {within.name}"),
        *_years(within),
        _depths(within),
        _sensors(within),
        _links(within),
        Heading(f"Cells of {within.name}"),
        *_cells(shown, within),
        _strikes(within),
    ]
    return Chapter(title, tuple(pieces), starts_page=True)


def _twin(shown: Shown, within: Within) -> str:
    """Name of a layout with a chapter before this one that is the same; empty where none is."""
    here = within.placed.layout
    for one in shown.layouts:
        before = one.placed.layout
        if before.name == here.name:
            return ""
        if (before.devices, before.links) == (here.devices, here.links):
            return before.name
    return ""


def _titled(figure: Figure, *notes: str) -> Figure:
    return Figure(
        figure.title, figure.about, figure.width, figure.height, figure.drawn, tuple(notes)
    )


def _blame(shown: Shown, within: Within) -> list[Piece]:
    """What takes the hours."""
    study = within.study
    blame = shown.comparison.ranked_by.blame(study)
    found = [one for one in dependences(study, blame, shown.site.building) if one.hours > 0]
    if not found:
        return [Text("In no lifetime played was a sensor cut off.")]
    told = [one for one in found if one.share >= LEAST_THING][:MOST_THINGS]
    rows = [
        Bar(
            one.name,
            one.hours,
            f"{two_digits(one.hours)} h, {100 * one.share:.0f} %",
            f"{one.name}: {two_digits(one.hours)} h of a sensor in a year, "
            f"{100 * one.share:.0f} % of all; {one.happens or 'nothing strikes it'}",
        )
        for one in told
    ]
    chart = bars(
        f"Hours cut off by what was away, layout {visible(within.name)}",
        "hours cut off, of a sensor in a year",
        rows,
    )
    columns = (
        *words("while away"),
        Column("h", note="cut off, of a sensor in a year, as far as it is the cause"),
        Column("%", note="of all such hours"),
        *words("what happens to it"),
    )
    lines = tuple(
        (one.name, f"{one.hours:.3g}", f"{100 * one.share:.1f}", one.happens) for one in found
    )
    title = f"What {visible(within.name)} hangs on, in full"
    return [_titled(chart), Listing(title, Table(columns, lines), is_folded=True)]


def _helping(within: Within) -> Iterator[Piece]:
    """What is weak, and what would help: where to begin, not what was tried."""
    if within.weakness is None:
        return
    for block in helping_blocks(within.weakness):
        if any(isinstance(part, Table) for part in block):  # else it says only what is not known
            yield from listed_block(block, visible(within.name))


def _years(within: Within) -> list[Piece]:
    retold = within.retold
    rows = [
        whisker(f"year {n + 1}", one, "h of a sensor") for n, one in enumerate(retold.hours_by_year)
    ]
    chart = whiskers(
        f"Hours cut off, year by year, layout {visible(within.name)}",
        "hours cut off, of a sensor",
        rows,
    )
    note = f"{within.told_from} The wait for a first way is included."
    return [_titled(chart, note)]


def _depths(within: Within) -> Figure:
    shares = within.retold.depth_share
    rows = [
        Bar(
            counted(n, "hop"),
            100 * share,
            f"{100 * share:.2g} %",
            f"{counted(n, 'hop')}: {100 * share:.3g} % of the sensors' time",
        )
        for n, share in shares.items()
    ]
    rest = 1 - sum(shares.values())
    rows.append(
        Bar(
            "no way",
            100 * rest,
            f"{100 * rest:.2g} %",
            f"no way, or failed: {100 * rest:.3g} % of the sensors' time",
        )
    )
    chart = bars(
        f"Radio steps to the gateway, layout {visible(within.name)}",
        "% of the sensors' time",
        rows,
    )
    return _titled(chart, within.told_from)


def _sensors(within: Within) -> Listing:
    columns = (
        *words("sensor", "level"),
        Column("silent, %", note="of the time, for any reason; both bounds at 95 %"),
        Column("at least"),
        Column("at most"),
        Column("silent, h\na year"),
        Column("cut off, %", note="works, but has no way to a gateway"),
        Column("at least"),
        Column("at most"),
        Column("failed, %", note="itself failed or flat"),
        Column(
            "sends to", is_text=True, note="for which share of the time, told from fewer lifetimes"
        ),
    )
    places = {one.id: one.place for one in within.placed.layout.devices}
    rows: list[Row] = []
    for one in within.study.sensor_figures:
        place, parents = places[one.id], within.parents_of(one.id)
        told = [f"{id} {100 * share:.0f} %" for id, share in parents[:3] if share >= LEAST_SHARE]
        rows.append(
            (
                one.id,
                place.level if place else "",
                *bound_cells(one.dark_share, 100),
                two_digits(one.dark_share.mean * HOURS_PER_YEAR),
                *bound_cells(one.orphan_share, 100),
                bound_cells(one.down_share, 100)[0],
                ", ".join(told),
            )
        )
    return Listing(f"Sensors of {visible(within.name)}", Table(columns, tuple(rows)))


def _links(within: Within) -> Listing:
    """Links that carry, each once; ``page.js`` tells from it what the line of a link is."""
    known, carried = known_of(within.links), within.retold.carried_share
    rows: list[Row] = []
    for link, _ in within.carrying(LEAST_SHARE):
        ways = [(carried.get(way, 0.0), *way) for way in ((link.a, link.b), (link.b, link.a))]
        (share, a, b), (back, *_) = sorted(ways, key=lambda way: -way[0])
        far = "" if link.distance_m is None else f"{link.distance_m:.1f}"
        basis = "yes" if link.measured else ""
        way = in_the_way(known, link, is_forward=a == link.a)
        more = (rounded(within.links.margin_db(link), 0), far, basis, way)
        rows.append((a, b, _percent(share), _percent(back) if back else "", *more))
    rows.sort(key=lambda row: (-float(str(row[2])), row[0], row[1]))
    columns = (
        *words("from", "to"),
        Column("carries, %", note="of the time"),
        Column("the other\nway, %"),
        Column("to spare, dB"),
        Column("m"),
        Column("measured", is_text=True, note="blank: predicted"),
        Column("in the way", is_text=True, note="with what it takes, and adds at times, dB"),
    )
    note = f"{within.told_from} Rarer ones are left out."
    title = f"Links that carry, layout {visible(within.name)}"
    return Listing(title, Table(columns, tuple(rows)), note, is_folded=True)


def _percent(share: float) -> str:
    if share < LEAST_TOLD:
        return f"<{100 * LEAST_TOLD:g}"
    return f"{100 * share:.2g}" if share < 0.1 else f"{100 * share:.1f}"


def _cells(shown: Shown, within: Within) -> list[Piece]:
    lives = within.study.cell_lives
    mortal = {id: life for id, life in lives.items() if math.isfinite(life.mean_months)}
    if not mortal:
        return [Text("No cells of this layout went flat or will.")]
    rows = [_life(id, life) for id, life in list(mortal.items())[:MOST_CELLS]]
    title, axis = f"When cells go, layout {visible(within.name)}", "years from a fresh set of cells"
    first = next(iter(mortal))
    lead = Text(
        f"The first cells to go are those of {visible(first)}, in year "
        f"{int(mortal[first].mean_months // MONTHS_PER_YEAR) + 1}. A lifetime here is "
        f"{shown.site.horizon_years:g} years."
    )
    n_more = len(lives) - len(rows)
    notes = [f"{counted(n_more, 'other device')} last longer: see the table."] if n_more else []
    return [lead, _titled(whiskers(title, axis, rows), *notes), _calendar(within)]


def _life(id: str, life: CellLife) -> Whisker:
    """Row of the chart of cells."""
    least, mean, most = _months(life)
    return Whisker(
        id,
        life.mean_months / MONTHS_PER_YEAR,
        life.least_months / MONTHS_PER_YEAR,
        life.most_months / MONTHS_PER_YEAR,
        f"{life.mean_months / MONTHS_PER_YEAR:.1f} years",
        f"{id}: {mean} months ({least} to {most or 'without end'} over lifetimes)",
    )


def _calendar(within: Within) -> Listing:
    kinds = {one.id: one for one in within.placed.layout.devices}
    columns = (
        *words("device", "kind", "cells"),
        Column("least, months", note="that average cells last, in their coldest month"),
        Column("mean", note="over lifetimes"),
        Column("most"),
    )
    rows = tuple(
        (id, kinds[id].kind.value, kinds[id].model.battery, *_months(life))
        for id, life in within.study.cell_lives.items()
    )
    return Listing(f"Battery calendar of {visible(within.name)}", Table(columns, rows))


def _months(life: CellLife) -> tuple[str, ...]:
    """Least, mean and most months of cells; empty where they never go."""
    spans = (life.least_months, life.mean_months, life.most_months)
    return tuple(f"{one:.0f}" if math.isfinite(one) else "" for one in spans)


def _strikes(within: Within) -> Listing:
    rows = tuple(
        (cause.replace("_", " "), id, per_year(n))
        for (cause, id), n in within.study.strikes_per_year.items()
    )
    columns = (*words("what strikes", "whom"), Column("times a year"))
    title = f"What strikes how often, layout {visible(within.name)}"
    return Listing(title, Table(columns, rows), is_folded=True)
