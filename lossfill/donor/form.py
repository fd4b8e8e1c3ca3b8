"""The intact form of a thing without an axis: donors laid on it, or why there are none."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from lossfill import tolerances as tol
from lossfill.body.body import Body
from lossfill.donor.donor import Donor
from lossfill.donor.lay import Laid, box_starts, find_mirrors, global_start, lay_twin
from lossfill.donor.lead import skin_above
from lossfill.donor.stand import Stand, TwinBody, find_stand
from lossfill.errors import InputError
from lossfill.form.sources import NAMES
from lossfill.frame.samples import Samples
from lossfill.mesh import FloatArray
from lossfill.nearest import Surface
from lossfill.solids import Solid, mesh_from_solid


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
    twin_scaled: bool = False,
    seed: int = 1,
) -> DonorForm:
    """Find what can show the missing form of a thing without an axis.

    Parameters
    ----------
    source : one of `form.sources.NAMES`; None takes all that apply
    twin : another thing of the set
    twin_scaled : bring it to this one's size first
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
        mirrors = [mirror_donor(body.solid, laid) for laid in find_mirrors(stand.samples)]
        reasons["mirror"] = "" if mirrors else "no plane of symmetry was found"
        donors += mirrors
    if source in (None, "twin"):
        reasons["twin"] = "no scan of another one of the set was given"
        if twin is not None:
            twins, reasons["twin"] = _twins(stand, twin, scaled=twin_scaled, seed=seed)
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
    unused = twin is not None and not any(donor.source == "twin" for donor in donors)
    told = (f"the scan of the twin was not used: {reasons['twin']}",) if unused else ()
    return DonorForm(tuple(donors), reasons, told)


def mirror_donor(solid: Solid, laid: Laid) -> Donor:
    """The body's own mirror image, as a donor."""
    return _copy("mirror", solid, laid, f"its other side, alike to {laid.residual_mm:.2f} mm")


def _copy(source: str, solid: Solid, laid: Laid, says: str) -> Donor:
    return Donor(source, solid.transform(laid.matrix[:3]), laid.residual_mm, says)


def _twins(stand: Stand, twin: TwinBody, *, scaled: bool, seed: int) -> tuple[list[Donor], str]:
    rng = np.random.default_rng(seed)
    other = twin.frame
    if not isinstance(other, Stand):
        other = find_stand(twin.body, rng=rng, why="")
    starts = box_starts(_about_middle(stand), _about_middle(other))
    starts.append(global_start(stand.samples, other.samples, seed=seed))
    return twin_donors(twin.body.solid, stand.samples, other.samples, starts, scaled=scaled)


def twin_donors(
    solid: Solid,
    samples: Samples,
    others: Samples,
    starts: list[FloatArray],
    *,
    scaled: bool,
) -> tuple[list[Donor], str]:
    """Lay another one of the set on a body, as donors; or say why it does not serve.

    Parameters
    ----------
    solid, others : the other one and points of it, in the coordinates of its scan
    samples : of the body
    starts : (4, 4) motions to try
    scaled : bring it to the body's size; else one that is larger or smaller does not serve: what
        it has more all over would pass for lost
    """
    laid = lay_twin(samples, others, starts)
    size = float(np.linalg.norm(np.ptp(samples.points, axis=0)))
    for _ in range(tol.TWIN_SIZE_ROUNDS if scaled else 0):
        if not laid or abs(laid[0].larger) * size < tol.RESIDUAL_FLOOR_MM:
            break
        factor = 1.0 / (1.0 + laid[0].larger)
        solid, others = solid.scale((factor,) * 3), others.scaled(factor)
        # A scan's coordinates shrink towards its origin, and its place with them.
        near = [one.matrix @ np.diag([1 / factor] * 3 + [1.0]) for one in laid]
        laid = lay_twin(samples, others, [_rigid(start) for start in near])
    if not laid:
        return [], "the twin does not lie along this one"
    larger = laid[0].larger
    if abs(larger) * size > tol.DONOR_ALIKE_MM:
        more = "larger" if larger > 0 else "smaller"
        percent = max(1, round(100 * abs(larger)))
        return [], f"the twin is about {percent} % {more}: bring it to size with --twin-scale"
    return [
        _copy("twin", solid, one, f"the twin lies on it to {one.residual_mm:.2f} mm")
        for one in laid
    ], ""


def _rigid(matrix: FloatArray) -> FloatArray:
    """The motion alone of a motion with a scale."""
    result = matrix.copy()
    result[:3, :3] /= np.cbrt(np.linalg.det(matrix[:3, :3]))
    return result


def _about_middle(stand: Stand) -> FloatArray:
    matrix = stand.vessel_from_scan.copy()
    matrix[2, 3] -= 0.5 * stand.height_mm
    return matrix
