"""The steps of the way through, in order; each shows one stage and asks what is next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lossfill.page.choices import Stage
from lossfill.page.context import Context
from lossfill.page.steps import form, losses, make, mix, piece, record, scan, vessel
from lossfill.page.words import form as form_words
from lossfill.page.words import losses as losses_words
from lossfill.page.words import make as make_words
from lossfill.page.words import mix as mix_words
from lossfill.page.words import piece as piece_words
from lossfill.page.words import record as record_words
from lossfill.page.words import start as scan_words
from lossfill.page.words import vessel as vessel_words


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Parameters
    ----------
    name : in links
    title : shown
    needs : the stage whose result it shows
    build : puts it on the page
    """

    name: str
    title: str
    needs: Stage
    build: Callable[[Context], None]


STEPS: tuple[Step, ...] = (
    Step("scan", scan_words.SCAN_TITLE, Stage.VESSEL, scan.build),
    Step("vessel", vessel_words.TITLE, Stage.VESSEL, vessel.build),
    Step("losses", losses_words.TITLE, Stage.LOSSES, losses.build),
    Step("form", form_words.TITLE, Stage.LOSSES, form.build),
    Step("piece", piece_words.TITLE, Stage.PIECES, piece.build),
    Step("make", make_words.TITLE, Stage.THINGS, make.build),
    Step("mix", mix_words.TITLE, Stage.MIX, mix.build),
    Step("record", record_words.TITLE, Stage.RECORD, record.build),
)
