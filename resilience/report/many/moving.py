"""What ``report --since`` tells: what has moved between two runs of many sites, and why."""

from collections.abc import Sequence

from resilience.policy.judgement import Verdict
from resilience.ranking.many.moving import LEVEL_OF_TWO, Movement, Presence
from resilience.ranking.many.sites import Figure, LayoutScore, Risk
from resilience.report.many.portfolio import hours_words
from resilience.report.pages import Block, Column, Page, Row, Table, Text, Tone, page, titled
from resilience.report.words import counted, listed, two_digits, visible

MOST_ROWS = 40  # --json has all
FIGURES = {Risk.HOURS: "hours", Risk.BREACH: "promise", Risk.SENSOR: "worst sensor"}
COLUMNS = (
    Column("site\nlayout", is_text=True, note="the one that a site is taken to have, then and now"),
    Column(
        "because of",
        is_text=True,
        note="what differs of that on which its figures rest; else only how many lifetimes",
    ),
    Column("then, h\nbounds", note="hours cut off a sensor and year, site outages apart"),
    Column("now, h\nbounds"),
    Column("promise\nbroken, %", is_text=True, note="then, and below it now"),
    Column(
        "moved",
        is_text=True,
        note="same: the same best value; within noise: bounds of then and now meet",
    ),
)


def moving_page(movements: Sequence[Movement], now: str, then: str) -> Page:
    """Return everything that ``report --since`` tells.

    Parameters
    ----------
    movements : sequence of Movement
        Sites of two runs. [-]
    now, then : str
        Folders of the two. [-]
    """
    return page(
        Text(_summary(movements), Tone.STRONG),
        *(Text(sentence) for sentence in _come_and_gone(movements)),
        _table(movements),
        Text(
            f"{visible(now)} against {visible(then)}. Bounds of all sites of both runs hold "
            f"together at {100 * LEVEL_OF_TWO:g} %, each column by itself; those of hours are of "
            "ordinary possible buildings, and verdicts hold for each site by itself. A site on the "
            "same grounds (files, promise, program, seed) has not moved, whatever more lifetimes "
            "show.",
            Tone.QUIET,
        ),
    )


def _summary(movements: Sequence[Movement]) -> str:
    both = [one for one in movements if one.presence is Presence.BOTH]
    changed = [one for one in both if one.causes]
    n_moved = sum(one.is_beyond_noise for one in changed)
    told = f"{counted(len(both), 'site')} in both runs: {len(both) - len(changed)} on the same "
    told += f"grounds, {len(changed)} on others"
    if changed:
        told += f", of which {n_moved} moved beyond noise"
    n_verdicts = sum(one.has_another_verdict for one in both)
    return f"{told}; {n_verdicts} with another verdict." if n_verdicts else f"{told}."


def _come_and_gone(movements: Sequence[Movement]) -> list[str]:
    ids = {kind: [one.id for one in movements if one.presence is kind] for kind in Presence}
    return [
        f"{kind.value[0].upper()}{kind.value[1:]}: {listed(found)}."
        for kind, found in ids.items()
        if found and kind is not Presence.BOTH
    ]


def _table(movements: Sequence[Movement]) -> Block:
    both = [one for one in movements if one.presence is Presence.BOTH]
    shown = [one for one in both if one.causes or one.has_another_verdict]
    shown.sort(key=lambda one: (not one.is_beyond_noise, one.id))
    if not shown:
        return ()
    left = len(shown) - MOST_ROWS
    note = f"{counted(left, 'site')} more in --json." if left > 0 else ""
    rows = tuple(map(_row, shown[:MOST_ROWS]))
    return titled("Sites on other grounds, or with another verdict", note, Table(COLUMNS, rows))


def _row(one: Movement) -> Row:
    now, then = one.layouts
    assert now is not None  # as it is of a site that has grounds to be compared
    assert then is not None
    layouts = dict.fromkeys((then.name, now.name))
    verdict, verdict_then = one.verdicts
    tone = Tone.ALERT if one.is_beyond_noise else Tone.QUIET
    return (
        f"{visible(one.id)}\n{visible(' > '.join(layouts))}",
        ",\n".join(one.causes) or "lifetimes",
        _hours(then.hours),
        _hours(now.hours),
        f"{_promise(then, verdict_then)}\n{_promise(now, verdict)}",
        Text(_moves(one), tone),
    )


def _hours(figure: Figure) -> str:
    mean, _, bounds = hours_words(figure).partition(" ")
    return f"{mean}\n{bounds.strip('()')}"


def _promise(layout: LayoutScore, verdict: Verdict | None) -> str:
    if verdict is None or layout.breach is None:
        return "none"
    return f"{verdict.value} {two_digits(100 * layout.breach.mean)}"


def _moves(one: Movement) -> str:
    return "\n".join(f"{FIGURES[by]}: {move.value}" for by, move in one.moves.items())
