"""Pages put together into one file: templates, style and, for the report, scripts."""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from nestlib.reporting import texts

#: In the order in which they need each other.
_SCRIPTS = ("drawing.js", "measure.js", "replay.js", "report.js")


def page(**content: Any) -> str:
    """Return the report as HTML, with style and scripts inside.

    The scripts are named by their digest, and the browser is told to run no others and to
    ask nobody for anything (Content Security Policy Level 3, W3C).

    Parameters
    ----------
    **content
        What the template shows; what is not Markup is escaped.
    """
    script = _scripts()
    return _template("report.html").render(
        style=Markup(_file("report.css")),
        script=Markup(script),
        script_hash=Markup(f"'sha256-{_digest(script)}'"),
        **content,
    )


def plain_page(template: str, *styles: str, **content: Any) -> str:
    """Return a page without scripts as HTML, with its style inside.

    Parameters
    ----------
    template : str
        Which one.
    *styles : str
        Files of its style, after that of the report.
    **content
        What the template shows; what is not Markup is escaped.
    """
    style = "".join(_file(name) for name in ("report.css", *styles))
    return _template(template).render(style=Markup(style), **content)


@cache
def _template(name: str) -> Template:
    world = Environment(
        loader=PackageLoader("nestlib.reporting", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    world.filters.update(
        mm=texts.millimetres,
        metres=texts.metres,
        share=texts.share,
        count=texts.count,
        duration=texts.duration,
        hundredths=texts.hundredths,
    )
    return world.get_template(name)


def _shown(value: Any) -> Any:
    """Take out of every name what cannot be seen; pictures pass as they are."""
    return value if isinstance(value, Markup) or not isinstance(value, str) else texts.plain(value)


@cache
def _file(name: str) -> str:
    return resources.files("nestlib.reporting.templates").joinpath(name).read_text("utf-8")


@cache
def _scripts() -> str:
    """All scripts as one, which shares no name with anything else."""
    return '(() => {\n"use strict";\n' + "".join(_file(name) for name in _SCRIPTS) + "})();\n"


def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
