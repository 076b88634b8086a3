"""The rules of site.yaml and policy.yaml, for editors."""

from enum import StrEnum
from typing import Annotated

import typer

from resilience.terminal.options import Json


class What(StrEnum):
    """Files that have a schema."""

    SITE = "site"
    POLICY = "policy"


def schema(
    what: Annotated[What, typer.Argument(help="site.yaml or policy.yaml.")] = What.SITE,
    json: Json = False,  # noqa: ARG001 - it is JSON with or without
) -> None:
    """Print the JSON Schema of a file, which editors use to complete and check keys."""
    import sys
    from json import dumps

    from resilience.building.files.schema import policy_schema, site_schema

    found = policy_schema() if what is What.POLICY else site_schema()
    sys.stdout.write(dumps(found, indent=2) + "\n")
