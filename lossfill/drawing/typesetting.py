"""The one door to typst: with our own font alone, offline; the same pages give the same bytes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from lossfill.drawing.words import font_folder
from lossfill.errors import ExportError

Standard = Literal["a-2a"]


def typeset(
    template: str, given: str, *, tagged: bool = True, standards: Sequence[Standard] = ()
) -> bytes:
    """Set pages as a PDF; whatever typst warns of would be a fault on the page.

    Parameters
    ----------
    template : in typst's language; ours alone, never anything that was given
    given : JSON, which the template reads as data
    tagged : with the structure that screen readers follow
    standards : that the file has to meet

    Raises
    ------
    ExportError
        Where the pages could not be set.
    """
    import typst

    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[font_folder()]
    )
    try:
        made, warnings = typst.compile_with_warnings(
            template.encode(),
            font_paths=fonts,
            sys_inputs={"given": given},
            format="pdf",
            timestamp=0,
            pdf_standards=[*standards],
            pdf_tags=tagged,
        )
    except typst.TypstError as error:
        raise ExportError(f"the pages could not be set: {error.message}") from error
    except BaseException as error:
        # A breakdown inside typst comes as an exception outside Python's usual tree.
        if type(error).__name__ != "PanicException":
            raise
        raise ExportError(f"the pages could not be set: {str(error).splitlines()[0]}") from error
    if warnings:
        raise ExportError(f"the pages were not set as written: {warnings[0].message}")
    return bytes(made)
