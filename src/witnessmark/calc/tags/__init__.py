"""Tags: what their codes say, how a blank one is drawn, and reading them out of a photograph."""
