"""The second road: the whole calculation once more in plain Python, straight from the engineering basis.

Nothing here is taken from the pipeline: neither its clauses nor its steps, nor a database. Facts go in (from csv files
or from the facts of a build), rows keyed like those of the results come out; `tests/test_second_path.py` holds them
against each other.
"""

from __future__ import annotations

from tests.second_path.facts import Facts, facts_of_folder, facts_of_rows
from tests.second_path.fleet import Recomputed, recompute
from tests.second_path.policy import Policy

__all__ = ["Facts", "Policy", "Recomputed", "facts_of_folder", "facts_of_rows", "recompute"]
