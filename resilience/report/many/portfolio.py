"""What ``portfolio`` tells: which of many sites are at most risk, which few to visit, and why."""

import shlex
from collections.abc import Collection, Iterator, Sequence

from resilience.montecarlo.estimates import LEVEL
from resilience.policy.judgement import Verdict
from resilience.ranking.many.portfolio import Failure, Portfolio
from resilience.ranking.many.sites import Among, Figure, Place, Risk, SiteScore
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
    Command,
    Page,
    Row,
    Table,
    Text,
    Tone,
    cautions,
    page,
    titled,
    words,
)
from resilience.report.words import counted, two_digits, visible
from resilience.units import HOURS_PER_YEAR

MOST_ROWS = 20  # of the ranking; all are in the tables of the run
MOST_FAILURES = 10
RISKS = {
    Risk.HOURS: "hours cut off a sensor and year, site outages apart",
    Risk.BREACH: "lifetimes that break the promise",
    Risk.SENSOR: "time for which the worst sensor is cut off",
}


NONE_STANDS_OUT = Text(
    "No site stands out so far: none is surely among the worst, and no promise is shown to be "
    "broken. More lifetimes tell more."
)


def portfolio_page(portfolio: Portfolio, kept_in: str, page_file: str) -> Page:
    """Return everything that ``portfolio`` tells, what to do first.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    kept_in, page_file : str
        The run folder, and the document that shows the same. [-]
    """
    return page(
        without_an_answer(portfolio),
        Text(summary(portfolio), Tone.STRONG),
        *visits(portfolio),
        Text(upkeep_sentence(portfolio)) if portfolio.n_scored else (),
        *since_words(portfolio),
        _ranking(portfolio),
        _failed(portfolio.failures),
        Text(made_by(portfolio, kept_in), Tone.QUIET),
        Text(f"All sites at a glance: open {visible(page_file)} in a browser."),
        *_what_moved(portfolio, kept_in),
        cautions(is_surveyed=False),
    )


def without_an_answer(portfolio: Portfolio) -> Block:
    """Return what warns of sites without an answer; nothing where all have one.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    """
    told = []
    if portfolio.failures:
        told.append(f"{counted(len(portfolio.failures), 'site')} failed")
    if portfolio.not_reached:
        told.append(f"{counted(len(portfolio.not_reached), 'site')} not reached")
    if not told:
        return ()
    why = f" ({portfolio.stopped_because})" if portfolio.not_reached else ""
    return (Alert(f"Not every site has an answer: {', '.join(told)}{why}."),)


def summary(portfolio: Portfolio) -> str:
    """Return how many sites have a score, and how many can keep their promise.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    """
    n = portfolio.verdicts
    promises = [
        f"{n[verdict]} {phrase}"
        for verdict, phrase in (
            (Verdict.KEPT, "can keep their promise"),
            (Verdict.BROKEN, "break it"),
            (Verdict.UNDECIDED, "undecided"),
            (None, "without a promise"),
        )
        if n[verdict]
    ]
    scored = f"{counted(portfolio.n_scored, 'site')} scored"
    return f"{scored}: {', '.join(promises)}." if promises else f"{scored}."


def visits(portfolio: Portfolio) -> tuple[Bullets | Text, ...]:
    """Return which sites deserve a visit and why, or that none stands out.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    """
    worth = portfolio.worth_a_visit
    if not worth:
        return (NONE_STANDS_OUT,) if portfolio.n_scored else ()
    is_shared = len(worth) > 1 and not any(one.evidence.links_measured for one in worth)
    reasons = tuple(_why(score, portfolio.by, not is_shared) for score in worth)
    told = Bullets("Worth a visit first", reasons)
    measure = Text("No link of any of these is measured, so measure first.")
    return (told, measure) if is_shared else (told,)


def _why(score: SiteScore, by: Risk, tells_links: bool) -> str:
    layout = score.best(by)
    told = [f"{hours_words(layout.hours)} h cut off a sensor and year"]
    if score.verdict is Verdict.BROKEN and layout.breach is not None:
        told.append(
            f"the promise is broken in {two_digits(100 * layout.breach.mean)} % of lifetimes"
        )
    if layout.hangs_on:
        share = f"{100 * layout.hangs_on_share:.0f} % of what it loses hangs on"
        happens = f" ({layout.happens})" if layout.happens else ""
        told.append(f"{share} {visible(layout.hangs_on)}{happens}")
    if layout.not_as_drawn_share > 0:
        told.append(
            f"in {two_digits(100 * layout.not_as_drawn_share)} % of possible buildings some "
            "sensor never finds a way"
        )
    if tells_links and not score.evidence.links_measured:
        told.append("no link is measured, so measure first")
    return f"{visible(score.id)}: {'; '.join(told)}."


def hours_words(figure: Figure) -> str:
    """Return hours with their bounds.

    Parameters
    ----------
    figure : Figure
        Hours a sensor and year. [h/year]
    """
    if figure.high >= HOURS_PER_YEAR:  # too few lifetimes for a bound
        return two_digits(figure.mean)
    return f"{two_digits(figure.mean)} ({two_digits(figure.low)} to {two_digits(figure.high)})"


def upkeep_sentence(portfolio: Portfolio) -> str:
    """Return what a crew has to do that looks after all sites.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    """
    visits, worked_h = portfolio.visits_per_month, portfolio.worked_h_per_month
    makes = f"A crew that looks after all of them makes {two_digits(visits)} visits a month"
    if worked_h is None:  # repairs hold the waiting of some site
        return f"{makes}."
    return f"{makes}, which take {two_digits(worked_h)} working hours."


def since_words(portfolio: Portfolio) -> tuple[Text, ...]:
    """Return how many sites were taken over from an earlier run; nothing where none was named.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    """
    if portfolio.since is None:
        return ()
    scored = {score.id for score in portfolio.scores()}
    over, on = (
        len(scored.intersection(ids))
        for ids in (portfolio.since.taken_over, portfolio.since.gone_on)
    )
    told = [
        f"{over} taken over, as nothing that their lifetimes rest on has changed since",
        *([f"{on} as they were then, with more lifetimes"] if on else ()),
        f"{len(scored) - over - on} played anew",
    ]
    run = visible(portfolio.since.run)
    return (Text(f"Of {counted(len(scored), 'site')} since {run}: {'; '.join(told)}."),)


def _what_moved(portfolio: Portfolio, kept_in: str) -> tuple[Text | Command, ...]:
    if portfolio.since is None:
        return ()
    line = shlex.join(["resilience", "report", kept_in, "--since", portfolio.since.run])
    return Text("What has moved since then, site by site:"), Command(visible(line))


COLUMNS = (
    Column("rank", note="by the mean; what the bounds allow is in sites.csv"),
    Column(
        "site\nlayout",
        is_text=True,
        note="of its layouts the one that is taken: it keeps the promise, at least risk",
    ),
    Column("cut off, h\nbounds", note="hours a sensor and year without a way, site outages apart"),
    Column(
        "among\nworst", is_text=True, note="surely or perhaps, with bounds for all sites at once"
    ),
    Column(
        "promise\nbroken, %", is_text=True, note="of this site alone, as judge tells; lifetimes"
    ),
    Column("worst sensor\n% cut off", is_text=True, note="of the time"),
    Column(
        "rests on",
        is_text=True,
        note="links measured, things drawn, uncertain defaults taken, state at the start: the less "
        "is drawn, the safer a site may look than it is",
    ),
)


def _ranking(portfolio: Portfolio) -> Block:
    shown = portfolio.ranked[:MOST_ROWS]
    if not shown:
        return ()
    told = [f"The worst are {portfolio.n_worst} of {len(portfolio.ranked)}."]
    if left := len(portfolio.ranked) - len(shown):
        told.append(f"{counted(left, 'site')} more in sites.csv.")
    shared = _shared_grounds([score for _, score in shown])
    if shared:
        told.append(f"All of these rest on the same: {', '.join(shared)}.")
    rows = tuple(_row(place, score, portfolio.by, shared) for place, score in shown)
    return titled(f"Sites by {RISKS[portfolio.by]}", " ".join(told), Table(COLUMNS, rows))


def _row(place: Place, score: SiteScore, by: Risk, shared: Collection[str]) -> Row:
    layout = score.best(by)
    promise = f"{score.verdict.value} ({score.promise})" if score.verdict else "none"
    if layout.breach is not None:
        promise += f"\n{two_digits(100 * layout.breach.mean)}"
    hours, _, bounds = hours_words(layout.hours).partition(" ")
    sensor = f"{visible(layout.worst_sensor)}\n{two_digits(100 * layout.sensor.mean)}"
    among = Text(place.among_worst.value, TONES[place.among_worst])
    name = f"{visible(score.id)}\n{visible(layout.name)}"
    return (
        str(place.rank),
        *(name, f"{hours}\n{bounds.strip('()')}", among, promise, sensor),
        ", ".join(one for one in _grounds(score) if one not in shared) or "as said above",
    )


TONES = {Among.SURELY: Tone.ALERT, Among.PERHAPS: Tone.PLAIN, Among.NO: Tone.QUIET}


def _grounds(score: SiteScore) -> tuple[str, ...]:
    """Return in a few words each what an answer rests on."""
    found = score.evidence
    return (
        counted(found.links_measured, "link"),
        f"{found.things_drawn} drawn",
        f"{found.defaults_taken} of {found.defaults} defaults",
        score.starts,
    )


def _shared_grounds(scores: Sequence[SiteScore]) -> tuple[str, ...]:
    """Return what all answers rest on, so that it is told once and not in every row."""
    first, *others = [_grounds(score) for score in scores]
    if not others:
        return ()
    return tuple(one for one in first if all(one in each for each in others))


def _failed(failures: tuple[Failure, ...]) -> Block:
    if not failures:
        return ()
    left = len(failures) - MOST_FAILURES
    note = f"{left} more in failures.csv." if left > 0 else ""
    rows = tuple(failed_rows(failures[:MOST_FAILURES]))
    return titled("Sites without an answer", note, Table(words("site", "what is wrong"), rows))


def failed_rows(failures: tuple[Failure, ...]) -> Iterator[Row]:
    """Yield what is wrong with each of some sites.

    Parameters
    ----------
    failures : tuple of Failure
        Sites without an answer. [-]
    """
    for one in failures:
        reason, _, more = one.reason.partition("\n")
        others = f" (and {counted(more.count(chr(10)) + 1, 'mistake')} more)" if more else ""
        yield visible(one.id), f"{visible(reason)}{others}; see it with resilience {one.verb}"


def made_by(portfolio: Portfolio, kept_in: str) -> str:
    """Return what all figures come from, and where the tables are.

    Parameters
    ----------
    portfolio : Portfolio
        What is known of all sites. [-]
    kept_in : str
        The run folder. [-]
    """
    return (
        f"At least {portfolio.lifetimes} lifetimes of each layout, seed {portfolio.seed}. Bounds "
        f"hold at {100 * LEVEL:g} % for all layouts of all sites together, each column by itself; "
        "those of hours are of ordinary possible buildings and leave rare ones aside (sites.csv "
        f"says how rare). Tables of all sites, layouts and sensors are in {visible(kept_in)}."
    )
