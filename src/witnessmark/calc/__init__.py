"""Pure calculations: no database, no clock, no network."""
