"""Commands that pages offer: each can be pasted as it stands in the folder that holds the pages' folder."""

from __future__ import annotations

import re
import shlex
from typing import Final

WAREHOUSE: Final = "."
"""Commands are run in the warehouse itself, so that a page names no path and may be copied anywhere."""

_PLAIN: Final = re.compile(r'[^"$`\\!\n]*')


def query(sql: str) -> str:
    """The command that answers one SELECT."""
    return f"levelhold query --warehouse {WAREHOUSE} {_quoted(sql)}"


def explain(maneuver_id: str) -> str:
    """The command that tells how one maneuver's figures came about."""
    return f"levelhold explain --warehouse {WAREHOUSE} {shlex.quote(maneuver_id)}"


def literal(text: str) -> str:
    """A text as an SQL literal."""
    return "'" + text.replace("'", "''") + "'"


def figures(maneuver_id: str) -> str:
    """The query that gives a maneuver's seconds, figures and errors side by side."""
    return query(
        "SELECT maneuver_id, start_s, end_s, altitude_hold95_ft, altitude_bias_ft, altitude_rmse_ft, "
        "heading_hold95_deg, heading_bias_deg, heading_rmse_deg, held_control FROM maneuvers "
        "LEFT JOIN altitude_hold USING (maneuver_id) LEFT JOIN heading_hold USING (maneuver_id) "
        f"LEFT JOIN held_control USING (maneuver_id) WHERE maneuver_id = {literal(maneuver_id)}"
    )


def _quoted(sql: str) -> str:
    """Within double quotes where nothing in it means something to a shell; otherwise as safe as need be."""
    return f'"{sql}"' if _PLAIN.fullmatch(sql) else shlex.quote(sql)
