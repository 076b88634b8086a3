"""What to buy, and where to hang it."""

from collections import Counter

from resilience.building.site import Device
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of
from resilience.report.pages import Column, Row, Table, Text, words
from resilience.report.papers.paper import TO_TICK, TO_WRITE, Job, Paper


def buying(job: Job) -> Paper:
    """List of what to buy.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    counts = Counter(map(_article, job.within.placed.layout.devices))
    rows: list[Row] = [(*what, str(n), TO_WRITE) for what, n in sorted(counts.items())]
    columns = (
        *words("device", "model", "supply", "cells"),
        Column("pieces"),
        *words("ordered as"),
    )
    table = Table(columns, tuple(rows))
    lead = Text("What the layout needs, without spares: those are in the spare plan.")
    chapter = Chapter("What to buy", (lead, Listing("Devices and cells", table)))
    return Paper(chapter, {"buy.csv": csv_of(table)})


def _article(device: Device) -> tuple[str, str, str, str]:
    cells = "" if device.battery is None else device.model.battery
    return device.kind.value, device.model_name, device.supply.value, cells


def mounting(job: Job) -> Paper:
    """Mounting schedule, level by level.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    order = {level.id: n for n, level in enumerate(job.shown.site.building.levels)}
    devices = sorted(
        job.within.placed.layout.devices,
        key=lambda one: (order.get(one.place.level, -1) if one.place else -1, one.id),
    )
    columns = (
        *words("device", "kind", "level"),
        Column("x, m"),
        Column("y, m"),
        Column("above floor, m"),
        *words("model", "supply", "circuit", "note", "serial number", "hung, date", "as drawn"),
    )
    table = Table(columns, tuple(_row(one) for one in devices))
    lead = Text(
        "x runs to the right and y upwards on the plans. Write down what was hung elsewhere, and "
        "by how much: a metre matters near metal and behind walls."
    )
    chapter = Chapter("Mounting schedule", (lead, Listing("Where each device hangs", table)), True)
    return Paper(chapter, {"mounting.csv": csv_of(table)})


def _row(device: Device) -> Row:
    place = device.place
    where: tuple[str, ...] = ("", "", "", "")
    if place is not None:
        where = (place.level, f"{place.x_m:g}", f"{place.y_m:g}", f"{place.height_m:g}")
    more = (device.model_name, device.supply.value, device.circuit_id, device.note)
    return (device.id, device.kind.value, *where, *more, TO_WRITE, TO_WRITE, TO_TICK)
