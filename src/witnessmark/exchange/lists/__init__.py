"""One reader for each list: it says what is new and gives back what writes it."""
