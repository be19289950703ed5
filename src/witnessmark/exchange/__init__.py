"""Files in and out of the record."""
