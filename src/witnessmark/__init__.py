"""Witnessmark: where every piece of an aircraft under restoration is, and what happens to it next."""

__version__ = "0.1.0"
