"""JSON Schema of ``site.yaml``, generated from the catalogue, so that editors know every key."""

from dataclasses import fields
from typing import Any

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.constructions import CONSTRUCTIONS, MATERIALS
from resilience.building.cells import MOST_ID, OFF, ON
from resilience.building.files.folder import FORMAT
from resilience.building.files.sections import is_switch, limits_of
from resilience.building.settings import Hazards, Upkeep

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
                "radio": _section("radio"),
                "routing": _section("routing"),
                "models": _named(_section("models.*")),
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
    construction: Schema = {
        "type": "string",
        "description": f"One of the site's own constructions, or {', '.join(CONSTRUCTIONS)}.",
    }
    span: dict[str, Schema] = {"id": ID, "level": ID, "lowest": ID, "highest": ID}
    level = {"id": ID, "floor_m": METRES, "height_m": METRES, "slab": construction}
    opening = {"at_m": METRES, "width_m": METRES, "height_m": METRES}
    block = {"x_m": METRES, "y_m": METRES, "width_m": METRES, "depth_m": METRES}
    parts = {
        "levels": _list_of(level, ["id"]),
        "doors": _list_of(
            {"id": ID, "wall": ID, **opening, "construction": construction},
            ["id", "wall", *opening, "construction"],
        ),
        "pillars": _list_of(
            {**span, **block, "construction": construction}, ["id", *block, "construction"]
        ),
        "shafts": _list_of(
            {**span, "outline": CORNERS, "lining": construction}, ["id", "outline", "lining"]
        ),
    }
    return _object(
        {
            "outline": CORNERS,
            **parts,
            "constructions": _named(_construction()),
            **_properties(section("building")),
        }
    ) | {"required": ["levels"]}


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
