"""Benchmarks for the analyst: one file a suite, each with a `SUITE`."""
