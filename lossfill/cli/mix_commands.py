"""What `lossfill mix` does: gather what is needed, reckon, and tell."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lossfill import __version__
from lossfill.cautions import cautions_for
from lossfill.cli.blocks import print_blocks, print_document
from lossfill.cli.mix_words import loss_blocks, material_blocks, own_lines, total_lines
from lossfill.cli.summary import caution_lines, warning_lines
from lossfill.errors import InputError
from lossfill.materials import Material, read_table
from lossfill.mix import MixSettings, Need, Quantities, need_given, needs_of, quantities_for
from lossfill.mix.hazards import caution_keys_of, works_of
from lossfill.mix.units import quantity

if TYPE_CHECKING:
    from lossfill.pack.record import FillRecord


@dataclass(frozen=True, slots=True)
class Given:
    """A loss that was measured without a scan, as typed; see `need_given`."""

    volume: str | None = None
    area: str | None = None
    break_area: str | None = None
    depth: str | None = None
    clearance: str | None = None


def run_mix(
    folder: Path | None,
    given: Given,
    choice: MixSettings,
    materials: Path | None,
    *,
    explain: bool,
    as_json: bool,
) -> None:
    """Tell what to mix for the losses of a folder, or for one that is given by its figures."""
    record, needs = gathered(folder, given)
    quantities = quantities_for(needs, choice, read_table(materials))
    cautions = cautions_for(works_of(quantities), caution_keys_of(quantities))
    if as_json:
        print_document(quantities_document(needs, quantities, cautions))
        return
    if not needs:
        print_blocks(["No loss was found in this design: there is nothing to mix"])
        return
    places = {} if record is None else {part.number: part for part in record.losses}
    print_blocks(
        *loss_blocks(needs, quantities, places, explain=explain),
        total_lines(quantities),
        warning_lines(quantities.warnings),
        caution_lines(cautions),
    )


def run_list(materials: Path | None, *, as_json: bool) -> None:
    """List the materials that are known, with a user's own."""
    table = read_table(materials)
    if as_json:
        program = f"lossfill {__version__}"
        print_document({"program": program, "materials": [asdict(one) for one in table]})
        return
    print_blocks(*material_blocks(table), own_lines())


def gathered(folder: Path | None, given: Given) -> tuple[FillRecord | None, tuple[Need, ...]]:
    """What each loss needs: from a folder that fill wrote, or from figures.

    Raises
    ------
    InputError
        Where both are given or neither, or a figure cannot be read.
    """
    if folder is None:
        if given.volume is None:
            raise InputError(
                "nothing to reckon from: give the folder that fill wrote, or a volume such as "
                "--volume 1.8ml"
            )
        return None, (_given(given),)
    told = [one.name.replace("_", "-") for one in fields(given) if getattr(given, one.name)]
    if told:
        raise InputError(
            f"--{told[0]} and the folder {folder} were both given: the folder's losses are "
            "measured already, so give one of the two"
        )
    return of_folder(folder)


def of_folder(folder: Path) -> tuple[FillRecord, tuple[Need, ...]]:
    """The record of a folder that fill wrote, and what each of its losses needs."""
    from lossfill.make.store import STORE_NAME, read_design
    from lossfill.pack.folder import RECORD_NAME
    from lossfill.pack.record import read_record

    if (folder / STORE_NAME).exists():
        record, briefs = read_design(folder)
        return record, needs_of(record, briefs)
    try:
        record = read_record((folder / RECORD_NAME).read_bytes())
    except OSError as error:
        raise InputError(
            f"{folder} holds no design ({RECORD_NAME}: {error.strerror}): give the folder that "
            "lossfill fill wrote"
        ) from error
    return record, needs_of(record)


def _given(given: Given) -> Need:
    values: dict[str, float] = {}
    if given.area is not None:
        values["skin_mm2"] = quantity(given.area, "area", "--area")
    if given.break_area is not None:
        values["break_mm2"] = quantity(given.break_area, "area", "--break-area")
    if given.depth is not None:
        values["depth_mm"] = quantity(given.depth, "length", "--depth")
    if given.clearance is not None:
        values["clearance_mm"] = quantity(given.clearance, "length", "--clearance")
    return need_given(quantity(given.volume or "", "volume", "--volume"), **values)


def quantities_document(
    needs: Sequence[Need], quantities: Quantities, cautions: Sequence[str]
) -> dict[str, Any]:
    """All of it for programs; each material once, and by its name elsewhere."""
    used: dict[str, Material] = {total.material.name: total.material for total in quantities.totals}
    return {
        "program": f"lossfill {__version__}",
        "needs": [asdict(need) for need in needs],
        "portions": [_named(asdict(portion)) for portion in quantities.portions],
        "totals": [_named(asdict(total)) for total in quantities.totals],
        "materials": [asdict(material) for material in used.values()],
        "warnings": list(quantities.warnings),
        "cautions": list(cautions),
    }


def _named(content: dict[str, Any]) -> dict[str, Any]:
    return {**content, "material": content["material"]["name"]}
