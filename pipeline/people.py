"""Who may do what. Roles come from `[people]` of the plant's `basis.toml`; a write asks here before it is made.

A manager plans and decides; an inspector enters for the assets assigned to them; an auditor reads and changes nothing.
Where the basis names nobody, the program is used by one person on their own machine, who may enter everything under
the name they give.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from pipeline.basis import ROLES, read_basis
from pipeline.errors import Problem

MANAGER, INSPECTOR, AUDITOR = ROLES

#: What an inspector may enter, and only for assigned assets; everything else people enter is a manager's.
INSPECTORS_OWN = frozenset(
    {
        "survey, long",
        "reading decision",
        "rate choices",
        "locations",
        "events",
        "inspections",
        "recommendations",
        "recommendations closed",
        "corroded areas",
        "pits",
    }
)
#: What is not about one asset and may be done by whoever may write at all.
_ABOUT_NO_ASSET = frozenset({"file accepted"})


@dataclass(frozen=True)
class Identity:
    """Who acts: the name the plant's basis knows, and until when the sign-in holds (None on one's own machine)."""

    name: str
    until: datetime | None = None


def role_of(folder: Path, name: str) -> str | None:
    """Return a person's role by the plant's basis, None where the basis names people and this is none of them."""
    people = read_basis(folder).people
    if not people:
        return MANAGER
    return {_same(known): role for known, role in people.items()}.get(_same(name))


def require(
    folder: Path, by: Identity, kind: str, asset: str | None, assigned: Callable[[str], str | None] = lambda tag: None
) -> None:
    """Raise Problem where this person may not enter this kind of row about this asset.

    `assigned` returns who an entry assigns an asset to; the register's own assignment is looked up in the results.
    """
    if not by.name.strip():
        raise Problem("the name of the person is needed: choose one before entering anything")
    if by.until is not None and by.until <= datetime.now(UTC):
        raise Problem(f"{by.name}: the sign-in has run out; sign in again, nothing was written")
    role = role_of(folder, by.name)
    if role is None:
        raise Problem(f"{by.name}: is not among the people of basis.toml; nothing was written")
    if role == AUDITOR:
        raise Problem(f"{by.name}: an auditor reads and changes nothing; nothing was written")
    if role == MANAGER or kind in _ABOUT_NO_ASSET:
        return
    if kind not in INSPECTORS_OWN:
        raise Problem(f"{by.name}: {kind} are a manager's to enter; nothing was written")
    responsible = (assigned(asset) if asset else None) or (_register_assignment(folder, asset) if asset else None)
    if responsible is None or _same(responsible) != _same(by.name):
        whose = f"it is assigned to {responsible}" if responsible else "it is assigned to nobody"
        raise Problem(
            f"{by.name}: may enter for assigned assets only, and not for {asset}: {whose}; nothing was written"
        )


def _register_assignment(folder: Path, asset: str) -> str | None:
    from pipeline.publishing import RESULTS_NAME, open_results  # the results rest on the record, which rests on this

    database = folder / RESULTS_NAME
    if not database.exists():
        return None
    with open_results(database) as connection:
        found = connection.execute("SELECT assigned_to FROM result.asset WHERE asset = ?", [asset]).fetchall()
    return found[0][0] if found else None


def _same(name: str) -> str:
    return " ".join(name.split()).casefold()
