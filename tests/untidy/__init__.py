"""Untidy and damaged workbooks: what the intake makes of them."""
