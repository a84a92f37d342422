"""The tests; `python -m pytest` from the repository root runs them all."""
