"""The intact form of a thing without an axis: donors laid on it, or why there are none."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from lossfill.body.body import Body
from lossfill.donor.donor import Donor
from lossfill.donor.lay import Laid, box_starts, find_mirrors, global_start, lay_twin
from lossfill.donor.lead import skin_above
from lossfill.donor.stand import Stand, TwinBody, find_stand
from lossfill.errors import InputError
from lossfill.form.sources import NAMES
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import mesh_from_solid


@dataclass(frozen=True, slots=True, eq=False)
class DonorForm:
    """What is known of the intact shape of a thing without an axis.

    Parameters
    ----------
    donors : laid on the body, scan coordinates, the one that lies best first
    reasons : for each source, in the order of `form.sources.NAMES`, why it does not apply, or
        nothing where it does
    warnings : sentences that every front end must show
    """

    donors: tuple[Donor, ...]
    reasons: dict[str, str] = field(repr=False)
    warnings: tuple[str, ...] = ()

    def misfit(self, points_scan: FloatArray, normals_scan: FloatArray) -> FloatArray:
        """Signed distance of skin points from the first donor that has skin there, mm.

        Parameters
        ----------
        points_scan, normals_scan : (N, 3) scan coordinates

        Returns
        -------
        (N,) mm, positive outside; NaN where no donor faces as the point does.
        """
        result = np.full(len(points_scan), np.nan)
        for donor in self.donors:
            open_ = np.isnan(result)
            if not open_.any():
                break
            surface = Surface(mesh_from_solid(donor.solid))
            above, known = skin_above(points_scan[open_], normals_scan[open_], surface)
            result[open_] = np.where(known, -above, np.nan)
        return result

    def summary(self) -> dict[str, float | int | str | None]:
        """Numbers for the record."""
        first = self.donors[0] if self.donors else None
        return {
            "source": None if first is None else first.source,
            "residual_mm": None if first is None else first.residual_mm,
            "donors": len(self.donors),
        }


def find_donors(
    body: Body,
    stand: Stand,
    *,
    source: str | None = None,
    twin: TwinBody | None = None,
    seed: int = 1,
) -> DonorForm:
    """Find what can show the missing form of a thing without an axis.

    Parameters
    ----------
    source : one of `form.sources.NAMES`; None takes all that apply
    twin : another thing of the set
    seed : of the random choices

    Raises
    ------
    InputError
        Where the source asked for does not apply.
    """
    no_axis = "it needs an axis, and there is none"
    reasons = dict.fromkeys(NAMES, "")
    reasons["revolve"] = reasons["turn"] = no_axis
    donors: list[Donor] = []
    if source in (None, "mirror"):
        mirrors = [mirror_donor(body, laid) for laid in find_mirrors(stand.samples)]
        reasons["mirror"] = "" if mirrors else "no plane of symmetry was found"
        donors += mirrors
    if source in (None, "twin"):
        reasons["twin"] = "no scan of another one of the set was given"
        if twin is not None:
            twins = _twins(stand, twin, seed=seed)
            reasons["twin"] = "" if twins else "the twin does not lie along this one"
            donors += twins
    if source in (None, "bridge"):
        from lossfill.donor.sheets import sheet_bridges

        spans = sheet_bridges(body, rng=np.random.default_rng(seed))
        reasons["bridge"] = "" if spans else "it is no sheet whose skins could be carried across"
        donors += spans
    if source is not None:
        if not [donor for donor in donors if donor.source == source]:
            raise InputError(f"the form cannot be found by {source}: {reasons[source]}")
        reasons = {
            name: why or ("" if name == source else f"{source} was asked for")
            for name, why in reasons.items()
        }
    return DonorForm(tuple(donors), reasons)


def mirror_donor(body: Body, laid: Laid) -> Donor:
    """The body's own mirror image, as a donor."""
    return _copy("mirror", body, laid, f"its other side, alike to {laid.residual_mm:.2f} mm")


def twin_donor(body: Body, laid: Laid) -> Donor:
    """Another one of the set, as a donor."""
    return _copy("twin", body, laid, f"the twin lies on it to {laid.residual_mm:.2f} mm")


def _copy(source: str, body: Body, laid: Laid, says: str) -> Donor:
    return Donor(source, body.solid.transform(laid.matrix[:3]), laid.residual_mm, says)


def _twins(stand: Stand, twin: TwinBody, *, seed: int) -> list[Donor]:
    rng = np.random.default_rng(seed)
    other = twin.frame
    if not isinstance(other, Stand):
        other = find_stand(twin.body, rng=rng, why="")
    starts = box_starts(_about_middle(stand), _about_middle(other))
    starts.append(global_start(stand.samples, other.samples, seed=seed))
    return [twin_donor(twin.body, laid) for laid in lay_twin(stand.samples, other.samples, starts)]


def _about_middle(stand: Stand) -> FloatArray:
    matrix = stand.vessel_from_scan.copy()
    matrix[2, 3] -= 0.5 * stand.height_mm
    return matrix
