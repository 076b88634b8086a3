"""The first lines of ``compare``: what was found and why, in plain words."""

from dataclasses import dataclass

from resilience.building.settings import Hazards
from resilience.building.structure import Building
from resilience.connectivity.luck.prospect import LIFETIMES_PER_BUILDING
from resilience.hazards.causes import BATTERY, counted_columns, described
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.sequences import LEAST_INFORMATIVE
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.pairs import Pair, Reason, Verdict
from resilience.report.words import (
    counted,
    decimals,
    figure_parts,
    listed,
    per_year,
    rounded,
    visible,
    worded,
)

CUT_OFF = "cut off (working, but with no way to a gateway)"
MOST_NAMED = 2  # reasons named on the leader's side
LEAST_SHARE = 0.1  # part of the difference below which a reason is not named
MOST_FACTOR = 50.0  # more lifetimes than so many times those played help nobody
WORST = 3
LEAST_LIFETIMES = LIFETIMES_PER_BUILDING * LEAST_INFORMATIVE  # below them nothing is called


def opening(comparison: Comparison) -> tuple[str, ...]:
    """Return the conclusion as paragraphs, at most 150 words in all beside long names.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    leader = comparison.leader
    first = _only(leader) if len(comparison.placed) == 1 else _leads(comparison)
    paragraphs = [_typical_year(leader, comparison.site.hazards), first]
    if len(comparison.placed) > 1:
        runner_up = comparison.placed[1].study
        pair = comparison.pair(leader.layout, runner_up.layout)
        paragraphs.append(_why(pair, comparison.site.building))
        paragraphs.append(_nearest_beaten(comparison))
    paragraphs += [_worst_sensors(leader), f"{_outages(comparison)} {_proof(leader)}"]
    return tuple(paragraph for paragraph in paragraphs if paragraph)


def not_reached(comparison: Comparison) -> tuple[str, ...]:
    """Return one sentence for each layout in which some sensor had no route at hand-over.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    """
    sentences = []
    for placed in comparison.placed:
        study = placed.study
        n_times = int((study.tally.column("not_reached_ms") > 0).sum())
        if n_times:
            who = listed(study.not_reached, WORST)
            sentences.append(
                f"In layout {visible(study.layout)} {who} had no way to a gateway at hand-over, in "
                f"{n_times} of {counted(study.n_lifetimes, 'lifetime')}."
            )
    return tuple(sentences)


def _typical_year(leader: Study, hazards: Hazards) -> str:
    """What strikes in a year, batteries only where they can go flat."""
    year = leader.typical_year
    events = [
        _events(year.strikes[column], cause.noun, cause.nouns)
        for column, cause in counted_columns().items()
        if cause != BATTERY or hazards.battery is not None
    ]
    events.append(_events(year.visits, "visit"))
    name = visible(leader.layout)
    return f"A typical year with {name}, as simulated, holds {listed(events)}."


def _events(value: float, singular: str, plural: str = "") -> str:
    count = per_year(value)
    return f"{count} {singular if count == '1' else plural or singular + 's'}"


def _only(leader: Study) -> str:
    return (
        f"There is one layout, {visible(leader.layout)}, so nothing is ranked. Its sensors are "
        f"{CUT_OFF} for {_hours(leader.orphan_hours)} a year each."
    )


def _hours(estimate: Estimate) -> str:
    best, bounds = figure_parts(estimate)
    return f"{best} h ({bounds})" if best == "0" else f"{best} h"


@dataclass(frozen=True, slots=True)
class _Lead:
    """How far the leader is ahead of the runner-up, in the digits that are shown."""

    pair: Pair

    @property
    def hours(self) -> float:
        """Hours that the leader saves a sensor and year; zero instead of minus zero."""
        return -self.pair.difference.mean + 0.0

    @property
    def places(self) -> int:
        """Decimal places worth showing."""
        difference = self.pair.difference
        return decimals((difference.high - difference.low) / 2, difference.mean)

    def shown(self, hours: float) -> str:
        """Hours with these decimals."""
        return rounded(hours, self.places)

    @property
    def bounds(self) -> str:
        """Bounds of the lead in words."""
        least, most = -self.pair.difference.high, -self.pair.difference.low
        if least >= 0:
            return f"{self.shown(least)} to {self.shown(most)}"
        return f"between {self.shown(-least)} more and {self.shown(most)} less"


def _leads(comparison: Comparison) -> str:
    leader, runner_up = (placed.study for placed in comparison.placed[:2])
    pair = comparison.pair(leader.layout, runner_up.layout)
    lead, names = _Lead(pair), (visible(leader.layout), visible(runner_up.layout))
    if leader.orphan_hours.mean == runner_up.orphan_hours.mean == 0:
        return (
            f"Too close to call between {names[0]} and {names[1]}: with neither was a sensor ever "
            f"{CUT_OFF}. That is {_hours(leader.orphan_hours)} a year each; more lifetimes would "
            "narrow it."
        )
    size = (
        f"Sensors are {CUT_OFF} for {_hours(leader.orphan_hours)} a year each, against "
        f"{_hours(runner_up.orphan_hours)} for {names[1]}"
    )
    if pair.verdict is Verdict.ALIKE:
        return (
            f"Layouts {names[0]} and {names[1]} are alike: a difference this small should decide "
            f"nothing. {size}.{_why_first(comparison)}"
        )
    level = f"{100 * pair.difference.level_share:.3g}"
    n_ahead = round(pair.fewer_orphan_share * pair.n_buildings)
    return (
        f"{_verdict_words(pair, names)} {size}: {lead.shown(lead.hours)} h less ({lead.bounds}, at "
        f"{level} %), and less in {n_ahead} of {pair.n_buildings} possible buildings."
        f"{_way_out(pair, leader)}"
    )


def _nearest_beaten(comparison: Comparison) -> str:
    """Name the nearest layout that the leader beats, where the runner-up is not beaten."""
    leader, *others = (placed.layout.name for placed in comparison.placed)
    pairs = [comparison.pair(leader, other) for other in others]
    beaten = [pair for pair in pairs if pair.verdict is Verdict.BETTER]
    if not beaten or pairs[0] in beaten:
        return ""
    lead, why = _Lead(beaten[0]), _why(beaten[0], comparison.site.building)
    return (
        f"Layout {visible(leader)} is better than {visible(beaten[0].second)}, by "
        f"{lead.shown(lead.hours)} h ({lead.bounds}). {why}"
    )


def _verdict_words(pair: Pair, names: tuple[str, str]) -> str:
    first, second = names
    match pair.verdict:
        case Verdict.BETTER:
            return f"Layout {first} is better than {second}."
        case Verdict.MIXED:
            return (
                f"Layout {first} cuts fewer sensors off than {second}, yet they are silent for "
                "longer in all: decide which counts."
            )
        case Verdict.WORSE:
            return f"Layout {first} is worse than {second}."
        case _:
            few = "" if pair.difference.high >= 0 else " yet (too few buildings)"
            return f"Too close to call between {first} and {second}{few}; {first} leads."


def _why_first(comparison: Comparison) -> str:
    if not comparison.is_ordered_by_depth:
        return ""
    name = visible(comparison.leader.layout)
    return f" Among alike layouts the one with shorter routes stands first: {name}."


def _way_out(pair: Pair, leader: Study) -> str:
    """What would help where nothing can be called."""
    if pair.verdict is not Verdict.TOO_CLOSE:
        return ""
    difference = pair.difference
    half = (difference.high - difference.low) / 2
    factor = (half / abs(difference.mean)) ** 2 if difference.mean else MOST_FACTOR
    if factor >= MOST_FACTOR:
        return " More lifetimes would hardly help; measured links might."
    # Two figures of what is only a guess; at least twice as many, or rare events stay unseen.
    wanted = max(2 * LEAST_LIFETIMES, leader.n_lifetimes * max(2.0, 1.5 * factor))
    return f" About {float(f'{wanted:.2g}'):.0f} lifetimes, or measured links, may help."


def _why(pair: Pair, building: Building) -> str:
    """Split the lead into reasons that add up to it as shown."""
    lead = _Lead(pair)
    if pair.verdict in (Verdict.ALIKE, Verdict.TOO_CLOSE) or lead.hours <= 0:
        return ""  # what is not shown needs no reason
    total = round(lead.hours, lead.places)
    for_it = [one for one in pair.reasons if -one.hours >= LEAST_SHARE * lead.hours]
    against = [one for one in pair.reasons if one.hours >= LEAST_SHARE * lead.hours]
    named = [*for_it[:MOST_NAMED], *against[:1]]
    if not named or not total:
        return ""
    hours = [round(-one.hours, lead.places) + 0.0 for one in named]
    parts = [
        f"{lead.shown(part)} {'(the other way) ' if part < 0 else ''}{_occasion(one, building)}"
        for part, one in zip(hours, named, strict=True)
    ]
    rest = round(total - sum(hours), lead.places) + 0.0
    if rest:
        parts.append(f"{lead.shown(rest)} {'(the other way) ' if rest < 0 else ''}from all else")
    return f"Why: of these {lead.shown(total)} h, {', '.join(parts)}."


def _occasion(reason: Reason, building: Building) -> str:
    """When, or because of what, the hours of one reason come."""
    if reason.causes == ("layout",):
        return "for sensors without any way as drawn"
    if reason.causes == ("radio draw",):
        return "as paths turn out weaker than predicted"
    cause = reason.causes[0]
    return worded(described(cause).occasion, (cause, reason.subject), building)


def subject_words(reason: Reason, building: Building) -> str:
    """Name of what a reason puts hours down to, for tables."""
    if reason.causes == ("layout",):
        return "no way as drawn"
    if reason.causes == ("radio draw",):
        return "paths weaker than predicted"
    cause = reason.causes[0]
    return worded(described(cause).reason, (cause, reason.subject), building)


def _worst_sensors(leader: Study) -> str:
    worst = sorted(leader.sensor_figures, key=lambda one: -one.orphan_share.mean)[:WORST]
    cut_off = [one for one in worst if one.orphan_share.mean > 0]
    name = visible(leader.layout)
    if not cut_off:
        return f"No sensor of {name} was ever cut off."
    shares = [
        f"{visible(one.id)} ({figure_parts(one.orphan_share, 100)[0]} %"
        f"{'' if position else ' of the time cut off'})"
        for position, one in enumerate(cut_off)
    ]
    return f"Worst with {name}: {listed(shares)}."


def _outages(comparison: Comparison) -> str:
    if comparison.leader.count_site_outages:
        return "Time with no gateway up counts: the layouts differ in gateways."
    if len(comparison.placed) == 1:
        return "Time with no gateway up is left out."
    return "Time with no gateway up is left out: all layouts have the same gateways."


def _proof(leader: Study) -> str:
    return (
        f"It stopped because {leader.stopped_because}: {leader.n_lifetimes} lifetimes in "
        f"{counted(leader.n_buildings, 'possible building')}. Bounds hold however often "
        "one looks. Other failure rates were not tried."
    )
