"""Tests; the folders say what each kind is for (see CONTRIBUTING.md)."""
