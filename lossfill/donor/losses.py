"""From donors to losses, numbered from the largest."""

from __future__ import annotations

import numpy as np

from lossfill.body.body import Body
from lossfill.donor.find import find_lacking
from lossfill.donor.form import DonorForm
from lossfill.donor.measure import measure_lacking
from lossfill.donor.stand import Stand
from lossfill.loss.loss import Loss


def find_donor_losses(
    body: Body, stand: Stand, form: DonorForm, *, seed: int = 1
) -> tuple[Loss, ...]:
    """Find every loss of a thing without an axis.

    Raises
    ------
    BooleanError
        Where the solid modeller fails.
    """
    found = find_lacking(
        body,
        stand.samples,
        form.donors,
        wall_mm=stand.wall_mm,
        reasons=form.reasons,
        rng=np.random.default_rng(seed),
    )
    found.sort(key=lambda lacking: -lacking.solid.volume())
    return tuple(
        measure_lacking(
            lacking,
            stand.vessel_from_scan,
            number=number,
            height_mm=None if stand.is_flat else stand.height_mm,
        )
        for number, lacking in enumerate(found, start=1)
    )
