"""What a page says, without its marks."""

import html
import re
from typing import Any


def words(page: Any) -> str:
    """The page's words as they are read: no tags, one blank between words."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", page.content.decode())))
