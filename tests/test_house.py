"""Rules of the house that hold for the whole checkout."""

from __future__ import annotations

import ast
import importlib
import inspect
import os
import re
import shutil
import subprocess
import sys
import tokenize
from pathlib import Path

import pytest

import lossfill
from lossfill import errors

ROOT = Path(__file__).parents[1]
KEPT = ("lossfill", "scripts", "tests", ".ci", "README.md", "DEVELOPERS.md", "pyproject.toml")

HEAVY = (
    "ezdxf",
    "fontTools",
    "lib3mf",
    "manifold3d",
    "matplotlib",
    "nicegui",
    "numpy",
    "psychrolib",
    "open3d",
    "scipy",
    "trimesh",
    "typst",
)


def texts() -> list[Path]:
    """All text files that belong to the house."""
    found: list[Path] = []
    for name in KEPT:
        place = ROOT / name
        files = [place] if place.is_file() else sorted(place.rglob("*"))
        found += [file for file in files if file.is_file() and "__pycache__" not in file.parts]
    return [file for file in found if file.suffix not in (".npz", ".ply", ".stl", ".png", ".pyc")]


def loaded_after(*arguments: str) -> set[str]:
    """Top-level modules that a fresh interpreter has loaded after running the command line."""
    code = (
        "import sys; from lossfill.cli import main; main(sys.argv[1:]);"
        "print('LOADED', *sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    *_, last = done.stdout.splitlines()
    assert last.startswith("LOADED ")
    return set(last.split())


def test_top_level_is_as_agreed() -> None:
    listed = subprocess.run(
        ["git", "ls-files", "-z"], capture_output=True, text=True, check=True, cwd=ROOT
    ).stdout.split("\0")
    top = {name.split("/")[0] for name in listed if name and not name.startswith(".")}
    wanted = {"README.md", "DEVELOPERS.md", "pyproject.toml"}
    assert top == wanted | {"lossfill", "meshes", "scripts", "tests"}


def test_public_names_are_sorted_and_lead_somewhere() -> None:
    # Types first, then functions, each by the alphabet: the order of sorted() on the plain names.
    assert lossfill.__all__ == sorted(lossfill.__all__)
    assert len(set(lossfill.__all__)) == len(lossfill.__all__)
    for name in lossfill.__all__:
        value = getattr(lossfill, name)
        assert inspect.isclass(value) or inspect.isfunction(value), name
        assert value.__name__ == name
        assert value.__doc__, f"{name} needs a docstring"


def test_public_names_match_the_imports_for_the_type_checker() -> None:
    tree = ast.parse((ROOT / "lossfill" / "__init__.py").read_text(encoding="utf-8"))
    guarded = next(
        node for node in tree.body if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node)
    )
    imported = [
        (alias.name, node.module)
        for node in guarded.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    ]
    assert sorted(name for name, _ in imported) == lossfill.__all__
    for name, module in imported:
        assert module is not None
        assert getattr(importlib.import_module(module), name) is getattr(lossfill, name)


def test_every_error_is_public() -> None:
    assert set(errors.__all__) <= set(lossfill.__all__)


def test_a_wrong_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'fil'"):
        lossfill.fil  # noqa: B018  the look-up is the test


@pytest.mark.parametrize(
    "arguments", [["--help"], ["fill", "--help"], ["page", "--help"], ["--version"], ["fill"]]
)
def test_answering_loads_no_geometry(arguments: list[str]) -> None:
    # Instead of a time, which a busy machine spoils: these are what makes a start slow.
    assert not loaded_after(*arguments).intersection(HEAVY)


def test_the_list_of_heavy_modules_is_seen_when_they_load() -> None:
    # Guards the test above: a run that does read options for the road loads some of them.
    assert "numpy" in loaded_after("inspect", "there-is-no-such-file.ply")


def test_every_tolerance_says_why() -> None:
    path = ROOT / "lossfill" / "tolerances.py"
    source = path.read_text(encoding="utf-8")
    tree = ast.parse(source)
    with path.open("rb") as stream:
        comments = {
            token.start[0]
            for token in tokenize.tokenize(stream.readline)
            if token.type == tokenize.COMMENT
        }
    constants = 0
    for node, following in zip(tree.body, [*tree.body[1:], None], strict=True):
        if not isinstance(node, ast.Assign | ast.AnnAssign):
            continue
        constants += 1
        documented = (
            isinstance(following, ast.Expr)
            and isinstance(following.value, ast.Constant)
            and isinstance(following.value.value, str)
            and len(following.value.value) > 10
        )
        beside = {node.lineno, node.end_lineno, node.lineno - 1} & comments
        assert documented or beside, f"tolerances.py line {node.lineno} says no reason"
    assert constants > 0


def test_no_file_names_a_machine() -> None:
    # Put together here, or this file would find itself.
    places = ["/" + name + "/" for name in ("home", "root", "work", "tmp", "Users")]
    hosts = ["pypi" + ".org", "python" + "hosted", "index" + "-url", "deb.debian" + ".org"]
    for file in texts():
        text = file.read_text(encoding="utf-8")
        for word in (*places, *hosts):
            assert word not in text, f"{file.relative_to(ROOT)} holds {word}"


def test_nothing_is_called_fit_for_food() -> None:
    claim = re.compile(r"food[\s-]*" + "safe", re.IGNORECASE)
    for file in texts():
        assert not claim.search(file.read_text(encoding="utf-8")), file


def test_scripts_can_be_run() -> None:
    for name in ("scripts/demo", "scripts/test", ".ci/run"):
        assert os.access(ROOT / name, os.X_OK), name
        assert (ROOT / name).read_text(encoding="utf-8").startswith("#!/usr/bin/env bash\n")


@pytest.mark.parametrize(
    ("check", "code", "last"), [("> 0", 0, "1 passed"), ("< 0", 1, "1 failed")]
)
def test_the_summary_is_the_last_that_a_test_run_says(
    check: str, code: int, last: str, tmp_path: Path
) -> None:
    # A solid that hypothesis draws outlives the modeller, which would complain below the summary.
    (tmp_path / "test_one.py").write_text(
        "import atexit, pathlib\n"
        "import manifold3d\n"
        "from hypothesis import given, settings, strategies\n"
        "atexit.register(pathlib.Path('ended').touch)\n"
        "@settings(max_examples=1)\n"
        "@given(solid=strategies.sampled_from([manifold3d.Manifold.cube((1.0, 1.0, 1.0))]))\n"
        "def test_one(solid):\n"
        f"    assert solid.volume() {check}\n",
        encoding="utf-8",
    )
    program = [sys.executable, str(ROOT / "scripts" / "run_pytest.py")]
    done = subprocess.run(
        [*program, "-q", "-p", "no:dash", "-p", "no:cacheprovider", "test_one.py"],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    assert done.returncode == code
    assert done.stderr == ""
    assert done.stdout.splitlines()[-1].startswith(last)
    assert (tmp_path / "ended").exists()


def readme_commands() -> list[list[str]]:
    """Words of every command line in the README's fenced shell blocks."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    blocks = re.findall(r"```sh\n(.*?)```", text, re.DOTALL)
    lines = [line.split("#")[0].split() for block in blocks for line in block.splitlines()]
    return [words for words in lines if words]


def test_readme_commands_exist() -> None:
    own = [words for words in readme_commands() if words[0].startswith(("scripts/", "lossfill"))]
    assert {words[0] for words in own} == {"scripts/demo", "scripts/test", "lossfill"}
    for program, *words in own:
        if program != "lossfill":
            assert (ROOT / program).is_file()
            continue
        helped = subprocess.run(
            [sys.executable, "-m", "lossfill", words[0], "--help"],
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
        ).stdout
        for option in (word for word in words[1:] if word.startswith("--")):
            assert option in helped
        for scan in (word for word in words[1:] if word.endswith(".ply")):
            assert (ROOT / scan).is_file()


@pytest.mark.slow
def test_readme_example_runs_as_written_and_prints_what_it_says(tmp_path: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (code,) = re.findall(r"```python\n(.*?)```", text, re.DOTALL)
    (printed,) = re.findall(r"```text\n(.*?)```", text, re.DOTALL)
    shutil.copytree(ROOT / "meshes", tmp_path / "meshes")
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        capture_output=True,
        text=True,
        check=True,
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert done.stdout == printed
    assert done.stderr == ""
    # Its folder holds what the README's table says that a folder holds.
    told = set(re.findall(r"`((?:piece_1|loss_1|before_after|misfit|fill)\.\w+)`", text))
    assert len(told) == 6
    assert told <= {file.name for file in (tmp_path / "out" / "bowl_from_python").iterdir()}


def test_readme_picture_is_there_and_small() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    pictures = re.findall(r"!\[.+\]\((.+)\)", text)
    assert pictures
    for picture in pictures:
        assert (ROOT / picture).stat().st_size <= 150_000


def test_readme_names_every_option_and_no_other() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    told = set(re.findall(r"^\| `(--[a-z-]+)", text, re.MULTILINE))
    helped = ""
    for command in (
        "fill",
        "inspect",
        "measure",
        "make",
        "check",
        "mix",
        "cure",
        "air",
        "box",
        "record",
        "page",
    ):
        helped += subprocess.run(
            [sys.executable, "-m", "lossfill", command, "--help"],
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
        ).stdout
    assert told == set(re.findall(r"^  (--[a-z-]+)", helped, re.MULTILINE)) - {"--help"}


def test_readme_keeps_a_place_for_the_measured_table() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.count("<!-- bench: begin") == 1
    assert text.index("<!-- bench: begin") < text.index("<!-- bench: end -->")
