"""The demo restoration: lists and a renderer that draws its photographs. Wholly invented."""
