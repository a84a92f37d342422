"""Which distributions an install of hoopline brings, and under which licences.

Run `python -m tests.bench.licences`. Everything that the installed distribution requires, directly or through others,
is listed with its version and its licence, from the installed metadata; the exit code is 1 where a licence is unknown
or not among those accepted here, or a required distribution is not installed. `--extra test` looks at what the tests
bring as well.

This is no audit for known vulnerabilities: that needs an up-to-date database of advisories, so a network. Where there
is one, run `pip install pip-audit && pip-audit` in the environment hoopline is installed in, before each release and
from time to time after it.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections import deque
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib.metadata import Distribution, PackageNotFoundError, distribution

from packaging.requirements import Requirement  # streamlit requires it
from packaging.utils import canonicalize_name

#: Licences accepted for any distribution: each lets a plant use, change and pass on the whole without opening its own.
ACCEPTED = {
    "0BSD": "no condition at all",
    "Apache-2.0": "keep notices; grants patents",
    "BSD-2-Clause": "keep the notice",
    "BSD-3-Clause": "keep the notice; no endorsement",
    "BSD": "a classifier that does not tell which BSD: the same conditions at most",
    "CC0-1.0": "given to the public",
    "MIT": "keep the notice",
    "MIT-0": "MIT without the notice",
    "MIT-CMU": "MIT with no endorsement",
    "PSF-2.0": "keep the notice; say what was changed",
    "Zlib": "do not claim to have written it",
}
#: Licences that ask for more, accepted for one distribution each.
ACCEPTED_FOR = {
    ("certifi", "MPL-2.0"): "copyleft by file: a list of certificates, passed on as it is, with no file of ours in it",
}

#: Other ways to write a licence, in the metadata of older distributions.
_SPELLINGS = {
    "3-clause bsd license": "BSD-3-Clause",
    "apache license 2.0": "Apache-2.0",
    "apache software license": "Apache-2.0",
    "bsd license": "BSD",
    "mit license": "MIT",
    "mozilla public license 2.0 (mpl 2.0)": "MPL-2.0",
}
_CLASSIFIER = "License :: OSI Approved :: "


@dataclass(frozen=True)
class Licensed:
    """One distribution with the licence its metadata states, and what is wrong with it, if anything."""

    name: str
    version: str
    licence: str | None
    fault: str | None


def main() -> None:
    """Print the list; exit with 1 where something is wrong."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.licences")
    parser.add_argument("--extra", action="append", default=[], help="an extra of hoopline to look at as well")
    found = audit("hoopline", parser.parse_args().extra)
    width = max(len(each.name) for each in found)
    for each in found:
        words = f"{each.name:{width}}  {each.version:12}  {each.licence or 'unknown'}"
        print(f"{words}  WRONG: {each.fault}" if each.fault else words)
    wrong = sum(each.fault is not None for each in found)
    print(f"{len(found)} distributions, {wrong} with a licence that is unknown or not accepted")
    sys.exit(1 if wrong else 0)


def audit(name: str, extras: Sequence[str] = ()) -> list[Licensed]:
    """Return everything an installed distribution requires, by name.

    Raises PackageNotFoundError where it is not installed itself.
    """
    return [_judged(key, dist) for key, dist in sorted(required_by(name, extras).items())]


def required_by(
    name: str, extras: Sequence[str] = (), find: Callable[[str], Distribution] = distribution
) -> dict[str, Distribution | None]:
    """Return the distributions required, directly or through others, by name; None for one that is not installed."""
    found: dict[str, Distribution | None] = {}
    seen: set[tuple[str, str]] = set()
    waiting = deque((requirement, tuple(extras)) for requirement in find(name).requires or [])
    while waiting:
        text, asked = waiting.popleft()
        requirement = Requirement(text)
        if requirement.marker and not any(requirement.marker.evaluate({"extra": each}) for each in ("", *asked)):
            continue
        key = canonicalize_name(requirement.name)
        try:
            found[key] = find(requirement.name)
        except PackageNotFoundError:
            found[key] = None
            continue
        # Asked again with another extra it may require more.
        for extra in {"", *requirement.extras} - {each for asked_of, each in seen if asked_of == key}:
            seen.add((key, extra))
            dist = found[key]
            waiting.extend((further, (extra,)) for further in (dist.requires if dist else None) or [])
    return found


def _judged(name: str, dist: Distribution | None) -> Licensed:
    if dist is None:
        return Licensed(name, "", None, "it is required and not installed: install hoopline anew")
    licence = licence_of(dist)
    return Licensed(name, dist.version, licence, fault_of(name, licence))


def licence_of(dist: Distribution) -> str | None:
    """Return the licence as an SPDX expression: as stated, else from the older field, else from the classifiers."""
    metadata = dist.metadata
    for stated in metadata.get_all("License-Expression") or []:
        return str(stated)
    words = "".join(metadata.get_all("License") or []).strip()
    known = _SPELLINGS.get(words.lower(), words)
    if known in ACCEPTED or known in {licence for _, licence in ACCEPTED_FOR}:
        return known
    classified = [
        line.removeprefix(_CLASSIFIER) for line in metadata.get_all("Classifier") or [] if line.startswith(_CLASSIFIER)
    ]
    if classified:
        return " AND ".join(_SPELLINGS.get(line.lower(), line) for line in classified)
    return words.splitlines()[0] if words else None


def fault_of(name: str, licence: str | None) -> str | None:
    """Return why a distribution's licence is not accepted, None if it is: of `OR` one will do, of `AND` all must."""
    if licence is None:
        return "its metadata name no licence: look into its files, then say here what was found"
    tokens = re.findall(r"[()]|(?:AND|OR)(?=[\s(])|[^\s()]+(?: (?!AND\b|OR\b)[^\s()]+)*", licence)
    accepted, rest = _any_of(tokens, lambda each: each in ACCEPTED or (name, each) in ACCEPTED_FOR)
    if accepted and not rest:
        return None
    return f"'{licence}' is not among the licences accepted in tests/bench/licences.py"


def _any_of(tokens: list[str], accept: Callable[[str], bool]) -> tuple[bool, list[str]]:
    accepted, tokens = _all_of(tokens, accept)
    while tokens[:1] == ["OR"]:
        other, tokens = _all_of(tokens[1:], accept)
        accepted = accepted or other
    return accepted, tokens


def _all_of(tokens: list[str], accept: Callable[[str], bool]) -> tuple[bool, list[str]]:
    accepted, tokens = _one(tokens, accept)
    while tokens[:1] == ["AND"]:
        other, tokens = _one(tokens[1:], accept)
        accepted = accepted and other
    return accepted, tokens


def _one(tokens: list[str], accept: Callable[[str], bool]) -> tuple[bool, list[str]]:
    if not tokens:
        return False, []
    if tokens[0] != "(":
        return accept(tokens[0]), tokens[1:]
    accepted, rest = _any_of(tokens[1:], accept)
    return accepted and rest[:1] == [")"], rest[1:]


def unused(found: Iterable[Licensed]) -> set[tuple[str, str]]:
    """Return the exceptions that no distribution needs any more."""
    return set(ACCEPTED_FOR) - {(each.name, each.licence or "") for each in found}


if __name__ == "__main__":
    main()
