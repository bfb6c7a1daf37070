"""One HTML file that opens from disk and asks nothing of any network.

The page may load nothing at all; its one style and its one script are let in by their own fingerprints, so that
markup smuggled in by a drawing or a job would find no way to run, were it ever to slip through.
"""

import base64
import hashlib
from collections.abc import Sequence
from importlib.resources import files

from fabplan.sheets.markup import Markup, element, joined


def data(name: str) -> Markup:
    """A file of the pages' own styles and scripts, on lines of its own."""
    return Markup("\n" + (files("fabplan.sheets") / "data" / name).read_text("utf-8"))


def document(title: str, body: Sequence[Markup], style: Markup, script: Markup, *, module: bool = False) -> str:
    """The whole page.

    Args:
        title: of the page, escaped here.
        body: what it shows.
        style: its one style.
        script: its one script, run when the body stands.
        module: True for a script that may wait and keeps its names to itself.
    """
    run = element("script", script, type="module") if module else element("script", script)
    whole = joined([*body, run])
    return f'<!doctype html>\n<html lang="en-GB">\n{_head(title, style, script)}\n<body>\n{whole}\n</body>\n</html>\n'


def _head(title: str, style: Markup, script: Markup) -> Markup:
    policy = (
        f"default-src 'none'; style-src {_fingerprint(style)}; script-src {_fingerprint(script)}; "
        "base-uri 'none'; form-action 'none'"
    )
    return element(
        "head",
        joined(
            [
                Markup('<meta charset="utf-8">'),
                Markup(f'<meta http-equiv="Content-Security-Policy" content="{policy}">'),
                Markup('<meta name="viewport" content="width=device-width, initial-scale=1">'),
                Markup('<meta name="referrer" content="no-referrer">'),
                element("title", title),
                element("style", style),
            ]
        ),
    )


def _fingerprint(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
