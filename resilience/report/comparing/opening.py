"""The first lines of ``compare``: what was found, why, and what it hangs on, in plain words."""

from dataclasses import dataclass

from resilience.building.structure import Building
from resilience.montecarlo.estimates import TOO_FEW, Estimate
from resilience.montecarlo.runs.running import OUT_OF_TIME
from resilience.montecarlo.study import Study
from resilience.ranking.comparison import Comparison
from resilience.ranking.groups import Split
from resilience.ranking.pairs import INDIFFERENCE_H, Pair, RankedBy, Reason, Verdict
from resilience.ranking.variation import Variation
from resilience.report.comparing.dependence import Dependence, Telling, dependences, told_of
from resilience.report.comparing.survival import survival_sentence
from resilience.report.words import (
    at_least,
    at_most,
    counted,
    decimals,
    figure_parts,
    listed,
    rounded,
    two_digits,
    visible,
)

CUT_OFF = "cut off (working, but with no way to a gateway)"
MOST_NAMED = 3
MOST_WORDS = 150
LEAST_SHARE = 0.1  # of hours, below which nothing is named
MOST_FACTOR = 20.0  # more lifetimes than so many times those played help nobody


def opening(comparison: Comparison, variation: Variation | None = None) -> tuple[str, ...]:
    """Return the conclusion as paragraphs, at most 150 words in all beside long names.

    Parameters
    ----------
    comparison : Comparison
        The layouts in order. [-]
    variation : Variation or None
        What other defaults show of the order; None if nobody asked. [-]
    """
    split = comparison.widest_split
    if len(comparison.placed) == 1:
        head = [_only(comparison)]
    elif split is None:
        head = [_undivided(comparison)]
    else:
        head = [_divided(comparison, split), _why(_across(comparison, split), comparison)]
        if split.n_better > 1:
            head.append(_among_the_better(comparison, split))
    proof = _proof(comparison)
    more = [_hangs_on(comparison), _silence(comparison.leader)]
    if variation is not None:  # tables tell the rest, and nobody reads more than so many words
        head.append(survival_sentence(variation))
        more = _as_fit(more, MOST_WORDS - _n_words(*head, proof))
    elif len(comparison.placed) > 1:
        proof += f" {survival_sentence(None)}"
    return tuple(paragraph for paragraph in (*head, *more, proof) if paragraph)


def _as_fit(paragraphs: list[str], n_words: int) -> list[str]:
    """Paragraphs from the first on, as long as there is room for them."""
    fit = [end for end in range(len(paragraphs) + 1) if _n_words(*paragraphs[:end]) <= n_words]
    return paragraphs[: max(fit, default=0)]


def _n_words(*paragraphs: str) -> int:
    return len(" ".join(paragraphs).split())


def _only(comparison: Comparison) -> str:
    leader = comparison.leader
    return (
        f"There is one layout, {visible(leader.layout)}, so nothing is ranked. A sensor in service "
        f"is {CUT_OFF} for {_hours(comparison.hours(leader))} a year."
    )


def _hours(estimate: Estimate) -> str:
    best, bounds = figure_parts(estimate)
    return f"{best} h ({bounds})" if best == "0" else f"{best} h"


def _names(comparison: Comparison, start: int, end: int | None = None) -> list[str]:
    return [placed.layout.name for placed in comparison.placed[start:end]]


def _range(comparison: Comparison, start: int, end: int | None = None) -> str:
    """Hours of some layouts next to each other in the order."""
    figures = [comparison.hours(placed.study) for placed in comparison.placed[start:end]]
    least, most = (
        find(figures, key=lambda one: one.mean)
        for find in (min, max)  # hop depth may order layouts that are alike
    )
    low, high = (figure_parts(one)[0] for one in (least, most))
    return f"{_hours(least)}" if low == high else f"{low} to {high} h"


def _divided(comparison: Comparison, split: Split) -> str:
    """The layouts that are better than all others, by how much, and what they have."""
    n, what, pairs = split.n_better, _service(comparison), _pairs_across(comparison, split)
    lead_h = min(-pair.difference.high for pair in pairs)
    return (
        f"Better: {listed(_names(comparison, 0, n), MOST_NAMED)}{_made_by(split)}. A sensor"
        f"{what} is {CUT_OFF} for {_range(comparison, 0, n)} a year, against "
        f"{_range(comparison, n)} with {listed(_names(comparison, n), MOST_NAMED)}: at least "
        f"{at_least(lead_h)} h less{_aside(*pairs)}."
    )


def _service(comparison: Comparison) -> str:
    is_in_service = comparison.ranked_by is RankedBy.SERVICE
    return " in service" if is_in_service else ", its wait for a first way included,"


def _made_by(split: Split) -> str:
    """What all of one side have and none of the other."""
    if split.only_better_have:
        return f" (with {listed(split.only_better_have, MOST_NAMED)})"
    if split.only_worse_have:
        return f" (without {listed(split.only_worse_have, MOST_NAMED)})"
    return ""


def _across(comparison: Comparison, split: Split) -> Pair:
    """The leader against the best of those that are worse."""
    return comparison.pair(comparison.leader.layout, _names(comparison, split.n_better)[0])


def _pairs_across(comparison: Comparison, split: Split) -> list[Pair]:
    """Every layout before a split against every one behind it."""
    better, worse = _names(comparison, 0, split.n_better), _names(comparison, split.n_better)
    return [comparison.pair(first, second) for first in better for second in worse]


def _aside(*pairs: Pair) -> str:
    """What could still turn one of some verdicts."""
    aside = [pair.leaves_aside for pair in pairs if pair.leaves_aside]
    if not aside:
        return ""
    return f", leaving aside what is rarer than 1 in {min(aside)} possible buildings"


def _among_the_better(comparison: Comparison, split: Split) -> str:
    first, second = _names(comparison, 0, 2)
    more = "" if split.n_better == 2 else " The table tells of the others among them."
    return _between(comparison.pair(first, second), comparison) + more


def _undivided(comparison: Comparison) -> str:
    """The leader and the runner-up where nothing is told apart for all layouts."""
    first, second = _names(comparison, 0, 2)
    pair = comparison.pair(first, second)
    figures = [comparison.hours(placed.study) for placed in comparison.placed]
    if all(figure.mean == 0 for figure in figures):
        so_what = ": choose by what else counts. What is rarer was not seen."
        if pair.difference.method == TOO_FEW:
            so_what = ", which is too little to tell anything: more --seconds will."
        return (
            f"With no layout was a sensor{_service(comparison)} ever {CUT_OFF}, in "
            f"{counted(comparison.leader.n_buildings, 'possible building')}{so_what}"
        )
    size = (
        f"A sensor{_service(comparison)} is {CUT_OFF} for {_hours(figures[0])} a year with "
        f"{visible(first)}, {_hours(figures[1])} with {visible(second)}."
    )
    beaten = [
        name
        for name in _names(comparison, 2)
        if comparison.pair(first, name).verdict is Verdict.BETTER
    ]
    more = f" {visible(first)} is better than {listed(beaten, MOST_NAMED)}." if beaten else ""
    return f"{_between(pair, comparison)} {size}{more}{_as_it_looks(comparison)}"


def _as_it_looks(comparison: Comparison) -> str:
    """Where the widest gap lies, if some devices mark it, though it is not shown."""
    split = comparison.widest_gap
    if split is None or not (split.only_better_have or split.only_worse_have):
        return ""
    n, what = split.n_better, split.only_better_have or split.only_worse_have
    sides = ("with", "without") if split.only_better_have else ("without", "with")
    better, worse = _range(comparison, 0, n), _range(comparison, n)
    return (
        f" It looks as if {listed(what, MOST_NAMED)} made the difference, {better} {sides[0]} "
        f"against {worse} {sides[1]}; that is not shown yet."
    )


def _between(pair: Pair, comparison: Comparison) -> str:
    """What is shown of two layouts next to each other."""
    first, second = visible(pair.first), visible(pair.second)
    match pair.verdict:
        case Verdict.SAME:
            return f"{first} and {second} are the same in every lifetime played."
        case Verdict.ALIKE:
            most_h = max(-pair.difference.low, pair.difference.high)
            within = at_most(most_h, max(1, decimals(most_h)))
            depth = " The one with shorter routes stands first." * comparison.is_ordered_by_depth
            return (
                f"{first} and {second} are alike, within {within} h{_aside(pair)}: choose by what "
                f"else counts.{depth}"
            )
        case Verdict.NEARLY_ALIKE:
            return (
                f"{first} and {second} are alike, except perhaps in 1 of 20 possible buildings: "
                "choose by what else counts."
            )
        case Verdict.MIXED:
            return (
                f"{first} cuts fewer sensors off than {second}, yet they are silent for longer in "
                "all: decide which counts."
            )
        case Verdict.BETTER:
            return f"{first} is better than {second}: {_lead(pair)}{_aside(pair)}."
        case _:
            return f"{first} and {second} are too close to call{_way_out(pair, comparison)}."


def _lead(pair: Pair) -> str:
    """How many hours the first has less, with bounds."""
    lead = _as_lead(pair)
    return f"{lead.shown(lead.hours)} h less ({lead.bounds})"


@dataclass(frozen=True, slots=True)
class _Lead:
    """Hours that the first of two layouts saves a sensor and year, in the digits shown."""

    hours: float
    least: float
    most: float

    @property
    def places(self) -> int:
        """Decimal places worth showing."""
        return decimals((self.most - self.least) / 2, self.hours)

    def shown(self, hours: float) -> str:
        """Hours with these decimals."""
        return rounded(hours, self.places)

    @property
    def bounds(self) -> str:
        """Bounds of the lead."""
        return f"{self.shown(self.least)} to {self.shown(self.most)}"


def _as_lead(pair: Pair) -> _Lead:
    difference = pair.difference
    return _Lead(-difference.mean + 0.0, -difference.high + 0.0, -difference.low + 0.0)


def _way_out(pair: Pair, comparison: Comparison) -> str:
    """What would help where nothing can be called."""
    if pair.difference.method == TOO_FEW:
        return " on so few lifetimes"
    difference, played = pair.difference, comparison.leader.n_lifetimes
    half = (difference.high - difference.low) / 2
    factor = (half / max(abs(difference.mean), INDIFFERENCE_H)) ** 2
    lead = f": {_lead(pair)}"
    if factor >= MOST_FACTOR:
        return f"{lead}. More lifetimes would hardly help; measured links might"
    wanted = float(f"{played * max(2.0, 1.5 * factor):.1g}")
    return f"{lead}. About {wanted:.0f} lifetimes, or measured links, may tell"


def _why(pair: Pair, comparison: Comparison) -> str:
    """Split a lead into reasons that add up to it as shown."""
    lead, building = _as_lead(pair), comparison.site.building
    total = round(lead.hours, lead.places)
    for_it = [one for one in pair.reasons if -one.hours >= LEAST_SHARE * lead.hours]
    against = [one for one in pair.reasons if one.hours >= LEAST_SHARE * lead.hours]
    named = [*for_it[: MOST_NAMED - 1], *against[:1]]
    if not named or not total:
        return ""
    hours = [round(-one.hours, lead.places) + 0.0 for one in named]
    occasions = [reason_words(one, building, Telling.OCCASION) for one in named]
    parts = [
        f"{lead.shown(part)}{' (the other way)' * (part < 0)} {occasion}"
        for part, occasion in zip(hours, occasions, strict=True)
    ]
    rest = round(total - sum(hours), lead.places) + 0.0
    if rest:
        parts.append(f"{lead.shown(rest)}{' (the other way)' * (rest < 0)} all else")
    return (
        f"Why: of the {lead.shown(total)} h between {visible(pair.first)} and "
        f"{visible(pair.second)}, {', '.join(parts)}."
    )


def reason_words(reason: Reason, building: Building, telling: Telling = Telling.REASON) -> str:
    """What a reason puts hours down to, by the first of its causes.

    Parameters
    ----------
    reason : Reason
        Part of a difference. [-]
    building : Building
        Where doors and obstacles are drawn. [-]
    telling : Telling
        Which sentence of the cause. [-]
    """
    return told_of((reason.causes[0], reason.subject), telling, building)


def _hangs_on(comparison: Comparison) -> str:
    """The things that take most of the leader's hours."""
    study = comparison.leader
    blame = comparison.ranked_by.blame(study)
    found = dependences(study, blame, comparison.site.building)
    named = [one for one in found[:MOST_NAMED] if one.share >= LEAST_SHARE]
    if not named:
        return ""
    total = two_digits(comparison.hours(study).mean)
    parts = [f"{two_digits(one.hours)} on {_named(one)}" for one in named]
    return f"What {visible(study.layout)} hangs on: of its {total} h, {'; '.join(parts)}."


def _named(one: Dependence) -> str:
    return f"{one.name} ({one.happens})" if one.happens else one.name


def _silence(leader: Study) -> str:
    """Where the hours go if it is not there that layouts differ."""
    silent = leader.silent_hours
    parts = {
        "the gateway's own (supply, network, computer)": silent.no_gateway,
        "sensors' own (failed or flat)": silent.itself,
    }
    what, hours = max(parts.items(), key=lambda one: one[1])
    if hours < silent.total / 2:
        return ""
    total, part = two_digits(silent.total), two_digits(hours)
    return (
        f"Of {total} h that a sensor of {visible(leader.layout)} is silent a year for any reason, "
        f"{part} are {what}."
    )


def _proof(comparison: Comparison) -> str:
    leader = comparison.leader
    cut = " before the question was settled" * (leader.stopped_because == OUT_OF_TIME)
    return (
        f"It stopped because {leader.stopped_because}{cut}: {leader.n_lifetimes} lifetimes in "
        f"{counted(leader.n_buildings, 'possible building')}."
    )
