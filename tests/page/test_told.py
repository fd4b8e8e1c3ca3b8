"""What the road says, in words of the page."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

import lossfill
from lossfill.page.told import on_the_page, sentence

PACKAGE = Path(lossfill.__file__).parent

NEVER_CALLED = ("cure/logger", "cure/given", "mix/units")
"""What reads a logger's file or a typed figure, which only the command line takes."""


def messages() -> list[str]:
    """Every piece of text outside the command line that names an option of it."""
    found = []
    for file in sorted(PACKAGE.rglob("*.py")):
        name = file.relative_to(PACKAGE).as_posix()
        if name.startswith(("cli/", "page/", *NEVER_CALLED)):
            continue
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                text = node.value
                if re.search(r"--[a-z]", text) and "\n" not in text:  # pictures in docstrings
                    found.append(text)
    return found


def test_what_is_left_out_is_not_loaded_by_what_the_page_calls() -> None:
    code = (
        "import sys, lossfill.page.worker, lossfill.road, lossfill.record.order, "
        "lossfill.record.write, lossfill.cli.mix_words, lossfill.make.write\n"
        "print(*sys.modules)"
    )
    asked = [sys.executable, "-c", code]
    loaded = subprocess.run(asked, capture_output=True, text=True, check=True).stdout.split()
    assert "lossfill.cure.plan" in loaded  # or the question is at fault
    left_out = tuple("lossfill." + one.replace("/", ".") for one in NEVER_CALLED)
    assert [one for one in loaded if one.startswith(left_out)] == []


def test_no_message_sends_a_person_on_the_page_to_the_command_line() -> None:
    told = messages()
    assert len(told) > 10  # or the search is at fault
    for text in told:
        assert "--" not in on_the_page(text), text


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("pot.ply: it is empty", "pot.ply: it is empty."),
        ("lossfill made a mistake", "lossfill made a mistake."),
        ("the scan is too large", "The scan is too large."),
        ("Is it running?", "Is it running?"),
        ("give it with --wall MM", "Give it under Scan."),
        ("bring it to size with --twin-scale", "Bring it to size under Form."),
    ],
)
def test_a_sentence_has_a_capital_and_a_stop_and_leaves_names_alone(said: str, shown: str) -> None:
    assert sentence(said) == shown
