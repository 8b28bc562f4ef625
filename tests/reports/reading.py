"""What a person reads of markup."""

from __future__ import annotations

import html
import re


def text(markup):
    """The words of some markup, lengths in yards."""
    metres_gone = re.sub(r'<span class="me">.*?</span>', "", str(markup))
    return html.unescape(re.sub(r"<[^>]+>", "", metres_gone)).replace("\u00a0", " ")
