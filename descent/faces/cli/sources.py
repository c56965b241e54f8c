# SPDX-License-Identifier: MIT
"""`descent sources`: where the numbers come from and how far to trust each."""

from __future__ import annotations

import click

from descent.faces.cli.options import json_option


@click.command("sources")
@json_option
def command(as_json: bool) -> int:
    """List every source with its trust: seen, from memory, derived, assumed, or common practice."""
    import json

    from descent.sources import cite, load_sources
    records = cite(load_sources())
    if as_json:
        click.echo(json.dumps(records, ensure_ascii=False, indent=1))
        return 0
    for record in records:
        click.echo(f"{record['key']}\n    {record['citation']}\n    {record['trust']}; used for {record['used_for']}")
    return 0
