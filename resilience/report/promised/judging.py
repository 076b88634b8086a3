"""What ``judge`` tells: whether the promise holds, on what it hangs, what could be promised."""

from collections import defaultdict
from collections.abc import Iterator

from resilience.building.service.policy import Start
from resilience.montecarlo.estimates import LEVEL, Estimate
from resilience.montecarlo.runs.running import INTERRUPTED
from resilience.montecarlo.splitting.runs import RUNS, RareFigure
from resilience.montecarlo.study import Study
from resilience.policy.hanging.conditions import Hanging, spanned
from resilience.policy.judgement import Judged, Judgement, Verdict
from resilience.report.comparing.dependence import Telling, state_words, told_of
from resilience.report.evidence import played_evidence
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
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
from resilience.report.promised.conditions import (
    hanging_tables,
    hanging_words,
    rates_words,
    untried_words,
)
from resilience.report.promised.promise import probability_words, promise_words
from resilience.report.words import (
    at_least,
    at_most,
    counted,
    figure_parts,
    listed,
    per_year,
    two_digits,
    visible,
)

TRACE = "resilience trace SITE --layout LAYOUT --lifetime NUMBER"
MOST_THINGS = 3
SILENT = "silent for any reason with site outages"
LEAST_SHARE = 0.05  # of what was lost in excess, below which a thing is not named


def judgement_page(judgement: Judgement, hanging: Hanging | None = None) -> Page:
    """Return everything that ``judge`` tells, the verdicts first.

    Parameters
    ----------
    judgement : Judgement
        What lifetimes say of the promise. [-]
    hanging : Hanging or None
        What other defaults show of it; None if nobody asked. [-]
    """
    is_cut = judgement.longest.stopped_because == INTERRUPTED
    interrupted = "Interrupted: what follows rests on the lifetimes that were complete."
    judgement = spanned(judgement, hanging)
    notes, n_sensors = judgement.site.notes, len(judgement.longest.sensors)
    tried = () if hanging is None else hanging.layouts
    return page(
        Alert(interrupted) if is_cut else (),
        Text(promise_words(judgement.policy, n_sensors, judgement.site.horizon_years)),
        *(Text(_layout_words(ones, judgement), _tone(ones[0])) for ones in _alike(judgement)),
        *(Text(hanging_words(hanging, layout)) for layout in tried if hanging),
        Text(_proof(judgement, hanging)),
        Bullets("Before you sign", judgement.cautions) if judgement.cautions else (),
        verdicts_table(judgement),
        *hanging_tables(hanging),
        _breaking(judgement),
        frontier_table(judgement),
        Bullets("About this site", notes) if notes else (),
        [_made_by(judgement), Text(played_evidence(judgement.site), Tone.QUIET)],
        cautions(is_surveyed=not judgement.site.radio.predict),
    )


def proposal_words(confirmed: Judgement, first: Study, path: str) -> str:
    """Return what became of a proposal.

    Parameters
    ----------
    confirmed : Judgement
        What fresh lifetimes say of it. [-]
    first : Study
        Lifetimes that it was found on. [-]
    path : str
        Where it was to be written. [-]
    """
    one = confirmed.judged[0]
    found = f"Found on {first.n_lifetimes} lifetimes (seed {first.seed}), one sensor in reserve"
    fresh = f"{one.study.n_lifetimes} fresh ones (seed {one.study.seed})"
    if one.verdict is Verdict.KEPT:
        return f"{found}, kept in {fresh}: written to {visible(path)}."
    return f"{found}, but {one.verdict.value} in {fresh}: nothing was written."


def _tone(one: Judged) -> Tone:
    tones = {Verdict.KEPT: Tone.GOOD, Verdict.BROKEN: Tone.ALERT}
    return tones.get(one.verdict, Tone.STRONG)


def _alike(judgement: Judgement) -> list[list[Judged]]:
    """Layouts of which the same is to be told, together, in order."""
    found: dict[str, list[Judged]] = defaultdict(list)
    for one in judgement.judged:
        found[_decisive(one, judgement, "", is_one=True)].append(one)
    return list(found.values())


def _layout_words(ones: list[Judged], judgement: Judgement) -> str:
    names = listed([visible(one.layout) for one in ones])
    return _decisive(ones[0], judgement, names, is_one=len(ones) == 1)


def _decisive(one: Judged, judgement: Judgement, names: str, is_one: bool) -> str:
    """Everything that decides about layouts that have shown the same."""
    told = [f"{names} {_verdict_words(one, is_one)}"]
    if one.breaks:
        name, share, states = next(_things(one, judgement))
        told.append(f"What breaks it: {name} ({states or 'in the layout'}), {100 * share:.0f} %.")
    silent, bounds = figure_parts(one.silent, 100)
    told.append(f"As an owner would see it, {SILENT}: {silent} of 100 ({bounds}).")
    if one.study.incomplete_share.mean:
        n = round(one.study.incomplete_share.mean * one.study.n_buildings)
        counts = "which counts" if one.policy.start is Start.HAND_OVER else "which does not count"
        told.append(
            f"Does not come up as drawn, {counts}: {n} of "
            f"{counted(one.study.n_buildings, 'possible building')}."
        )
    return " ".join(told)


def verdict_words(one: Judged) -> str:
    """What is shown of one layout, and the bound that shows it.

    Parameters
    ----------
    one : Judged
        The layout. [-]
    """
    return f"{visible(one.layout)} {_verdict_words(one, is_one=True)}"


def _verdict_words(one: Judged, is_one: bool) -> str:
    """What is shown, and the bound that shows it, of one layout or of several."""
    low, high, may_break = one.broken.low, one.broken.high, 1 - one.policy.kept_with_probability
    allowed = f"{100 * may_break:.4g} may"
    if one.rare is not None:
        return f"{_rare_words(one.rare, one.verdict, allowed)} {rates_words(one.over_rates)}"
    match one.verdict:
        case Verdict.KEPT if high == 0:
            return f"{'keeps' if is_one else 'keep'} it, as it cannot be broken."
        case Verdict.KEPT:
            keep = "keeps it" if is_one else "keep it, each"
            return (
                f"{keep}: at most {at_most(100 * high)} of 100 lifetimes break it, and {allowed}."
            )
        case Verdict.BROKEN:
            breaks = "breaks it" if is_one else "break it, each"
            least = at_least(100 * low)
            return (
                f"{breaks}: at least {least} of 100 lifetimes do, and only {allowed}.{_survey(one)}"
            )
    unsure = "is undecided" if is_one else "are undecided, each"
    return (
        f"{unsure}: {_outward(one.broken)} of 100 lifetimes break it, and "
        f"{allowed}.{_unbroken(one)}{_unsplit(one)}{_survey(one)}"
    )


def _unbroken(one: Judged) -> str:
    """How many lifetimes would decide, where that is known."""
    if one.broken.mean > 0:
        return ""
    return (
        f" None of {counted(one.study.n_lifetimes, 'lifetime')} did; {one.n_to_be_kept} without "
        "a break would show that it is kept."
    )


def _unsplit(one: Judged) -> str:
    """Why splitting did not decide either, where it was tried."""
    return f" Splitting came to nothing: {one.why_not_split}." if one.why_not_split else ""


def _rare_words(rare: RareFigure, verdict: Verdict, allowed: str) -> str:
    """What splitting says of one layout, and how."""
    verbs = {Verdict.KEPT: "keeps it", Verdict.BROKEN: "breaks it"}
    share = rare.estimate
    mean, low, high = (100 * value for value in (share.mean, share.low, share.high))
    figure = f"{two_digits(mean)} of 100 lifetimes ({at_least(low)} to {at_most(high)})"
    says = (
        f"{verbs.get(verdict, 'is undecided')} by splitting: {figure} break it under the assumed "
        f"rates, and {allowed}"
    )
    level = f"{100 * share.level_share:.4g} %"
    return f"{says} ({level} interval of {RUNS} independent runs, no bound of finite samples)."


def _outward(share: Estimate) -> str:
    """Bounds in percent that decide, so none is shown narrower than it is."""
    low, high = 100 * share.low, 100 * share.high
    if high == 0:
        return "cannot be"
    return f"{at_least(low)} to {at_most(high)}" if low > 0 else f"at most {at_most(high)}"


def _survey(one: Judged) -> str:
    if not one.depends_on_survey:
        return ""
    return (
        " It depends on the survey: most of that is decided by the radio of the building, which "
        "nobody has measured."
    )


def _proof(judgement: Judgement, hanging: Hanging | None) -> str:
    study = judgement.longest
    more = ""
    if any(one.verdict is Verdict.UNDECIDED for one in judgement.judged):
        more = " More lifetimes may decide (--lifetimes, --seconds)."
    return (
        f"It stopped because {study.stopped_because}: "
        f"{counted(study.n_lifetimes, 'lifetime')} in "
        f"{counted(study.n_buildings, 'possible building')}.{more} {untried_words(hanging)}"
    ).rstrip()


def verdicts_table(judgement: Judgement) -> Block:
    """What lifetimes say of the promise, layout by layout.

    Parameters
    ----------
    judgement : Judgement
        What lifetimes say of the promise. [-]
    """
    columns = (
        *words("layout"),
        Column("verdict", is_text=True),
        Column("breaks it,\n%", note="lifetimes that break the promise; these bounds decide"),
        Column("a year", note="the same as a rate"),
        Column("silent,\n%", note=_silent_note(judgement)),
        Column("not as\ndrawn, %", note="possible buildings in which some sensor never has a way"),
        Column("buildings\nthat keep it, %", note="in which no lifetime played breaks it"),
        Column("look at", note=f"lifetimes that break it: {TRACE}"),
    )
    rows = tuple(_row(one) for one in judgement.judged)
    return titled("Layout by layout", "", Table(columns, rows))


def _silent_note(judgement: Judgement) -> str:
    one = judgement.judged[0]
    return (
        f"lifetimes in which more than {one.max_count} are silent for longer for any reason, site "
        "outages included: as an owner would see it"
    )


def _two_lines(estimate: Estimate) -> str:
    return "\n".join(figure_parts(estimate, 100))


def _row(one: Judged) -> Row:
    marks = {Verdict.KEPT: "+ ", Verdict.BROKEN: "- ", Verdict.UNDECIDED: "? "}
    survey = "\ndepends on\nthe survey" if one.depends_on_survey else ""
    return (
        f"{visible(one.layout)}\n{one.study.n_lifetimes} lifetimes",
        Text(f"{marks[one.verdict]}{one.verdict.value}{survey}", _tone(one)),
        _share_words(one),
        per_year(one.broken_per_year) if one.share.mean < 1 else "",
        _two_lines(one.silent),
        _two_lines(one.study.incomplete_share),
        _two_lines(one.holds_in),
        "\n".join(map(str, one.breaking[:3])) or "none",
    )


def _share_words(one: Judged) -> str:
    if one.rare is None:
        return f"{figure_parts(one.broken, 100)[0]}\n{_outward(one.broken)}"
    figure = f"{two_digits(100 * one.share.mean)}\n{_outward(one.share)}\nby splitting"
    return f"{figure},\nunder the\nassumed rates"


def _breaking(judgement: Judgement) -> Block:
    rows: list[Row] = []
    for one in judgement.judged:
        for place, (name, share, states) in enumerate(_things(one, judgement)):
            if place < MOST_THINGS and (share >= LEAST_SHARE or not place):
                told = "" if place else f"{visible(one.layout)}\n{one.n_told} of its lifetimes"
                rows.append((told, name, f"{100 * share:.0f}", states))
    columns = (
        *words("layout", "while away"),
        Column("%", note="of all that was lost in excess, as far as it is the cause"),
        *words("what takes it away"),
    )
    note = "Told from the first lifetimes that broke it; it is not bounded."
    return titled("What breaks it", note, Table(columns, tuple(rows))) if rows else ()


def _things(one: Judged, judgement: Judgement) -> Iterator[tuple[str, float, str]]:
    """Yield what breaks the promise, the heaviest first, and what takes it away."""
    building = judgement.site.building
    shares: dict[str, float] = defaultdict(float)
    states: dict[str, dict[str, None]] = defaultdict(dict)
    for holder, share in one.breaks.items():
        name = told_of(holder, Telling.THING, building)
        shares[name] += share
        if state := state_words(holder, building):
            states[name][state] = None
    for name in sorted(shares, key=lambda name: -shares[name]):
        yield name, shares[name], ", ".join(states[name])


def frontier_table(judgement: Judgement) -> Block:
    """For each duration the fewest sensors of which a promise is shown to hold.

    Parameters
    ----------
    judgement : Judgement
        What lifetimes say of the promise. [-]
    """
    own_h = judgement.policy.longer_than_h
    rows = []
    for place, step in enumerate(judgement.judged[0].frontier):
        cells = [_step_words(one, place) for one in judgement.judged]
        mark = " <" if step.longer_than_h == own_h else ""
        rows.append((f"{step.longer_than_h:g}{mark}", *cells))
    columns = (
        Column("longer\nthan, h", note="< the promise's own"),
        *(Column(visible(one.layout)) for one in judgement.judged),
    )
    most = judgement.judged[0]
    note = (
        f"Sensors that may be lost at once, so that the promise is kept with "
        f"{probability_words(judgement.policy)}; in brackets up to how many it is shown to be "
        f"broken. none: broken for every number up to {len(most.study.sensors) - 1}; open: these "
        "lifetimes do not tell."
    )
    return titled("What could be promised instead", note, Table(columns, tuple(rows)))


def _step_words(one: Judged, place: int) -> str:
    step = one.frontier[place]
    if step.refuted == len(one.study.sensors) - 1:
        return "none"
    promised = "open" if step.promised is None else str(step.promised)
    return promised if step.refuted is None else f"{promised} ({step.refuted})"


def _made_by(judgement: Judgement) -> Text:
    study = judgement.longest
    names = [visible(one.layout) for one in judgement.judged]
    return Text(
        f"Seed {study.seed}. Bounds that decide, and the table of promises, hold at "
        f"{100 * LEVEL:.0f} % for {listed(names)} together, at every look and however few "
        "lifetimes there are (betting confidence sequences over possible buildings); all other "
        "bounds each by itself. A layout whose verdict is sure plays no further.",
        Tone.QUIET,
    )
