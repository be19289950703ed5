"""Actions: spoken orders. Each writes one act and everything it changes in one transaction, once."""
