"""Tables in the run folder: whole at every moment, and of no use to whoever wants to harm."""

import csv
import hashlib
import json
import os
import shlex
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from resilience.errors import RunError
from resilience.montecarlo.runs.folders import safe_name
from resilience.ranking.many.portfolio import Portfolio
from resilience.ranking.many.sites import Figure, LayoutScore, Place, Risk, SiteScore
from resilience.report.words import unreckoned, visible
from resilience.sweep.running import Outcome

MANIFEST = "manifest.json"
SITE = "site.json"  # all that is known of one
SITES, LAYOUTS, FAILURES, SENSORS = "sites.csv", "layouts.csv", "failures.csv", "sensors.csv"
SECONDS_BETWEEN_TABLES = 10.0
MOST_OF_THE_TIME = 50  # times as long as they took, at least: many sites make long tables

FIGURES = {
    "hours": "orphan_hours_per_sensor_year_h",
    "breach": "breach_share",
    "sensor": "worst_sensor_orphan_share",
}
LAYOUT_COLUMNS = (
    *("layout", "lifetimes", "verdict"),
    *(f"{name}{bound}" for name in FIGURES.values() for bound in ("", "_low", "_high")),
    *("orphan_hours_leave_aside_share", "worst_sensor", "site_outage_hours_per_sensor_year_h"),
    *("not_as_drawn_share", "visits_per_month", "worked_per_month_h"),
    *("hangs_on", "hangs_on_share", "what_happens"),
)
SITE_COLUMNS = (
    *("rank", "best_rank", "worst_rank", "among_worst", "site", "title", "tags"),
    *("starts", "promise"),
    *("site_verdict", *LAYOUT_COLUMNS, "site_outages_counted"),
    *("links_measured", "things_drawn", "defaults_taken", "defaults"),
)
SENSOR_COLUMNS = (
    *("layout", "sensor"),
    *(
        f"{name}{bound}"
        for name in ("orphan_share", "dark_share")
        for bound in ("", "_low", "_high")
    ),
)

TEXTS = {
    *("layout", "verdict", "worst_sensor", "hangs_on", "what_happens", "among_worst", "site"),
    *("title", "tags", "starts", "promise", "site_verdict", "sensor", "reason", "to_see_it"),
}
WHOLE = {
    *("rank", "best_rank", "worst_rank", "lifetimes", "links_measured", "things_drawn"),
    *("defaults_taken", "defaults"),
}
YES_OR_NO = {"site_outages_counted"}  # all other columns hold numbers

Cell = str | int | float | bool | None


class Tables:
    """Tables of a run, written anew now and then while it is under way.

    Parameters
    ----------
    folder : Path
        The run folder. [-]
    clock : callable
        Seconds that only go up. [s]
    """

    def __init__(self, folder: Path, clock: Callable[[], float] = time.monotonic) -> None:
        self._folder, self._clock = folder, clock
        self._next_s = 0.0

    def keep(self, outcome: Outcome, score: SiteScore | None) -> None:
        """Write what is new: a site's own folder at once, tables of all sites when they are due.

        Parameters
        ----------
        outcome : Outcome
            What is known of all sites. [-]
        score : SiteScore or None
            Of a site that was just scored; None writes all tables now. [-]
        """
        began = self._clock()
        if score is not None:
            _write_site(self._folder / "sites" / folder_name(score.id), score)
            if began < self._next_s:
                return
        known = outcome.portfolio()
        _write_table(self._folder / SITES, SITE_COLUMNS, _site_rows(known))
        layouts = ([one.id, *_layout_cells(each)] for one in known.scores() for each in one.layouts)
        _write_table(self._folder / LAYOUTS, ("site", *LAYOUT_COLUMNS), layouts)
        _write_table(self._folder / FAILURES, ("site", "reason", "to_see_it"), _failures(known))
        ended = self._clock()
        self._next_s = ended + max(SECONDS_BETWEEN_TABLES, MOST_OF_THE_TIME * (ended - began))

    def put_manifest(self, facts: Mapping[str, object]) -> None:
        """Write what made the run.

        Parameters
        ----------
        facts : mapping
            Versions, options, digests, outcome. [-]
        """
        write_whole(self._folder / MANIFEST, _told(facts))


def folder_name(id: str) -> str:
    """Return the folder of a site in the results: plain letters, whatever the site is called.

    Parameters
    ----------
    id : str
        Its folder, below that of the portfolio. [-]
    """
    return f"{safe_name(id)}-{hashlib.sha256(id.encode()).hexdigest()[:8]}"


def _site_rows(known: Portfolio) -> Iterator[list[Cell]]:
    for place, score in known.ranked:
        yield _site_row(score, place, known.by)
    for score in known.unranked:
        yield _site_row(score, None, known.by)


def _site_row(score: SiteScore, place: Place | None, by: Risk) -> list[Cell]:
    layout, rests_on = score.best(by), score.evidence
    ranks: list[Cell] = [None] * 4
    if place:
        ranks = [place.rank, place.best_rank, place.worst_rank, place.among_worst.value]
    verdict = score.verdict.value if score.verdict else None
    return [
        *ranks,
        *(score.id, score.title, ", ".join(score.tags)),
        *(score.starts, score.promise, verdict),
        *_layout_cells(layout),
        score.outages_counted,
        *(rests_on.links_measured, rests_on.things_drawn),
        *(rests_on.defaults_taken, rests_on.defaults),
    ]


def _layout_cells(one: LayoutScore) -> list[Cell]:
    figures = [cell for name in FIGURES for cell in _bounds(getattr(one, name))]
    return [
        *(one.name, one.lifetimes, one.verdict.value if one.verdict else None),
        *figures,
        *(one.hours.rare_share, one.worst_sensor, one.outage_hours),
        *(one.not_as_drawn_share, one.visits_per_month, one.worked_h_per_month),
        *(one.hangs_on, one.hangs_on_share, one.happens),
    ]


def _bounds(figure: Figure | None) -> Sequence[Cell]:
    return (figure.mean, figure.low, figure.high) if figure else (None, None, None)


def _failures(known: Portfolio) -> Iterable[list[Cell]]:
    for one in known.failures:
        line = shlex.join(["resilience", one.verb, str(Path(known.name) / one.id)])
        yield [one.id, one.reason, line]
    for id in known.not_reached:
        yield [id, "not reached", "the same command goes on"]


def _write_site(folder: Path, score: SiteScore) -> None:
    """Write what is known of one site."""
    rows = (
        [layout.name, one.id, *_bounds(one.orphan_share), *_bounds(one.dark_share)]
        for layout in score.layouts
        for one in layout.sensors
    )
    _write_table(folder / SENSORS, SENSOR_COLUMNS, rows)
    write_whole(folder / SITE, _told(score.to_json()))


def _told(facts: Mapping[str, object]) -> bytes:
    return (json.dumps(facts, indent=1) + "\n").encode()


def _cell(value: Cell) -> Cell:
    """Text as text: no control characters, and nothing that a spreadsheet would reckon."""
    if not isinstance(value, str):
        return value
    return unreckoned("\n".join(map(visible, value.splitlines())))


def _write_table(target: Path, columns: Sequence[str], rows: Iterable[Sequence[Cell]]) -> None:
    """Write a table row by row: of very many sites it is not held in memory as a whole."""
    with _draft_of(target) as draft, draft.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(columns)
        writer.writerows([_cell(one) for one in row] for row in rows)


def write_whole(target: Path, content: bytes) -> None:
    """Write a file whole, so that who reads meanwhile finds one.

    Parameters
    ----------
    target : Path
        Where it goes. [-]
    content : bytes
        All of it. [-]

    Raises
    ------
    RunError
        It cannot be written.
    """
    with _draft_of(target) as draft:
        draft.write_bytes(content)


@contextmanager
def _draft_of(target: Path) -> Iterator[Path]:
    """Give another name to write under, and put what was written in its place at the end."""
    draft = target.with_name(f".{target.name}.{os.getpid()}")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        yield draft
        draft.replace(target)
    except OSError as error:
        raise RunError(
            f"{target} cannot be written ({error.strerror}); what is finished is kept. Make room "
            "or give access, and the same command goes on"
        ) from error
