"""What is kept of devices and orphans while a lifetime runs: rows as in ``world``."""

import numpy as np


class UpkeepRules:
    """How things are mended: part of the rules."""

    takes_calls: int  # failures of sensors and repeaters wait for a call
    visit_slot: int  # where the slots of visits and of alarms begin, one for each device
    alarm_slot: int
    alarm_ms: int
    hears_orphans: int
    crews: int  # 0 is as many as are called
    mends_site: int
    opens_ms: int  # between which times of a day crews travel and work, and on which days
    closes_ms: int
    days: int
    repair_shape: int
    repair_scale: float
    repair_slope: float
    has_response: int
    response_shape: int
    response_scale: float
    response_slope: float
    resurveys: int
    dead_share: float  # of parts
    delivery_shape: int
    delivery_scale: float
    delivery_slope: float
    stock_slot: int  # where the slots of deliveries begin, one for each kind of part
    round_slot: int
    has_rounds: int
    every_ms: int
    older_ms: int  # cells of that age are renewed, and those with less of their charge
    below: int
    service_ms: int
    begins_from_ms: int  # between which times of a day a device is begun with, and on which days
    begins_to_ms: int
    begins_on: int


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
    resurveyed: int  # step in which a visit ended the lasting change that it was put down to
    brought: int  # kind of part that a visit has with it
    parts: int  # put in so far
    tried: int  # step in which the last of them was put in, and whether it was dead
    is_dead: int
    part_key: np.uint64
    part_start: np.uint64
    response_key: np.uint64
    response_start: np.uint64


NO_CALL, WAITING, SENT = range(3)
SEEN_TO = -2


class Stock:
    """Parts of one kind."""

    kept: int  # -1 is as many as are needed
    here: int
    n_coming: int
    ordered: int
    key: np.uint64
    start: np.uint64


SPARE_DEVICES, SPARE_CELLS = range(2)


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
