"""Measure how well and how fast lossfill works, against what is wanted of it.

    python scripts/bench.py                  everything
    python scripts/bench.py --accuracy       break, fill and compare: some minutes
    python scripts/bench.py --making         fit every piece, prove it, mould it, measure drawings
    python scripts/bench.py --speed          the whole road against the floor, at four sizes
    python scripts/bench.py --quick          one case for each vessel, and one size
    python scripts/bench.py --markdown       print the README's part instead of plain tables
    python scripts/bench.py --write-readme   measure everything, then put that part into the README

The real scans are fetched by pip once (see `real_scans`). Every choice comes from fixed seeds; only
times change from run to run. Aims that are missed do not make the exit code other than 0: these are
measurements, not tests.
"""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TypeAlias

from bench_accuracy import all_cases, quick_cases, run_cases
from bench_families import family_cases, quick_families, run_families
from bench_figures import Outcome
from bench_making import Making, Things, making_cases, measure_things, quick_making, run_making
from bench_paper import Table, as_markdown, as_text, machine, write_part
from bench_report import (
    Aim,
    accuracy_aims,
    accuracy_tables,
    aims_table,
    case_lines,
    families_table,
    family_aims,
    making_aims,
    making_lines,
    making_table,
    speed_aims,
    speed_table,
)
from bench_speed import REPEATS, SIZES, Speed, measure_real_bowl
from real_scans import ScanUnavailableError

__all__ = ["main", "readme_part"]

Makings: TypeAlias = tuple[list[Making], Things]

README = Path(__file__).resolve().parents[1] / "README.md"
_READ_AS = (
    "Skin RMS and step p95 (the same within 1.5 mm of the join) are distances from the true skin; "
    "the plain columns are for a perfectly round form on the same axis. Through losses are those "
    "of the rim and the wall. The families are invented vessels with a shape that mirror, turn or "
    "twin knows best, scanned with 0.05 mm of noise; each is filled by the product's choice, by "
    "revolving alone and by its proper source. A piece that would lose more than a fifth of its "
    "seat so that it slides in is split in two; accuracy is of the shape before that. The floor "
    "reads the same file, builds one solid and "
    "cuts one chunk; seconds are counted once modules are loaded, for a command from start to end."
)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run what was asked for; progress goes to standard error, results to standard output."""
    asked = _options(arguments)
    every = not (asked.accuracy or asked.making or asked.speed)
    try:
        # Speed first: the other leaves a large process behind, and warm and busy cores.
        speeds = _run_speed(quick=asked.quick) if every or asked.speed else []
        accuracy = every or asked.accuracy
        outcomes = _run_accuracy(quick=asked.quick) if accuracy else []
        families = _run_families(quick=asked.quick) if accuracy else []
        makings = _run_making(quick=asked.quick) if every or asked.making else None
    except ScanUnavailableError as error:
        print(f"bench: {error}", file=sys.stderr)
        return 1
    if asked.markdown or asked.write_readme:
        print(readme_part(outcomes, families, speeds, makings))
    else:
        tables = _tables(outcomes, families, speeds, makings)
        print(machine(), *(as_text(table) for table in tables), sep="\n\n")
    if asked.write_readme:
        write_part(README, readme_part(outcomes, families, speeds, makings))
        print(f"bench: {README.name} holds the new figures", file=sys.stderr)
    return 0


def readme_part(
    outcomes: Sequence[Outcome],
    families: Sequence[Outcome],
    speeds: Sequence[Speed],
    makings: Makings | None,
) -> str:
    """Machine, tables and how to read them, as GitHub's Markdown."""
    tables = (as_markdown(table) for table in _tables(outcomes, families, speeds, makings))
    return "\n\n".join([machine() + ".", *tables, _READ_AS])


def _tables(
    outcomes: Sequence[Outcome],
    families: Sequence[Outcome],
    speeds: Sequence[Speed],
    makings: Makings | None,
) -> list[Table]:
    aims: list[Aim] = []
    tables: list[Table] = []
    if outcomes:
        aims += accuracy_aims(outcomes)
        tables += accuracy_tables(outcomes)
    if families:
        aims += family_aims(families, outcomes)
        tables.append(families_table(families))
    if makings is not None:
        rows, things = makings
        aims += making_aims(rows, things)
        tables.append(making_table(rows))
    if speeds:
        aims += speed_aims(speeds)
        tables.append(speed_table(speeds))
    return [aims_table(aims), *tables]


def _run_accuracy(*, quick: bool) -> list[Outcome]:
    return _told(run_cases(quick_cases() if quick else all_cases()))


def _run_families(*, quick: bool) -> list[Outcome]:
    return _told(run_families(quick_families() if quick else family_cases()))


def _run_making(*, quick: bool) -> Makings:
    things = measure_things()
    print(f"all things for one loss: {things.seconds:.1f} s", file=sys.stderr, flush=True)
    rows = []
    for row in run_making(quick_making() if quick else making_cases()):
        rows.append(row)
        print(*making_lines(row), sep="\n", file=sys.stderr, flush=True)
    return rows, things


def _told(running: Iterable[Outcome]) -> list[Outcome]:
    """Tell of each result as soon as it is there."""
    outcomes = []
    for outcome in running:
        outcomes.append(outcome)
        print(*case_lines(outcome), sep="\n", file=sys.stderr, flush=True)
    return outcomes


def _run_speed(*, quick: bool) -> list[Speed]:
    speeds = []
    for speed in measure_real_bowl(SIZES[:1] if quick else SIZES, repeats=1 if quick else REPEATS):
        speeds.append(speed)
        print(
            f"{speed.triangles} triangles: floor {speed.floor.seconds:.2f} s, "
            f"lossfill {speed.road.seconds:.2f} s, {speed.pieces} pieces",
            file=sys.stderr,
            flush=True,
        )
    return speeds


def _options(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", 1)[0])
    parser.add_argument("--accuracy", action="store_true", help="only accuracy")
    parser.add_argument("--making", action="store_true", help="only fit, moulds and drawings")
    parser.add_argument("--speed", action="store_true", help="only speed and memory")
    parser.add_argument("--quick", action="store_true", help="few cases and one size")
    parser.add_argument("--markdown", action="store_true", help="print the README's part")
    parser.add_argument(
        "--write-readme", action="store_true", help="measure everything and write the README's part"
    )
    asked = parser.parse_args(arguments)
    some = asked.quick or asked.accuracy or asked.making or asked.speed
    if asked.write_readme and some:
        parser.error("--write-readme needs the whole measurement: leave the other choices out")
    return asked


if __name__ == "__main__":
    for stream in (sys.stdout, sys.stderr):
        # The tables hold signs beyond ASCII, which a plain C locale would refuse to print.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(encoding="utf-8")
    sys.exit(main())
