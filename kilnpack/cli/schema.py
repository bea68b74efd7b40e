"""`kilnpack schema [NAME]`."""

from __future__ import annotations

import json
from typing import Annotated

import typer


def schema(
    name: Annotated[str | None, typer.Argument(help="Name of a saved value; without it the names are listed.")] = None,
) -> None:
    """Print the JSON Schema of a saved value."""
    from kilnpack.works_folder.schema import SAVED, saved_type
    from kilnpack.works_folder.schema import schema as schema_of

    if name is None:
        print("\n".join(SAVED))
    elif name in SAVED:
        print(json.dumps(schema_of(saved_type(name)), indent=2))
    else:
        raise typer.BadParameter(f"no saved value {name}; there are: {', '.join(SAVED)}")
