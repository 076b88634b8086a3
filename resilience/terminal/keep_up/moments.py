"""Moments of the day as a person names them."""

import time
from collections.abc import Callable
from datetime import datetime, timedelta

from resilience.errors import UsageError


def seconds_until(named: str) -> Callable[[], float]:
    """Return what tells how long it is until a time of day comes next.

    Parameters
    ----------
    named : str
        As in ``06:00``, local time. [-]

    Raises
    ------
    UsageError
        It is no time of day.
    """
    now = datetime.now().astimezone()
    try:
        wanted = datetime.strptime(named, "%H:%M")
    except ValueError as error:
        raise UsageError(f"--until {named}: expected a time of day, as in 06:00") from error
    then = now.replace(hour=wanted.hour, minute=wanted.minute, second=0, microsecond=0)
    if then <= now:
        then += timedelta(days=1)
    # From here on by a clock that nobody sets.
    end = time.monotonic() + (then - now).total_seconds()
    return lambda: end - time.monotonic()
