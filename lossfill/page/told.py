"""What the road says, as it is said on the page."""

from __future__ import annotations

import re

from lossfill.page.words.common import TITLE
from lossfill.page.words.options import INSTEAD_OF_OPTIONS


def on_the_page(text: str) -> str:
    """A message with places of the page where it names options of the command line."""
    for option, place in INSTEAD_OF_OPTIONS:
        text = re.sub(option, place, text)
    return text


def sentence(text: str) -> str:
    """The same with a capital and a full stop; a file's name, or ours, stays as it is."""
    text = on_the_page(text)
    first = text.partition(" ")[0]
    if first.isalpha() and first != TITLE:
        text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else text + "."
