"""Plug-ins that ship with nesting-optimiser: readers, writers, executors."""
