"""What measurements corrected: ``calibration.yaml`` of a site, read and written."""

import json
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from resilience.building.site import Calibration, Correction
from resilience.building.text.documents import Mapping, mapping, read_document, record
from resilience.building.text.entries import Findings, Span, TableRow
from resilience.building.text.keeping import write_whole
from resilience.errors import UsageError

CALIBRATION_FILE = "calibration.yaml"
FORMAT = 1
HEAD_KEYS = ("format", "n_links", "residual_db")
OFFSET = Span("dB", least=-100, most=100)
SPREAD = Span("dB", least=0, most=100, above=True)
RESIDUAL = Span("dB", least=0, most=100)
N_LINKS = Span(least=1, most=1e9, whole=True)
UNREADABLE = "the file cannot be read: to undo the calibration delete it, or calibrate again"
ABOUT = """\
# What measured links say that the prediction is off by, as `resilience calibrate` fitted it.
# Offsets are added to the documented losses; what stands in site.yaml is untouched. A spread says
# how unsure an offset is (one standard deviation), n_links how many measured links bear on it.
# The constant is lost on every path, half of it at each end; what a model loses beside that, each
# of its devices loses at its own end.
# Delete this file to undo the calibration.
"""


def read_calibration(
    path: Path, constructions: Iterable[str], models: Iterable[str], findings: Findings
) -> Calibration | None:
    """Return the calibration that a file holds; faults and None if it holds none.

    Parameters
    ----------
    path : Path
        The file. [-]
    constructions, models : iterable of str
        Names of the constructions and of the device models that exist. [-]
    findings : Findings
        Where faults go. [-]
    """
    found = read_document(path, CALIBRATION_FILE, findings, UNREADABLE)
    if found is None:
        return None
    row = record(found, HEAD_KEYS, findings, ("distance", "constant", "constructions", "models"))
    if row.number("format", Span(whole=True)) not in (FORMAT, None):
        row.fault("format", f"expected {FORMAT}, the only format that this version reads")
    n_links = int(row.number("n_links", N_LINKS) or 0)
    residual_db = row.number("residual_db", RESIDUAL)
    body = mapping(found.entries.get("distance"), findings)
    distance = _correction(body, "offset_db_per_decade", "spread", findings) if body else None
    body = mapping(found.entries.get("constant"), findings)
    constant = _correction(body, "offset_db", "spread_db", findings) if body else None
    walls = _named(found, "constructions", constructions, findings)
    devices = _named(found, "models", models, findings)
    everything = [distance, constant, *(one for _, one in (*walls, *devices))]
    _check_counts(row, n_links, everything)
    return Calibration(distance, walls, residual_db or 0.0, n_links, constant, devices)


def _named(
    whole: Mapping, key: str, known: Iterable[str], findings: Findings
) -> tuple[tuple[str, Correction], ...]:
    """Return corrections by name, in order; a name that is not known is a fault."""
    found, names = mapping(whole.entries.get(key), findings), list(known)
    fitted = []
    for name, node in (found.entries if found else {}).items():
        body = mapping(node, findings) or Mapping(node.mark, {})
        one = _correction(body, "offset_db", "spread_db", findings)
        if name not in names:
            findings.unknown(node.mark, name, names, f"a {key.removesuffix('s')}")
        if one:
            fitted.append((name, one))
    return tuple(sorted(fitted))


def _correction(
    body: Mapping, offset_key: str, spread_key: str, findings: Findings
) -> Correction | None:
    row = record(body, (offset_key, spread_key, "n_links"), findings)
    offset, spread = row.number(offset_key, OFFSET), row.number(spread_key, SPREAD)
    n_links = row.number("n_links", N_LINKS)
    if offset is None or spread is None or n_links is None:
        return None
    return Correction(offset, spread, int(n_links))


def _check_counts(row: TableRow, n_links: int, corrections: list[Correction | None]) -> None:
    most = max((one.n_links for one in corrections if one), default=0)
    if n_links and most > n_links:
        row.fault("n_links", f"expected at least {most}, as one of the corrections rests on that")


def write_calibration(folder: Path, found: Calibration) -> Path:
    """Write ``calibration.yaml`` into a site folder and return its path.

    The file is whole or not there: it is written beside its place, read back and compared, and
    only then put into it. UsageError says why it could not be; what was there before stays.

    Parameters
    ----------
    folder : Path
        The site folder. [-]
    found : Calibration
        What the measurements corrected. [-]
    """
    target = folder / CALIBRATION_FILE
    found = replace(
        found,
        constructions=tuple(sorted(found.constructions)),
        models=tuple(sorted(found.models)),
    )
    write_whole(target, _page(found), lambda draft: _refuse_unreadable(draft, found))
    return target


def _refuse_unreadable(draft: Path, found: Calibration) -> None:
    findings = Findings()
    walls, models = ([name for name, _ in one] for one in (found.constructions, found.models))
    read = read_calibration(draft, walls, models, findings)
    if findings.faults:
        told = "; ".join(str(fault) for fault in findings.faults)
        raise UsageError(f"this calibration cannot be kept: {told}")
    if read != found:
        raise UsageError("this calibration cannot be kept: it does not read back as it was")


def _page(found: Calibration) -> str:
    """Return the text of the file; numbers in full, so that it reads back as it was."""
    lines = [
        f"format: {FORMAT}",
        f"n_links: {found.n_links}",
        f"residual_db: {float(found.residual_db)!r}",
    ]
    if found.distance:
        lines.append(
            f"distance: {{offset_db_per_decade: {float(found.distance.offset)!r}, "
            f"spread: {float(found.distance.spread)!r}, n_links: {found.distance.n_links}}}"
        )
    if found.constant:
        lines.append(f"constant: {_entry(found.constant)}")
    for title, fitted in (("constructions", found.constructions), ("models", found.models)):
        if fitted:
            lines.append(f"{title}:")
        for name, one in fitted:
            lines.append(f"  {json.dumps(name, ensure_ascii=False)}: {_entry(one)}")
    return ABOUT + "\n".join(lines) + "\n"


def _entry(one: Correction) -> str:
    values = f"offset_db: {float(one.offset)!r}, spread_db: {float(one.spread)!r}"
    return f"{{{values}, n_links: {one.n_links}}}"
