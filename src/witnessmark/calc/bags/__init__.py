"""Bags and shipments of counted pieces."""
