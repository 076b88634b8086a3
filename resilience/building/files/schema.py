"""JSON Schema of ``site.yaml``, generated from the catalogue, so that editors know every key."""

from dataclasses import fields
from typing import Any

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.changes import DOORS, HABITS, OBSTACLES
from resilience.assumptions.constructions import CONSTRUCTIONS, MATERIALS
from resilience.building.files.folder import FORMAT
from resilience.building.sections.stated import is_switch, limits_of
from resilience.building.settings import Hazards, Upkeep
from resilience.building.text.entries import MOST_ID, OFF, ON

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
OFF_ONLY: Schema = {"enum": [False, *OFF]}
SWITCH: Schema = {"enum": [True, False, *ON, *OFF]}
ID: Schema = {"type": ["string", "number"], "description": f"An id, at most {MOST_ID} characters."}
METRES: Schema = {"type": "number", "description": "Metres."}
CORNERS: Schema = {
    "type": "array",
    "minItems": 3,
    "items": {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2},
    "description": "Corners [x, y] in order, in metres.",
}
SPAN: dict[str, Schema] = {"id": ID, "level": ID, "lowest": ID, "highest": ID}
MADE_OF: Schema = {
    "type": "string",
    "description": f"One of the site's own constructions, or {', '.join(CONSTRUCTIONS)}.",
}


def site_schema() -> Schema:
    """Return the JSON Schema (2020-12) of ``site.yaml``."""
    hazards = {entry.name: _hazard(entry.name) for entry in fields(Hazards)}
    upkeep = {entry.name: _or_off(_section(f"upkeep.{entry.name}")) for entry in fields(Upkeep)}
    return {
        "$schema": DIALECT,
        "title": "A site: the building and what is assumed of it",
        **_object(
            {
                "format": {"const": FORMAT},
                "name": {"type": ["string", "number"], "description": "Title of the site."},
                **_properties(section("")),
                "building": _building(),
                "changes": _object({kind: _section(f"changes.{kind}") for kind in HABITS}),
                "radio": _section("radio"),
                "routing": _section("routing"),
                "models": _named(_section("models.*")),
                "mountings": _section("mountings"),
                "batteries": _named(_section("batteries.*")),
                "hazards": _object({**hazards, "all_others": SWITCH}),
                "upkeep": _object(upkeep),
                "calendar": _section("calendar"),
            }
        ),
        "required": ["format"],
    }


def _object(properties: dict[str, Schema]) -> Schema:
    return {"type": "object", "properties": properties, "additionalProperties": False}


def _named(values: Schema) -> Schema:
    """Return a mapping whose keys the user chooses."""
    return {
        "type": "object",
        "propertyNames": {"minLength": 1, "maxLength": MOST_ID, "pattern": r"^[^~/\\]+$"},
        "additionalProperties": {"anyOf": [values, {"type": "null"}]},
    }


def _or_off(values: Schema) -> Schema:
    return {"anyOf": [values, OFF_ONLY, {"type": "null"}]}


def _hazard(name: str) -> Schema:
    return {"anyOf": [_section(f"hazards.{name}"), SWITCH, {"type": "null"}]}


def _section(path: str) -> Schema:
    """Return the schema of one section of the catalogue."""
    settings = section(path)
    either_or = [
        {"not": {"required": [setting.name, setting.instead_of]}}
        for setting in settings
        if setting.instead_of
    ]
    return _object(_properties(settings)) | ({"allOf": either_or} if either_or else {})


def _properties(settings: tuple[Setting, ...]) -> dict[str, Schema]:
    return {setting.name: _value(setting) for setting in settings}


def _value(setting: Setting) -> Schema:
    about = {"description": _description(setting)}
    if is_switch(setting):
        return SWITCH | about
    if setting.choices:
        return {"enum": list(setting.choices)} | about
    if isinstance(setting.default, str):
        return {"type": "string"} | about
    limits = limits_of(setting)
    bounds: Schema = {"type": "integer" if limits.whole else "number"}
    if limits.least is not None:
        bounds["exclusiveMinimum" if limits.above else "minimum"] = limits.least
    if limits.most is not None:
        bounds["maximum"] = limits.most
    return bounds | about


def _description(setting: Setting) -> str:
    usual = f"in the place of {setting.instead_of}" if setting.instead_of else setting.default
    span = ""
    if setting.low is not None and setting.high is not None:
        span = f"; plausible {setting.low:g} to {setting.high:g}"
    about = f"{setting.meaning} Default {usual} [{setting.unit}]{span}."
    return f"{about} Source: {setting.source} (confidence {setting.confidence})."


def _building() -> Schema:
    parts = {
        "levels": _list_of(
            {"id": ID, "floor_m": METRES, "height_m": METRES, "slab": MADE_OF, "outline": CORNERS},
            ["id"],
        ),
        **_in_walls(),
        **_standing(),
        **_lying(),
    }
    return _object(
        {
            "outline": CORNERS,
            **parts,
            "constructions": _named(_construction()),
            **_properties(section("building")),
        }
    ) | {"required": ["levels"]}


def _in_walls() -> dict[str, Schema]:
    hole = {"id": ID, "wall": ID, "at_m": METRES, "width_m": METRES, "height_m": METRES}
    kind = {"enum": list(DOORS), "description": "What moves in the doorway; only if it changes."}
    door = _movers({**hole, "construction": MADE_OF, "kind": kind}, list(hole))
    # A door that changes may leave its construction out: it stands open as drawn.
    door["items"]["anyOf"] = [{"required": [key]} for key in ("construction", *_change())]
    window = {**hole, "sill_m": METRES}
    return {
        "doors": door,
        "windows": _list_of({**window, "construction": MADE_OF}, list(window)),
    }


def _movers(properties: dict[str, Schema], required: list[str]) -> Schema:
    """Return a list of things that may change."""
    made = _list_of({**properties, **_change()}, required)
    made["items"]["allOf"] = [{"not": {"required": ["mean_h", "median_h"]}}]
    return made


def _change() -> dict[str, Schema]:
    """Return the keys that say how something changes; what they leave out, its kind says."""
    numbers = {
        setting.name: _value(setting) | {"description": setting.meaning}
        for setting in section("changes.other")
    }
    about = {"description": "On: it changes, as its kind does where nothing else is said."}
    return {"changes": SWITCH | about, **numbers}


def _standing() -> dict[str, Schema]:
    block = {"x_m": METRES, "y_m": METRES, "width_m": METRES, "depth_m": METRES}
    kind = {
        "type": ["string", "number"],
        "description": f"What it is; defaults are known of {', '.join(OBSTACLES)}.",
    }
    loss = {"type": "number", "minimum": 0, "description": "Decibels while it stands as drawn."}
    height = {"foot_m": METRES, "height_m": METRES, "loss_db": loss}
    obstacle = {"id": ID, "kind": kind, "level": ID, **block, **height}
    return {
        "pillars": _list_of(
            {**SPAN, **block, "construction": MADE_OF}, ["id", *block, "construction"]
        ),
        "shafts": _list_of(
            {**SPAN, "outline": CORNERS, "lining": MADE_OF}, ["id", "outline", "lining"]
        ),
        "obstacles": _movers(obstacle, ["id", "level", *block]),
    }


def _lying() -> dict[str, Schema]:
    corners = {
        "type": "array",
        "minItems": 3,
        "items": {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3},
        "description": "Corners [x, y, height above the level's floor] in order, in metres.",
    }
    opening = {"id": ID, "level": ID, "outline": CORNERS}
    plate = {"id": ID, "level": ID, "corners": corners, "construction": MADE_OF}
    return {
        "openings": _list_of({**opening, "construction": MADE_OF}, list(opening)),
        "plates": _list_of(plate, list(plate)),
    }


def _list_of(properties: dict[str, Schema], required: list[str]) -> Schema:
    return {"type": "array", "items": _object(properties) | {"required": required}}


def _construction() -> Schema:
    layer: Schema = {
        "type": "array",
        "prefixItems": [{"enum": list(MATERIALS)}, {"type": "number", "exclusiveMinimum": 0}],
        "minItems": 2,
        "maxItems": 2,
        "description": "A layer [material, thickness in metres].",
    }
    loss: Schema = {"type": "number", "minimum": 0, "description": "Decibels a crossing."}
    return _object(
        {
            "layers": {"type": "array", "minItems": 1, "items": layer},
            "loss_db": loss,
            "spread_db": loss,
            "source": {"type": "string", "description": "Who says so."},
        }
    ) | {"oneOf": [{"required": ["layers"]}, {"required": ["loss_db"]}]}
