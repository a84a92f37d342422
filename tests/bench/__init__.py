"""Benchmarks, run on request: figures as ratios against a named baseline in the same run; nothing here is a test."""
