"""Which unit is taken, and what is said about it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scan.scan_makers import box, stl_bytes, threemf_bytes, write

from lossfill.errors import InputError
from lossfill.scan import UNIT_NAMES, Unit, read_scan, unit_from_name, unit_name
from lossfill.scan.units import settle_unit


def stl_of(tmp_path: Path, largest: float) -> Path:
    vertices, faces = box(largest, largest / 2, largest / 3)
    return write(tmp_path / "box.stl", stl_bytes(vertices[faces]))


# "STL has no units": fabbers.com format text; Burns, Automated Fabrication, 6.5 (no-unit remark
# from memory).
@pytest.mark.parametrize(
    ("largest", "unit"),
    [(90.0, Unit.MILLIMETRE), (20.0, Unit.MILLIMETRE), (1000.0, Unit.MILLIMETRE),
     (0.09, Unit.METRE), (0.02, Unit.METRE), (1.0, Unit.METRE)],
)  # fmt: skip
def test_inferred_and_said(tmp_path: Path, largest: float, unit: Unit) -> None:
    scan = read_scan(stl_of(tmp_path, largest))
    assert (scan.unit, scan.unit_source) == (unit, "inferred")
    assert np.ptp(scan.mesh.vertices, axis=0).max() == pytest.approx(largest * unit.mm, rel=1e-6)
    (warning,) = scan.warnings
    assert f"read as {unit_name(unit)}," in warning
    assert f"{largest * unit.mm:.1f} × {largest * unit.mm / 2:.1f} × " in warning
    assert "--units" in warning


@pytest.mark.parametrize("largest", [0.019, 1.01, 9.0, 19.9, 1001.0, 90000.0])
def test_not_inferred_where_neither_fits(tmp_path: Path, largest: float) -> None:
    with pytest.raises(InputError, match="--units") as caught:
        read_scan(stl_of(tmp_path, largest))
    message = str(caught.value)
    assert "\n" not in message
    for name in ("mm", "cm", "m", "inch"):
        size = largest * UNIT_NAMES[name].mm
        if 1 <= size < 1e7:  # others are written with three digits
            assert f" {name} {size:.1f} mm" in message


@pytest.mark.parametrize("unit", list(Unit))
def test_asked_unit_by_size(tmp_path: Path, unit: Unit) -> None:
    scan = read_scan(stl_of(tmp_path, 90.0 / unit.mm), units=unit)
    assert (scan.unit, scan.unit_source, scan.warnings) == (unit, "asked", ())
    assert_allclose(scan.mesh.bounds, [[0, 0, 0], [90, 45, 30]], rtol=0, atol=1e-6 * 90)


@pytest.mark.parametrize(("largest", "unit"), [(90.0, Unit.METRE), (9.0, Unit.MILLIMETRE)])
def test_asked_unit_that_makes_no_vessel(tmp_path: Path, largest: float, unit: Unit) -> None:
    with pytest.raises(InputError, match=f"makes the scan {largest * unit.mm:.1f} ×"):
        read_scan(stl_of(tmp_path, largest), units=unit)


def test_asked_unit_wins_over_the_file_and_is_said(tmp_path: Path) -> None:
    path = write(tmp_path / "a.3mf", threemf_bytes(*box(), unit="millimeter"))
    scan = read_scan(path, units=Unit.CENTIMETRE)
    assert (scan.unit, scan.unit_source) == (Unit.CENTIMETRE, "asked")
    assert_allclose(scan.mesh.bounds[1], [600, 400, 300], rtol=1e-6)
    (warning,) = scan.warnings
    assert "file says its unit is mm" in warning
    assert read_scan(path, units=Unit.MILLIMETRE).warnings == ()


def test_stated_unit_that_makes_no_vessel(tmp_path: Path) -> None:
    path = write(tmp_path / "a.3mf", threemf_bytes(*box(), unit="meter"))
    with pytest.raises(InputError, match=r"file's own unit.*60000\.0"):
        read_scan(path)


@settings(derandomize=True)
@given(st.floats(1e-6, 1e9), st.floats(0, 1), st.floats(0, 1))
def test_never_two_readings(largest: float, second: float, third: float) -> None:
    sides = np.array([largest * second, largest, largest * third])
    fits = [unit for unit in (Unit.MILLIMETRE, Unit.METRE) if 20 <= largest * unit.mm <= 1000]
    assert len(fits) <= 1
    if fits:
        assert settle_unit(sides, stated=None, asked=None)[0] is fits[0]


def test_names_go_both_ways() -> None:
    assert {unit_from_name(unit_name(unit)) for unit in Unit} == set(Unit)
    assert unit_from_name(" MM ") is Unit.MILLIMETRE
    with pytest.raises(InputError, match="one of micron, mm, cm, m, inch, foot"):
        unit_from_name("furlong")
