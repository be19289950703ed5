"""Rivets, holes, lengths and the order."""
