"""What the tests stand on: settings, a PostgreSQL server of their own, the run over everything."""
