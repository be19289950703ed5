"""From the link that `serve` prints on an empty folder to the first part under its tag, in the browser."""

from witnessmark.bench.day_taps import first_tagged_part_steps


def test_the_first_tagged_part_takes_at_most_eight_steps() -> None:
    steps, told = first_tagged_part_steps(False)
    assert steps <= 8, told
