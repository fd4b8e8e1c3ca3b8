"""The one register of cautions: what can hurt whom, at which work and with which materials.

Each caution is tied to the works and the materials that raise it, so that it is shown where it
applies: in the terminal at that step, in the record, in the pack. A list of cautions ends by giving
way to those who know better; nothing here promises what a filled vessel is fit for.

Facts stand with their sources at each entry; what has none is common practice.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Work(StrEnum):
    """What a person does with their hands; the value is the word shown to them."""

    HANDLE = "handling the sherds"
    JOIN = "joining"
    FILL = "filling"
    LEVEL = "levelling and sanding"
    COAT = "coating"
    METAL = "laying metal powder"
    CURE = "curing"
    PRINT = "printing"
    CAST = "casting"
    CARVE = "sawing and carving"
    FIRE = "firing"
    USE = "living with the vessel"


@dataclass(frozen=True, slots=True)
class Caution:
    """One danger, in the words of the bench.

    Parameters
    ----------
    key : its name in the table of materials
    words : one or two sentences: what can happen, and what to do
    works : at which works it is raised
    always : raised at these works whatever the materials; else only by a material that names it
    """

    key: str
    words: str
    works: frozenset[Work]
    always: bool = False


DEFERENCE = (
    "The safety data sheet of each product, your local rules and licensed practice come before "
    "anything said here."
)
"""How every list of cautions ends."""

REGISTER: tuple[Caution, ...] = (
    Caution(
        "sharp",
        "Break edges are sharp: wear gloves that resist cuts.",
        frozenset({Work.HANDLE, Work.JOIN, Work.LEVEL}),
        always=True,
    ),
    # Contact Dermatitis 1991;25:290: 5 of 8 beginners patch-positive a month after first contact.
    # Cross-reactions with poison ivy, cashew shell and mango skin: common knowledge, from memory.
    Caution(
        "lacquer",
        "Raw lacquer brings on a rash, often weeks after first contact, and worse each time: keep "
        "it off the skin with gloves and sleeves. Who reacts to poison ivy or oak, cashew shells "
        "or mango skin may react to lacquer too. Lacquer that has not cured through still does it.",
        frozenset({Work.JOIN, Work.FILL, Work.COAT, Work.METAL, Work.CURE}),
    ),
    # Bangsgaard 2012, Contact Dermatitis 67:73: 275 of 20 808 patients positive to epoxy; gloves:
    # Kanerva's Occupational Dermatology: thin rubber poor, laminate or thick nitrile.
    Caution(
        "resin",
        "Uncured resin and hardener can bring on a lasting skin allergy: wear laminate or thick "
        "nitrile gloves, for thin rubber lets them through, and work in fresh air.",
        frozenset({Work.JOIN, Work.FILL, Work.CAST}),
    ),
    Caution(
        "print resin",
        "Uncured printing resin can bring on a lasting skin allergy: handle the print with nitrile "
        "gloves until it is washed and cured through; melted filament gives off fumes.",
        frozenset({Work.PRINT, Work.LEVEL}),
    ),
    Caution(
        "solvent",
        "Thinners and solvents burn easily and their vapour harms: open a window, keep flames and "
        "sparks away, and put rags with oil or lacquer in water or a closed metal tin.",
        frozenset({Work.COAT, Work.METAL, Work.LEVEL, Work.PRINT}),
    ),
    # 29 CFR 1910.1053: 50 µg/m3 over 8 hours; IARC monograph 100C: carcinogenic to humans.
    Caution(
        "dust",
        "Dust of ceramic, stone powder, plaster and filler harms the lungs and can hold "
        "crystalline silica, which causes cancer (limit in the USA: 50 µg/m³ over 8 hours): "
        "work wet, draw the dust off, and wear a well-fitting mask for fine dust.",
        frozenset({Work.FILL, Work.LEVEL, Work.CAST}),
        always=True,
    ),
    Caution(
        "wood dust",
        "Wood dust harms nose and lungs, and saws and knives cut: draw it off, wear a mask and "
        "eye protection, and clamp the work.",
        frozenset({Work.CARVE, Work.LEVEL}),
    ),
    Caution(
        "metal powder",
        "Fine metal powder must not be breathed in, and some of it burns: lay it on without "
        "blowing, with a mask, away from flames.",
        frozenset({Work.METAL}),
    ),
    Caution(
        "heat",
        "What cures or sets gives off heat, a large batch of resin or plaster enough to burn or "
        "smoke: mix small batches, never cast plaster round a hand, and leave no heated box alone.",
        frozenset({Work.FILL, Work.CAST, Work.CURE}),
    ),
    # Common knowledge, from memory; to be overruled by each salt's own data sheet.
    Caution(
        "salt",
        "Salts for the damp box irritate the eyes, and as dust the lungs, and corrode metal: wear "
        "eye protection when you stir them, label the tray, and keep it from children and pets.",
        frozenset({Work.CURE}),
    ),
    Caution(
        "oxidising salt",
        "Nitrates feed fire: keep them apart from whatever burns, lacquer and rags too.",
        frozenset({Work.CURE}),
    ),
    Caution(
        "kiln",
        "A kiln burns and gives off fumes: fire in a ventilated room, as its maker says.",
        frozenset({Work.FIRE}),
    ),
    # Limits for lead and cadmium: Directive 84/500/EEC, article 2 (EU); FDA CPG 545.400 (USA).
    Caution(
        "glaze",
        "Old glazes and enamels can hold lead or cadmium: do not sand them dry, wash your hands "
        "after handling, and have the vessel tested by a licensed laboratory before other use.",
        frozenset({Work.LEVEL, Work.USE}),
        always=True,
    ),
    # 21 CFR 175.300 and Regulation (EC) 1935/2004, article 3, bind what touches food; a mended
    # place has been shown to meet neither.
    Caution(
        "food",
        "Treat a filled vessel as one for display: nothing here shows that its fills, adhesives, "
        "lacquer or metal may touch food or drink.",
        frozenset({Work.USE}),
        always=True,
    ),
    Caution(
        "washing",
        "No dishwasher, no microwave oven, no oven, no soaking: wipe it with a damp soft cloth and "
        "dry it at once.",
        frozenset({Work.USE}),
        always=True,
    ),
    Caution(
        "sunlight",
        "Sunlight dulls and weakens lacquer: keep the vessel out of the sun, and away from "
        "heaters and very dry air.",
        frozenset({Work.USE}),
    ),
)


def cautions_for(works: Iterable[Work], keys: Iterable[str] = ()) -> tuple[str, ...]:
    """What to be reminded of at some works with some materials, each said once.

    Parameters
    ----------
    works : what is about to be done
    keys : those that the materials name

    Returns
    -------
    In the register's order; the last gives way to data sheets, local rules and licensed practice.
    """
    at, named = frozenset(works), frozenset(keys)
    told = [one.words for one in REGISTER if one.works & at and (one.always or one.key in named)]
    return (*told, DEFERENCE)


def known_keys() -> tuple[str, ...]:
    """Keys that a material may name."""
    return tuple(one.key for one in REGISTER)
