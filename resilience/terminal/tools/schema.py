"""The rules of site.yaml, for editors."""

from resilience.terminal.options import Json


def schema(json: Json = False) -> None:  # noqa: ARG001 - it is JSON with or without
    """Print the JSON Schema of site.yaml, which editors use to complete and check keys."""
    import sys
    from json import dumps

    from resilience.building.files.schema import site_schema

    sys.stdout.write(dumps(site_schema(), indent=2) + "\n")
