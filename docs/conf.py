"""How the documents become pages: ``make docs``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sphinx.application import Sphinx

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent))

from tools.write_reference import write_all  # noqa: E402

import kerfwright  # noqa: E402

project = "kerfwright"
author = "the authors of kerfwright"
release = kerfwright.__version__
extensions = ["myst_parser", "sphinx.ext.autodoc", "sphinx.ext.napoleon"]
exclude_patterns = ["reference/made/*"]
html_theme = "furo"
html_title = f"kerfwright {release}"
# Everything comes from the folder that was made: no font, script or picture from elsewhere.
html_theme_options = {"footer_icons": []}
autodoc_typehints = "description"
autodoc_member_order = "bysource"
myst_heading_anchors = 3
nitpicky = False
# Links to files of the repository that are no pages (tables, changelog) stay as they are.
suppress_warnings = ["myst.xref_missing"]


def setup(app: Sphinx) -> None:
    """Write the pages that are made from the program itself before the others are read."""
    app.connect("builder-inited", lambda _: write_all(HERE / "reference" / "made"))
