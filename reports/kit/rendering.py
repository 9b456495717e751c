"""Templates to self-contained pages: nothing comes from a network, no text becomes markup.

The only home of jinja2.
"""

import base64
import hashlib
import json
from collections.abc import Iterable, Mapping
from importlib import resources
from typing import Any

import jinja2
from markupsafe import Markup


def render(
    template: str, *, style: str, scripts: Iterable[str] = (), also: str = "", **names: Any
) -> str:
    """Fill a template; `style` names one of our style sheets, `scripts` are ours alone.

    `also` adds rules to the policy of a page that may load more than itself.
    """
    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("reports"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    allowed = list(scripts)
    return environment.get_template(template).render(
        policy="; ".join(filter(None, (_policy(allowed), also))),
        style=Markup(_lean(asset(style))),  # noqa: S704  # ours, not the study's
        scripts=[Markup(script) for script in allowed],  # noqa: S704  # ours, not the study's
        **names,
    )


def script(*names: str) -> str:
    """Join scripts beside the templates into the text of one element."""
    return "\n".join(_lean(asset(name)) for name in names)


def _lean(text: str) -> str:
    """Leave out indents, empty lines and lines that are only a comment."""
    lines = (line.strip() for line in text.splitlines())
    return "\n".join(line for line in lines if line and not line.startswith(("//", "/*")))


def asset(name: str) -> str:
    """Read a file beside the templates."""
    return (resources.files("reports") / "templates" / name).read_text("utf-8")


def embedded(data: Mapping[str, Any]) -> Markup:
    """Write JSON that cannot end its script element, with any text in it."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for sign in "<>&\u2028\u2029":
        text = text.replace(sign, f"\\u{ord(sign):04x}")
    return Markup(text)  # noqa: S704  # no character of markup is left


def _policy(scripts: Iterable[str]) -> str:
    """Allow these scripts and nothing from any network."""
    hashes = (hashlib.sha256(_element_text(script).encode()).digest() for script in scripts)
    sources = [f"'sha256-{base64.b64encode(digest).decode()}'" for digest in hashes]
    allowed = " ".join(sources) or "'none'"
    return (
        f"default-src 'none'; script-src {allowed}; style-src 'unsafe-inline'; "
        "img-src data: blob:; base-uri 'none'; form-action 'none'"
    )


def _element_text(script: str) -> str:
    return f"\n{script}\n"
