"""`simharness schema`."""

from __future__ import annotations

import click


@click.command("schema")
def command() -> None:
    """Print the JSON Schema of design records; models/record.schema.json is this text."""
    import json

    from simharness.records import record_schema

    click.echo(json.dumps(record_schema(), indent=2))
