"""Spreadsheets as an office program writes them: the smallest XLSX and ODS, with merged cells, several sheets, formulas."""

import zipfile
from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

_MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
_REL = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
_PACK = "http://schemas.openxmlformats.org/package/2006"
_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml"


def _xlsx_cell(value: object) -> str:
    if isinstance(value, int | float):
        return f"<c><v>{value}</v></c>"
    if str(value).startswith("=="):  # a formula with the value that was reckoned last
        formula, _, kept = str(value)[2:].partition("|")
        return f'<c t="str"><f>{escape(formula)}</f><v>{escape(kept)}</v></c>'
    return f'<c t="inlineStr"><is><t xml:space="preserve">{escape(str(value))}</t></is></c>'


def xlsx(
    path: Path, rows: Sequence[Sequence[object]], merged: Sequence[str] = (), sheets: Sequence[str] = ("Parts",)
) -> Path:
    """Write an XLSX; every sheet holds the same rows."""
    body = "".join(f"<row>{''.join(map(_xlsx_cell, row))}</row>" for row in rows)
    spans = (
        f'<mergeCells count="{len(merged)}">{"".join(f"""<mergeCell ref="{m}"/>""" for m in merged)}</mergeCells>'
        if merged
        else ""
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as out:
        over = "".join(
            f'<Override PartName="/xl/worksheets/sheet{n}.xml" ContentType="{_KIND}.worksheet+xml"/>'
            for n, _ in enumerate(sheets, 1)
        )
        out.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{_PACK}/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.'
            f'relationships+xml"/><Override PartName="/xl/workbook.xml" ContentType="{_KIND}.sheet.main+xml"/>{over}</Types>',
        )
        out.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{_PACK}/relationships"><Relationship Id="r1" Type="{_REL}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        )
        named = "".join(f'<sheet name="{escape(name)}" sheetId="{n}" r:id="r{n}"/>' for n, name in enumerate(sheets, 1))
        out.writestr("xl/workbook.xml", f'<workbook {_MAIN} xmlns:r="{_REL}"><sheets>{named}</sheets></workbook>')
        targets = "".join(
            f'<Relationship Id="r{n}" Type="{_REL}/worksheet" Target="worksheets/sheet{n}.xml"/>'
            for n, _ in enumerate(sheets, 1)
        )
        out.writestr(
            "xl/_rels/workbook.xml.rels", f'<Relationships xmlns="{_PACK}/relationships">{targets}</Relationships>'
        )
        for n, _ in enumerate(sheets, 1):
            out.writestr(
                f"xl/worksheets/sheet{n}.xml", f"<worksheet {_MAIN}><sheetData>{body}</sheetData>{spans}</worksheet>"
            )
    return path  # fmt: skip


def locked_xlsx() -> bytes:
    """The head of a compound file whose directory names an encrypted package: what an office program saves with a password.

    The signature and the streams' names: Microsoft Open Specifications, MS-CFB 2.2 and MS-OFFCRYPTO 2.3.4.4.
    """
    signature = bytes.fromhex("d0cf11e0a1b11ae1") + bytes(16) + bytes.fromhex("3e000300feff0900")
    return signature.ljust(512, b"\0") + "EncryptionInfoEncryptedPackage".encode("utf-16-le").ljust(4096, b"\0")
