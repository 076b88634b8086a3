"""What happens when a device is switched off: to be tried on site, against the prediction."""

from resilience.building.site import Kind
from resilience.connectivity.trees import SwitchedOff
from resilience.report.binding.document import Chapter, Listing
from resilience.report.binding.tables import csv_of
from resilience.report.pages import Bullets, Column, Row, Table, Text, words
from resilience.report.papers.paper import TO_TICK, Job, Paper
from resilience.report.words import listed, visible

MOST = 40  # names in a row


def switching(job: Job) -> Paper:
    """Switch-off test of every device that others lean on, the most first.

    Parameters
    ----------
    job : Job
        What is installed. [-]
    """
    devices = job.within.placed.layout.devices
    found = [
        (len(job.tree.behind(one.id)), one.id, job.tree.without(one.id))
        for one in devices
        if one.kind is Kind.GATEWAY or job.tree.behind(one.id)
    ]
    found.sort(key=lambda one: (-one[0], one[1]))
    rows: list[Row] = [_row(off) for _, _, off in found]
    columns = (
        Column("switch off", is_text=True),
        *words("these go silent", "these move", "silent, as said", "moved, as said", "back again"),
    )
    table = Table(columns, tuple(rows))
    lead = Text(
        "With everything else calm, as links are predicted on average. Switch one device off, wait "
        "until the network has settled, look who is silent, tick, and switch it on again."
    )
    how = Bullets(
        "What a difference means",
        (
            "More are silent than said: a link is weaker than predicted. Measure those of the "
            "devices that are silent.",
            "Fewer are silent, or others move: links are stronger than predicted. Measure them as "
            "well: what was promised rests on the weaker ones.",
        ),
    )
    sentences = Bullets("In words", tuple(sentence(off) for _, _, off in found))
    listing = Listing("Switch-off test", table)
    chapter = Chapter("Switch-off test, on site", (lead, sentences, listing, how), True)
    return Paper(chapter, {"switch-off.csv": csv_of(table)})


def sentence(off: SwitchedOff) -> str:
    """What happens, as somebody would say it on site.

    Parameters
    ----------
    off : SwitchedOff
        What follows. [-]
    """
    silent = f"{listed(off.silent, most=MOST)} {_go(len(off.silent))} silent" if off.silent else ""
    moves = ", ".join(f"{visible(one)} moves to {visible(new)}" for one, _, new in off.moves)
    told = ", ".join(part for part in (silent, moves) if part) or "nobody moves"
    return f"Switch off {visible(off.id)}: {told}."


def _go(n: int) -> str:
    return "goes" if n == 1 else "go"


def _row(off: SwitchedOff) -> Row:
    moves = ", ".join(f"{one} to {new}" for one, _, new in off.moves)
    silent = listed(off.silent, most=MOST) if off.silent else "nobody"
    return (off.id, silent, moves or "nobody", TO_TICK, TO_TICK, TO_TICK)
