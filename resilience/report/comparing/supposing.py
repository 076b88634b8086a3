"""What came of what-ifs: a table below the order of layouts."""

from resilience.montecarlo.runs.running import REACHED
from resilience.ranking.pairs import RankedBy, Verdict
from resilience.remedies.supposing.whatifs import WhatIf, WhatIfs
from resilience.report.pages import Alert, Block, Column, Part, Table, Text, Tone, titled, words
from resilience.report.words import counted, two_lines, visible

SHOWS = {
    Verdict.BETTER: "< better",
    Verdict.WORSE: "> worse",
    Verdict.ALIKE: "= alike",
    Verdict.NEARLY_ALIKE: "= alike\nin most buildings",
    Verdict.SAME: "= the same",
    Verdict.TOO_CLOSE: "? too close to call",
    Verdict.MIXED: "! fewer cut off,\nmore silent",
}


def whatifs_block(found: WhatIfs | None, by: RankedBy) -> Block:
    """Return what came of what-ifs; nothing if nobody asked.

    Parameters
    ----------
    found : WhatIfs or None
        What was asked. [-]
    by : RankedBy
        Which hours are compared. [-]
    """
    if found is None:
        return ()
    waits = "" if by is RankedBy.SERVICE else ", the wait for a first way included"
    columns = (
        *words("what if", "of layout"),
        Column("cut off, h", note=f"a sensor and year{waits}: as it would be less as it is"),
        Column("silent, h", note="the same for any reason, site outages among them"),
        Column("that is", is_text=True, note="shown on the same lifetimes, all at once"),
    )
    rows = tuple(_row(one) for one in found.found)
    n_buildings = max((one.pair.n_buildings for one in found.found if one.pair), default=0)
    note = (
        f"One at a time against the site as it is, in {counted(n_buildings, 'possible building')}; "
        f"bounds of {100 * found.level_share:.4g} % each hold together."
    )
    parts: list[Part] = [Table(columns, rows)]
    if found.stopped_because != REACHED:
        parts.append(Alert(f"Not all were played: {found.stopped_because}."))
    return titled("What if", note, *parts)


def _row(one: WhatIf) -> tuple[str | Text, ...]:
    name, layout = visible(one.supposed.text), visible(one.layout)
    if one.pair is None or one.silent is None:
        return name, layout, "", "", Text("not reached", Tone.QUIET)
    if one.is_alike:
        return name, layout, "0", "0", "= nothing that counts differs"
    verdict = one.pair.verdict
    is_shown = verdict is Verdict.BETTER and one.pair.is_settled
    tone = Tone.GOOD if is_shown else Tone.PLAIN
    aside = f"\nbut for 1 in {one.pair.leaves_aside}" if one.pair.leaves_aside else ""
    shown = Text(f"{SHOWS[verdict]}{aside}", tone)
    return name, layout, two_lines(one.pair.difference), two_lines(one.silent), shown
