"""What an install of hoopline brings is licensed as the list of accepted licences says; and the list can say no."""

from __future__ import annotations

import tomllib
from email.message import Message
from importlib.metadata import Distribution, PackageNotFoundError
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.bench.licences import ACCEPTED, audit, fault_of, licence_of, required_by, unused

ROOT = Path(__file__).resolve().parent.parent


def test_every_distribution_an_install_brings_has_an_accepted_licence() -> None:
    found = audit("hoopline")
    assert [(each.name, each.licence, each.fault) for each in found if each.fault] == []
    assert unused(found) == set()


def test_what_the_project_states_is_looked_at_and_what_it_brings_in_turn() -> None:
    stated = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    looked_at = {each.name for each in audit("hoopline")}
    assert {canonicalize_name(Requirement(line).name) for line in stated["dependencies"]} < looked_at
    assert {"numpy", "authlib", "cryptography", "et-xmlfile"} <= looked_at  # of pandas, streamlit[auth], openpyxl
    only_tests = {canonicalize_name(Requirement(line).name) for line in stated["optional-dependencies"]["test"]}
    assert "hypothesis" in only_tests - looked_at


class Stated(Distribution):
    """A distribution of which only the metadata are known."""

    def __init__(self, *requires: str, **fields: str) -> None:
        self._requires = requires
        self._fields = fields

    def read_text(self, filename: str) -> str | None:
        if filename != "METADATA":
            return None
        message = Message()
        message["Metadata-Version"] = "2.4"
        for line in self._requires:
            message["Requires-Dist"] = line
        for name, text in self._fields.items():
            message[name.replace("_", "-")] = text
        return message.as_string()

    def locate_file(self, path: object) -> Path:
        return Path(str(path))


@pytest.mark.parametrize(
    ("fields", "licence"),
    [
        ({"License_Expression": "MIT", "License": "GPL"}, "MIT"),
        ({"License": "3-Clause BSD License"}, "BSD-3-Clause"),
        ({"License": "Copyright somebody", "Classifier": "License :: OSI Approved :: BSD License"}, "BSD"),
        ({"License": "GPL-3.0-only"}, "GPL-3.0-only"),
        ({"Classifier": "License :: OSI Approved :: GNU Affero General Public License v3"}, None),
        ({"Classifier": "Topic :: Utilities"}, None),
    ],
)
def test_a_licence_is_read_from_whichever_field_states_it(fields: dict[str, str], licence: str | None) -> None:
    found = licence_of(Stated(**fields))
    if licence is None:
        assert fault_of("some", found) is not None
    else:
        assert found == licence


@pytest.mark.parametrize(
    ("name", "licence", "accepted"),
    [
        ("some", "MIT", True),
        ("some", "GPL-3.0-only OR MIT", True),
        ("some", "GPL-3.0-only AND MIT", False),
        ("some", "(GPL-3.0-only OR MIT) AND BSD-3-Clause", True),
        ("some", "MIT AND (GPL-3.0-only OR LGPL-3.0-only)", False),
        ("some", "Apache-2.0 WITH LLVM-exception", False),
        ("some", "MIT)", False),
        ("some", "", False),
        ("some", None, False),
        ("certifi", "MPL-2.0", True),
        ("some", "MPL-2.0", False),
    ],
)
def test_of_several_licences_one_or_all_must_be_accepted(name: str, licence: str | None, accepted: bool) -> None:
    assert (fault_of(name, licence) is None) == accepted


def test_what_is_required_through_others_and_their_extras_is_found_and_what_is_missing_too() -> None:
    installed = {
        "top": Stated("one[more]>=1", "never; python_version < '3'", "tool; extra == 'test'"),
        "one": Stated("two; extra == 'more'", "top"),
        "two": Stated("gone"),
        "tool": Stated(),
    }

    def find(name: str) -> Distribution:
        if name not in installed:
            raise PackageNotFoundError(name)
        return installed[name]

    found = required_by("top", find=find)
    assert set(found) == {"one", "two", "top", "gone"}
    assert found["gone"] is None
    assert "tool" in required_by("top", ["test"], find)


def test_every_accepted_licence_says_why() -> None:
    assert all(reason for reason in ACCEPTED.values())
