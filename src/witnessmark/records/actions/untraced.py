"""Something arrives of which nothing shows where it comes from. Part of an act."""

from witnessmark.records.actions.custody import single
from witnessmark.records.actions.saying import Refused, move
from witnessmark.records.models import Act, Aircraft, Holder, HolderKind, Move, Piece, Tagging, Untraced
from witnessmark.records.words import search_words


def take_in_untraced(
    act: Act,
    aircraft: Aircraft | None,
    tag: str,
    name: str,
    to: Holder,
    kind: str,
    count: int,
    mass_g: float | None = None,
) -> Piece:
    """Let something arrive of which nothing shows where it comes from."""
    if tag and Piece.objects.filter(tag=tag).exists():
        raise Refused(f"Tag {tag} hangs on another piece. Nothing was changed. Take the next tag.")
    if len(tag) > 40 or not name:
        raise Refused("A piece has a name, and a tag of at most 40 letters. Nothing was changed.")
    piece = Piece.objects.create(
        tag=tag or None,
        aircraft=aircraft,
        kind=kind,
        name=name[:200],
        count_off=count,
        mass_g=mass_g,
        words=search_words(tag, name),
    )
    if tag:
        Tagging.objects.create(tag=tag, piece=piece, on_act=act)
    Untraced.objects.create(piece=piece, act=act)
    move(
        act,
        [Move(from_piece=piece, from_holder=single(HolderKind.ORIGIN), to_piece=piece, to_holder=to, count=count)],
    )
    return piece
