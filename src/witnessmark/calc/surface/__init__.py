"""Processes, their cautions and their order."""
