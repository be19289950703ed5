"""A refused form is drawn again as it was typed; the forms beside it, and what the page itself carries, stay as they are."""

from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from witnessmark.web.again import as_typed

PAGE = """<html><body><main>
<form method="get"><input name="q" value="left alone"></form>
<details class="working"><summary>First</summary><form method="post"><input type="hidden" name="act_id" value="new">
<input type="hidden" name="line" value="1"><input name="why" value="before"><button name="do" value="say">Say</button></form></details>
<details class="working"><summary>Second</summary><form method="post"><input type="hidden" name="act_id" value="new2">
<input type="hidden" name="line" value="2"><input name="why" value="before"><input type="file" name="picture">
<label><input type="checkbox" name="item" value="a" checked></label><label><input type="checkbox" name="item" value="b"></label>
<label><input type="radio" name="bag" value="" checked></label><label><input type="radio" name="bag" value="L-1"></label>
<select name="who"><option value="">nobody</option><option value="7" selected>Seven</option><option value="8">Eight</option></select>
<textarea name="note">before</textarea><button name="do" value="say">Say</button></form></details>
</main></body></html>"""


class Fields(HTMLParser):
    """Reads fields with a parser of its own run: name and value of each, by form."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.forms: list[list[tuple[str, str, bool]]] = []
        self.texts: list[str] = []
        self.area = False
        self.folds: list[bool] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = dict(attrs)
        if tag == "form":
            self.forms.append([])
        elif tag in ("input", "option"):
            on = "checked" in said or "selected" in said
            self.forms[-1].append((said.get("name") or "", said.get("value") or "", on))
        elif tag == "textarea":
            self.area = True
            self.texts.append("")
        elif tag == "details":
            self.folds.append("open" in said)

    def handle_endtag(self, tag: str) -> None:
        self.area = self.area and tag != "textarea"

    def handle_data(self, data: str) -> None:
        if self.area:
            self.texts[-1] += data


def test_the_form_that_was_sent_stands_as_it_was_typed() -> None:
    typed = {"act_id": ["old"], "line": ["2"], "do": ["say"], "why": ['a "b" <c>'], "item": ["b"], "bag": ["L-1"], "who": ["8"],
             "note": ["two\nlines"]}  # fmt: skip
    page = as_typed(PAGE, typed, "No. <Nothing> was changed.")
    seen = Fields(page)
    assert seen.forms[0] == [("q", "left alone", False)]
    assert ("why", "before", False) in seen.forms[1]
    assert seen.forms[2] == [
        ("act_id", "new2", False), ("line", "2", False), ("why", 'a "b" <c>', False), ("picture", "", False),
        ("item", "a", False), ("item", "b", True), ("bag", "", False), ("bag", "L-1", True),
        ("", "", False), ("", "7", False), ("", "8", True),
    ]  # fmt: skip
    assert seen.texts == ["two\nlines"]
    assert seen.folds == [False, True]
    assert (
        page.index('role="alert"')
        < page.index("No. &lt;Nothing&gt; was changed.")
        < page.index("What you typed stands here.")
    )
    assert "Choose the picture or file again" in page


def test_a_form_that_is_no_longer_on_the_page_leaves_the_refusal_alone() -> None:
    page = as_typed(PAGE, {"line": ["9"], "do": ["say"], "why": ["x"]}, "Gone.")
    assert "Gone." in page and "What you typed" not in page
    assert Fields(page).forms == Fields(PAGE).forms


@given(st.text(max_size=40), st.text(max_size=40).filter(lambda t: "\r" not in t and "\x00" not in t))
def test_whatever_was_typed_comes_back_and_breaks_nothing(why: str, note: str) -> None:
    plain = why.replace("\r", "").replace("\x00", "")
    seen = Fields(as_typed(PAGE, {"line": ["2"], "do": ["say"], "why": [plain], "note": [note]}, plain))
    assert ("why", plain, False) in seen.forms[2] and seen.texts == [note] and len(seen.forms) == 3


def test_a_field_that_stands_outside_its_form_and_names_it_is_filled_too() -> None:
    page = """<main><label><input type="checkbox" name="piece" value="1" form="send" checked></label>
<label><input type="checkbox" name="piece" value="2" form="send"></label>
<form method="post" id="other"><input name="number" value="left alone"></form>
<form method="post" id="send"><input name="number" value="S-1"><input name="day"></form>
<textarea name="note" form="send"></textarea></main>"""
    typed = {"piece": ["2"], "number": ["S-9"], "day": ["soon"], "note": ["<b>"]}
    again = as_typed(page, typed, "No.")
    assert '<input type="checkbox" name="piece" value="1" form="send">' in again
    assert '<input type="checkbox" name="piece" value="2" form="send" checked>' in again
    assert 'value="left alone"' in again and 'value="S-9"' in again and 'value="soon"' in again
    assert '<textarea name="note" form="send">&lt;b&gt;</textarea>' in again


def test_of_two_forms_alike_the_one_that_asks_what_was_typed_is_filled() -> None:
    page = """<main><form method="post"><input type="hidden" name="do" value="day"><button name="day" value="monday">Monday</button></form>
<form method="post"><input type="hidden" name="do" value="day"><input name="day"></form></main>"""
    again = as_typed(page, {"do": ["day"], "day": ["31 June"]}, "No.")
    assert '<input name="day" value="31 June">' in again and "What you typed" in again


def test_words_whose_form_is_gone_stand_below_the_refusal() -> None:
    page = as_typed(PAGE, {"act_id": ["7f"], "line": ["9"], "do": ["say"], "why": ['bent <at> the "lug"'], "note": ["", " "]}, "Gone.")  # fmt: skip
    assert "The form said: bent &lt;at&gt; the &quot;lug&quot;." in page and "7f" not in page


def test_a_choice_without_a_value_of_its_own_is_known_by_its_words() -> None:
    page = """<main><form method="post"><select name="what"><option>blast</option><option selected>prime</option>
<option>nuts &amp; bolts</option></select></form></main>"""
    assert "<option selected>blast</option><option>prime</option>" in as_typed(page, {"what": ["blast"]}, "No.")
    assert "<option selected>nuts &amp; bolts</option>" in as_typed(page, {"what": ["nuts & bolts"]}, "No.")
