"""What the shop knows: models, actions (writes), lookups (reads) and the guards in the database."""
