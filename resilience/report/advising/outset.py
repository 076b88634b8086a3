"""What ``reinforce --from-sensors`` tells: the cheapest layouts found, and how far it searched."""

from collections.abc import Iterable

from resilience.building.site import Device, Kind
from resilience.montecarlo.costs import installation
from resilience.montecarlo.runs.running import OUT_OF_TIME
from resilience.remedies.outset.proposals import Outset, Proposal, Searched
from resilience.report.evidence import evidence
from resilience.report.pages import (
    Alert,
    Block,
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
from resilience.report.promised.promise import promise_words
from resilience.report.words import at_most, counted, figure_parts, listed, visible


def outset_page(found: Outset) -> Page:
    """Return everything that ``reinforce --from-sensors`` tells.

    Parameters
    ----------
    found : Outset
        What came of it. [-]
    """
    n_sensors = len(found.start.sensors)
    return page(
        *(Text(sentence) for sentence in _opening(found)),
        Text(promise_words(found.policy, n_sensors, found.site.horizon_years)),
        _warnings(found),
        _hung(found),
        _judged(found),
        _searched(found),
        [_made_by(found), Text(evidence(found.site), Tone.QUIET)],
        cautions(is_surveyed=not found.site.radio.predict),
    )


def _opening(found: Outset) -> tuple[str, ...]:
    if not found.proposals:
        n = found.n_open_below
        is_open = f" {_open_words(n)}" if n else ""
        return (f"No layout was shown to keep the promise: {found.stopped_because}.{is_open}",)
    best = found.proposals[0]
    may = f"{100 * (1 - found.policy.kept_with_probability):.4g} may"
    told = (
        f"The cheapest layout found that keeps the promise: {_devices_words(best.added)}. At most "
        f"{at_most(100 * best.broken.high)} of 100 lifetimes break it, and {may}."
    )
    return (told, _cost_words(found, best), _least_words(found))


def _devices_words(devices: Iterable[Device]) -> str:
    hung = list(devices)
    told = []
    for kind in (Kind.GATEWAY, Kind.REPEATER):
        names = [visible(one.id) for one in hung if one.kind is kind]
        if names:
            told.append(f"{counted(len(names), kind.value)} ({listed(names)})")
    return " and ".join(told)


def _cost_words(found: Outset, best: Proposal) -> str:
    beside = f"beside the {counted(len(found.start.sensors), 'sensor')}"
    n = counted(len(best.added), "device")
    if found.by_money:
        return f"It takes {n} {beside}, {best.cost:g} {visible(found.site.prices.currency)}."
    is_partly = installation(best.layout, found.site.prices).cost is not None
    partly = " for everything that could hang" if is_partly else ""
    return f"It takes {n} {beside}; without prices{partly} fewer devices count as cheaper."


def _least_words(found: Outset) -> str:
    n = found.n_open_below
    is_open = f" {_open_words(n)}" if n else ""
    if found.is_least:
        return (
            "All cheaper layouts at these places that reach the sensors were played, and none was "
            f"shown to keep it.{is_open}"
        )
    return f"A cheaper one may exist: not all of them were played (see below).{is_open}"


def _open_words(n: int) -> str:
    return f"For {n} of those played that stays open (more --seconds may tell)."


def _warnings(found: Outset) -> Block:
    told = []
    if found.out_of_reach:
        n = counted(len(found.out_of_reach), "sensor")
        names = listed([visible(one) for one in found.out_of_reach])
        told.append(
            f"{n} would have no way as drawn even if a device hung at every place: {names}."
        )
    if found.allowed.n_forbidden:
        told.append(
            f"{counted(found.allowed.n_forbidden, 'place')} of places.csv left out: outside the "
            "outline, in a shaft or in something solid."
        )
    if found.stopped_because == OUT_OF_TIME:
        told.append("The time allowed was used up before all was tried: --seconds gives it more.")
    return tuple(Alert(one) for one in told)


def _hung(found: Outset) -> Block:
    """Where the devices of the best proposal hang."""
    if not found.proposals:
        return ()
    rows = tuple(_hung_row(one) for one in found.proposals[0].added)
    columns = (*words("device", "kind", "level"), Column("x m"), Column("y m"))
    columns += (Column("height m", note="above the floor of the level"), *words("supply"))
    return titled("Where they hang", "", Table(columns, rows))


def _hung_row(device: Device) -> Row:
    place = device.place
    assert place is not None  # whatever is proposed was given one
    numbers = (f"{one:.10g}" for one in (place.x_m, place.y_m, place.height_m))
    head = (visible(device.id), device.kind.value, visible(place.level))
    return (*head, *numbers, device.supply.value)


def _judged(found: Outset) -> Block:
    """All layouts that were judged, those that keep the promise first."""
    if not found.judged:
        return ()
    kept = found.proposals
    rest = [one for one in found.judged if one not in kept]
    rows = tuple(
        (
            Text(_ids(one, Kind.GATEWAY), Tone.STRONG if one in kept[:1] else Tone.PLAIN),
            _ids(one, Kind.REPEATER),
            f"{one.cost:g}",
            "\n".join(figure_parts(one.broken, 100)),
            str(one.n_lifetimes),
            one.verdict.value,
        )
        for one in (*kept, *rest)
    )
    columns = (
        *words("gateways", "repeaters"),
        _cost_column(found),
        Column("break it", note="of 100 lifetimes, with bounds"),
        Column("lifetimes"),
        Column("that is", is_text=True),
    )
    note = (
        "Each on lifetimes of its own that nobody chose on; the bounds of all that may be judged "
        f"hold together at 95 % ({100 * found.level_share:.4g} % each)."
    )
    return titled("Judged", note, Table(columns, rows))


def _ids(proposal: Proposal, kind: Kind) -> str:
    names = [visible(one.id) for one in proposal.added if one.kind is kind]
    return listed(names) if names else "-"


def _cost_column(found: Outset) -> Column:
    if found.by_money:
        return Column("cost", note=f"in {visible(found.site.prices.currency)}, beside the sensors")
    return Column("devices", note="beside the sensors")


def _searched(found: Outset) -> Block:
    """How far it searched."""
    rows = tuple(_searched_row(one) for one in found.searched)
    if not rows:
        return ()
    columns = (
        Column("gateways"),
        Column("repeaters"),
        _cost_column(found),
        Column("there are", note="layouts of so many at these places"),
        Column("looked at", note="on the screen; where not all, those built on the best of fewer"),
        Column("reach all", note="of these, as drawn, but for those that may be lost"),
        Column("played"),
        Column("open", note="of these, neither shown to keep it nor surely broken"),
        Column("least\nbroken", note="of 100 lifetimes of a short play"),
    )
    return titled("How far it searched", "The cheapest first.", Table(columns, rows))


def _searched_row(one: Searched) -> Row:
    least = "" if one.least_broken is None else f"{100 * one.least_broken:.3g}"
    done = (one.n_possible, one.n_screened, one.n_reaching, one.n_played, one.n_open)
    cost = f"{one.cost:g}"
    return (str(one.n_gateways), str(one.n_repeaters), cost, *(str(n) for n in done), least)


def _made_by(found: Outset) -> Text:
    gateways = listed([visible(one.id) for one in found.allowed.gateways])
    counts = "Site outages count" if found.counts_outages else "Site outages do not count"
    return Text(
        f"Seed {found.seed}; gateways at {gateways}, repeaters at "
        f"{counted(len(found.allowed.repeaters), 'place')}. It ends here: "
        f"{found.stopped_because}. {counts}. Sensors stay where they are.",
        Tone.QUIET,
    )
