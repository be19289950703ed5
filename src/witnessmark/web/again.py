"""A refused form is drawn again as it was typed: nobody writes a counter's sheet twice with cold fingers."""

import html
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import accumulate

_OF_THE_PAGE = ("act_id", "csrfmiddlewaretoken")
_NOT_TYPED = ("hidden", "file", "submit", "button", "image", "reset")


@dataclass
class _Form:
    """One form of the page: where it stands, what it carries unseen, what can be pressed and typed in it."""

    at: int = -1
    folds: list[tuple[int, str]] = field(default_factory=list)
    hidden: list[tuple[str, str]] = field(default_factory=list)
    pressed: set[str] = field(default_factory=set)
    edits: list[tuple[int, int, str]] = field(default_factory=list)
    names: set[str] = field(default_factory=set)
    has_file: bool = False

    def is_of(self, typed: Mapping[str, list[str]]) -> bool:
        """True where this is the form that was sent."""
        same = all(value in typed.get(name, ()) for name, value in self.hidden)
        return same and ("do" not in typed or not self.pressed or bool(self.pressed.intersection(typed["do"])))


class _Page(HTMLParser):
    """Finds the forms of a page and how each would stand as it was typed; texts are cut by their place in the source."""

    def __init__(self, text: str, typed: Mapping[str, list[str]]) -> None:
        super().__init__(convert_charrefs=False)
        self.typed = typed
        self.forms: list[_Form] = []
        self._form: _Form | None = None
        self._named: dict[str, _Form] = {}  # a field may stand outside its form, before it too, and name it
        self._folds: list[tuple[int, str]] = []
        self._select, self._area, self._area_name = "", -1, ""
        self._area_of: _Form | None = None
        self._option: tuple[_Form, int, str] | None = None  # one without a value of its own: its words are the value
        self._words = ""
        self._lines = list(accumulate((len(line) + 1 for line in text.split("\n")), initial=0))
        self.main = -1
        self.feed(text)

    def _here(self) -> int:
        line, column = self.getpos()
        return self._lines[line - 1] + column

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        said = {name: value or "" for name, value in attrs}
        source, at = self.get_starttag_text() or "", self._here()
        if tag == "main":
            self.main = at + len(source)
        elif tag == "details":
            self._folds.append((at, "" if "open" in said else source))
        elif tag == "form" and said.get("method", "").lower() == "post":
            self._form = self._named.setdefault(said.get("id", ""), _Form()) if "id" in said else _Form()
            self._form.at, self._form.folds = at, list(self._folds)
            self.forms.append(self._form)
        elif "form" in said and tag in ("input", "select", "textarea", "button"):
            self._inside(self._named.setdefault(said["form"], _Form()), tag, said, source, at)
        elif self._form is not None:
            self._inside(self._form, tag, said, source, at)

    def _inside(self, form: _Form, tag: str, said: dict[str, str], source: str, at: int) -> None:
        name, value, kind = said.get("name", ""), said.get("value", ""), said.get("type", "text")
        end = at + len(source)
        if tag != "button" and name not in _OF_THE_PAGE:
            form.names.add(name)
        if tag == "button" and name == "do":
            form.pressed.add(value)
        elif tag == "select":
            self._select = name
        elif tag == "option" and self._select and "value" not in said:
            self._option, self._words = (form, at, source), ""
        elif tag == "option" and self._select:
            chosen = value in self.typed.get(self._select, ())
            form.edits.append((at, end, _marked(source, "selected", chosen)))
        elif tag == "textarea":
            self._area, self._area_name, self._area_of = end, name, form
        elif tag == "input" and kind == "hidden":
            if name not in _OF_THE_PAGE:
                form.hidden.append((name, value))
        elif tag == "input" and kind == "file":
            form.has_file = True
        elif tag == "input" and kind in ("checkbox", "radio"):
            form.edits.append((at, end, _marked(source, "checked", (value or "on") in self.typed.get(name, ()))))
        elif tag == "input" and name and kind not in _NOT_TYPED:
            form.edits.append((at, end, _valued(source, (self.typed.get(name) or [""])[-1])))

    def handle_data(self, data: str) -> None:
        self._words += data

    def handle_entityref(self, name: str) -> None:
        self._words += html.unescape(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self._words += html.unescape(f"&#{name};")

    def handle_endtag(self, tag: str) -> None:
        if tag == "option" and self._option is not None:
            form, at, source = self._option
            chosen = " ".join(self._words.split()) in self.typed.get(self._select, ())
            form.edits.append((at, at + len(source), _marked(source, "selected", chosen)))
            self._option = None
        elif tag == "form":
            self._form = None
        elif tag == "details" and self._folds:
            self._folds.pop()
        elif tag == "select":
            self._select = ""
        elif tag == "textarea" and self._area_of is not None:
            text = "\n".join(self.typed.get(self._area_name, ()))
            self._area_of.edits.append((self._area, self._here(), html.escape(text)))
            self._area_of = None


def _marked(source: str, word: str, on: bool) -> str:
    plain = re.sub(rf"\s{word}(?=[\s>/])", "", source)
    return f"{plain[:-1].rstrip('/').rstrip()} {word}>" if on else plain


def _valued(source: str, value: str) -> str:
    said = f' value="{html.escape(value)}"' if value else ""
    plain, was_there = re.subn(r'\svalue="[^"]*"', lambda _: said, source)
    return plain if was_there else f"{source[:-1].rstrip('/').rstrip()}{said}>"


def words_of(typed: Mapping[str, list[str]]) -> list[str]:
    """What a form said in words: not the bare numbers, which the page itself carries."""
    sent = (text.strip() for name, texts in typed.items() if name not in (*_OF_THE_PAGE, "do") for text in texts)
    return list(dict.fromkeys(text for text in sent if text and not text.isdigit()))


def as_typed(page: str, typed: Mapping[str, list[str]], why: str) -> str:
    """Return the page with the refusal at its head and the sent form as it was typed; a picture is chosen again.

    Where that form is not on the page any more, its words stand below the refusal, to be taken from there.
    """
    seen = _Page(page, typed)
    forms = [form for form in seen.forms if form.is_of(typed) and form.names.intersection(typed)]
    form = max(forms, key=lambda each: len(each.names.intersection(typed)), default=None)
    edits: list[tuple[int, int, str]] = []
    below = ""
    if form is not None:
        again = " Choose the picture or file again: it did not stay." if form.has_file else ""
        edits = [
            *form.edits,
            (form.at, form.at, f'<p class="fine" id="refused">What you typed stands here.{again}</p>'),
        ]
        edits += [(at, at + len(source), _marked(source, "open", True)) for at, source in form.folds if source]
        below = '<div class="words"><a class="word" href="#refused">To what you typed</a></div>'
    elif words := words_of(typed):
        below = f"<p>The form said: {html.escape('; '.join(words))}.</p>"
    head = f'<div class="row"><div role="alert"><p class="say">{html.escape(why)}</p>{below}</div></div>'
    if seen.main >= 0:
        edits.append((seen.main, seen.main, head))
    parts, last = [], 0
    for start, end, text in sorted(edits):
        parts += [page[last:start], text]
        last = end
    return "".join([*parts, page[last:]])
