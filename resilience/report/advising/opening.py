"""The first lines of ``weakest``: on what most depends, how much of the loss it is, what helps."""

from resilience.building.site import Kind
from resilience.lifetime.record import LAYOUT, RADIO_DRAW
from resilience.remedies.weakest import Culprit, Weakness
from resilience.report.advising.helping import (
    ANOTHER_GATEWAY,
    heaviest_of,
    help_for_culprit,
    help_for_device,
)
from resilience.report.advising.walking import measured_words
from resilience.report.comparing.dependence import Telling, happens_words, told_of
from resilience.report.words import counted, figure_parts, listed, two_digits, visible

LEAST_SHARE = 0.05  # of all hours, below which nothing is said to depend on a thing
CUT_OFF = "cut off (working, but with no way to a gateway)"


def opening(weakness: Weakness) -> tuple[str, ...]:
    """Return what a layout hangs on, in plain words.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    """
    told = (
        *(_most(weakness), _carrier(weakness), _nobodys(weakness), _gateway(weakness)),
        *(_as_drawn(weakness), _measure(weakness)),
    )
    return tuple(one for one in told if one)


def is_thing(culprit: Culprit) -> bool:
    """Whether hours are put down to a thing, and not to the layout or its radio as a whole.

    Parameters
    ----------
    culprit : Culprit
        To which hours are put down. [-]
    """
    return not {LAYOUT, RADIO_DRAW} & set(culprit.by_holder)


def name_of(weakness: Weakness, culprit: Culprit) -> str:
    """Return how a thing is called.

    Parameters
    ----------
    weakness : Weakness
        Of the layout. [-]
    culprit : Culprit
        The thing. [-]
    """
    holder = heaviest_of(culprit.by_holder)
    if holder is None:
        return visible(culprit.subject[1])
    return told_of(holder, Telling.THING, weakness.comparison.site.building)


def percents(culprit: Culprit) -> str:
    """Return the share of all hours with its bounds.

    Parameters
    ----------
    culprit : Culprit
        The thing. [-]
    """
    best, bounds = figure_parts(culprit.share, 100)
    return f"{best} % ({bounds})"


def _hours(weakness: Weakness) -> str:
    return two_digits(weakness.hours.mean)


def _most(weakness: Weakness) -> str:
    """The one thing on which most depends."""
    name = visible(weakness.layout.name)
    if weakness.hours.mean == 0:
        return (
            f"With {name} no sensor in service was ever {CUT_OFF}, in "
            f"{counted(weakness.study.n_buildings, 'possible building')}: nothing is to blame. "
            "What is rarer was not seen."
        )
    things = [one for one in weakness.culprits if is_thing(one)]
    if not things or things[0].share.mean < LEAST_SHARE:
        return (
            f"{name} hangs on no single thing: of the {_hours(weakness)} h a year for which a "
            f"sensor is {CUT_OFF}, none holds more than {100 * LEAST_SHARE:.0f} %."
        )
    first = things[0]
    happens = happens_words(weakness.study, first.by_holder, weakness.comparison.site.building)
    thing, why = name_of(weakness, first), f" ({happens})" if happens else ""
    return (
        f"Most depends on {thing}: of the {_hours(weakness)} h a year for which a sensor of "
        f"{name} is {CUT_OFF}, {percents(first)} come while it is away{why}.{_worse(first)} "
        f"What would help: {help_for_culprit(weakness, first)}."
    )


def _worse(culprit: Culprit) -> str:
    seen = culprit.importance
    if seen is None or seen.sensors is None or seen.sensors.low <= 0:
        return ""
    best, bounds = figure_parts(seen.sensors)
    return f" While it is away {best} more sensors are cut off than otherwise ({bounds})."


def _carrier(weakness: Weakness) -> str:
    """The device that carries most for others, where most depends on none."""
    kinds = {one.id: one.kind for one in weakness.layout.devices}
    things = [one for one in weakness.culprits if is_thing(one)]
    passing = {id: n for id, n in weakness.carried.items() if kinds[id] is not Kind.GATEWAY}
    if not passing or not things or things[0].subject[1] in kinds:
        return ""
    id = max(passing, key=lambda one: (passing[one], one))
    held = next((one for one in things if one.subject[1] == id and one.hours), None)
    share = f", and {percents(held)} of these hours come while it is away" if held else ""
    kind, n_sensors = kinds[id].value, len(weakness.study.sensors)
    return (
        f"Of the devices, {kind} {visible(id)} carries most: the readings of "
        f"{passing[id]:.0f} of {n_sensors} sensors, on average{share}. What would help: "
        f"{help_for_device(weakness, id)}."
    )


def _nobodys(weakness: Weakness) -> str:
    """Hours for which no thing stands."""
    others = [one for one in weakness.culprits if not is_thing(one) and one.hours]
    told = [
        f"{percents(one)}: {told_of(holder, Telling.THING, weakness.comparison.site.building)}"
        for one in others
        for holder in one.by_holder
        if one.share.mean >= LEAST_SHARE
    ]
    return f"No single thing is to blame for {', nor for '.join(told)}." if told else ""


def _gateway(weakness: Weakness) -> str:
    """What a gateway that stands alone means."""
    gateways = weakness.layout.of_kind(Kind.GATEWAY)
    silent = weakness.study.silent_hours
    if len(gateways) != 1 or silent.no_gateway <= LEAST_SHARE * silent.total:
        return ""
    return (
        f"{visible(gateways[0].id)} is the only gateway: {two_digits(silent.no_gateway)} of the "
        f"{two_digits(silent.total)} h a year for which a sensor is silent for any reason come "
        f"while it is not up. {ANOTHER_GATEWAY[0].upper()}{ANOTHER_GATEWAY[1:]} would help."
    )


def _as_drawn(weakness: Weakness) -> str:
    """Which devices cut sensors off alone, as drawn, or how many it takes."""
    kinds = {one.id: one.kind for one in weakness.layout.devices}
    alone = [
        one
        for one in weakness.bottlenecks.points
        if one.as_drawn and one.kind == "device" and kinds[one.id] is not Kind.GATEWAY
    ]
    n_sensors = len(weakness.study.sensors)
    if alone:
        first = alone[0]
        others = [one.id for one in alone[1:]]
        more = f"; others that cut off some: {listed(others, 3)}" if others else ""
        return (
            f"As drawn, all ways of {len(first.as_drawn)} of {counted(n_sensors, 'sensor')} lead "
            f"through {visible(first.id)}{more}. What would help: "
            f"{help_for_device(weakness, first.id)}."
        )
    sizes = weakness.cuts.n_by_size
    if not sizes:
        return ""
    least, n = next(iter(sizes.items()))
    return (
        f"As drawn, no device but a gateway cuts off a sensor alone; it takes {least} to cut off "
        f"{counted(n, 'of them', 'of them')}."
    )


def _measure(weakness: Weakness) -> str:
    """What tells most of all that could be measured."""
    shown = weakness.survey.shown
    if not shown:
        return ""
    return (
        f"What to measure first: {measured_words(shown[0])}, which tells "
        f"{100 * shown[0].told_share:.0f} % of what a survey could."
    )
