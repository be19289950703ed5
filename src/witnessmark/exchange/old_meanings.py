"""Which heading means which column: as it was said before, by its words, or by what stands under it."""

import re
import unicodedata
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from witnessmark.exchange.cells import SIDES, Wrong, day
from witnessmark.exchange.old_table import Table
from witnessmark.exchange.templates import FORMS, Form
from witnessmark.records.models import HeadingMeans, Holder, HolderKind, Person, Piece, Vendor, Zone

LOOKED_AT = 200
MOST_OF_THEM = 0.9
# Words that shops write over such columns, by the column they mean; common practice, no source.
MEANS = {
    "tag": ("tag", "tag no", "label", "anhänger", "etikett", "nr anhänger", "étiquette"),
    "part_no": ("part no", "part number", "part", "p/n", "pn", "drg no", "drg", "dwg no", "drawing no", "drawing number", "drawing", "teilenummer", "teil nr", "zeichnungsnummer", "numéro", "réf"),
    "name": ("name", "description", "designation", "item", "bezeichnung", "benennung", "désignation", "what"),
    "qty": ("qty", "quantity", "pcs", "count", "no off", "anzahl", "stück", "menge", "quantité", "nombre"),
    "count": ("count", "qty", "quantity", "pcs", "no off", "anzahl", "stück", "menge", "quantité"),
    "zone": ("zone", "area", "section", "bereich", "baugruppe", "secteur"),
    "side": ("side", "l/r", "lh/rh", "seite", "côté"),
    "where": ("where", "location", "shelf", "stored", "box", "lagerort", "regal", "ort", "emplacement"),
    "material": ("material", "alloy", "werkstoff", "matière", "matériau"),
    "mass_g": ("mass", "weight", "gewicht", "masse", "poids"),
    "finish": ("finish", "coating", "oberfläche", "finition"),
    "as_found": ("condition", "state", "zustand", "état"),
    "note": ("note", "notes", "remark", "remarks", "comment", "bemerkung", "anmerkung", "remarque"),
    "vendor": ("vendor", "supplier", "shop", "with whom", "firma", "lieferant", "fournisseur"),
    "code": ("code", "short", "kürzel"),
    "what": ("what", "description", "contents", "item", "inhalt", "bezeichnung", "contenu"),
    "does": ("does", "work", "trade", "leistung"),
    "sent_on": ("sent", "sent on", "date out", "out", "since", "verschickt", "raus", "envoyé"),
    "promised_on": ("promised", "due", "expected", "zugesagt", "termin", "promis"),
    "back_on": ("back", "returned", "date in", "zurück", "retour"),
    "ordered_on": ("ordered", "order date", "bestellt", "commandé"),
    "came_on": ("came", "received", "arrived", "erhalten", "reçu"),
    "shipment": ("shipment", "delivery note", "lieferschein"),
    "order": ("order", "order no", "bestellung", "commande"),
    "process": ("process", "operation", "treatment", "behandlung", "traitement"),
    "diameter": ("diameter", "dia", "durchmesser", "diamètre"),
    "thickness": ("thickness", "gauge", "dicke", "épaisseur"),
    "station": ("station", "frame", "spant"),
    "seen_on": ("seen", "date", "datum"),
    "finding": ("finding", "defect no", "squawk", "befund"),
    "person": ("person", "who", "mechanic", "name"),
    "day": ("day", "date", "datum", "jour"),
}  # fmt: skip
_MATERIAL = re.compile(r"\b(steel|alumin\w*|al|dural\w*|brass|bronze|copper|spruce|ash|birch|ply\w*|stahl|messing|rubber|magnesium|\d{4}-?t\d|41[34]0|s\d{2}c?|l\d{1,3})\b", re.IGNORECASE)  # fmt: skip
_MASS = re.compile(r"[0-9]+(?:[.,][0-9]+)?\s*(?:g|kg|lb|lbs|oz)", re.IGNORECASE)
_TAG = re.compile(r"[A-Z]{0,3}-?[0-9]{3,5}", re.IGNORECASE)
_PART_NO = re.compile(r"(?=.*[0-9])[A-Z0-9]+(?:[-./ ][A-Z0-9]+)+|(?=.*[0-9])[A-Z]+[0-9]{2,}[A-Z0-9]*", re.IGNORECASE)
_SHELF = re.compile(r"(?:shelf|rack|box|drawer|bin|cupboard|locker|regal|kiste|schrank|bench)\b.*|[A-Z][0-9]{1,2}", re.IGNORECASE)  # fmt: skip


@dataclass(frozen=True)
class Proposed:
    """A heading, the column it is taken for (empty: left out), and why."""

    heading: str
    column: str
    because: str
    examples: tuple[str, ...]


def plain(words: str) -> str:
    """A heading as it is remembered: case, accents and signs folded, in any script."""
    bare = unicodedata.normalize("NFKD", words).casefold()
    kept = "".join(c for c in bare if not unicodedata.combining(c))
    return " ".join(re.sub(r"[^\w/]+|_", " ", kept).split())[:200]


def remembered(form: Form, headings: Sequence[str]) -> dict[str, str]:
    """What was said of these headings before, in lists of this kind: heading, and its column or nothing."""
    known = dict(
        HeadingMeans.objects.filter(form=form.name, heading__in={plain(h) for h in headings}).values_list(
            "heading", "column"
        )
    )
    columns = {column.name for column in form.columns}
    return {h: known[plain(h)] for h in headings if known.get(plain(h), "-") in columns | {""}}


def guessed(headings: Sequence[str], form: Form) -> dict[str, str]:
    """Guess by its words which heading means which column; each is used once, and what is not known is left out."""
    return _by_words(headings, form, {})


def _by_words(headings: Sequence[str], form: Form, means: Mapping[str, str]) -> dict[str, str]:
    found: dict[str, str] = {}

    def free(heading: str) -> bool:
        return heading not in means and heading not in found

    for whole in (True, False):
        for column in form.columns:
            if column.name in means.values() or column.name in found.values():
                continue
            for word in (column.name.replace("_", " "), *MEANS.get(column.name, ())):
                heading = next((h for h in headings if free(h) and _says(plain(h), plain(word), whole)), None)
                if heading is not None:
                    found[heading] = column.name
                    break
    return found


def _says(heading: str, word: str, whole: bool) -> bool:
    return heading == word if whole else len(word) > 3 and f" {word} " in f" {heading} "


def proposed(table: Table, form: Form) -> list[Proposed]:
    """Propose a meaning for each heading: as last time, else by its words, else by what stands under it."""
    before = remembered(form, table.headings)
    means: dict[str, str] = {}
    for heading, column in before.items():
        if column not in means.values():  # two headings that were called alike in another list
            means[heading] = column
        elif not column:
            means[heading] = ""
    why = dict.fromkeys(means, "as last time")
    by_words = _by_words(table.headings, form, means)
    means |= by_words
    why |= dict.fromkeys(by_words, "by its heading")
    samples = {h: _sample(table, at) for at, h in enumerate(table.headings)}
    for column, fits in _by_content(form).items():
        if column in means.values():
            continue
        for heading in table.headings:
            values = samples[heading]
            if heading not in means and values and fits(values):
                means[heading], why[heading] = column, "by what stands in it"
                break
    return [Proposed(h, means.get(h, ""), why.get(h, ""), tuple(dict.fromkeys(samples[h]))[:3]) for h in table.headings]


def _sample(table: Table, at: int) -> list[str]:
    found = []
    for row in table.rows:
        if row[at]:
            found.append(row[at])
            if len(found) == LOOKED_AT:
                break
    return found


def _by_content(form: Form) -> dict[str, Callable[[list[str]], bool]]:
    """What the values of a column look like, the surest first; what the record knows counts before what looks alike."""
    zones = {z.casefold() for pair in Zone.objects.values_list("number", "name") for z in pair if z}
    tags = set(Piece.objects.exclude(tag=None).values_list("tag", flat=True)[:20_000]) if _has(form, "tag", "tags") else set()  # fmt: skip
    shelves = {n.casefold() for n in Holder.objects.filter(kind__in=(HolderKind.SHELF, HolderKind.CONTAINER)).values_list("name", flat=True)}  # fmt: skip
    vendors = {v.casefold() for pair in Vendor.objects.values_list("code", "name") for v in pair}
    people = {name.casefold() for name in Person.objects.values_list("name", flat=True)}
    days = [c.name for c in form.columns if c.name.endswith("_on") or c.name == "day"]
    rules: dict[str, Callable[[list[str]], bool]] = {
        "side": lambda v: _most(v, lambda x: x.casefold() in SIDES) and len(set(v)) <= 4,
        "zone": lambda v: _most(v, lambda x: x.casefold() in zones),
        "vendor": lambda v: _most(v, lambda x: x.casefold() in vendors),
        "person": lambda v: _most(v, lambda x: x.casefold() in people),
        "tag": lambda v: _most(v, lambda x: x in tags) or (len(v) > 2 and len(set(v)) == len(v) and _most(v, lambda x: bool(_TAG.fullmatch(x)))),
        "mass_g": lambda v: _most(v, lambda x: bool(_MASS.fullmatch(x))),
        **({days[0]: lambda v: _most(v, _is_day)} if days else {}),
        "part_no": lambda v: len(set(v)) == len(v) and _most(v, lambda x: bool(_PART_NO.fullmatch(x)) and not _is_day(x)),
        "where": lambda v: _most(v, lambda x: x.casefold() in shelves or bool(_SHELF.fullmatch(x))),
        "material": lambda v: _most(v, lambda x: bool(_MATERIAL.search(x))),
        "qty": _are_counts,
        "count": _are_counts,
        "name": _are_names,
        "what": _are_names,
    }  # fmt: skip
    columns = {column.name for column in form.columns}
    return {name: rule for name, rule in rules.items() if name in columns}


def _has(form: Form, *names: str) -> bool:
    return any(column.name in names for column in form.columns)


def _most(values: Sequence[str], fits: Callable[[str], bool]) -> bool:
    return sum(map(fits, values)) >= MOST_OF_THEM * len(values)


def _is_day(text: str) -> bool:
    try:
        day(text, "day")
    except Wrong:
        return False
    return True


def _are_counts(values: list[str]) -> bool:
    return _most(values, lambda x: x.isascii() and x.isdigit() and len(x) < 4 and x != "0")


def _are_names(values: list[str]) -> bool:
    letters = _most(values, lambda x: sum(c.isalpha() for c in x) > 2 and sum(c.isalpha() or c.isspace() for c in x) > 0.6 * len(x))  # fmt: skip
    return letters and len(set(values)) > 0.5 * len(values)


def likeliest_form(table: Table) -> Form:
    """What the list seems to list: the kind of which most headings are known and fewest needed columns are missing."""
    before: dict[str, int] = {}
    for form in HeadingMeans.objects.filter(heading__in={plain(h) for h in table.headings}).exclude(column="").values_list("form", flat=True):  # fmt: skip
        before[form] = before.get(form, 0) + 1

    def worth(form: Form) -> float:
        means = set(guessed(table.headings, form).values())
        lacking = sum(column.needed and column.name not in means for column in form.columns)
        return 3 * before.get(form.name, 0) + len(means) - 0.6 * lacking

    liked = {"parts": 0.3, "bags": 0.2, "vendors": 0.1}  # of two alike, what most old lists are
    return max(FORMS, key=lambda form: worth(form) + liked.get(form.name, 0))
