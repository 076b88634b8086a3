"""Numbers, spans of time and names in plain words; digits follow the error."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from resilience.building.structure import Building
from resilience.connectivity.rows import link_ends
from resilience.hazards.causes import Cause
from resilience.montecarlo.estimates import TOO_FEW, Estimate

MOST_DECIMALS = 6
MINUTES_PER_H = 60
HOURS_PER_DAY = 24
DAYS_PER_YEAR = 365.25


def visible(text: str) -> str:
    """Return text with every control character and direction mark shown as an escape."""
    return "".join(
        one
        if one.isprintable()
        else one.encode("unicode_escape", "surrogatepass").decode("ascii", "replace")
        for one in text
    )


def unreckoned(text: str) -> str:
    """Return text with an apostrophe before it if a spreadsheet would take it for a formula.

    Parameters
    ----------
    text : str
        As ``visible`` shows it. [-]
    """
    return f"'{text}" if text.startswith(("=", "+", "-", "@")) else text


def listed(names: Sequence[str], most: int = 12) -> str:
    """Names as a sentence lists them, those beyond the most counted.

    Parameters
    ----------
    names : sequence of str
        At least one. [-]
    most : int
        How many are named. [-]
    """
    shown = [visible(name) for name in names[:most]]
    if len(names) > most:
        shown.append(f"{len(names) - most} more")
    return shown[0] if len(shown) == 1 else f"{', '.join(shown[:-1])} and {shown[-1]}"


def counted(n: int, singular: str, plural: str = "") -> str:
    """Return a number of things, as in ``1 wall`` and ``2 walls``."""
    return f"{n} {singular if n == 1 else plural or singular + 's'}"


@dataclass(frozen=True, slots=True)
class Wording:
    """How it is told that something in the building changes.

    Parameters
    ----------
    state : str
        What it does while it is changed, as in ``is shut``. [-]
    begins, ends : str
        What follows its name when it changes and when that is over. [-]
    """

    state: str
    begins: str
    ends: str


SHUTS = Wording("is shut", "was shut", "is open again")
STANDS = Wording("stands there", "now stands there", "is gone")
FILLS = Wording("is full", "has filled up", "has room again")
WORDINGS = {"door": SHUTS, "shutter": SHUTS, "racking": FILLS}  # by kind; all others stand


def changing_thing(building: Building, id: str) -> tuple[str, Wording]:
    """Name of a door or obstacle with its kind, as in ``door D1``, and how its change is told.

    Parameters
    ----------
    building : Building
        Where it is drawn. [-]
    id : str
        Its id. [-]
    """
    kinds = {door.id: "door" for door in building.doors}
    kinds |= {obstacle.id: obstacle.kind for obstacle in building.obstacles}
    kind = kinds.get(id, "other")
    name = "obstacle" if kind == "other" else visible(kind).replace("_", " ")
    return f"{name} {visible(id)}", WORDINGS.get(kind, STANDS)


def worded(
    pattern: str, holder: tuple[str, str], building: Building, devices: Sequence[str] = ()
) -> str:
    """Fill in a pattern of a cause (``hazards/causes.py``) for one thing that it takes away.

    Parameters
    ----------
    pattern : str
        One of the sentences of a cause. [-]
    holder : (str, str)
        Name of the cause, and id of the thing. [-]
    building : Building
        Where doors and obstacles are drawn. [-]
    devices : sequence of str
        What it takes away, where that may be several. [-]
    """
    cause, id = holder
    ends = [visible(end) for end in link_ends(id) or (id,)]
    thing, wording = changing_thing(building, id)
    return pattern.format(
        id=visible(id),
        cause=cause.replace("_", " "),
        ends=" and ".join(ends),
        path=" to ".join(ends),
        devices=listed(devices) if devices else "",
        thing=thing,
        Thing=f"{thing[0].upper()}{thing[1:]}",
        begins=wording.begins,
        stops=wording.ends,
        state=wording.state,
    )


def counted_strikes(n: int, cause: Cause) -> str:
    """Count of strikes of one cause, as in ``2 flat batteries``."""
    return counted(n, cause.noun.format(cause=cause.name.replace("_", " ")), cause.nouns)


def per_year(value: float) -> str:
    """Mean count per year: whole from 10, one decimal from 0.1, else one digit; 0 is ``no``."""
    if value == 0:
        return "no"
    if value >= 10:
        return f"{value:,.0f}"
    return f"{value:.1f}".removesuffix(".0") if value >= 0.1 else f"{value:.1g}"


def times_a_year(value: float) -> str:
    """Mean count per year with its words, as in ``0.5 times a year``, ``once`` and ``never``."""
    if value == 0:
        return "never"
    count = per_year(value)
    return "once a year" if count == "1" else f"{count} times a year"


def span(hours: float) -> str:
    """Span of time in the unit that a person would choose."""
    if hours < 1:
        minutes = hours * MINUTES_PER_H
        return f"{minutes:.0f} min" if minutes >= 1 else f"{minutes * 60:.0f} s"
    days = hours / HOURS_PER_DAY
    if days < 2:
        return f"{hours:.1f} h"
    return f"{days:.1f} days" if days < DAYS_PER_YEAR else f"{days / DAYS_PER_YEAR:.1f} years"


def moment(begins: date, time_ms: int) -> str:
    """Date and time of day, local standard time, at so many milliseconds after hand-over."""
    at = datetime.combine(begins, time()) + timedelta(milliseconds=time_ms)
    return at.strftime("%Y-%m-%d %H:%M")


def decimals(error: float, value: float = 0.0) -> int:
    """Decimal places worth showing; negative for tens, hundreds.

    The rounding rule of the Particle Data Group: two digits of the error where its first three are
    at most 354, else one. The value itself keeps at least one digit.

    Parameters
    ----------
    error : float
        Half the width of the bounds, above 0. [unit]
    value : float
        What is shown. [unit]
    """
    exponent = math.floor(math.log10(error))
    first_three = round(error / 10**exponent * 100)
    places = 1 - exponent if first_three <= 354 else -exponent
    if value:
        places = max(places, -math.floor(math.log10(abs(value))))
    return min(places, MOST_DECIMALS)


def rounded(value: float, places: int) -> str:
    """Number with so many decimal places, never a negative zero."""
    near = round(value, places) + 0.0
    return f"{near:,.{max(0, places)}f}"


def two_digits(value: float) -> str:
    """Number with two digits, or all of those before the decimal point."""
    return f"{value:,.0f}" if abs(value) >= 10 else f"{value:.2g}"


def at_least(value: float) -> str:
    """Lower bound above 0, rounded down to two digits."""
    if value <= 0:
        return "0"
    places = 1 - math.floor(math.log10(value))
    return rounded(math.floor(value * 10**places + 1e-9) / 10**places, places)


def at_most(value: float, places: int | None = None) -> str:
    """Upper bound, finite, rounded up to so many decimal places, or to two digits.

    Parameters
    ----------
    value : float
        The bound. [unit]
    places : int or None
        Decimal places. [-]
    """
    if value <= 0:
        return "0"
    if places is None:
        places = 1 - math.floor(math.log10(value))
    return rounded(math.ceil(value * 10**places - 1e-9) / 10**places, places)


def figure_parts(estimate: Estimate, scale: float = 1.0) -> tuple[str, str]:
    """Best value and bounds of a figure, as two texts.

    Parameters
    ----------
    estimate : Estimate
        The figure. [unit]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    mean, low, high = (scale * one for one in (estimate.mean, estimate.low, estimate.high))
    if math.isnan(mean):
        return "none", "never seen"
    if estimate.method == TOO_FEW:
        return f"{mean:.2g}", "no bounds"
    if mean == 0 and low == 0:
        return "0", "none seen" if math.isinf(high) else f"at most {at_most(high)}"
    if math.isinf(high) or high == low:
        more = " or more" if math.isinf(high) else " exactly"
        return f"{mean:.3g}", f"{low:.3g}{more}"
    places = decimals((high - low) / 2, mean)
    return rounded(mean, places), f"{rounded(low, places)} to {rounded(high, places)}"


def two_lines(estimate: Estimate, scale: float = 1.0) -> str:
    """Figure with its bounds below it.

    Parameters
    ----------
    estimate : Estimate
        The figure. [unit]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    return "\n".join(figure_parts(estimate, scale))


def figure(estimate: Estimate, scale: float = 1.0) -> str:
    """Figure in one line, as in ``41 (29 to 53)`` or ``0 (at most 12)``.

    Parameters
    ----------
    estimate : Estimate
        The figure. [unit]
    scale : float
        Factor, 100 to show a share as a percentage. [-]
    """
    best, bounds = figure_parts(estimate, scale)
    return f"{best} ({bounds})"


def turned(difference: Estimate) -> Estimate:
    """Return a difference as second minus first.

    Parameters
    ----------
    difference : Estimate
        First minus second. [unit]
    """
    return Estimate(
        -difference.mean + 0.0,
        -difference.high + 0.0,
        -difference.low + 0.0,
        difference.level_share,
        difference.method,
    )
