"""What is too rare for plain lifetimes, with every failure rate at one end of its range."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from resilience.assumptions.catalogue import Setting
from resilience.building.site import Site
from resilience.montecarlo.assumed.variants import NO_SUCH_SITE, Alternatives, Effort
from resilience.montecarlo.runs.running import Undertaking
from resilience.montecarlo.splitting.runs import RareFigure
from resilience.policy.bounds import watch_of
from resilience.policy.judgement import Judged, Judgement
from resilience.policy.rare import OverRates, Splitting, broken_rarely

PER_YEAR = "1/year"
TIME_SHARE = 0.5  # of what there is for other defaults


def rates_of(settings: Sequence[Setting]) -> tuple[Setting, ...]:
    """Return those that say how often something fails or strikes.

    Parameters
    ----------
    settings : sequence of Setting
        Which are uncertain and not stated. [-]
    """
    return tuple(one for one in settings if _is_rate(one))


def _is_rate(setting: Setting) -> bool:
    return setting.unit == PER_YEAR and setting.key.startswith("hazards.")


def over_rates(
    judgement: Judgement, others: Alternatives, effort: Effort
) -> Iterator[tuple[str, OverRates]]:
    """Yield layouts whose share was told by splitting, with that share under other rates.

    All rates go to the same end together: what is rare takes several failures, so one rate at a
    time would show less than the assumed rates leave open.

    Parameters
    ----------
    judgement : Judgement
        What is shown under the rates as assumed. [-]
    others : Alternatives
        The site under other defaults. [-]
    effort : Effort
        How much is played. [-]
    """
    rare = [one for one in judgement.judged if one.rare is not None]
    rates = rates_of(others.unstated()) if rare else ()
    if not rates:
        return
    seconds = TIME_SHARE * effort.seconds / (2 * len(rare))
    sites = [_site(others, rates, at) for at in (0.0, 1.0)]
    for one in rare:
        low, high = (_share(one, site, judgement, effort, seconds) for site in sites)
        yield one.layout, OverRates(low, high, tuple(rate.key for rate in rates))


def _site(others: Alternatives, rates: Sequence[Setting], at: float) -> Site | None:
    """Return the site with all rates at one end; None where it has no room for that."""
    try:
        return others.of({rate.key: rate.value_at(at) for rate in rates})
    except NO_SUCH_SITE:
        return None


def _share(
    one: Judged, site: Site | None, judgement: Judgement, effort: Effort, seconds: float
) -> RareFigure | None:
    if site is None:
        return None
    layouts = tuple(site.layout(each.layout) for each in judgement.judged)
    undertaking = Undertaking(
        replace(site, layouts=layouts),
        layouts,
        one.study.seed,
        one.study.count_site_outages,
        effort.engine,
        watch=watch_of(judgement.policy),
    )

    def begin(_: str) -> Callable[[], float]:
        end_s = effort.clock() + seconds
        return lambda: end_s - effort.clock()

    splitting = Splitting(begin)
    found = broken_rarely(undertaking, judgement.policy, one.study, splitting, lambda _: True)
    return found if found is not None and found.is_told else None
