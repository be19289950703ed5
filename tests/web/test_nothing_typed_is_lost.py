"""Every form of every screen, filled in and refused: each word, choice and tick stands in the answer as it was left.

A form without a number of its own is always refused (the act could not be told twice from otherwise), so that this
one fault walks through all the forms; what else is refused is refused by the same way.
"""

from dataclasses import dataclass, field
from html.parser import HTMLParser

import pytest

from tests.records.shop import Shop, make_part, make_place, make_shop
from tests.records.test_picture_sorting import old
from tests.records.test_pictures_in import WAV, come_in
from tests.records.test_tray import find as lay_find
from tests.records.test_twins import pair_of
from tests.support.pages import client, words
from tests.support.rows import make_finding, make_row, make_size, make_steps
from witnessmark.records.models import Act, Person, Piece

pytestmark = pytest.mark.django_db

TYPED = 'zq "7½" <b>&'
ADDRESSES = (
    "/", "/job/seam:C2%20left:fill/", "/zone/100/", "/piece/0118/", "/piece/0119/", "/seams/", "/outwork/", "/mat/",
    "/mat/boxes/", "/orders/", "/by-hand/seam:C2%20left:fill/?find=row", "/write-job/", "/order-or-send/",
    "/without-gaps/", "/pack/", "/pack/?vendor=PL&process=Cadmium+plate&asked=1&add=0118&add=0119", "/certificates/",
    "/outside/", "/hunt/", "/hunt/wrong-for-the-type/", "/trip/", "/survey/", "/fastener/families/", "/survey/C2/L/",
    "/seam/C2/L/", "/findings/", "/finding/F-52/?kind=pitting", "/see/piece/0119/", "/decide/0119/", "/patterns/",
    "/rivet/", "/piece/0119/route/", "/piece/0118/route/propose/?finish=paint", "/piece/0119/route/step/2/",
    "/piece/0119/shrink/", "/rack/", "/in/said/", "/in/said/?of=place", "/in/tags/", "/in/back/", "/in/back/?tag=0119",
    "/lists/in/", "/tray/", "/since/", "/pictures/unsorted/", "/pictures/twins/", "/who-has-what/", "/what-if/",
    "/people/",
)  # fmt: skip
KEPT_BY_HAND = {"hidden", "file", "submit", "button", "image", "reset"}


@dataclass
class Form:
    """One form as a browser reads it: what it carries, where words go, what can be chosen and pressed."""

    action: str = ""
    hidden: list[tuple[str, str]] = field(default_factory=list)
    places: list[tuple[str, str]] = field(default_factory=list)
    chosen: list[tuple[str, str, str, bool]] = field(default_factory=list)
    pressed: list[tuple[str, str]] = field(default_factory=list)


class Forms(HTMLParser):
    """Reads the forms that are posted, with a parser of its own run."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: list[Form] = []
        self._open: Form | None = None
        self._named: dict[str, Form] = {}
        self._select, self._area = "", ""
        self._words = ""
        self._bare: tuple[Form, bool] | None = None
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        if tag == "form" and said.get("method", "").lower() == "post":
            self._open = self._named.setdefault(said.get("id", f"of {len(self.found)}"), Form())
            self._open.action = said.get("action", "")
            self.found.append(self._open)
        form = self._named.setdefault(said["form"], Form()) if "form" in said else self._open
        if form is None:
            return
        name, kind, value = said.get("name", ""), said.get("type", "text"), said.get("value", "")
        if tag == "input" and kind == "hidden":
            form.hidden.append((name, value))
        elif tag == "input" and kind in ("radio", "checkbox"):
            form.chosen.append((kind, name, said.get("value", "on"), "checked" in said))
        elif tag == "input" and name and kind not in KEPT_BY_HAND:
            form.places.append((name, value))
        elif tag == "textarea":
            self._area, self._words = name, ""
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select and "value" in said:
            form.chosen.append(("option", self._select, said["value"], "selected" in said))
        elif tag == "option" and self._select:
            self._bare, self._words = (form, "selected" in said), ""
        elif tag == "button" and name and kind != "button":
            form.pressed.append((name, value))

    def handle_data(self, data: str) -> None:
        self._words += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None
        elif tag == "select":
            self._select = ""
        elif tag == "option" and self._bare is not None:  # its words are its value
            form, on = self._bare
            form.chosen.append(("option", self._select, self._words.strip(), on))
            self._bare = None
        elif tag == "textarea" and self._open is not None:
            self._open.places.append((self._area, self._words))


def the_shop() -> Shop:
    """A shop in which every screen has something to ask."""
    shop = make_shop()
    Person.objects.update(days="Mon-Sun")
    left, right = make_place(shop, "6-51-020", "L"), make_place(shop, "6-51-020", "R")
    make_part(shop, "0118", left.holder, "L", belongs=left)
    opposite = make_part(shop, "0119", shop.shelf, "R", belongs=right)
    Piece.objects.update(name="Wing root fitting", mass_g=815, material="forged steel")
    make_steps(opposite, ("Strip", "sheet metal"), ("Cadmium plate", "PL"), ("Prime", "sheet metal"))
    make_finding(shop, "F-52", piece=opposite)
    make_row(shop, "C2", make_size(shop), holes=6)
    come_in(shop.lead, ["1001"], sound=WAV)
    come_in(shop.lead, [])
    lay_find(shop, name="bracket")
    old(shop, 1, 1)
    old(shop, 2, None)
    pair_of(shop)
    return shop


def filled(form: Form, pressed: tuple[str, str] | None) -> dict[str, list[str]]:
    """The form as somebody filled it in: words in every place, a choice made everywhere, every box ticked."""
    sent: dict[str, list[str]] = {}
    for name, value in form.hidden:
        sent.setdefault(name, []).append(value)
    for name, _ in form.places:
        sent[name] = [TYPED]
    for kind, name, value, _ in form.chosen:
        if kind == "checkbox":
            sent[name] = [*sent.get(name, []), value]
        elif kind == "option" or name not in sent:  # the last of a list, the first of what is tapped
            sent[name] = [value]
    if pressed is not None:
        sent[pressed[0]] = [pressed[1]]
    return {**sent, "act_id": ["no number"]}


def lost(form: Form, sent: dict[str, list[str]], answer: str) -> list[str]:
    """What does not stand in the same form of the answer any more."""
    best: list[str] | None = None
    for now in Forms(answer).found:
        missing = [name for name, _ in form.places if (name, TYPED) not in now.places]
        missing += [
            f"{name}={value}"
            for kind, name, value, _ in form.chosen
            if (value in sent[name]) != any(on for k, n, v, on in now.chosen if (k, n, v) == (kind, name, value))
        ]
        if best is None or len(missing) < len(best):
            best = missing
    return ["the whole form"] if best is None else best


def test_every_form_of_every_screen() -> None:
    shop = the_shop()
    lead, faults, tried = client(shop.lead), [], 0
    for address in ADDRESSES:
        page = lead.get(address)
        assert page.status_code == 200, address
        for form in Forms(page.content.decode()).found:
            if not form.places and not form.chosen:
                continue
            for pressed in form.pressed or [None]:
                if pressed == ("do", "look"):  # only looks, and writes nothing
                    continue
                sent, acts = filled(form, pressed), Act.objects.count()
                answer = lead.post(form.action.partition("#")[0] or address, sent)
                tried += 1
                where = f"{address} {pressed} {[name for name, _ in form.places]}"
                if answer.status_code != 422 or Act.objects.count() != acts:
                    faults.append(f"{where}: answered {answer.status_code}")
                elif gone := lost(form, sent, answer.content.decode()):
                    faults.append(f"{where}: lost {gone}")
                elif "Nothing was" not in words(answer):
                    faults.append(f"{where}: does not say what was kept")
    assert not faults, "\n".join(faults)
    assert tried > 60


def test_who_may_only_look_finds_his_words_below_the_refusal() -> None:
    shop = the_shop()
    answer = client(shop.owner).post(
        "/in/said/", {"act_id": "no", "do": "piece", "key": "1001", "sat": "over the keelson"}
    )
    assert answer.status_code == 403 and "The form said: over the keelson." in words(answer)


def test_what_is_said_of_a_thing_that_is_gone_stands_below_the_refusal() -> None:
    shop = the_shop()
    sent = {"act_id": "no", "do": "piece", "key": "7777", "sat": "over the keelson", "name": "Bracket"}
    answer = client(shop.mechanic).post("/in/said/", sent)
    assert answer.status_code == 422 and "The form said: over the keelson; Bracket." in words(answer)


def test_what_was_told_before_with_other_words_stands_as_it_was_typed() -> None:
    shop = the_shop()
    mechanic, sent = (
        client(shop.mechanic),
        {"act_id": "0b7c1d1e-5a10-4c34-9a54-0d1f8a7f6c11", "what": "Floats", "why": "missing"},
    )
    assert mechanic.post("/hunt/", sent).status_code == 302
    answer = mechanic.post("/hunt/", {**sent, "what": "Wing floats"})
    assert answer.status_code == 409 and 'value="Wing floats"' in answer.content.decode()


def test_each_thing_that_is_wrong_on_the_screens_that_lost_it() -> None:
    """The same faults that mechanics make there, one a screen: the rest of the form is as it was left."""
    shop = the_shop()
    mechanic = client(shop.mechanic)
    act = "0b7c1d1e-5a10-4c34-9a54-0d1f8a7f6c12"
    for address, sent, why, kept in (
        ("/in/said/", {"do": "piece", "key": "1001", "place": "9-99", "sat": "under the floor", "count": "2"}, "There is no place 9-99", "under the floor"),
        ("/rack/", {"process": "bake", "hanging": "0118, 0119", "picked_out": "0119"}, "No picture came with it", "0118, 0119"),
        ("/rack/", {"process": "bake"}, "No picture came with it", "<option selected>bake</option>"),
        ("/tray/", {"name": "odd bracket", "length": "118 quills"}, "Nothing was changed", "odd bracket"),
        ("/in/tags/", {"count": "many", "medium": "sheet", "start": "40"}, "is no whole number", "many"),
        ("/piece/0119/", {"do": "lay_down", "to": ""}, "Nothing was changed", "lay_down"),
        ("/by-hand/seam:C2 left:fill/", {"do": "day", "day": "31 June"}, "Nothing was changed", "31 June"),
    ):  # fmt: skip
        answer = mechanic.post(address, {"act_id": act, **sent})
        assert answer.status_code == 422, address
        assert why in words(answer) and kept in answer.content.decode(), address
