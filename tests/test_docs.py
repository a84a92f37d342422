"""What the documents say is held against the program: commands, options, paths, the table of checks."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.basis import DEFAULTS
from pipeline.cli import _parser

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def commands() -> dict[str, str]:
    """Every command with its help text."""
    (choices,) = (action.choices for action in _parser()._actions if action.dest == "command")
    assert isinstance(choices, dict)
    return {name: parser.format_help() for name, parser in choices.items()}


def test_the_readme_lists_every_command_and_option() -> None:
    listed = dict(re.findall(r"^\| `hoopline (\w+)(.*?)` \|", README, re.MULTILINE))
    assert sorted(listed) == sorted(commands())
    for name, words in listed.items():
        for option in re.findall(r"--[\w-]+", words):
            assert option in commands()[name], f"{name} has no {option}"


def test_ci_runs_the_very_test_command_of_the_readme() -> None:
    blocks = re.findall(r"^```\n(.+?)\n```$", README, re.MULTILINE | re.DOTALL)
    assert len(blocks) == 2
    opening, testing = blocks
    assert opening.endswith("hoopline open demo_plant --as-of 2026-11-01")
    assert testing in (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()


def test_every_path_and_picture_named_is_there() -> None:
    for text in (README, DEVELOPERS):
        for path in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / path).exists(), path
    for path in re.findall(r"`((?:pipeline|dashboard|tests|demo_plant)/[\w./-]+)`", DEVELOPERS):
        assert (ROOT / path).exists(), path


def test_the_top_level_is_the_agreed_one() -> None:
    tracked = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "dashboard", "pipeline", "tests", "demo_plant"}
    assert tracked - {"build", "dist", "venv"} == allowed


@pytest.mark.parametrize("policy", [policy for policy in DEFAULTS if policy.settable], ids=lambda policy: policy.key)
def test_every_policy_has_default_unit_label_and_reference(policy: object) -> None:
    assert policy.label and policy.reference and policy.unit  # type: ignore[attr-defined]


def test_the_demo_does_not_hold_the_hand_checked_vessel() -> None:
    readme = (ROOT / "demo_plant" / "README.md").read_text(encoding="utf-8")
    assert "555" not in readme
