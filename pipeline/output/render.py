"""The one renderer of pages: templates filled with text that is made safe on its way in."""

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template

from pipeline.output.safe import Markup, clean, css_text

TEMPLATES = Path(__file__).with_name("templates")


@cache
def environment() -> Environment:
    """The templates; every text put into one is cleaned and escaped, and a name that is not given is an error."""
    made = Environment(
        loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, finalize=_final, auto_reload=False, keep_trailing_newline=True)
    made.filters["css"] = css_text
    made.filters["kilobytes"] = lambda size: f"{size / 1000:,.0f} kB"
    return made


def _final(value: Any) -> Any:
    """None as nothing, markup and numbers as they are, all else cleaned; the escaping comes after."""
    if value is None:
        return ""
    return value if isinstance(value, Markup | int | float) else clean(value)


def template(name: str) -> Template:
    """The template of that file name."""
    return environment().get_template(name)


def render(name: str, /, **values: Any) -> str:
    """The template of that file name, filled."""
    return template(name).render(values)


def style(*names: str) -> str:
    """Style sheets of the templates folder, one after the other."""
    return "".join((TEMPLATES / name).read_text(encoding="utf-8") for name in names)
