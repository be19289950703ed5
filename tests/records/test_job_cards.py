"""The job card: a page a part, its code, every step, the rules it breaks with their documents; read back from the PDF."""

import io

import pytest
from pypdf import PdfReader

from tests.records.shop import make_part, make_shop
from tests.support.rows import make_steps
from witnessmark.papers import job_cards
from witnessmark.records.models import Piece

pytestmark = pytest.mark.django_db


def test_a_card_holds_its_steps_and_what_stops_its_route() -> None:
    """MIL-STD-1501F 5.2.6 (read): hard chrome on hard steel is baked."""
    shop = make_shop()
    part = make_part(shop, "T7", shop.shelf)
    Piece.objects.filter(pk=part.pk).update(material="steel", strength_mpa=1300)
    make_steps(part, ("crack test", "RT"), ("hard chrome", "PL"), ("put back", "sheet metal"))
    data = job_cards.gather(shop.aircraft, ["T7"])
    reader = PdfReader(io.BytesIO(job_cards.pdf(data)))
    text = " ".join(" ".join(page.extract_text() for page in reader.pages).split())
    assert len(reader.pages) == 1 and "T7" in text and "hard chrome" in text and "1,300 MPa" in text
    assert "MIL-STD-1501F 5.2.6" in text and "Stops the route" in text and "stainless disc" in text


def test_without_tags_only_routes_under_way_are_printed() -> None:
    shop = make_shop()
    make_steps(make_part(shop, "T8", shop.shelf), ("clean", "sheet metal"))
    data = job_cards.gather(shop.aircraft)
    assert data.cards == ()
    text = PdfReader(io.BytesIO(job_cards.pdf(data))).pages[0].extract_text()
    assert "under way" in " ".join(text.split())
