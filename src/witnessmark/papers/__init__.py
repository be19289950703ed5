"""The papers: tags, bag labels, bench list, rivet order and plater's sheets, as PDF.

`write_all` writes them into a folder; `make` gives one. Modules are imported when a paper is asked for, because they
read the record and typesetting costs memory.
"""

import re
from collections.abc import Sequence
from pathlib import Path

# Name of the paper (and its file, and its address on the screens) and the words for it.
PAPERS = {
    "tags": "Tags",
    "bag-labels": "Bag labels",
    "bench-list": "Bench list",
    "month-plan": "Month plan",
    "timeline": "Timeline, A3",
    "owners-dates": "The owner’s dates",
    "rivet-order": "Rivet order",
    "rivet-drawing": "Rivet drawing",
    "tooling": "Tooling list",
    "job-cards": "Job cards",
    "survey-sheet": "Survey sheet",
    "findings-report": "Findings report",
    "decision-sheet": "Decision sheets",
    "platers-sheet": "Plater’s sheet",
    "manifest": "Manifest with pictures",
    "instruction": "Instruction sheet",
    "stop-sheet": "Stop sheet",
    "return-sheet": "Return sheet",
    "discrepancy": "Discrepancy note",
}


class NoSuchPaper(ValueError):
    """A name that no paper has."""


def make(name: str, *, zone: str = "", tags: Sequence[str] = (), which: str = "", person: str = "") -> bytes:
    """Make one paper; `which` is the shipment or the vendor of a plater's sheet, written after its name or given."""
    from witnessmark.papers import bench_list, carried, labels, platers_sheet, returned, rivet_order, survey_sheet
    from witnessmark.papers import tags as hang_tags
    from witnessmark.records.lookups.day import the_aircraft

    aircraft = the_aircraft()
    if name == "tags":
        return hang_tags.pdf(hang_tags.gather(aircraft, zone, tags))
    if name == "bag-labels":
        return labels.pdf(labels.gather(aircraft, zone, tags))
    if name == "bench-list":
        return bench_list.pdf(bench_list.gather(aircraft, person))
    if name == "job-cards":
        from witnessmark.papers import job_cards

        return job_cards.pdf(job_cards.gather(aircraft, tags))
    if name in ("month-plan", "owners-dates"):
        from witnessmark.papers import month_plan, owners_dates

        if name == "month-plan":
            return month_plan.pdf(month_plan.gather(aircraft))
        return owners_dates.pdf(owners_dates.gather(aircraft))
    if name == "timeline":
        from witnessmark.papers import timeline

        return timeline.pdf(timeline.gather(aircraft))
    if name == "rivet-order":
        return rivet_order.pdf(rivet_order.gather(aircraft))
    if name == "rivet-drawing":
        from witnessmark.papers import rivet_drawing

        return rivet_drawing.pdf(rivet_drawing.gather(aircraft, which))
    if name == "tooling":
        from witnessmark.papers import tooling

        return tooling.pdf(tooling.gather(aircraft))
    if name == "findings-report":
        from witnessmark.papers import findings_report

        return findings_report.pdf(findings_report.gather(aircraft))
    if name == "decision-sheet":
        from witnessmark.papers import decision_sheet

        return decision_sheet.pdf(decision_sheet.gather(aircraft, tags))
    if name == "survey-sheet":
        return survey_sheet.pdf(survey_sheet.gather(aircraft))
    if name == "platers-sheet" and which:
        return platers_sheet.pdf(platers_sheet.gather(aircraft, which))
    if name == "manifest" and which:
        return carried.pdf(carried.manifest(aircraft, which))
    if name == "instruction" and which:
        return carried.pdf(carried.instruction(aircraft, which))
    if name == "stop-sheet" and which:
        return carried.pdf(carried.stop_sheet(aircraft, which))
    if name == "return-sheet" and which:
        return carried.pdf(returned.return_sheet(aircraft, which))
    if name == "discrepancy" and which:
        return carried.pdf(returned.discrepancy(aircraft, which))
    raise NoSuchPaper(f"There is no paper called '{name}'. There are: {', '.join(PAPERS)}.")


def write_all(out: Path, only: str = "") -> list[Path]:
    """Write every paper, or the one of this name, into a folder, each whole or not at all; give the files."""
    from witnessmark.papers import carried, platers_sheet, returned
    from witnessmark.papers.typesetting import write_atomically
    from witnessmark.records.lookups.day import the_aircraft

    if only and only not in PAPERS:
        raise NoSuchPaper(f"There is no paper called '{only}'. There are: {', '.join(PAPERS)}.")
    out.mkdir(parents=True, exist_ok=True)
    files: list[Path] = []

    def put(name: str, content: bytes) -> None:
        write_atomically(out / name, content)
        files.append(out / name)

    travels = {**carried.all_names(the_aircraft()), **returned.all_names()}
    for name in PAPERS:
        if only and name != only:
            continue
        if name in travels:
            seen: set[str] = set()
            for which in travels[name]:
                put(f"{name}-{_file_word(which, seen)}.pdf", make(name, which=which))
            continue
        if name != "platers-sheet":
            put(f"{name}.pdf", make(name))
            continue
        taken: set[str] = set()
        for paper in platers_sheet.gather_all(the_aircraft()):
            put(f"{name}-{_file_word(paper.name, taken)}.pdf", platers_sheet.pdf(paper))
    return files


def _file_word(name: str, taken: set[str]) -> str:
    """Make a shipment's number safe as a part of a file name, and not the same as another's."""
    word = base = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-")[:60] or "unnamed"
    number = 2
    while word.lower() in taken:
        word, number = f"{base}-{number}", number + 1
    taken.add(word.lower())
    return word
