"""A result in the words of the person who repairs the pot.

Each function yields plain lines. A line without indent is a heading.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from lossfill.cli.words import millilitres, rounded, whole_mm, wrapped
from lossfill.loss.way import WayRule, way_to_fill

if TYPE_CHECKING:
    from lossfill.body.body import Body
    from lossfill.donor.form import DonorForm
    from lossfill.donor.stand import Stand
    from lossfill.fit.order import Order
    from lossfill.form.form import Form
    from lossfill.frame.frame import Frame, Roundness
    from lossfill.loss.cracks import Crack
    from lossfill.loss.loss import Loss
    from lossfill.pack.record import CheckPart, LossPart, PiecePart
    from lossfill.road import Settings
    from lossfill.scan.scan import Scan

UPRIGHT_DEG = 10.0
"""A scan tilted less than this is called upright: nobody sees it on a turntable."""

ROUND_MM = 0.05
"""Below this a wall is called round: it is the noise of a good scanner."""

SEAT_TOLD_SHARE = 0.01
"""Share of a seat cut away from which it is told."""

_HANGING = "                "
_LOBES = ("oval", "three-sided", "four-sided")
_UNIT_SOURCES = {
    "file": "stated in the file",
    "asked": "as you said",
    "inferred": "inferred from its size: check that the vessel's size below is right",
}


def vessel_lines(scan: Scan, frame: Frame | Stand) -> Iterator[str]:
    """Say what was read, how large the vessel is, which way it stands and how round it is."""
    from lossfill.donor.stand import Stand

    yield f"Vessel in {scan.path.name}"
    unit = scan.unit.name.lower()
    n_triangles = f"{len(scan.mesh.faces):,}".replace(",", " ")
    source = _UNIT_SOURCES[scan.unit_source] if scan.scale == 1.0 else "scaled to the rim you gave"
    read_as = f"{scan.format}, {n_triangles} triangles, unit {unit} ({source})"
    yield from _row("read as", read_as)
    if isinstance(frame, Stand):
        yield from _stand_rows(frame)
        return
    yield from _row(
        "size",
        f"{whole_mm(frame.height_mm)} mm high, "
        f"{whole_mm(frame.rim_diameter_mm)} mm across the rim, "
        f"{whole_mm(frame.foot_diameter_mm)} mm across the foot, "
        f"wall about {rounded(frame.wall_mm, 2)} mm",
    )
    yield from _row("held", f"about {rounded(frame.capacity_ml, 2)} ml to the brim when whole")
    yield from _row("stands", _pose_words(frame))
    yield from _row("roundness", _roundness_words(frame.roundness))
    yield from _row(
        "axis",
        f"{frame.coverage:.0%} of the skin follows one turned shape within about "
        f"{rounded(max(frame.residual_mm, 0.01), 2)} mm",
    )


def _stand_rows(stand: Stand) -> Iterator[str]:
    sides = (stand.length_mm, stand.width_mm, stand.height_mm)
    length, width, height = (whole_mm(side) for side in sides)
    yield from _row(
        "size",
        f"{length} mm long, {width} mm wide, {height} mm high, "
        f"about {rounded(stand.wall_mm, 2)} mm thick",
    )
    yield from _row("stands", _pose_words(stand))
    yield from _row("axis", "none: its form is taken from its other side, a twin or a smooth span")


def repair_lines(body: Body) -> Iterator[str]:
    """List what was mended in the copy of the scan."""
    yield "Mending of the scan (in a copy; your file is unchanged)"
    if not body.repairs:
        yield "  none needed"
    for repair in body.repairs:
        words = repair.what + (f", {repair.count} times" if repair.count > 1 else "")
        if repair.size_mm > 0:
            words += f", up to {whole_mm(repair.size_mm)} mm long"
        if repair.place_mm is not None:
            x, y, z = (f"{value:.1f}" for value in repair.place_mm)
            words += f", at x {x}, y {y}, z {z} mm of the scan"
        yield from wrapped(words, "  ", "    ")


def twin_lines(form: Form | DonorForm | None, settings: Settings) -> Iterator[str]:
    """Say how large the twin is beside the vessel, where one was given."""
    from lossfill.form.form import Form

    if not isinstance(form, Form) or form.twin is None or settings.twin is None:
        return
    yield f"Twin in {settings.twin.name}"
    yield from _row("size", form.twin.size_says)


def loss_lines(loss: Loss, rule: WayRule) -> Iterator[str]:
    """Say what one loss is, where it is, how large, and how to fill it by a rule."""
    yield f"Loss {loss.number}: {loss_name(loss)} at {loss_place(loss)}"
    yield from _row("size", extents_words(loss))
    yield from _row("volume", f"{millilitres(loss.volume_ml)} missing")
    thinnest, thickest = loss.thickness_mm
    yield from _row("thickness", f"{thinnest:.1f} to {thickest:.1f} mm")
    if loss.kind.value in ("chip", "spall"):
        yield from _row("depth", f"{rounded(loss.depth_mm, 2)} mm below the skin")
    expected, bound = (rounded(max(e, 0.01), 2) for e in (loss.expected_error_mm, loss.bound_mm))
    yield from _row(
        "skin error", f"{expected} mm expected (RMS), below {bound} mm in nine of ten cases"
    )
    yield from _row("form by", _form_words(loss))
    advice = way_to_fill(loss, rule)
    yield from _row("fill with", f"{advice.way.value} ({advice.reason}; common practice)")


def extents_words(loss: Loss) -> str:
    """How large a loss is; only on a turned wall is one way round it and the other along it."""
    around, along = whole_mm(loss.extent_around_mm), whole_mm(loss.extent_along_mm)
    if loss.on_wall:
        return f"{around} mm around × {along} mm along the wall"
    return f"{around} × {along} mm"


def _form_words(loss: Loss) -> str:
    """Which source was chosen, and what the others would have made of it."""
    others = [
        f"{trial.source} {rounded(max(trial.error_mm, 0.01), 2)} mm"
        for trial in loss.trials
        if trial.error_mm is not None and trial.source != loss.source
    ]
    said = next((trial.says for trial in loss.trials if trial.source == loss.source), "")
    words = f"{loss.source} ({said})" if said else loss.source
    return f"{words}; expected of others: {', '.join(others)}" if others else words


def piece_lines(part: LossPart, folder: Path) -> Iterator[str]:
    """Say what was made for one loss, whether it is sound, and in which files it is."""
    if (
        part.piece is None
        or part.piece_3mf is None
        or part.piece_volume_ml is None
        or part.clearance_mm is None
        or part.check is None
        or part.check_3mf is None
    ):
        yield from _row("piece", "none was made: see the notes below")
        return
    clearance = (
        f"after a clearance of {part.clearance_mm:g} mm along the break"
        if part.clearance_mm > 0
        else "with no clearance"
    )
    yield from _row("piece", f"{millilitres(part.piece_volume_ml)} {clearance}")
    for one in part.pieces or (None,):
        yield from _one_piece_lines(part, one, folder)


def _one_piece_lines(part: LossPart, one: PiecePart | None, folder: Path) -> Iterator[str]:
    """Say how one piece goes in, in which files it is, and whether these are sound."""
    if one is None:
        found = {part.piece: part.check, part.piece_3mf: part.check_3mf}
    else:
        yield from _row("goes in", _entry_words(one, alone=len(part.pieces) == 1))
        found = {one.stl: one.check, one.threemf: one.check_3mf}
    words = {name: check_words(check) for name, check in found.items() if name and check}
    for name in words:
        yield f"  {'file':<12}  {folder / name}"  # never folded: a path is for copying
    if len(set(words.values())) == 1:
        yield from _row("check", next(iter(words.values())))
        return
    for name, finding in words.items():
        yield from _row("check", f"{name}: {finding}")


def _entry_words(piece: PiecePart, *, alone: bool) -> str:
    """From where a piece comes, what had to go for it, and whether it is proved to go in."""
    words = piece.entry.words if alone else f"piece {piece.name} {piece.entry.words}"
    if piece.entry.lean_deg >= 1.0:
        words += f", up to {piece.entry.lean_deg:.0f}° either way"
    share = piece.seat_lost_mm2 / piece.seat_mm2 if piece.seat_mm2 > 0 else 0.0
    if share >= SEAT_TOLD_SHARE:
        words += f"; {100 * share:.0f} % of its seat is cut away for that"
    return words + ("; proved all the way" if piece.proof.passed else "; NOT PROVED")


def total_lines(losses: tuple[Loss, ...]) -> Iterator[str]:
    """Say how much is missing in all."""
    if not losses:
        yield "No loss found."
    elif len(losses) > 1:
        total = sum(loss.volume_ml for loss in losses)
        yield f"In all {len(losses)} losses, {millilitres(total)} missing"


def order_lines(order: Order) -> Iterator[str]:
    """Say in which order the pieces go in, where it matters."""
    if order.before and order.sequence:
        yield f"Put the pieces in in this order: {', then '.join(order.sequence)}"


def warning_lines(warnings: Iterable[str]) -> Iterator[str]:
    """List all that the stages want a person to know, each once."""
    yield from listed("Please note", dict.fromkeys(warnings))


def caution_lines(cautions: Iterable[str]) -> Iterator[str]:
    """List the cautions for the work that comes next."""
    yield from listed("Take care", cautions)


def crack_lines(cracks: tuple[Crack, ...]) -> Iterator[str]:
    """List the cracks and open seams; they are stuck or run full, and get no piece."""
    if cracks:
        yield "Cracks and open seams (no pieces are made for them)"
    for crack in cracks:
        side = "inside" if crack.inside else "outside"
        words = (
            f"{whole_mm(crack.length_mm)} mm long, about {rounded(crack.width_mm, 2)} mm wide, "
            f"{side} at {crack.clock}, {whole_mm(crack.height_mm)} mm above the foot"
        )
        yield from wrapped(words, "  - ", "    ")


def file_lines(folder: Path, files: Iterable[str]) -> Iterator[str]:
    """Say where all files are."""
    yield f"Files in {folder.absolute()}"
    for name in sorted(files):
        yield f"  {name}"


def loss_name(loss: Loss) -> str:
    """Kind of a loss, as a noun."""
    name = loss.kind.value
    return name if name in ("chip", "spall") else f"{name} loss"


def loss_place(loss: Loss) -> str:
    """Place of a loss's middle: clock from above, and height."""
    return f"{loss.clock}, {whole_mm(loss.height_mm)} mm above the foot"


def check_words(check: CheckPart) -> str:
    """Findings of the gate; a finding that is not good is in capitals."""
    findings = [
        "closed" if check.watertight else "NOT CLOSED",
        "one part" if check.one_part else "IN SEVERAL PARTS",
    ]
    if not check.outward:
        findings.append("INSIDE OUT")
    if check.clash_mm3 <= check.clash_limit_mm3:
        findings.append("shares no space with the body")
    else:
        findings.append(f"CUTS {rounded(check.clash_mm3, 2)} mm³ INTO THE BODY")
    verdict = "" if check.passed else ": do not use this piece"
    return ", ".join(findings) + verdict


def _pose_words(frame: Frame | Stand) -> str:
    """Which way up the scan lies, and from where the clock is read."""
    from lossfill.donor.stand import Stand

    up_z = float(frame.vessel_from_scan[2, 2])  # z of the vessel's up, in scan coordinates
    tilt_deg = math.degrees(math.acos(max(-1.0, min(1.0, up_z))))
    top, noon = "rim", "towards the scan's x"
    if isinstance(frame, Stand):
        top, noon = "top", "along its length"
    if tilt_deg < UPRIGHT_DEG:
        stands = f"upright in the scan ({top} towards its +z)"
    elif tilt_deg > 180.0 - UPRIGHT_DEG:
        stands = f"upside down in the scan ({top} towards its -z)"
    else:
        stands = f"tilted in the scan, {top} {tilt_deg:.0f}° away from its +z"
    return f"{stands}; clock places are seen from above, 12 o'clock {noon}"


def _roundness_words(levels: tuple[Roundness, ...]) -> str:
    if not levels:
        return "could not be measured"
    worst = max(levels, key=lambda level: sum(level.amplitudes_mm))
    swing = sum(worst.amplitudes_mm)
    if swing < ROUND_MM:
        return f"round within {ROUND_MM} mm at every height measured"
    largest = max(range(len(_LOBES)), key=lambda k: worst.amplitudes_mm[k])
    words = (
        f"within ± {rounded(swing, 2)} mm of round; worst {whole_mm(worst.height_mm)} mm above the "
        f"foot, mostly {_LOBES[largest]}"
    )
    if largest == 0:
        # The radius swings by ± amplitude, twice around: long and short diameter differ by four.
        words += f" ({rounded(4.0 * worst.amplitudes_mm[0], 2)} mm longer one way than across)"
    return words


def _row(name: str, words: str) -> Iterator[str]:
    yield from wrapped(words, f"  {name:<12}  ", _HANGING)


def listed(heading: str, sentences: Iterable[str]) -> Iterator[str]:
    """A heading and sentences under it; nothing where there are none."""
    items = list(sentences)
    if items:
        yield heading
    for sentence in items:
        yield from wrapped(sentence, "  - ", "    ")
