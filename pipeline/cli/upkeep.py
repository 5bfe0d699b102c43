"""Commands that look after a store: check."""

import typer

from pipeline.cli.options import IsJson, WarehouseFolder, existing_warehouse
from pipeline.cli.told import finding_lines, tell
from pipeline.errors import StoreDamaged


def check(warehouse: WarehouseFolder, is_json: IsJson = False) -> None:
    """Look the whole store over for damage; change nothing.

    Example: levelhold check --warehouse demo/warehouse
    """
    from pipeline.store import audit_store

    findings = audit_store(existing_warehouse(warehouse))
    tell(findings, finding_lines(findings), is_json)
    if findings:
        raise typer.Exit(StoreDamaged.exit_code)
