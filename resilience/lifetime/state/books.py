"""What is kept of devices and orphans while a lifetime runs: rows as in ``world``."""

import numpy as np


class Silence:
    """What the desk that takes calls knows of a device; no rows where nobody takes any."""

    since: int  # when it fell silent; -1 while it is heard, SEEN_TO once somebody has been there
    call: int  # NO_CALL, WAITING or SENT
    called_ms: int
    seen_to_by: int  # device whose visit sees to it
    left: int  # step in which a visit left it
    n_failures: int  # that a visit would mend
    failed: int  # step of the last of them
    worked_ms: int  # travel and work of the visit under way
    response_key: np.uint64
    response_start: np.uint64


NO_CALL, WAITING, SENT = range(3)
SEEN_TO = -2


class Account:
    """The open and closed accounts of a device, most of them of a sensor; times in ms."""

    down_since: int
    dark_since: int
    cut_off_since: int
    depth: int
    depth_since: int
    spell_since: int
    spell_promise: int
    holder: int  # element, LAYOUT or RADIO_DRAW
    holder_struck: int
    holder_until: int  # end of its absence where it is known beforehand
    holder_since: int
    silent_since: int
    silent_until: int
    had_route: int
    counts_as: int  # a bit for each way to be lost
    next_held: int  # next and previous sensor whose spell the same element holds
    prev_held: int
    orphan_ms: int
    dark_ms: int
    down_ms: int
    cut_off_ms: int
    not_reached_ms: int
    interrupted_ms: int
    reparentings: int


ORPHANS, DARK, SILENT, CROWDS = range(4)  # ways to be lost, in the order of ``record.COUNTED``


class Count:
    """For how long exactly so many were orphans, and more than so many lost in one way."""

    count_ms: int
    since: int
    longest_ms: int


class Spell:
    """An orphan spell that is over."""

    sensor: int
    start_ms: int
    end_ms: int
    orphan_ms: int
    is_cut: int


class Line:
    """A line of the log, kept when a history is wanted."""

    time_ms: int
    code: int
    one: int
    two: int
    three: int
    four: int


LOG_STRIKE, LOG_END, LOG_PARENT, LOG_OUTAGE, LOG_FADED, LOG_HELD, LOG_HELD_EARLY = range(7)
LOG_CALL, LOG_CLOSED, LOG_LEFT, LOG_MENDED, LOG_OVER = range(7, 12)
