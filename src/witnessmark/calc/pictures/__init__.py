"""Old pictures: which show the same, and what their dates are worth."""
