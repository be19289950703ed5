"""Words as search reads them."""

import unicodedata


def search_words(*texts: str | None) -> str:
    """Fold case and accents, so that 'flugel' finds 'Flügel' on every database."""
    joined = " ".join(text for text in texts if text)
    bare = "".join(c for c in unicodedata.normalize("NFKD", joined) if not unicodedata.combining(c))
    return " ".join(bare.casefold().split())
