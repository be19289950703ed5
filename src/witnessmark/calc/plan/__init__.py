"""The plan: jobs derived from the record, one schedule of them, its check, and why each job waits."""
