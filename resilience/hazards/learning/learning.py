"""What a history says to a site: every setting that it bears on, before and after."""

import math
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from resilience.assumptions.catalogue import Setting, settings
from resilience.assumptions.hazards import ON_REQUEST
from resilience.building.service.events import (
    CIRCUIT,
    COUNTED_BY,
    FAILURES,
    FLAT,
    LINK,
    OUTAGES,
    STRIKES,
    History,
    Lasted,
)
from resilience.building.service.learnt import rate_key
from resilience.building.settings import Duration, Hardware
from resilience.building.site import Site
from resilience.hazards.laws import Z90
from resilience.hazards.learning.evidence import (
    Lives,
    durations_of,
    lives_of,
    of_known_age,
    strikes_of,
    watches_for,
)
from resilience.hazards.learning.lasting import LEAST_STEEPNESS, lasting_of, p90_of
from resilience.hazards.learning.lessons import Basis, Belief, CellLife, Conflict, Lesson, Lessons
from resilience.hazards.learning.lives import (
    Factor,
    Wear,
    life_years,
    spread_of,
    worn,
)
from resilience.hazards.learning.planes import MARGIN, Floats, Plane
from resilience.hazards.learning.rates import Gamma, believed, seen_alone_per_year
from resilience.units import HOURS_PER_YEAR

BEYOND_CHANCE = 1.92  # log likelihood; half of the 95 % point of chi square with one degree
NONE_SEEN = -math.log(0.025)  # the same where nothing struck: that likely is none at the least rate
REPAIRS = {
    "repair": ("hardware", "removed", "device_mute", FLAT),
    "gateway_repair": ("gateway_hardware",),
}
IS_OFF = "is off at this site, and stays so"


@dataclass(slots=True)
class _Class:
    """Lessons and what could not be told, while they are collected."""

    site: Site
    history: History
    found: list[Lesson]
    untold: list[str]


def learn(site: Site, history: History) -> Lessons:
    """Return what a history says to a site.

    Parameters
    ----------
    site : Site
        As it is without anything learnt: what it states is what was believed before. [-]
    history : History
        What happened. [-]
    """
    course = _Class(site, history, [], [])
    for cause in FAILURES:
        _learn_wear(course, cause)
    for cause in STRIKES:
        _learn_strikes(course, cause)
    for cause in OUTAGES:
        _learn_outage(course, cause)
    _learn_circuits(course)
    _learn_repairs(course)
    cells = tuple(_learn_cells(course))
    order = {setting.key: n for n, setting in enumerate(settings())}
    return Lessons(
        site.name,
        history.files,
        history.n_sites,
        _device_years(history),
        tuple(sorted(course.found, key=lambda one: order[one.key])),
        cells,
        (*course.untold, *(_barely(one) for one in course.found if one.is_barely_told)),
        history.notes,
    )


def _device_years(history: History) -> float:
    """Time that devices were watched, for whatever; links, zones and the like are none."""
    seen = {
        (
            *(watch.mark.file, watch.site, watch.group, watch.device),
            *(watch.over, watch.n_watched),
        ): watch.watched_years
        for watch in history.watches
        if set(watch.causes) - set(COUNTED_BY)
    }
    return math.fsum(seen.values())


def _barely(one: Lesson) -> str:
    return f"{one.key}: what was seen leaves it about as unsure as it was"


@cache
def _setting(key: str) -> Setting:
    return next(one for one in settings() if one.key == key)


def _span(key: str) -> tuple[float, float]:
    setting = _setting(key)
    assert setting.low is not None
    assert setting.high is not None
    return setting.low, setting.high


def _side(low: float, high: float, span: tuple[float, float]) -> Conflict:
    """Where bounds by what was seen alone lie to a range."""
    if low > span[1]:
        return Conflict.ABOVE
    return Conflict.BELOW if high < span[0] else Conflict.NONE


def _side_of_peak(free: Plane, held: Plane, span: tuple[float, float], n_seen: int) -> Conflict:
    """The same by likelihood: whether some value of the range explains what was seen.

    Parameters
    ----------
    free, held : Plane
        What is seen alone says of the logarithm x anywhere, and within the range. [-]
    span : (float, float)
        The range. [unit]
    n_seen : int
        Events. [-]
    """
    if free.peak - held.peak <= (BEYOND_CHANCE if n_seen else NONE_SEEN):
        return Conflict.NONE
    return Conflict.ABOVE if free.mean(np.exp(free.x)) > span[1] else Conflict.BELOW


def _learn_wear(course: _Class, cause: str) -> None:
    """Rate and slope of what fails and is mended."""
    watches = watches_for(course.history, cause)
    stated: Hardware | None = getattr(course.site.hazards, cause)
    if not watches or stated is None:
        _leave_untold(course, cause)
        return
    early = course.site.hazards.early_failure if cause == "hardware" else None
    lives = lives_of(of_known_age(watches, cause, True), cause)
    seen = Wear(lives, strikes_of(of_known_age(watches, cause, False), cause), early)
    whole = strikes_of(watches, cause)
    key, span = f"hazards.{cause}.per_year", _span(f"hazards.{cause}.per_year")
    prior = believed(HOURS_PER_YEAR / stated.mttf_h, span)
    slope = Factor.within(stated.shape, _span(f"hazards.{cause}.shape"))
    box = (math.log(prior.mean_per_year / 1e4), math.log(prior.mean_per_year * 1e4))
    found = worn(seen, prior, slope, box)
    log_slope = found.quantile(found.y, 0.5)
    after = Belief(_rate_at(found, log_slope), *_exp(found.bounds(found.x)))
    in_span = (math.log(span[0]), math.log(span[1]))
    conflict = _side_of_peak(
        worn(seen, None, slope), worn(seen, None, slope, in_span), span, whole.n
    )
    before = Belief(prior.mean_per_year, *prior.bounds_per_year)
    basis = Basis(whole.n, at_risk_years=whole.at_risk_years)
    course.found.append(Lesson(key, "1/year", before, after, basis, span, conflict))
    if not lives.failed_h:
        course.untold.append(
            f"hazards.{cause}.shape: no failure of a device of known age (installed)"
        )
        return
    key, span = f"hazards.{cause}.shape", _span(f"hazards.{cause}.shape")
    before = Belief(slope.middle, *_factor_bounds(slope))
    after = Belief(math.exp(log_slope), *_exp(found.bounds(found.y)))
    basis = Basis(len(lives.failed_h), at_risk_years=whole.at_risk_years)
    course.found.append(Lesson(key, "-", before, after, basis, span, Conflict.NONE))


def _rate_at(found: Plane, log_slope: float) -> float:
    """Mean rate at one slope: beside it, as the two are bound to each other."""
    column = int(np.argmin(np.abs(found.y[0] - log_slope)))
    weights = found.weights[:, column]
    return float(np.sum(np.exp(found.x[:, 0]) * weights) / weights.sum())


def _learn_rate(course: _Class, cause: str, stated_per_year: float, listed: str) -> None:
    """How often something strikes, at a rate that does not change."""
    seen, span = strikes_of(watches_for(course.history, cause), cause), _span(listed)
    prior = believed(stated_per_year, span)
    conflict = _side(*seen_alone_per_year(seen), span)
    basis = Basis(seen.n, at_risk_years=seen.at_risk_years)
    before_after = (_belief(prior), _belief(prior.updated(seen)))
    course.found.append(Lesson(rate_key(cause), "1/year", *before_after, basis, span, conflict))


def _learn_strikes(course: _Class, cause: str) -> None:
    """Rate of what a visit mends, whatever the age."""
    stated = getattr(course.site.hazards, cause)
    if stated is None or not watches_for(course.history, cause):
        _leave_untold(course, cause)
        return
    key = rate_key(cause)
    _learn_rate(course, cause, getattr(stated, _setting(key).name), key)


def _learn_outage(course: _Class, cause: str) -> None:
    """Rate and duration of what ends by itself."""
    stated = getattr(course.site.hazards, cause)
    if stated is None or not watches_for(course.history, cause):
        _leave_untold(course, cause)
        return
    listed, per_year = rate_key(cause), stated.per_year
    if cause == LINK:
        environment = course.site.radio.environment
        if per_year is None:
            listed = f"hazards.{cause}.{environment}_per_year"
        per_year = stated.rate_per_year(environment)
    _learn_rate(course, cause, per_year, listed)
    alike = (cause, CIRCUIT) if cause == "mains_outage" else (cause,)
    took = [lasted for one in alike for lasted in durations_of(course.history, one)]
    _learn_duration(course, f"hazards.{cause}", stated.lasts, took)


def _learn_circuits(course: _Class) -> None:
    """What circuits have of all losses of supply: their own rate over that of a device."""
    mains, stated = course.site.hazards.mains_outage, course.site.hazards.circuit_outage
    if stated is None or not watches_for(course.history, CIRCUIT):
        _leave_untold(course, CIRCUIT)
        return
    if mains is None:
        course.untold.append(f"{CIRCUIT}: it is a share of mains_outage, which {IS_OFF}")
        return
    key, of_mains = f"hazards.{CIRCUIT}.share", rate_key("mains_outage")
    known = [one.after.value for one in course.found if one.key == of_mains]
    mains_per_year, span = known[0] if known else mains.per_year, _span(key)
    # MODELS.md, "circuits from history": the share is a rate in units of that of the mains.
    seen = strikes_of(watches_for(course.history, CIRCUIT), CIRCUIT)
    in_units = replace(seen, at_risk_years=seen.at_risk_years * mains_per_year)
    prior = believed(stated.share, span)
    conflict = _side(*seen_alone_per_year(in_units), span)
    before, after = (_as_share(one) for one in (prior, prior.updated(in_units)))
    basis = Basis(seen.n, at_risk_years=seen.at_risk_years)
    course.found.append(Lesson(key, "-", before, after, basis, span, conflict))


def _as_share(rate: Gamma) -> Belief:
    """Belief of a share, which no more than all can be."""
    found = _belief(rate)
    return Belief(*(min(1.0, one) for one in (found.value, found.low, found.high)))


def _learn_repairs(course: _Class) -> None:
    for name, causes in REPAIRS.items():
        stated: Duration | None = getattr(course.site.upkeep, name)
        took = [one for cause in causes for one in durations_of(course.history, cause)]
        if stated is None:
            course.untold.append(f"upkeep.{name}: it {IS_OFF}")
        else:
            _learn_duration(course, f"upkeep.{name}", stated, took)


def _learn_duration(course: _Class, section: str, stated: Duration, took: list[Lasted]) -> None:
    n_seen = sum(one.has_ended for one in took)
    if not took:
        course.untold.append(f"{section}.median_h: nobody wrote down when one ended")
        return
    span = _span(f"{section}.median_h")
    median_h, p90_h = _as_lognormal(section, stated)
    steepness = max(LEAST_STEEPNESS, math.log(p90_h / median_h) / Z90)
    median = Factor.within(median_h, span)
    low, high = median.box
    before = lasting_of((), median, steepness, (low, high))
    after = lasting_of(took, median, steepness, (low - 6, high + 6))
    free = lasting_of(took, None, steepness)
    held = lasting_of(took, None, steepness, (math.log(span[0]), math.log(span[1])))
    conflict = _side_of_peak(free, held, span, n_seen)
    basis = Basis(n_seen, len(took) - n_seen)
    for key, hours, of, listed, side in (
        ("median_h", median_h, _median_of, span, conflict),
        ("p90_h", p90_h, p90_of, None, Conflict.NONE),
    ):
        stated_h = Belief(hours, *_exp(before.bounds(of(before))))
        known_h = _of_logarithm(after, of(after))
        lesson = Lesson(f"{section}.{key}", "h", stated_h, known_h, basis, listed, side)
        course.found.append(lesson)


def _of_logarithm(found: Plane, values: Floats) -> Belief:
    return Belief(math.exp(found.quantile(values, 0.5)), *_exp(found.bounds(values)))


def _median_of(found: Plane) -> Floats:
    return found.x


def _as_lognormal(section: str, stated: Duration) -> tuple[float, float]:
    """Median and 90 % point of a stated duration, whatever its law."""
    if stated.median_h is not None and stated.p90_h is not None:
        return stated.median_h, stated.p90_h
    assert stated.mean_h is not None
    if stated.distribution == "exponential":
        return stated.mean_h * math.log(2), stated.mean_h * math.log(10)
    usual = [_setting(f"{section}.{name}").default for name in ("p90_h", "median_h")]
    assert isinstance(usual[0], float)
    assert isinstance(usual[1], float)
    return stated.mean_h, stated.mean_h * usual[0] / usual[1]


def _learn_cells(course: _Class) -> Iterator[CellLife]:
    """Spread of cells; yields how long they lasted, group by group, which nothing here sets."""
    key = "hazards.battery.spread"
    by_group: dict[str, list[Lasted]] = defaultdict(list)
    for one in course.history.cells:
        by_group[one.of].append(one.lasted)
    groups = {name: _cell_lives(took) for name, took in sorted(by_group.items())}
    stated = course.site.hazards.battery
    # One set that went flat says how long, and nothing of how alike they are.
    telling = [one for one in groups.values() if sum(one.spans_h.values()) > 1 and one.failed_h]
    if stated is None or not telling:
        why = (
            f"it {IS_OFF}"
            if stated is None
            else "no group with two sets of cells, one of them flat"
        )
        course.untold.append(f"{key}: {why}")
    if stated is None:
        return
    span = _span(key)
    spread = Factor.within(stated.spread, span)
    found = spread_of(list(groups.values()), spread)
    if telling:
        n_flat = sum(len(one.failed_h) for one in telling)
        n_open = sum(sum(one.spans_h.values()) for one in telling) - n_flat
        free = spread_of(telling, None)
        held = spread_of(telling, None, (math.log(span[0]), math.log(span[1])))
        conflict = _side_of_peak(free, held, span, n_flat)
        before = Belief(spread.middle, *_factor_bounds(spread))
        after, basis = _of_logarithm(found, found.x), Basis(n_flat, n_open)
        course.found.append(Lesson(key, "-", before, after, basis, span, conflict))
    for name, lives in groups.items():
        if lives.failed_h:
            n_open = sum(lives.spans_h.values()) - len(lives.failed_h)
            mean = Belief(*life_years(lives, found))
            yield CellLife(name, len(lives.failed_h), n_open, mean)


def _cell_lives(took: list[Lasted]) -> Lives:
    spans_h: dict[tuple[float, float], int] = defaultdict(int)
    for one in took:
        spans_h[0.0, one.likely_h] += 1
    return Lives(dict(spans_h), tuple(one.likely_h for one in took if one.has_ended))


def _leave_untold(course: _Class, cause: str) -> None:
    """Say why nothing is learnt of a cause, unless nobody asked for that hazard anyhow."""
    is_off = getattr(course.site.hazards, cause) is None
    if watches_for(course.history, cause) or cause not in (*ON_REQUEST, CIRCUIT):
        why = f"it {IS_OFF}" if is_off else "nobody watched for it"
        course.untold.append(f"{cause}: {why}")


def _belief(rate: Gamma) -> Belief:
    return Belief(rate.mean_per_year, *rate.bounds_per_year)


def _factor_bounds(factor: Factor) -> tuple[float, float]:
    reach = math.exp(MARGIN * factor.spread)
    return factor.middle / reach, factor.middle * reach


def _exp(bounds: tuple[float, float]) -> tuple[float, float]:
    return math.exp(bounds[0]), math.exp(bounds[1])
