"""One photograph of a printed mat becomes measured, counted, grouped pieces."""
