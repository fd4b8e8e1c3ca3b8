"""What is said of a scan that no frame can be found for: what was seen, and what to do."""

from __future__ import annotations

from lossfill.errors import AlignmentError, NoAxisError


def no_axis(found: str) -> NoAxisError:
    """Refuse what is no turned vessel.

    Parameters
    ----------
    found : what of it shows that, with the measured value and the limit
    """
    return NoAxisError(f"no axis of revolution: {found}")


def no_donor(why: str, reasons: dict[str, str]) -> AlignmentError:
    """Refuse a thing without an axis of which nothing shows the missing form.

    Parameters
    ----------
    why : why it has no axis
    reasons : why each source does not apply
    """
    others = "; ".join(f"{name}: {says}" for name, says in reasons.items() if name != "revolve")
    return AlignmentError(
        f"{why}; nor does anything else show its form ({others}): scan a twin and give it with "
        "--twin, or, if this vessel is round, cut away what else was scanned with it and run again"
    )


def no_floor(found: str) -> AlignmentError:
    """Refuse a vessel whose section does not close on its axis.

    Parameters
    ----------
    found : what of it shows that
    """
    return AlignmentError(
        f"{found}, so inside and outside cannot be told apart: if the floor was not scanned, scan "
        "it from both sides; if its middle is lost, bridge it with wax or card, scan again, and "
        "make that loss good by hand"
    )


def no_hollow(depth_mm: float, least_mm: float) -> AlignmentError:
    """Refuse a solid lump, or a vessel of which only the outside was scanned.

    Parameters
    ----------
    depth_mm, least_mm : depth of the hollow that was found, and the least that is needed
    """
    return AlignmentError(
        f"no hollow was found: the inside is {depth_mm:.1f} mm deep (at least {least_mm:.1f} mm "
        "needed); scan the inside of the vessel too"
    )
