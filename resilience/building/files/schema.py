"""JSON Schema of ``site.yaml``, generated from the catalogue, and of ``policy.yaml``."""

from dataclasses import fields
from typing import Any

from resilience.assumptions.catalogue import Setting, section
from resilience.assumptions.changes import DOORS as LEAVES
from resilience.assumptions.changes import HABITS
from resilience.assumptions.constructions import CONSTRUCTIONS, MATERIALS
from resilience.assumptions.devices import BATTERY_PROFILES, CHEMISTRIES
from resilience.building.files.folder import FORMAT
from resilience.building.files.policies import COUNT, DURATION, PROBABILITY, SHARE
from resilience.building.files.policies import FORMAT as POLICY_FORMAT
from resilience.building.parts import CHANGES, DOORS, LISTED, PLACE, SPAN, Holds, Key, Part
from resilience.building.sections.constructions import DECIBELS, THICKNESS
from resilience.building.service.policy import Lost, Start
from resilience.building.settings import Hazards, Titles
from resilience.building.stated.equipment import N_MONTHS
from resilience.building.stated.upkeep import DURATIONS, OPTIONAL
from resilience.building.text.entries import MOST_ID, OFF, ON, Span
from resilience.building.text.values import is_switch, limits_of

Schema = dict[str, Any]

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NOTHING: Schema = {"type": "null"}
NAME: Schema = {"minLength": 1, "maxLength": MOST_ID, "pattern": r"^[^~/\\]+$"}
ID: Schema = {
    "type": ["string", "number"],
    "description": f"An id, at most {MOST_ID} characters.",
    **NAME,
}
MADE_OF: Schema = {
    "type": "string",
    "description": f"One of the site's own constructions, or {', '.join(CONSTRUCTIONS)}.",
}
TEXT: Schema = {"type": ["string", "number"]}


def _bounded(limits: Span) -> Schema:
    bounds: Schema = {"type": "integer" if limits.whole else "number"}
    if limits.least is not None:
        bounds["exclusiveMinimum" if limits.above else "minimum"] = limits.least
    if limits.most is not None:
        bounds["maximum"] = limits.most
    return bounds


def _corners(noun: str, n: int) -> Schema:
    corner = {"type": "array", "items": _bounded(PLACE), "minItems": n, "maxItems": n}
    return {"type": "array", "minItems": 3, "items": corner, "description": f"{noun}."}


def _words(plain: tuple[bool, ...], words: tuple[str, ...]) -> Schema:
    """Return a switch: words that an editor can offer, taken in capitals as well."""
    cased = ("".join(f"[{c}{c.upper()}]" for c in word) for word in words)
    pattern = f"^({'|'.join(cased)})$"
    return {"anyOf": [{"enum": [*plain, *words]}, {"type": "string", "pattern": pattern}]}


SWITCH = _words((True, False), (*ON, *OFF))
OFF_ONLY = _words((False,), OFF)
CORNERS = _corners("Corners [x, y] in order, in metres", 2)
HELD: dict[Holds, Schema] = {
    Holds.ID: ID,
    Holds.REFERENCE: ID,
    Holds.CONSTRUCTION: MADE_OF,
    Holds.DOOR_KIND: {"enum": list(LEAVES)},
    Holds.WORD: TEXT,
    Holds.SWITCH: SWITCH,
    Holds.OUTLINE: CORNERS,
    Holds.SHEET: _corners("Corners [x, y, height above the level's floor] in order, in metres", 3),
}


def site_schema() -> Schema:
    """Return the JSON Schema (2020-12) of ``site.yaml``."""
    hazards = {entry.name: _hazard(entry.name) for entry in fields(Hazards)}
    upkeep = {name: _or_off(_section(f"upkeep.{name}")) for name in (*DURATIONS, *OPTIONAL)}
    return {
        "$schema": DIALECT,
        "title": "A site: the building and what is assumed of it",
        **_object(
            {
                "format": {"const": FORMAT},
                "name": TEXT | {"description": "Title of the site."},
                **{one.name: TEXT | {"description": _on_lists(one.name)} for one in fields(Titles)},
                **_properties(section("")),
                "building": _building(),
                "changes": _object(
                    _properties(section("changes"))
                    | {kind: _section(f"changes.{kind}") for kind in HABITS}
                ),
                "radio": _section("radio"),
                "routing": _section("routing"),
                "models": _named(_or_blank(_section("models.*"))),
                "mountings": _section("mountings"),
                "batteries": _batteries(),
                "chemistries": _object(
                    {name: _section(f"chemistries.{name}") for name in CHEMISTRIES}
                ),
                "temperatures": _named(_or_blank(_temperatures())),
                "circuits": _named(_or_blank(_section("circuits.*"))),
                "hazards": _object({**hazards, "all_others": SWITCH}),
                "upkeep": _object(_properties(section("upkeep")) | upkeep),
                "calendar": _section("calendar"),
                "prices": _section("prices"),
            },
            ("format",),
        ),
    }


def _on_lists(title: str) -> str:
    if title == "tags":
        return "Words by which `portfolio --tag` picks sites, with commas between."
    return "Stands on papers that are handed over."


def policy_schema() -> Schema:
    """Return the JSON Schema (2020-12) of ``policy.yaml``."""
    most = {
        "max_orphans": _bounded(COUNT) | {"description": "Sensors that may be lost at once."},
        "max_orphan_share": _bounded(SHARE)
        | {"description": "The same as a share of the sensors; rounded down."},
    }
    probability = _bounded(PROBABILITY) | {"exclusiveMaximum": 1}
    del probability["maximum"]
    counted = {
        Lost.ORPHANS: "sensors that work but have no way to a gateway",
        Lost.DARK: "these and sensors that have failed",
    }
    return {
        "$schema": DIALECT,
        "title": "A promise: never too many sensors lost at once for too long",
        **_object(
            {
                "format": {"const": POLICY_FORMAT},
                **most,
                "longer_than_h": _bounded(DURATION)
                | {"description": "An excess may last so long, in hours, without a break."},
                "kept_with_probability": probability | {"description": "Over the horizon."},
                "count": {
                    "enum": [one.value for one in Lost],
                    "description": "; ".join(f"{one}: {told}" for one, told in counted.items()),
                },
                "per_sensor": SWITCH,
                "from": {
                    "enum": [one.value for one in Start],
                    "description": "From when on a sensor counts.",
                },
            },
            ("format", "longer_than_h", "kept_with_probability"),
        ),
        "oneOf": [{"required": [key]} for key in most],
    }


def _object(properties: dict[str, Schema], required: tuple[str, ...] = ()) -> Schema:
    """Return a mapping of known keys; one that is not required may be left blank."""
    blank = {key: one if key in required else _or_blank(one) for key, one in properties.items()}
    made: Schema = {"type": "object", "properties": blank, "additionalProperties": False}
    return made | ({"required": list(required)} if required else {})


def _or_blank(values: Schema) -> Schema:
    """Return the same values, or nothing."""
    if "anyOf" in values:
        return values | {"anyOf": [*values["anyOf"], NOTHING]}
    if "enum" in values:
        return values | {"enum": [*values["enum"], None]}
    types = values["type"]
    return values | {"type": [*([types] if isinstance(types, str) else types), "null"]}


def _named(values: Schema) -> Schema:
    """Return a mapping whose keys the user chooses."""
    return {"type": "object", "propertyNames": NAME, "additionalProperties": values}


def _or_off(values: Schema) -> Schema:
    return {"anyOf": [values, OFF_ONLY]}


def _hazard(name: str) -> Schema:
    return {"anyOf": [_section(f"hazards.{name}"), SWITCH]}


def _section(path: str) -> Schema:
    """Return the schema of one section of the catalogue."""
    settings = section(path)
    rules = [_not_both(one.name, one.instead_of) for one in settings if one.instead_of]
    if any(one.name == "p90_h" for one in settings):
        rules += DURATION_RULES
    return _object(_properties(settings)) | ({"allOf": rules} if rules else {})


def _not_both(one: str, other: str) -> Schema:
    return {"not": {"type": "object", "required": [one, other]}}


def _with(words: tuple[str, ...], then: Schema) -> Schema:
    """Return what follows from a stated distribution."""
    stated = {"properties": {"distribution": {"enum": list(words)}}, "required": ["distribution"]}
    return {"if": {"type": "object", **stated}, "then": then}


DURATION_RULES: list[Schema] = [
    {"dependentRequired": {"p90_h": ["median_h"]}},
    _with(("exponential", "fixed"), {"required": ["mean_h"]}),
    _with(("lognormal",), {"not": {"required": ["mean_h"]}}),
]


def _batteries() -> Schema:
    """Return the schema of ``batteries``: the known profiles, and those that the user names."""
    known: dict[str, Schema] = {}
    for name in BATTERY_PROFILES:
        keys = _properties(section("batteries.*"))
        for setting in section(f"batteries.{name}"):
            keys[setting.name] |= {"description": _description(setting)}
        known[name] = _or_blank(_object(keys))
    return _named(_or_blank(_section("batteries.*"))) | {"properties": known}


def _temperatures() -> Schema:
    """Return the schema of one place of ``temperatures``: one number, or a list of twelve."""
    keys = _properties(section("temperatures.*"))
    each = keys["by_month_c"]
    about = {"description": each.pop("description")}
    months: Schema = {"type": "array", "items": each, "minItems": N_MONTHS, "maxItems": N_MONTHS}
    rules = [_not_both("by_month_c", "all_year_c")]
    return _object(keys | {"by_month_c": months | about}) | {"allOf": rules}


def _properties(settings: tuple[Setting, ...]) -> dict[str, Schema]:
    return {setting.name: _value(setting) for setting in settings}


def _value(setting: Setting) -> Schema:
    about = {"description": _description(setting)}
    if is_switch(setting):
        return SWITCH | about
    if setting.choices and setting.least is not None:
        count = _bounded(limits_of(setting))
        return {"anyOf": [{"enum": list(setting.choices)}, count]} | about
    if setting.choices:
        return {"enum": list(setting.choices)} | about
    if isinstance(setting.default, str):
        return {"type": "string"} | about
    return _bounded(limits_of(setting)) | about


def _description(setting: Setting) -> str:
    usual = f"in the place of {setting.instead_of}" if setting.instead_of else setting.default
    span = ""
    if setting.low is not None and setting.high is not None:
        span = f"; plausible {setting.low:g} to {setting.high:g}"
    about = f"{setting.meaning} Default {usual} [{setting.unit}]{span}."
    return f"{about} Source: {setting.source} (confidence {setting.confidence})."


def _building() -> Schema:
    return _object(
        {
            "outline": CORNERS,
            **{part.name: _parts(part) for part in LISTED},
            "constructions": _named(_construction()),
            **_properties(section("building")),
        },
        ("levels",),
    )


def _parts(part: Part) -> Schema:
    """Return a list of parts of one kind."""
    one = _object({key.name: _key(key) for key in part.keys}, part.needed)
    if part.is_mover:
        one["allOf"] = [_not_both("mean_h", "median_h"), *DURATION_RULES]
    if set(SPAN) <= set(part.keys):
        only, *ends = (key.name for key in SPAN)
        one["oneOf"] = [
            {"required": [only], "properties": dict.fromkeys(ends, NOTHING)},
            {"required": ends, "properties": {only: NOTHING}},
        ]
    if part is DOORS:  # one that changes may leave its construction out
        stated = ("construction", *(key.name for key in CHANGES))
        one["anyOf"] = [{"required": [key]} for key in stated]
    return {"type": "array", "items": one}


def _key(key: Key) -> Schema:
    """Return the schema of one key of a part."""
    if isinstance(key.holds, Span):
        usual = {"m": "Metres.", "dB": "Decibels."}.get(key.holds.unit, "")
        return _bounded(key.holds) | {"description": key.about or usual}
    if key.holds is Holds.HABIT:
        setting = next(one for one in section("changes.other") if one.name == key.name)
        return _value(setting) | {"description": key.about}
    return HELD[key.holds] | ({"description": key.about} if key.about else {})


def _construction() -> Schema:
    layer: Schema = {
        "type": "array",
        "prefixItems": [{"enum": list(MATERIALS)}, _bounded(THICKNESS)],
        "minItems": 2,
        "maxItems": 2,
        "description": "A layer [material, thickness in metres].",
    }
    loss = _bounded(DECIBELS) | {"description": "Decibels a crossing."}
    return _object(
        {
            "layers": {"type": "array", "minItems": 1, "items": layer},
            "loss_db": loss,
            "spread_db": loss,
            "source": TEXT | {"description": "Who says so."},
        }
    ) | {"oneOf": [{"required": ["layers"]}, {"required": ["loss_db"]}]}
