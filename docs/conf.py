"""How the documentation is built: `sphinx-build -W docs FOLDER`.

Pages are Markdown. What is generated from the code (commands, keys, schemas, Python names)
stands on them as a comment `<!-- generated: NAME -->`, which `generated.py` fills in.
"""

import logging
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import generated
import numpydoc.xref

import nestlib

logging.getLogger("alembic").setLevel(logging.WARNING)  # it tells what it sets up

project = "nestlib"
author = "the nestlib contributors"
version = release = nestlib.__version__

extensions = ["myst_parser", "sphinx.ext.autodoc", "numpydoc"]
myst_heading_anchors = 4
exclude_patterns = ["*.py"]

smartquotes = False  # they would make one dash of the two before an option
default_role = "literal"
highlight_language = "toml"  # of blocks in docstrings, which mostly show files
autodoc_typehints = "none"  # the docstrings say it in words
autodoc_member_order = "bysource"
numpydoc.xref.DEFAULT_LINKS.clear()  # which lead out of the pages
numpydoc_show_class_members = False
numpydoc_xref_param_type = True
numpydoc_xref_aliases = {name: f"nestlib.{name}" for name in nestlib.__all__}
numpydoc_xref_ignore = "all"  # what is not one of ours

html_theme = "furo"  # asks nothing of the network, search included
html_title = "nestlib"
html_show_copyright = False
html_show_sphinx = False  # its line names a person
html_copy_source = False
html_static_path = ["wide.css"]
html_css_files = ["wide.css"]


def setup(app):
    """Fill in what is generated while pages are read."""
    app.connect("source-read", generated.fill_in)
