"""From a scan of a mended vessel with missing pieces to a piece that fills each loss.

The stages, in the order of the road, each a plain function::

    file -> Scan -> Body -> Frame -> Form -> (Loss, ...) -> (Fill, ...) -> files

`design` walks all of it in one call and `write_pack` writes the result. Lengths are millimetres and
volumes millilitres unless a name says otherwise. Every failure is a `LossfillError`.

Names are loaded when first used, so that ``import lossfill`` costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from lossfill.body import make_body
    from lossfill.body.body import Body, Repair
    from lossfill.check import check_piece_scan
    from lossfill.check.checked import Checked
    from lossfill.check.settings import CheckSettings
    from lossfill.cure import Plan, PlanSettings, plan_for
    from lossfill.cure.box import water_needed_g
    from lossfill.cure.logger import read_log
    from lossfill.cure.logger_judge import judge_log
    from lossfill.donor.form import DonorForm
    from lossfill.donor.stand import Stand
    from lossfill.errors import (
        AlignmentError,
        AmbiguousShapeError,
        BooleanError,
        ExportError,
        InputError,
        LossfillError,
        NoAxisError,
        NotWatertightError,
        UnsuitedError,
    )
    from lossfill.fill import make_fill
    from lossfill.fill.fill import Check, Fill
    from lossfill.fill.settings import FillSettings
    from lossfill.fit.fit import fit_fill
    from lossfill.fit.fitted import Fitted
    from lossfill.form import fit_form
    from lossfill.form.form import Form
    from lossfill.frame import find_frame
    from lossfill.frame.frame import Frame
    from lossfill.loss import find_cracks, find_losses
    from lossfill.loss.cracks import Crack
    from lossfill.loss.loss import Loss, LossKind
    from lossfill.make.brief import Brief
    from lossfill.make.made import Made
    from lossfill.make.store import read_briefs
    from lossfill.make.things import MakeSettings, make_things
    from lossfill.make.write import MakeOrder, make_in_folder
    from lossfill.materials import read_table
    from lossfill.mesh import Mesh
    from lossfill.mix import MixSettings, Quantities, need_given, needs_of, quantities_for
    from lossfill.pack import write_pack
    from lossfill.record import ObjectFields, read_fields, write_record
    from lossfill.road import Design, Settings, design
    from lossfill.scan import read_scan
    from lossfill.scan.scan import Scan, Unit

__version__ = "0.1.0"

__all__ = [
    "AlignmentError",
    "AmbiguousShapeError",
    "Body",
    "BooleanError",
    "Brief",
    "Check",
    "CheckSettings",
    "Checked",
    "Crack",
    "Design",
    "DonorForm",
    "ExportError",
    "Fill",
    "FillSettings",
    "Fitted",
    "Form",
    "Frame",
    "InputError",
    "Loss",
    "LossKind",
    "LossfillError",
    "Made",
    "MakeOrder",
    "MakeSettings",
    "Mesh",
    "MixSettings",
    "NoAxisError",
    "NotWatertightError",
    "ObjectFields",
    "Plan",
    "PlanSettings",
    "Quantities",
    "Repair",
    "Scan",
    "Settings",
    "Stand",
    "Unit",
    "UnsuitedError",
    "check_piece_scan",
    "design",
    "find_cracks",
    "find_frame",
    "find_losses",
    "fit_fill",
    "fit_form",
    "judge_log",
    "make_body",
    "make_fill",
    "make_in_folder",
    "make_things",
    "need_given",
    "needs_of",
    "plan_for",
    "quantities_for",
    "read_briefs",
    "read_fields",
    "read_log",
    "read_scan",
    "read_table",
    "water_needed_g",
    "write_pack",
    "write_record",
]

_HOME = {
    "AlignmentError": "errors",
    "AmbiguousShapeError": "errors",
    "Body": "body.body",
    "BooleanError": "errors",
    "Brief": "make.brief",
    "Check": "fill.fill",
    "CheckSettings": "check.settings",
    "Checked": "check.checked",
    "Crack": "loss.cracks",
    "Design": "road",
    "DonorForm": "donor.form",
    "ExportError": "errors",
    "Fill": "fill.fill",
    "FillSettings": "fill.settings",
    "Fitted": "fit.fitted",
    "Form": "form.form",
    "Frame": "frame.frame",
    "InputError": "errors",
    "Loss": "loss.loss",
    "LossKind": "loss.loss",
    "LossfillError": "errors",
    "Made": "make.made",
    "MakeOrder": "make.write",
    "MakeSettings": "make.things",
    "Mesh": "mesh",
    "MixSettings": "mix",
    "NoAxisError": "errors",
    "NotWatertightError": "errors",
    "ObjectFields": "record",
    "Plan": "cure",
    "PlanSettings": "cure",
    "Quantities": "mix",
    "Repair": "body.body",
    "Scan": "scan.scan",
    "Settings": "road",
    "Stand": "donor.stand",
    "Unit": "scan.scan",
    "UnsuitedError": "errors",
    "check_piece_scan": "check",
    "design": "road",
    "find_cracks": "loss",
    "find_frame": "frame",
    "find_losses": "loss",
    "fit_fill": "fit.fit",
    "fit_form": "form",
    "judge_log": "cure.logger_judge",
    "make_body": "body",
    "make_fill": "fill",
    "make_in_folder": "make.write",
    "make_things": "make.things",
    "need_given": "mix",
    "needs_of": "mix",
    "plan_for": "cure",
    "quantities_for": "mix",
    "read_briefs": "make.store",
    "read_fields": "record",
    "read_log": "cure.logger",
    "read_scan": "scan",
    "read_table": "materials",
    "water_needed_g": "cure.box",
    "write_pack": "pack",
    "write_record": "record",
}
"""The module of each public name, below this package."""


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module 'lossfill' has no attribute '{name}'")
    return getattr(import_module(f"lossfill.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
