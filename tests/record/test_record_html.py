"""The HTML record: valid, whole in itself, and told in the right kinds of elements."""

from __future__ import annotations

import base64
import io
import itertools
import re
from dataclasses import replace
from typing import Any

import html5lib
import pytest
from PIL import Image
from record.record_cases import HOSTILE, html_words, loose, no_pictures
from record.test_record_pdf import hostile_document

from lossfill.drawing.words import plain
from lossfill.record.content import document_of
from lossfill.record.page import html_of
from lossfill.record.sources import Sources

# Elements without an end, and those that a record may hold: no script, frame, form or link out.
KNOWN = {
    *("html", "head", "meta", "title", "style", "body", "header", "nav", "main", "section"),
    *("h1", "h2", "h3", "p", "ul", "ol", "li", "a", "dl", "dt", "dd", "div", "span"),
    *("table", "caption", "thead", "tbody", "tr", "th", "td", "figure", "figcaption", "img"),
}


@pytest.fixture(scope="module")
def page(cup_sources: Sources) -> bytes:
    return html_of(document_of(cup_sources))


def parsed(content: bytes) -> Any:
    """The tree, or an error at the first breach of the standard."""
    parser = html5lib.HTMLParser(strict=True, namespaceHTMLElements=False)
    return parser.parse(content.decode("utf-8"))


def assert_whole_in_itself(content: bytes) -> None:
    for element in parsed(content).iter():
        if not isinstance(element.tag, str):
            continue
        assert element.tag in KNOWN
        for name, value in element.attrib.items():
            assert not name.startswith("on"), (element.tag, name)
            if name in ("href", "src", "action", "srcset", "data", "poster"):
                assert value.startswith(("#section-", "data:image/png;base64,")), value[:40]
    assert b"url(" not in content
    assert b"@import" not in content


def test_it_is_valid_and_needs_nothing_outside(page: bytes) -> None:
    assert page.startswith(b"<!DOCTYPE html>")
    assert_whole_in_itself(page)
    # Not even as words: there is no outside address at all.
    words = re.sub(rb"base64,[A-Za-z0-9+/=]+", b"", page)
    assert not re.search(rb"[a-z]+://|//[a-z]|www[.]", words)


def test_it_is_told_in_the_right_elements(page: bytes) -> None:
    tree = parsed(page)
    assert tree.attrib["lang"] == "en"
    assert len(tree.findall(".//h1")) == 1
    targets = {one.attrib["id"] for one in tree.iter() if "id" in one.attrib}
    links = [one.attrib["href"][1:] for one in tree.iter("a")]
    assert links
    assert set(links) == targets
    for table in tree.iter("table"):
        assert "".join(table.find("caption").itertext()).strip()
        heads = table.findall("./thead/tr/th")
        assert all(head.attrib["scope"] == "col" for head in heads)
        for row in table.findall("./tbody/tr"):
            assert len(row) == len(heads)
            assert row[0].attrib["scope"] == "row"
    levels = [int(one.tag[1]) for one in tree.iter() if one.tag in ("h1", "h2", "h3")]
    assert all(after - before <= 1 for before, after in itertools.pairwise(levels))


def test_pictures_are_in_it_at_their_size_and_told_in_words(
    cup_sources: Sources, page: bytes
) -> None:
    images = list(parsed(page).iter("img"))
    pictures = list(document_of(cup_sources).pictures())
    assert len(images) == len(pictures)
    for image, picture in zip(images, pictures, strict=True):
        content = base64.b64decode(image.attrib["src"].partition(",")[2])
        assert content == picture.png
        with Image.open(io.BytesIO(content)) as opened:
            opened.verify()
        assert image.attrib["alt"] == picture.alt
        assert image.attrib["style"] == f"width:{picture.width_mm:g}mm"


@pytest.mark.parametrize("words", HOSTILE)
def test_hostile_words_are_words(words: str) -> None:
    content = html_of(hostile_document(words))
    assert_whole_in_itself(content)
    assert loose(plain(words)) in loose(html_words(content))
    assert b"<script" not in content


def test_empty_fields_are_lines(cup_sources: Sources) -> None:
    from lossfill.record.fields import NO_FIELDS

    few = html_of(document_of(no_pictures(cup_sources)))
    many = html_of(document_of(replace(no_pictures(cup_sources), fields=NO_FIELDS, day=None)))
    assert many.count(b'class="write"') > few.count(b'class="write"') + 20
    assert_whole_in_itself(many)


def test_the_same_record_gives_the_same_bytes(cup_sources: Sources, page: bytes) -> None:
    assert html_of(document_of(cup_sources)) == page


def test_it_prints_and_shrinks(page: bytes) -> None:
    style = "".join(parsed(page).find(".//style").itertext())
    assert "@media print" in style
    assert "max-width: 34rem" in style
    assert b'name="viewport"' in page


def test_captions_do_not_scroll_out_of_a_narrow_window_with_their_table(page: bytes) -> None:
    tree = parsed(page)
    style = "".join(tree.find(".//style").itertext())
    assert re.search(r"caption span [^}]*position: sticky[^}]*max-width: calc\(100vw", style)
    tables = [one for one in tree.iter("table") if one.find("caption").text != "Signatures"]
    assert tables
    assert all(one.find("caption/span") is not None for one in tables)
