"""What the lifetimes of one site say: its score, with bounds that hold over all sites of a run."""

from collections.abc import Sequence

from resilience.assumptions.catalogue import uncertain
from resilience.building.service.policy import Policy
from resilience.building.site import Site
from resilience.lifetime.tally import Tally
from resilience.montecarlo.estimates import Estimate
from resilience.montecarlo.figures import hours_estimate
from resilience.montecarlo.runs.running import REACHED
from resilience.montecarlo.sequences import shares_from_sums
from resilience.montecarlo.study import Study, as_studies
from resilience.policy.bounds import broken_share, most_beyond
from resilience.policy.judgement import Verdict
from resilience.policy.judging import Judging
from resilience.ranking.many.sites import Evidence, Figure, LayoutScore, SensorScore, SiteScore
from resilience.report.comparing.dependence import dependences
from resilience.report.evidence import drawn_kinds
from resilience.sweep.finding import Asked
from resilience.units import ms_from_h

MONTHS_PER_YEAR = 12


def score_of(asked: Asked, tallies: Sequence[Tally], level_share: float) -> SiteScore:
    """Score a site.

    Parameters
    ----------
    asked : Asked
        What was played. [-]
    tallies : sequence of Tally
        One for each layout, of equally many lifetimes. [-]
    level_share : float
        Of the bounds of each figure, so that those of all sites hold together. [-]
    """
    site = asked.undertaking.site
    found = as_studies(asked.undertaking, tallies, REACHED)
    verdicts = _verdicts(asked, found)
    layouts = tuple(
        _layout(site, study, (asked.policy, verdict), level_share)
        for study, verdict in zip(found, verdicts, strict=True)
    )
    return SiteScore(
        asked.id,
        site.name,
        _starts(site),
        asked.promise,
        asked.undertaking.count_site_outages,
        _evidence(site),
        layouts,
        site.titles.each_tag,
    )


def _starts(site: Site) -> str:
    today = site.standing.today
    return "as if new" if today is None else f"as of {today.isoformat()}"


def _verdicts(asked: Asked, found: Sequence[Study]) -> list[Verdict | None]:
    """Return what ends a ``judge`` of each layout on these lifetimes."""
    if asked.policy is None:
        return [None] * len(found)
    judging = Judging(asked.policy)
    return [judging.verdict(study, len(found)) for study in found]


def _layout(
    site: Site, study: Study, promise: tuple[Policy | None, Verdict | None], level_share: float
) -> LayoutScore:
    policy, verdict = promise
    orphan_hours = study.orphan_hours_per_building(with_outages=False)
    outage_hours = study.orphan_hours_per_building(with_outages=True) - orphan_hours
    sensors = _sensors(study, level_share)
    worst = max(sensors, key=lambda one: one.orphan_share.mean)
    shares = [one.orphan_share for one in sensors]
    hangs = next(iter(dependences(study, study.blame_hours, site.building)), None)
    year = study.typical_year
    return LayoutScore(
        name=study.layout,
        lifetimes=study.n_lifetimes,
        hours=Figure.of(hours_estimate(orphan_hours, level_share=level_share)),
        outage_hours=float(outage_hours.mean()),
        breach=_breach(study, policy, level_share) if policy else None,
        verdict=verdict,
        worst_sensor=worst.id,
        sensor=Figure(
            worst.orphan_share.mean,
            max(one.low for one in shares),
            max(one.high for one in shares),
        ),
        not_as_drawn_share=study.incomplete_share.mean,
        visits_per_month=year.visits / MONTHS_PER_YEAR,
        worked_h_per_month=_worked_h(site, year.worked_h / MONTHS_PER_YEAR),
        hangs_on=hangs.name if hangs else "",
        happens=hangs.happens if hangs else "",
        hangs_on_share=hangs.share if hangs else 0.0,
        sensors=sensors,
    )


def _worked_h(site: Site, worked_h: float) -> float | None:
    """Hours worked, where a response is stated; else a repair holds the waiting for it, too."""
    return None if site.upkeep.response is None else worked_h


def _breach(study: Study, policy: Policy, level_share: float) -> Figure:
    """Share of lifetimes that break the promise."""
    max_count = policy.max_count(len(study.sensors))
    if max_count >= len(study.sensors):  # more than all cannot be lost
        return Figure(0.0, 0.0, 0.0)
    most = most_beyond(study, policy.count.value, ms_from_h(policy.longer_than_h))
    return Figure.of(broken_share(most, max_count, level_share))


def _sensors(study: Study, level_share: float) -> tuple[SensorScore, ...]:
    """Return every sensor's shares, with bounds that hold for all sensors of a layout together."""
    level_each = 1 - (1 - level_share) / len(study.sensors)
    orphan, dark = (
        [Figure.of(one) for one in _shares(study, name, level_each)]
        for name in ("orphan_ms", "dark_ms")
    )
    return tuple(map(SensorScore, study.sensors, orphan, dark))


def _shares(study: Study, figure: str, level_share: float) -> list[Estimate]:
    totals, squares = study.sensor_sums(figure)
    return shares_from_sums(totals, squares, study.n_buildings, level_share)


def _evidence(site: Site) -> Evidence:
    pairs = {tuple(sorted((one.a, one.b))) for layout in site.layouts for one in layout.links}
    n_drawn = sum(len(things) for things in drawn_kinds(site.building).values())
    settings = uncertain()
    n_taken = sum(not site.states(one.key) for one in settings)
    return Evidence(len(pairs), n_drawn, n_taken, len(settings))
