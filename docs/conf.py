"""Build the pages as a site: `make docs`, then open docs/site/index.html."""

from __future__ import annotations

import re
from importlib.metadata import version as version_of
from pathlib import Path
from typing import Any

project = "wherestood"
author = "the wherestood maintainers"
version = release = version_of("wherestood")
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
root_doc = "index"
source_suffix = {".md": "markdown"}
exclude_patterns = ["site", "calibration"]
# Headings are anchors, as on the pages where these files are read without a site.
myst_heading_anchors = 4
# A link that leads nowhere stops the build (make docs turns warnings into errors).
nitpicky = False
autodoc_member_order = "bysource"
autodoc_typehints = "none"
napoleon_google_docstring = False

highlight_language = "none"
html_theme = "alabaster"
html_title = "wherestood"
html_static_path = ["style"]
html_css_files = ["site.css"]
html_theme_options = {
    "description": "Where did the camera stand?",
    "fixed_sidebar": True,
    "page_width": "1120px",
    "sidebar_width": "260px",
    "show_powered_by": False,
}
html_show_sourcelink = False
html_show_copyright = False
html_copy_source = False

_ELSEWHERE = re.compile(
    r"<(?:script|link|img|iframe)[^>]+(?:src|href)=\"(?:https?:)?//"
)


def _loads_nothing_from_elsewhere(app: Any, error: Exception | None) -> None:
    """Refuse a site that would load a script, font or picture from another host."""
    if error is not None or app.builder.name != "html":
        return
    for page in Path(app.outdir).rglob("*.html"):
        if found := _ELSEWHERE.search(page.read_text(encoding="utf-8")):
            raise ValueError(f"{page.name} loads from another host: {found[0]}")


def setup(app: Any) -> None:
    """Have the site looked through once it is built."""
    app.connect("build-finished", _loads_nothing_from_elsewhere)
