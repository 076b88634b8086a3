"""What measured links say about the prediction: the answer of ``calibrate``."""

import math
from collections import Counter
from pathlib import Path

from resilience.connectivity.surveys.readings import Reading, Tells
from resilience.connectivity.surveys.survey import Compared, Survey, Term
from resilience.connectivity.surveys.unknowns import Assumption
from resilience.report.pages import (
    Alert,
    Block,
    Bullets,
    Column,
    Page,
    Part,
    Row,
    Table,
    Text,
    Tone,
    cautions,
    figures,
    page,
    titled,
    words,
)
from resilience.report.words import counted, listed, rounded, visible

SPREADS_AT_95 = 1.96
MATTERS_DB = 3.0  # half of the power: what devices lose below that is no cause to look
BARELY_DB = 0.05  # so small a figure is shown as 0.0
MENDED = "* "


def calibration_page(survey: Survey, written: Path | None = None) -> Page:
    """Return everything that ``calibrate`` tells.

    Parameters
    ----------
    survey : Survey
        What the measured links say. [-]
    written : Path or None
        Where the corrections were kept; None where they were not. [-]
    """
    untold = [f"{_name(one)}: {one.why_not}." for one in survey.terms if one.why_not]
    has_fit = survey.calibration is not None
    return page(
        _summary(survey),
        _corrections(survey),
        Bullets("What the measured links cannot tell", tuple(untold)) if untold and has_fit else (),
        _links(survey),
        _outcome(survey, written),
        cautions(is_surveyed=False),
    )


def _summary(survey: Survey) -> Block:
    """How far off the prediction is, and whether the corrections help, in plain words."""
    n_limits = len(survey.compared) - survey.n_known
    told = [f"{visible(survey.site)}: {counted(survey.n_known, 'link')} measured"]
    if n_limits:
        told.append(f", and {counted(n_limits, 'link')} of which only a limit is known")
    told.append(".")
    before, after = survey.before, survey.after
    if before is not None:
        told.append(
            f" Half of them lie within {before.half_within_db:.1f} dB of the prediction, which is "
            f"{_bias(before.too_strong_db)}."
        )
    if after is not None:
        told.append(
            " Predicted anew with corrections taken from the other links alone, half lie within "
            f"{after.half_within_db:.1f} dB ({_bias(after.too_strong_db)}), and {survey.n_closer} "
            f"of {after.n_links} come closer."
        )
    lines: list[Part] = [Text("".join(told))]
    if survey.why_not:
        lines.append(Alert(f"No correction: {survey.why_not}."))
    if before and after and after.root_mean_square_db >= before.root_mean_square_db:
        lines.append(Alert("The corrections bring no gain for links that they were not fitted to."))
    lines += [Alert(told) for told in map(_devices_told, survey.terms) if told]
    wild = [one.reading.link.id for one in survey.compared if survey.is_wild(one)]
    if wild:
        lines.append(Alert(f"Nothing drawn explains {listed(wild)}: measure again, or redraw."))
    return tuple(lines)


def _devices_told(one: Term) -> str:
    """What the devices themselves lose, in plain words; empty if that is little, or unknown."""
    if not _is_of_devices(one) or one.correction is None or one.why_not:
        return ""
    offset_db, half_db = one.correction.offset, SPREADS_AT_95 * one.correction.spread
    if abs(offset_db) < max(half_db, MATTERS_DB):
        return ""
    low, high = (rounded(abs(offset_db) + side * half_db, 0) for side in (-1, 1))
    who, than = "Devices send or hear", "assumed"
    if one.unknown.kind is Assumption.MODEL:
        who, than = f"Devices of model {one.unknown.name} send or hear", "the others"
    return (
        f"{who} {rounded(abs(offset_db), 0)} dB {'less' if offset_db > 0 else 'more'} than {than} "
        f"({low} to {high}): look at antenna, housing or mounting first."
    )


def _bias(too_strong_db: float) -> str:
    if abs(too_strong_db) < BARELY_DB:
        return "right on average"
    return (
        f"{abs(too_strong_db):.1f} dB too {'hopeful' if too_strong_db > 0 else 'gloomy'} on average"
    )


ASSUMPTION = (
    "per decade of distance: from 1 m to 10 m, from 10 m to 100 m; of devices: antenna, housing, "
    "mounting, per path both ends together; else per crossing"
)
HOLDS_ON = (
    "The fit holds on to what is assumed as far as the links leave it open, and no single reading "
    "can drag it along."
)


def _corrections(survey: Survey) -> Block:
    brackets = "(in brackets): used, though the links cannot tell it by itself"
    has_brackets = any(one.correction and one.why_not for one in survey.terms)
    columns = (
        Column("assumption", is_text=True, note=ASSUMPTION),
        Column("assumed\ndB"),
        Column("give or\ntake", note="one standard deviation before the survey"),
        Column("links", note="measured ones that it touches"),
        Column("measured\nsay, dB", note=brackets if has_brackets else ""),
        *figures("now, dB", "95 %"),
    )
    made = Table(columns, tuple(_term_row(one) for one in survey.terms))
    fit = survey.calibration
    lines = [Text(HOLDS_ON, Tone.QUIET)]
    if fit is not None:
        lines.append(
            Text(
                f"Measured links scatter about the corrected prediction by {fit.residual_db:.1f} "
                f"dB (assumed: {survey.assumed_residual_db:.1f} dB), one standard deviation."
            )
        )
    ways = survey.ways
    if ways is not None:
        lines.append(
            Text(
                f"The two ways of a path differ by {ways.spread_db:.1f} dB ({ways.low_db:.1f} to "
                f"{ways.high_db:.1f}; {counted(ways.n_links, 'link')} measured both ways; assumed: "
                f"{ways.assumed_db:.1f} dB)."
            )
        )
    return titled("Corrections", "", made, *lines)


def _term_row(one: Term) -> Row:
    row = (_name(one), f"{one.unknown.assumed:.1f}", f"{one.unknown.spread:.1f}", str(one.n_links))
    if one.correction is None:
        return (*row, "cannot tell", "as assumed", "")
    offset, half = one.correction.offset, SPREADS_AT_95 * one.correction.spread
    now = one.unknown.assumed + offset
    least = -math.inf if _is_of_devices(one) else 0.0  # nothing in the way strengthens a signal
    low, high = (rounded(max(least, bound), 1) for bound in (now - half, now + half))
    sign = "" if offset < 0 else "+"
    says = f"{sign}{rounded(offset, 1)}"
    if one.why_not:
        says = f"({says})"
    return (*row, says, rounded(max(least, now), 1), f"{low} to {high}")


def _name(one: Term) -> str:
    match one.unknown.kind:
        case Assumption.DISTANCE:
            return "distance, per decade"
        case Assumption.CONSTANT:
            return "all devices, per path"
        case Assumption.MODEL:
            return f"model {one.unknown.name}, per device"
    return one.unknown.name


def _is_of_devices(one: Term) -> bool:
    return one.unknown.kind in (Assumption.CONSTANT, Assumption.MODEL)


def _links(survey: Survey) -> Block:
    measured = (
        "mean of both ways where both were; > at least so strong (a reception ratio near "
        "certainty), < at most (tried and not heard): these count in the fit, not in the errors"
    )
    mended = [one.reading for one in survey.compared if _is_mended(one.reading)]
    if mended:
        took = listed([f"{one.link.id} ({one.taken_db:.1f} dB)" for one in mended])
        measured += (
            "; * while something in the way was changed: what that took beside the drawing is put "
            f"back, for {took}"
        )
    columns = (
        *words("link"),
        *figures("dist.\nm"),
        *words("crosses"),
        Column("measured\ndBm", note=measured),
        *figures("predicted\ndBm", "corrected\ndBm"),
        Column(
            "still\noff, dB",
            note="corrected less measured; ! beyond three standard deviations",
        ),
    )
    rows = tuple(_link_row(survey, one) for one in survey.compared)
    return titled("Predicted against measured", "", Table(columns, rows))


def _link_row(survey: Survey, one: Compared) -> Row:
    reading = one.reading
    sign = {Tells.EXACTLY: "", Tells.AT_MOST: "> ", Tells.AT_LEAST: "< "}[reading.tells]
    mark = f"{MENDED if _is_mended(reading) else ''}{sign}"
    off: str | Text = ""
    if reading.tells is Tells.EXACTLY:
        off = rounded(one.corrected_dbm - reading.measured_dbm, 0)
        if survey.is_wild(one):
            off = Text(f"! {off}", Tone.ALERT)
    return (
        reading.link.id,
        f"{reading.link.distance_m:.1f}",
        _crossed(reading),
        f"{mark}{rounded(reading.measured_dbm, 0)}",
        rounded(reading.predicted_dbm, 0),
        "" if survey.calibration is None else rounded(one.corrected_dbm, 0),
        off,
    )


def _is_mended(reading: Reading) -> bool:
    """Whether the strength is not the one in the file: something was changed when it was read."""
    return abs(reading.taken_db) >= BARELY_DB


def _crossed(reading: Reading) -> str:
    """Constructions in the way, each with how often."""
    names: Counter[str] = Counter()
    for one in reading.link.hindrances:
        names[one.construction or one.what] += max(1, one.times)
    return ", ".join(name if n == 1 else f"{n} x {name}" for name, n in names.items()) or "nothing"


def _outcome(survey: Survey, written: Path | None) -> Text:
    if written is not None:
        return Text(f"Written to {written}; every prediction of this site uses it from now on.")
    if survey.calibration is None:
        return Text("Nothing was written.")
    return Text(
        "Nothing was written. --write keeps the corrections in calibration.yaml of the site, in "
        "place of earlier ones; every prediction of this site then uses them."
    )
