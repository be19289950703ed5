"""Filters for the templates."""
