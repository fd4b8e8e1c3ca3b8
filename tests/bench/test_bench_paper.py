"""Tables on paper, and the part of the README that the bench writes."""

from __future__ import annotations

import platform
from datetime import UTC, datetime
from pathlib import Path

import bench
import bench_paper
import pytest
from bench_made_up import FORMS, OUTCOME, THINGS, family, making, speed
from bench_paper import Table, as_markdown, as_text, machine, with_part, write_part
from bench_speed import Speed

TABLE = Table("Sizes", ("name", "mm"), (("cup", "9.5"), ("bowl", "120")))
README = "# x\n\n<!-- bench: begin (by a script) -->\nold\n<!-- bench: end -->\n\n## y\n"


def test_text_lines_up() -> None:
    assert as_text(TABLE).splitlines() == ["Sizes", "name   mm", "cup   9.5", "bowl  120"]


def test_markdown_is_a_table_with_numbers_to_the_right() -> None:
    assert as_markdown(TABLE).splitlines() == [
        "**Sizes**", "", "| name | mm |", "|---|--:|", "| cup | 9.5 |", "| bowl | 120 |",
    ]  # fmt: skip


def test_part_goes_between_the_marks_and_nowhere_else() -> None:
    once = with_part(README, "new \\1 figures")
    assert once == README.replace("old\n", "\nnew \\1 figures\n\n")
    assert with_part(once, "new \\1 figures") == once


@pytest.mark.parametrize(
    "text",
    [
        "# x\n",
        README.replace("<!-- bench: end -->", ""),
        README + README,
        "<!-- bench: end -->\n<!-- bench: begin -->\n",
    ],
)
def test_a_readme_without_its_marks_stays_as_it_is(tmp_path: Path, text: str) -> None:
    path = tmp_path / "README.md"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ValueError, match="marks"):
        write_part(path, "new")
    assert path.read_text(encoding="utf-8") == text
    assert list(tmp_path.iterdir()) == [path]


def test_a_failed_move_leaves_the_readme_and_no_litter(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "README.md"
    path.write_text(README, encoding="utf-8")

    def refuse(self: Path, target: Path) -> Path:
        raise OSError("the disk is full")

    monkeypatch.setattr(bench_paper.Path, "replace", refuse)
    with pytest.raises(OSError, match="full"):
        write_part(path, "new")
    assert path.read_text(encoding="utf-8") == README
    assert list(tmp_path.iterdir()) == [path]


def test_own_readme_has_its_marks() -> None:
    text = bench.README.read_text(encoding="utf-8")
    assert "\nmade up\n" in with_part(text, "made up")


def test_machine_is_told_without_its_name() -> None:
    told = machine(datetime(2025, 3, 9, tzinfo=UTC))
    assert "2025-03-09" in told
    assert f"Python {platform.python_version()}" in told
    assert " cores" in told
    assert "/" not in told.replace("GNU/Linux", "")
    if platform.node():
        assert platform.node() not in told


@pytest.mark.parametrize("more", [["--quick"], ["--accuracy"], ["--making"], ["--speed"]])
def test_only_the_whole_measurement_goes_into_the_readme(
    more: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as stopped:
        bench.main(["--write-readme", *more])
    assert stopped.value.code == 2
    assert "whole measurement" in capsys.readouterr().err


def test_choices_decide_what_is_run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    monkeypatch.setattr(bench, "run_cases", lambda cases: [OUTCOME] * len(cases))
    monkeypatch.setattr(bench, "run_families", lambda _: [family(form) for form in FORMS])

    def made_up_speeds(sizes: tuple[int, ...], *, repeats: int) -> list[Speed]:
        assert repeats >= 1
        return [speed(n) for n in sizes]

    monkeypatch.setattr(bench, "measure_real_bowl", made_up_speeds)
    monkeypatch.setattr(bench, "run_making", lambda cases: [making(case) for case in cases])
    monkeypatch.setattr(bench, "measure_things", lambda: THINGS)
    path = tmp_path / "README.md"
    path.write_text(README, encoding="utf-8")
    monkeypatch.setattr(bench, "README", path)

    assert bench.main(["--accuracy"]) == 0
    shown = capsys.readouterr()
    assert "Accuracy by vessel" in shown.out
    assert "Families by source" in shown.out
    assert "Speed" not in shown.out
    assert len(shown.err.splitlines()) == 4 * 7 * 2 + len(FORMS)

    assert bench.main(["--speed", "--quick", "--markdown"]) == 0
    shown = capsys.readouterr().out
    assert "| 42 k |" in shown
    assert "680 k" not in shown
    assert "Accuracy" not in shown
    assert path.read_text(encoding="utf-8") == README

    assert bench.main(["--making", "--quick"]) == 0
    shown = capsys.readouterr()
    assert "Making, at noise 0.05 mm" in shown.out
    assert "Accuracy" not in shown.out
    assert len(shown.err.splitlines()) == 1 + 4

    assert bench.main(["--write-readme"]) == 0
    written = path.read_text(encoding="utf-8")
    assert "| bowl | rim 45 |" in written
    assert "| 2700 k |" in written
    assert "| pieces proved to slide in | 56 of 56 | 56 of 56 | met |" in written
    assert written.startswith("# x\n")
    assert written.endswith("\n## y\n")
