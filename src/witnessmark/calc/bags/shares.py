"""What share of pieces a vendor loses, and what share of what he hands back was never ours: learned from his returns."""

from dataclasses import dataclass

from witnessmark.calc.bags.scores import FOREIGN, LOST
from witnessmark.calc.working import Answer, working

# What is usual counts as much as so many pieces of his own.
WORTH = 100


@dataclass(frozen=True)
class Share(Answer):
    """A share as it is taken, from what is usual and from what was seen."""

    share: float
    happened: int
    of: int


def learned_share(happened: int, of: int, usual: float) -> Share:
    """Learn a share from what happened.

    Parameters
    ----------
    happened : int
        Pieces of which it was so. [-]
    of : int
        Pieces that were looked at. [-]
    usual : float
        Share before anything is seen of him; counts as 100 pieces. [-]

    Returns
    -------
    Share
        Mean of the share after what was seen. [-]

    Raises
    ------
    ValueError
        Counts that cannot be, or a usual share outside 0 to 1.

    Notes
    -----
    Beta distribution beforehand, of mean `usual` and weight 100; binomial counts: the mean afterwards is
    (100 x usual + happened) / (100 + of). Pieces are taken to be lost one by one; a whole bag gone counts too heavily.

    Examples
    --------
    >>> learned_share(0, 0, 0.01).share, round(learned_share(3, 200, 0.01).share, 4)
    (0.01, 0.0133)

    References
    ----------
    beta-binomial returns-practice
    """
    if not 0 <= happened <= of or not 0 < usual < 1:
        raise ValueError(f"{happened} of {of} pieces, {usual} beforehand: that cannot be")
    share = (WORTH * usual + happened) / (WORTH + of)
    return Share(
        working=working(
            "share = (100 x usual + happened) / (100 + pieces)",
            [
                ("usual", usual, "share", "usual"),
                ("happened", happened, "pieces", "his returns"),
                ("of", of, "pieces", "his returns"),
            ],
            ("beta-binomial", "returns-practice"),
        ),
        share=share,
        happened=happened,
        of=of,
    )


@dataclass(frozen=True)
class Shares:
    """Both shares of one vendor, as they enter the matching of a return."""

    lost: Share
    foreign: Share

    @property
    def sentence(self) -> str:
        """Say what was seen of him, and what is taken from it."""
        if not self.lost.of:
            return f"Nothing of his came back before: {_percent(LOST)} lost and {_percent(FOREIGN)} not ours are taken as usual."
        return (
            f"Of {self.lost.of} pieces he had before, {_many(self.lost.happened)} lost, and "
            f"{_many(self.foreign.happened)} not ours: {_percent(self.lost.share)} lost and "
            f"{_percent(self.foreign.share)} not ours are taken, what is usual counted as {WORTH} pieces."
        )


def learned_shares(out: int, lost: int, foreign: int) -> Shares:
    """Learn both shares from a vendor's earlier returns.

    Parameters
    ----------
    out : int
        Pieces that left with his earlier shipments, now settled. [-]
    lost : int
        Of these, pieces that did not come back. [-]
    foreign : int
        Pieces that came with them and were never ours. [-]

    Returns
    -------
    Shares
        The share lost of what left, and the share foreign of what came.

    Raises
    ------
    ValueError
        Counts that cannot be.

    Notes
    -----
    One per cent each beforehand, worth 100 pieces: common practice, unverified.

    Examples
    --------
    >>> told = learned_shares(300, 0, 6)
    >>> round(told.lost.share, 4), round(told.foreign.share, 4)
    (0.0025, 0.0172)

    References
    ----------
    beta-binomial returns-practice
    """
    return Shares(learned_share(lost, out, LOST), learned_share(foreign, out - lost + foreign, FOREIGN))


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _many(count: int) -> str:
    return "none was" if count == 0 else "one was" if count == 1 else f"{count} were"
