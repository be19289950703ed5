"""Lookups: questions asked of the record. They read, and never write."""
