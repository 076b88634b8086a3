"""A portfolio as a document: all sites at a glance, those that need somebody first."""

from collections.abc import Iterator, Mapping
from itertools import islice

from resilience.ranking.many.portfolio import Portfolio
from resilience.ranking.many.sites import Figure, LayoutScore, Place, SiteScore
from resilience.report.binding.document import Chapter, Document, Links, Listing, Piece
from resilience.report.charts.whiskers import Whisker, whiskers
from resilience.report.many.portfolio import (
    TONES,
    failed_rows,
    made_by,
    since_words,
    summary,
    upkeep_sentence,
    visits,
    without_an_answer,
)
from resilience.report.pages import (
    NOT_SURVEYED,
    Column,
    Row,
    Table,
    Text,
    Tone,
    cautions,
    words,
)
from resilience.report.words import counted, two_digits, visible
from resilience.units import HOURS_PER_YEAR

MOST_DRAWN = 40  # sites in the chart
MOST_LISTED = 2000  # rows of a table; a browser stays at ease with them
NO_PROMISE = "none"


def overview(portfolio: Portfolio, kept_in: str, pages: Mapping[str, str]) -> Document:
    """Return what is known of many sites as a document.

    Parameters
    ----------
    portfolio : Portfolio
        What is known. [-]
    kept_in : str
        The run folder. [-]
    pages : mapping of str to str
        Pages of single sites, by the site's id: where each is, seen from the run folder. [-]
    """
    caution = cautions(is_surveyed=False).text
    return Document(
        "Failure resilience of many sensor networks",
        portfolio.name,
        (caution,),
        (
            _first(portfolio, pages),
            *_order(portfolio),
            *_missing(portfolio),
            Chapter(
                "Where this comes from",
                (*since_words(portfolio), Text(made_by(portfolio, kept_in))),
            ),
        ),
        NOT_SURVEYED.strip(),
        caution,
    )


def _first(portfolio: Portfolio, pages: Mapping[str, str]) -> Chapter:
    known = [score for score in portfolio.scores() if score.id in pages]
    of_sites = tuple((f"{one.id}: {one.title}", pages[one.id]) for one in known)
    pieces: list[Piece] = [
        *without_an_answer(portfolio),
        Text(summary(portfolio), Tone.STRONG),
        *visits(portfolio),
    ]
    if portfolio.n_scored:
        pieces.append(Text(upkeep_sentence(portfolio)))
    if of_sites:
        pieces.append(Links("Pages of single sites", of_sites))
    return Chapter("What to do first", tuple(pieces))


def _order(portfolio: Portfolio) -> Iterator[Chapter]:
    if not portfolio.ranked:
        return
    by, shown = portfolio.by, portfolio.ranked[:MOST_DRAWN]
    drawn = [_whisker(place, score.id, score.best(by).hours) for place, score in shown]
    left = len(portfolio.ranked) - len(drawn)
    more = f" {counted(left, 'site')} more in the table." if left else ""
    lead = Text(
        f"Counted as the worst: {portfolio.n_worst} of {len(portfolio.ranked)} sites. A dot is the "
        f"best value, the line through it what chance leaves open for all sites at once.{more}"
    )
    title = "Hours cut off, of a sensor in a year"
    chart = whiskers(title, "hours cut off, of a sensor in a year", drawn)
    yield Chapter(
        "Which sites", (lead, chart, _ranking(portfolio), _grounds(portfolio), _layouts(portfolio))
    )


def _whisker(place: Place, name: str, hours: Figure) -> Whisker:
    mean, low, high = hours.mean, hours.low, hours.high
    if not _has_bounds(hours):
        low = high = mean
    shown = two_digits(mean)
    told = f"{visible(name)}: {shown} h a year, among the worst: {place.among_worst.value}"
    return Whisker(f"{place.rank}. {name}", mean, low, high, shown, told)


def _has_bounds(hours: Figure) -> bool:
    """Whether there were lifetimes enough for a bound."""
    return hours.high < HOURS_PER_YEAR


FIGURES = (
    Column("cut off, h", note="of a sensor in a year, site outages apart"),
    Column("at least", note="bounds for all layouts of all sites together"),
    Column("at most"),
    Column("promise", is_text=True, note="of this site alone; whose promise it is in brackets"),
    Column("broken, %", note="lifetimes that break the promise"),
    *words("worst sensor"),
    Column("of time, %", note="for which that sensor is cut off"),
)


def _figures(score: SiteScore, layout: LayoutScore) -> Row:
    hours, breach = layout.hours, layout.breach
    bounds = (hours.low, hours.high) if _has_bounds(hours) else ()
    promise = f"{layout.verdict.value} ({score.promise})" if layout.verdict else NO_PROMISE
    return (
        two_digits(hours.mean),
        *(map(two_digits, bounds) if bounds else ("", "")),
        promise,
        two_digits(100 * breach.mean) if breach else "",
        layout.worst_sensor,
        two_digits(100 * layout.sensor.mean),
    )


def _ranking(portfolio: Portfolio) -> Listing:
    by, shown = portfolio.by, tuple(portfolio.ranked[:MOST_LISTED])
    has_tags = any(score.tags for _, score in shown)
    columns = (
        Column("rank", note="by the mean; bounds leave open from which rank to which"),
        *(Column("from"), Column("to")),
        *words("site", "name", *["tags"] * has_tags, "layout"),
        Column("among\nworst", is_text=True, note="surely or perhaps, for all sites at once"),
        *FIGURES,
    )
    rows = tuple(
        (
            *(str(place.rank), str(place.best_rank), str(place.worst_rank)),
            *(score.id, score.title, *[", ".join(score.tags)] * has_tags),
            score.best(by).name,
            Text(place.among_worst.value, TONES[place.among_worst]),
            *_figures(score, score.best(by)),
        )
        for place, score in shown
    )
    left = len(portfolio.ranked) - len(rows)
    more = f" {counted(left, 'site')} more in sites.csv." if left else ""
    taken = "Of its layouts the one that is taken: it keeps the promise, at least risk."
    return Listing("Ranking", Table(columns, rows), f"{taken}{more}")


def _grounds(portfolio: Portfolio) -> Listing:
    columns = (
        *words("site"),
        Column("links\nmeasured"),
        Column("things\ndrawn", note="walls, doors, pillars and whatever else stands there"),
        Column("defaults\ntaken", note="uncertain ones that the site does not state itself"),
        *words("state at the start"),
        *words("hangs on most"),
        Column("of hours, %", note="that are put down to it"),
        Column("not as\ndrawn, %", note="possible buildings in which some sensor finds no way"),
        Column("visits\na month"),
    )
    rows = tuple(_grounds_row(one, one.best(portfolio.by)) for one in _listed(portfolio))
    note = "The less is measured and drawn, the safer a site may look than it is."
    return Listing("What each answer rests on", Table(columns, rows), note)


def _grounds_row(score: SiteScore, layout: LayoutScore) -> Row:
    rests_on = score.evidence
    return (
        score.id,
        *(str(rests_on.links_measured), str(rests_on.things_drawn), str(rests_on.defaults_taken)),
        score.starts,
        layout.hangs_on,
        f"{100 * layout.hangs_on_share:.0f}" if layout.hangs_on else "",
        two_digits(100 * layout.not_as_drawn_share),
        two_digits(layout.visits_per_month),
    )


def _layouts(portfolio: Portfolio) -> Listing:
    columns = (*words("site", "layout"), *FIGURES, Column("lifetimes"))
    rows = tuple(
        (score.id, layout.name, *_figures(score, layout), str(layout.lifetimes))
        for score in _listed(portfolio)
        for layout in score.layouts
    )
    return Listing("All layouts", Table(columns, rows[:MOST_LISTED]), is_folded=True)


def _listed(portfolio: Portfolio) -> tuple[SiteScore, ...]:
    return tuple(islice(portfolio.scores(), MOST_LISTED))


def _missing(portfolio: Portfolio) -> Iterator[Chapter]:
    rows = (
        *failed_rows(portfolio.failures[:MOST_LISTED]),
        *((name, "not reached: the same command goes on") for name in portfolio.not_reached),
    )
    if rows:
        table = Table(words("site", "what is wrong"), rows[:MOST_LISTED])
        yield Chapter("Sites without an answer", (Listing("What is wrong", table),))
