"""Links of the documentation, and whether they lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urlsplit

from tests.docs.pages import PAGES, ROOT

#: Pages, and the other texts of the project.
TEXTS = [*PAGES, ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md"]


def links(page: Path) -> list[str]:
    """Return where all links and pictures of a page lead, without those in blocks of code."""
    text = re.sub(r"^```.*?^```$|`[^`\n]*`", "", _text(page), flags=re.MULTILINE | re.DOTALL)
    return re.findall(r"\]\(([^)\s]+)\)", text)


def leads(page: Path, link: str) -> bool:
    """Whether a link of a page leads to a file and heading, or is an address of the web."""
    parts = urlsplit(link)
    if parts.scheme:
        return parts.scheme in ("http", "https") and bool(parts.hostname)
    file = page.parent / parts.path if parts.path else page
    return file.is_file() and (not parts.fragment or parts.fragment in _anchors(file))


def _anchors(page: Path) -> set[str]:
    """Return the names that headings have on the pages of a repository."""
    titles = re.findall(r"^#+ (.+)$", _text(page), flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).strip().replace(" ", "-") for title in titles}


def _text(page: Path) -> str:
    return page.read_text(encoding="utf-8")
