"""The site's own constructions, by layers of materials or by one loss."""

from resilience.assumptions.constructions import MATERIALS, Construction
from resilience.building.text.documents import (
    Listing,
    Mapping,
    Node,
    described,
    is_nothing,
    listing,
    mapping,
    record,
)
from resilience.building.text.entries import Entry, Findings, Span

CONSTRUCTION_KEYS = ("loss_db", "spread_db", "source")
THICKNESS = Span("m", least=0, most=5, above=True)
DECIBELS = Span("dB", least=0, most=1000)
USUAL_SPREAD_DB = Construction(loss_db=0.0).spread_db


def own_constructions(node: Node | None, findings: Findings) -> dict[str, Construction]:
    """Return what stands under ``building: constructions``, by name."""
    found = mapping(node, findings)
    own = {}
    for name, item in (found.entries if found else {}).items():
        usable = Entry(name, item.mark).name(findings)
        body = mapping(item, findings)
        built = _own_construction(body or Mapping(item.mark, {}), findings)
        if usable:
            own[usable] = built
    return own


def _own_construction(body: Mapping, findings: Findings) -> Construction:
    """Return one construction of the site; lossless, beside a fault, where it cannot be read."""
    row = record(body, CONSTRUCTION_KEYS, findings, ("layers",))
    layers = _layers(body.entries.get("layers"), findings)
    given = not is_nothing(body.entries.get("layers"))
    if given == row.has("loss_db") or (given and not listing(body.entries["layers"], findings)):
        findings.fault(body.mark, described(body), "expected either layers or loss_db")
    loss_db = row.number("loss_db", DECIBELS) if row.has("loss_db") else None
    spread_db = row.number_or("spread_db", DECIBELS, USUAL_SPREAD_DB)
    source = row.text("source") or "the site's own"
    if bool(layers) == (loss_db is not None):
        return Construction(loss_db=0.0)
    return Construction(layers, loss_db, spread_db, source)


def _layers(node: Node | None, findings: Findings) -> tuple[tuple[str, float], ...]:
    layers = []
    for item in listing(node, findings):
        parts = item.items if isinstance(item, Listing) else ()
        match parts:
            case (Entry() as material, Entry() as thickness):
                name = material.word(MATERIALS, findings, "a material")
                thickness_m = thickness.number(THICKNESS, findings)
                if name and thickness_m:
                    layers.append((name, thickness_m))
            case _:
                wanted = "expected a layer [material, thickness_m]"
                findings.fault(item.mark, described(item), wanted)
    return tuple(layers)
