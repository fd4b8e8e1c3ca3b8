"""The findings of a check in plain words, line by line."""

from __future__ import annotations

from lossfill.check.checked import SIDE_WORDS, Checked, Gap, GoesIn, Lie, Place, SideMisfit

CAUTION = (
    "dust from filing and sanding harms the lungs: work wet, wear a well-fitting mask, and follow "
    "the safety data sheet of what the piece is made of and your local rules"
)


def lines_of(checked: Checked) -> tuple[str, ...]:
    """Say what was found, the verdict first."""
    found = [
        f"Piece {checked.piece.name} of {checked.brief.part}",
        goes_in_words(checked.goes_in),
        *(f"  file {_place_words(one)}" for one in checked.goes_in.places
          if checked.goes_in.verdict == "file first"),
        lie_words(checked.lie),
        size_words(checked.lie),
        *(side_words(side) for side in checked.sides),
    ]  # fmt: skip
    if checked.places:
        found.append("Places that are off by more than the tolerance, numbered as in the picture:")
        found += [f"  {n} {change_words(one)}" for n, one in enumerate(checked.places, start=1)]
    else:
        found.append("No place is off by more than the tolerance")
    found.append(gap_words(checked.gap))
    if checked.step_mm is not None:
        found.append(f"Step at the join of the skin: below {_mm(checked.step_mm)} on 95 % of it")
    found += [f"Mind: {warning}" for warning in checked.warnings]
    if checked.goes_in.verdict == "file first" or any(p.depth_mm > 0 for p in checked.places):
        found.append(f"Take care: {CAUTION}")
    return tuple(found)


def goes_in_words(goes: GoesIn) -> str:
    """Say whether it goes in."""
    moved = ""
    if goes.moved_mm > 0:
        moved = f", set {_mm(goes.moved_mm)} off its best fit"
    if goes.verdict == "not known":
        return f"Whether it goes in is not known: {goes.why}"
    if goes.verdict == "goes in":
        return f"It goes in{moved}: nothing is in its way"
    if goes.verdict == "may rub":
        return (
            f"It may rub on the way in{moved}, by up to {_mm(max(goes.file_mm, 0.01))}: a scan "
            "cannot tell so little from its own noise; try it dry"
        )
    after = "; filed so, it goes in" if goes.proof is not None and goes.proof.passed else ""
    return (
        f"It does not go in yet{moved}: {goes.relief_mm3:.2g} mm³ are in the way, up to "
        f"{_mm(goes.file_mm)} deep{after}"
    )


def lie_words(lie: Lie) -> str:
    """Say how the scan lies on the design."""
    shown = f"; the scan shows {100 * lie.covered:.0f} % of it" if lie.covered < 0.99 else ""
    return f"Lies on its design within {lie.rms_mm:.3f} mm (trimmed RMS){shown}"


def size_words(lie: Lie) -> str:
    """Say how much larger or smaller it came out."""
    error = max(2 * lie.larger_error_percent, 0.01)
    if abs(lie.larger_percent) < error:
        return f"Size: as designed, to ± {error:.2f} %"
    size = "larger" if lie.larger_percent > 0 else "smaller"
    return f"Size: {abs(lie.larger_percent):.2f} % {size} than designed (± {error:.2f} %)"


def side_words(side: SideMisfit) -> str:
    """Say how far one side is off."""
    name = SIDE_WORDS[side.side].capitalize()
    off = f"{side.p05_mm:+.3f} … {side.p50_mm:+.3f} … {side.p95_mm:+.3f} mm".replace("-", "−")
    told = f"{name}: {off} off the design (5, 50, 95 % of {side.area_mm2:.0f} mm²)"
    if side.too_much_mm2 > 0:
        told += f"; too much on {side.too_much_mm2:.1f} mm²"
    if side.too_little_mm2 > 0:
        told += f"; too little on {side.too_little_mm2:.1f} mm²"
    return told


def change_words(place: Place) -> str:
    """Say what to do at one place."""
    if place.depth_mm > 0:
        return f"take off {_place_words(place)}"
    return f"add {_place_words(place)}"


def gap_words(gap: Gap) -> str:
    """Say what is left for the adhesive."""
    return (
        f"Gap for adhesive: {gap.p05_mm:.2f} … {gap.p50_mm:.2f} … {gap.p95_mm:.2f} mm (5, 50, 95 % "
        f"of {gap.break_mm2:.0f} mm²); touches on {100 * gap.touching:.0f} %, wide on "
        f"{100 * gap.wide:.0f} %; about {gap.adhesive_ml:.3f} ml fill it"
    )


def _place_words(place: Place) -> str:
    return (
        f"up to {_mm(abs(place.depth_mm))} over {place.area_mm2:.1f} mm² on the "
        f"{SIDE_WORDS[place.side]}, {place.where}"
    )


def _mm(length_mm: float) -> str:
    return f"{length_mm:.2f} mm"
