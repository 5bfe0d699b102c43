"""The shell of every page: templates that escape, and a policy under which only our own scripts run."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from itertools import groupby
from typing import Any, Final

import jinja2
from markupsafe import Markup

from pipeline.pages import commands
from pipeline.pages.rows import safe_json
from pipeline.pages.words import FILTERS

NAV: Final = (
    ("index.html", "Overview"),
    ("students.html", "Students"),
    ("cohorts.html", "Cohorts"),
    ("devices.html", "Devices"),
    ("data-quality.html", "Data quality"),
    ("definitions.html", "Definitions"),
)


def asset(name: str) -> str:
    """The text of a file in assets/ of this package."""
    return (resources.files("pipeline.pages") / "assets" / name).read_text(encoding="utf-8")


@cache
def boot_script() -> str:
    """The script that draws a page; it stands in every page, so that its hash can be named."""
    return f"\n{asset('boot.js')}"


@cache
def content_security_policy() -> str:
    """Nothing is loaded but scripts beside the page and the one script in it; styles may stand in line.

    The charts' library sets styles on what it draws, hence the exception for styles.
    """
    digest = hashlib.sha256(boot_script().encode()).digest()
    script = base64.b64encode(digest).decode()
    return (
        "default-src 'none'; "
        f"script-src 'self' 'sha256-{script}'; "
        "style-src 'self' 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
    )


@cache
def _environment() -> jinja2.Environment:
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("pipeline.pages"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(FILTERS)
    environment.filters["in_groups"] = lambda options: [
        (name, list(several)) for name, several in groupby(options, key=lambda one: one.group)
    ]
    environment.filters["json"] = lambda content: Markup(safe_json(content))
    environment.globals.update(
        commands=commands, nav=NAV, boot=Markup(boot_script()), csp=content_security_policy()
    )
    return environment


def render(template: str, **context: Any) -> str:  # noqa: ANN401 - a template takes what it needs
    """A page from its template; a name that the template uses and nobody gave raises."""
    return _environment().get_template(template).render(**context)
