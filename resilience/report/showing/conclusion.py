"""What was found and how sure it is, in words that need no explanation."""

from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.report.binding.document import Chapter, Piece, listed_block
from resilience.report.comparing.opening import MOST_WORDS, opening
from resilience.report.comparing.ranking import made_by, years_table
from resilience.report.comparing.remarks import copies, incomplete, rare_losses
from resilience.report.comparing.survival import UNTESTED, survival_sentence, survival_tables
from resilience.report.evidence import evidence
from resilience.report.pages import Alert, Bullets, Text
from resilience.report.promised.judging import verdict_words
from resilience.report.promised.promise import promise_words
from resilience.report.showing.facts import Shown
from resilience.report.words import counted

CUT_SHORT = (
    "Interrupted: all of this rests on the lifetimes that were complete, and no promise was judged."
)
NOBODY_TRIED = (  # in the words of who has no terminal; how to try stands further down
    "Not tested: whether this order survives if devices fail, paths are blocked or people come "
    "more or less often than assumed."
)
FIRST = 2  # paragraphs that stay whatever the room: which layout, and why


def conclusion(shown: Shown) -> tuple[str, ...]:
    """Return what was found as paragraphs, at most 150 words in all beside long names.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    told = [
        one.replace(UNTESTED, NOBODY_TRIED) for one in opening(shown.comparison, shown.variation)
    ]
    if shown.judgement is not None:
        told.insert(1, _promise(shown))
    while len(told) > FIRST + 1 and len(" ".join(told).split()) > MOST_WORDS:
        del told[-2]  # the last says how many lifetimes all of it rests on
    return tuple(told)


def _promise(shown: Shown) -> str:
    """What becomes of the promise with each layout."""
    assert shown.judgement is not None
    verdicts: dict[str, list[str]] = {}
    for one in shown.judgement.judged:
        verdicts.setdefault(one.verdict.value, []).append(one.layout)
    words = {"kept": "kept with", "broken": "broken with", "undecided": "still open with"}
    parts = [f"{words[key]} {' and '.join(names)}" for key, names in verdicts.items()]
    return f"The promise is {', '.join(parts)}."


def conclusion_chapter(shown: Shown) -> Chapter:
    """Chapter of the conclusion.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    is_cut = shown.comparison.leader.stopped_because == INTERRUPTED
    alerts = (Alert(CUT_SHORT),) if is_cut else ()
    return Chapter("In short", (*alerts, *(Text(one) for one in conclusion(shown))))


def sureness_chapter(shown: Shown) -> Chapter:
    """Chapter that says how sure all of it is.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    comparison, leader = shown.comparison, shown.comparison.leader
    told = (
        f"Chance: {counted(leader.n_lifetimes, 'lifetime')} of "
        f"{shown.site.horizon_years:g} years were played in "
        f"{counted(leader.n_buildings, 'possible building')}; every bound says how far chance in "
        "them can reach.",
        f"Evidence: {evidence(shown.site)}",
        f"Other assumptions: {survival_sentence(shown.variation)}",
        "Whether the assumptions themselves hold is what no bound says: measured links, and what "
        "happens on your own sites, make it surer than more lifetimes do.",
    )
    tables: list[Piece] = []
    for block in survival_tables(shown.variation):
        tables += listed_block(block)
    return Chapter(
        "How sure it is",
        (
            *(Alert(sentence) for sentence in incomplete(comparison)),
            *(Text(sentence) for sentence in copies(comparison)),
            Bullets("", told),
            *(Text(sentence) for sentence in rare_losses(comparison)),
            *tables,
            made_by(comparison),
        ),
    )


def year_chapter(shown: Shown) -> Chapter:
    """Chapter of a typical year.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    """
    lead = Text("What a year here holds on average, counted over all lifetimes played.")
    return Chapter("A typical year", (lead, *listed_block(years_table(shown.comparison))))


def promise_sentences(shown: Shown, layout: str | None = None) -> tuple[str, ...]:
    """What is promised, and what is shown of it, layout by layout; empty without a promise.

    Parameters
    ----------
    shown : Shown
        Everything that was found. [-]
    layout : str or None
        Of which this is to be told; None tells of all. [-]
    """
    judgement = shown.judgement
    if judgement is None:
        return ()
    return (
        promise_words(
            judgement.policy, len(judgement.longest.sensors), judgement.site.horizon_years
        ),
        *(verdict_words(one) for one in judgement.judged if layout in {None, one.layout}),
    )
