"""Whether the order survives other defaults: the sentence, and what each default does to it."""

from collections.abc import Iterator

from resilience.assumptions.catalogue import Setting
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.runs.running import REACHED
from resilience.ranking.pairs import INDIFFERENCE_H
from resilience.ranking.variation import Case, Survival, Variation, Varied
from resilience.report.comparing.naming import plain_name, plain_value
from resilience.report.pages import Block, Column, Row, Table, Text, Tone, titled, words
from resilience.report.words import (
    at_least,
    counted,
    figure,
    listed,
    turned,
    two_digits,
    visible,
)

MOST_NAMED = 2
UNREACHED = Survival.NOT_TESTED
UNTESTED = "Whether this order survives other rates was not tested: --vary-defaults."
SHOWS = {
    Survival.HELD: "holds",
    Survival.TURNED: "turns",
    Survival.OPEN: "too close",
    Survival.UNMOVED: "no bearing",
    Survival.IMPOSSIBLE: "no room",
    Survival.NOT_TESTED: "not tested",
}


def survival_sentence(variation: Variation | None) -> str:
    """Say whether the order survives, never more than the bounds do.

    Parameters
    ----------
    variation : Variation or None
        What other defaults show; None if nobody asked. [-]
    """
    if variation is None:
        return UNTESTED
    if variation.survival is Survival.NOT_TESTED:
        return f"Whether this order survives other rates was not tested: {_why(variation)}."
    told = (_of_ends(variation), _of_draws(variation), _untested(variation))
    return " ".join(sentence for sentence in told if sentence)


def _why(variation: Variation) -> str:
    return variation.stopped_because


def _of_ends(variation: Variation) -> str:
    claim, n = variation.claim, counted(len(variation.varied), "uncertain default")
    held, turns, unclear = (
        variation.ends(one) for one in (Survival.HELD, Survival.TURNED, Survival.OPEN)
    )
    if not claim.is_shown:
        sides = [(claim.better[0], held), (claim.worse[0], turns)]
        shown = [f"{visible(name)} is better where {_where(ends)}" for name, ends in sides if ends]
        return (
            f"Other defaults may make an order: {'; '.join(shown)}."
            if shown
            else f"Neither end of {n} makes an order of the first two."
        )
    if not variation.varied:
        return "The order survives: it hangs on nothing that the site does not state."
    if turns:
        return f"The order turns where {_where(turns)}{_least(turns)}."
    if variation.usual.survival is not Survival.HELD:
        n_lifetimes = counted(variation.n_lifetimes, "lifetime")
        return (
            f"No default turns the order, but {n_lifetimes} of a variant are too few to show it "
            "even as assumed."
        )
    if unclear:
        return f"No default turns the order; it is too close to call where {_where(unclear)}."
    n_done = len(variation.varied) - len({one.key for one, *_ in variation.ends(UNREACHED)})
    if not n_done:
        return ""
    aside = f", leaving aside what is rarer than 1 in {variation.leaves_aside} possible buildings"
    some = n if n_done == len(variation.varied) else f"{n_done} of {n}"
    return (
        f"The order survives at both ends of {some}, one at a time"
        f"{aside * bool(variation.leaves_aside)}."
    )


def _where(ends: list[tuple[Setting, float, Case]]) -> str:
    return listed(
        [
            f"{plain_name(setting)} is {plain_value(setting, value)} ({setting.default:g} assumed)"
            for setting, value, _ in ends
        ],
        MOST_NAMED,
    )


def _least(ends: list[tuple[Setting, float, Case]]) -> str:
    """By how much it turns in the first of these places, if its pair is the one that does."""
    pair = ends[0][2].pair
    if pair is None or pair.difference.low <= 0:
        return ""
    return f": there {visible(pair.second)} has at least {at_least(pair.difference.low)} h less"


def _of_draws(variation: Variation) -> str:
    n = variation.n_played
    if not n:
        return ""
    if not variation.claim.is_shown:
        names = (variation.claim.better[0], variation.claim.worse[0])
        counts = (variation.n_drawn(one) for one in (Survival.HELD, Survival.TURNED))
        sides = [f"{visible(one)} is better in {k}" for one, k in zip(names, counts, strict=True)]
        return f"Of {counted(n, 'draw')} over all ranges together, {' and '.join(sides)}."
    held = variation.n_drawn(Survival.HELD)
    share = variation.share(Survival.HELD)
    others = [
        f"{variation.n_drawn(one)} {word}"
        for one, word in ((Survival.TURNED, "turn it"), (Survival.OPEN, "are too close"))
        if variation.n_drawn(one)
    ]
    rest = f"; {' and '.join(others)}" if others else ""
    return (
        f"Of {counted(n, 'draw')} over all ranges together it survives {held} "
        f"({_interval(share)} %){rest}."
    )


def _untested(variation: Variation) -> str:
    """What was asked for and not done."""
    if variation.stopped_because == REACHED:
        return ""
    n_ends = len(variation.ends(UNREACHED))
    n_draws = variation.n_draws - len(variation.sample)
    ends, draws = counted(n_ends, "end of a range", "ends of ranges"), counted(n_draws, "draw")
    missing = [ends] * bool(n_ends) + [draws] * bool(n_draws)
    return f"Not tested: {' and '.join(missing)}, for {_why(variation)}." if missing else ""


def survival_tables(variation: Variation | None) -> tuple[Block, ...]:
    """Return what each default does to the order, and what all of them do together.

    Parameters
    ----------
    variation : Variation or None
        What other defaults show; None if nobody asked. [-]
    """
    if variation is None or variation.survival is Survival.NOT_TESTED:
        return ()
    tables = (_tornado(variation), _draws(variation))
    return tuple(table for table in tables if table)


def _tornado(variation: Variation) -> Block:
    shown = [one for one in variation.varied if _is_telling(one, variation)]
    if not shown:
        return ()
    columns = (
        Column("default", is_text=True),
        Column("assumed", is_text=True),
        *words("at its low end", "at its high end"),
        Column("moves\nit, h", note="the most that either end moves the difference"),
    )
    rows = tuple(_row(one, variation) for one in shown)
    return titled("Under other defaults", _note(variation, len(shown)), Table(columns, rows))


def _is_telling(one: Varied, variation: Variation) -> bool:
    """Whether it moves more than anybody would decide by, or was played and does not hold."""
    shown = {one.low.survival, one.high.survival} - {Survival.UNMOVED, UNREACHED, Survival.HELD}
    return bool(shown) or one.moves_h(variation.usual) > INDIFFERENCE_H


def _note(variation: Variation, n_shown: int) -> str:
    first, second = variation.claim.better[0], variation.claim.worse[0]
    n_unreached = len({setting.key for setting, *_ in variation.ends(UNREACHED)})
    n_more = len(variation.varied) - n_shown - n_unreached
    hold, move = ("holds", "moves") if n_more == 1 else ("hold", "move")
    more = (
        f" {counted(n_more, 'other')} {hold} at both ends and {move} it by no more than "
        f"{INDIFFERENCE_H:g} h."
    )
    usual = variation.usual.pair
    assumed = f"; as assumed {figure(turned(usual.difference))}" if usual else ""
    lifetimes = counted(variation.n_lifetimes, "lifetime")
    return (
        f"One at a time, on the same {lifetimes} of each layout: hours that {visible(second)} has "
        f"more than {visible(first)}{assumed}.{more * bool(n_more)}"
    )


def _row(one: Varied, variation: Variation) -> Row:
    setting = one.setting
    low, high = (_end(setting, value, case) for value, case in one.ends)
    name = plain_name(setting).removeprefix("the ")
    assumed = plain_value(setting, float(setting.default or 0))
    return (f"{name}\n{setting.key}", assumed, low, high, two_digits(one.moves_h(variation.usual)))


def _end(setting: Setting, value: float, case: Case) -> Text:
    shown = f"{plain_value(setting, value)}: {SHOWS[case.survival]}"
    if case.pair is not None:
        shown += f"\n{figure(turned(case.pair.difference))}"
    tone = Tone.ALERT if case.survival is Survival.TURNED else Tone.PLAIN
    return Text(shown, tone)


def _draws(variation: Variation) -> Block:
    if not variation.n_played:
        return ()
    columns = (
        *words("drawn together"),
        Column("draws"),
        Column("% of all", note="of the ranges; exact binomial interval, 95 %"),
    )
    note = (
        "Every uncertain default anywhere in its range, each by itself: even in logarithm where "
        "the range is above 0 and not in dB, else even."
    )
    rows = tuple(_shares(variation))
    return titled("All of them together", note, Table(columns, rows))


def _shares(variation: Variation) -> Iterator[Row]:
    shown = (Survival.HELD, Survival.TURNED, Survival.OPEN)
    first, second = variation.claim.better[0], variation.claim.worse[0]
    names = ("the order survives", "the order turns", "too close to call")
    if not variation.claim.is_shown:
        names = (f"{visible(first)} is better", f"{visible(second)} is better", names[2])
    for survival, name in zip(shown, names, strict=True):
        yield name, str(variation.n_drawn(survival)), _interval(variation.share(survival))
    for layout in (*variation.claim.better, *variation.claim.worse):
        n = sum(case.first == layout for case in variation.sample)
        share = variation.first_share(layout)
        yield f"{visible(layout)} has fewest hours, shown or not", str(n), _interval(share)


def _interval(share: Estimate) -> str:
    return f"{100 * share.low:.0f} to {100 * share.high:.0f}"
