"""Workbooks for tests, put together part by part: what a spreadsheet may send, and what nobody should."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from xml.sax.saxutils import escape

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006/relationships"
WORKBOOK_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"
MACRO_TYPE = "application/vnd.ms-excel.sheet.macroEnabled.main+xml"


def letter(column: int) -> str:
    """A column's letter. column: from 0, below 26."""
    return chr(ord("A") + column)


def text(value: str) -> str:
    """The inside of a cell with this text in it."""
    return f' t="inlineStr"><is><t xml:space="preserve">{escape(value)}</t></is>'


def number(value: str, style: int = 0) -> str:
    """The inside of a cell with this figure in it. style: 1 is a date."""
    return f' s="{style}"><v>{value}</v>'


def formula(source: str, value: str = "", kind: str = "n") -> str:
    """The inside of a cell with a formula in it, worked out or not."""
    return f' t="{kind}"><f>{escape(source)}</f>' + (f"<v>{value}</v>" if value else "")


def rows_of(rows: Sequence[Sequence[str | None]]) -> str:
    """The rows of a sheet. A cell is the inside that the functions above give; None: no cell."""
    return "".join(
        f'<row r="{at}">'
        + "".join(
            f'<c r="{letter(column)}{at}"{cell}</c>' for column, cell in enumerate(row) if cell is not None
        )
        + "</row>"
        for at, row in enumerate(rows, 1)
    )


def workbook(
    rows: str | Sequence[Sequence[str | None]],
    *,
    workbook_type: str = WORKBOOK_TYPE,
    names: Sequence[str] = ("Survey",),
    instead: Mapping[str, bytes | None] | None = None,
    head: str = "",
) -> bytes:
    """An XLSX file whose last sheet has these rows; sheets before it are empty.

    instead: parts in place of these, or beside them; None leaves one out.  head: before each part's root.
    """
    sheet_data = rows if isinstance(rows, str) else rows_of(rows)
    sheets = "".join(
        f'<sheet name="{name}" sheetId="{at}" r:id="rId{at}"/>' for at, name in enumerate(names, 1)
    )
    parts: dict[str, bytes | None] = {
        "[Content_Types].xml": (
            '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
            '<Default Extension="xml" ContentType="application/xml"/>'
            '<Default Extension="rels" ContentType='
            '"application/vnd.openxmlformats-package.relationships+xml"/>'
            f'<Override PartName="/xl/workbook.xml" ContentType="{workbook_type}"/></Types>'
        ).encode(),
        "_rels/.rels": (
            f'<Relationships xmlns="{PACKAGE}"><Relationship Id="rId1" Type="{OFFICE}/officeDocument" '
            'Target="xl/workbook.xml"/></Relationships>'
        ).encode(),
        "xl/workbook.xml": (
            f'<workbook xmlns="{MAIN}" xmlns:r="{OFFICE}"><sheets>{sheets}</sheets></workbook>'
        ).encode(),
        "xl/_rels/workbook.xml.rels": (
            f'<Relationships xmlns="{PACKAGE}">'
            + "".join(
                f'<Relationship Id="rId{at}" Type="{OFFICE}/worksheet" Target="worksheets/sheet{at}.xml"/>'
                for at in range(1, len(names) + 1)
            )
            + f'<Relationship Id="rIdS" Type="{OFFICE}/styles" Target="styles.xml"/></Relationships>'
        ).encode(),
        "xl/styles.xml": (
            f'<styleSheet xmlns="{MAIN}"><fonts count="1"><font/></fonts><fills count="1"><fill/></fills>'
            '<borders count="1"><border/></borders><cellStyleXfs count="1"><xf/></cellStyleXfs>'
            '<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs>'
            '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>'
            "</styleSheet>"
        ).encode(),
    }
    for at in range(1, len(names)):
        parts[f"xl/worksheets/sheet{at}.xml"] = f'<worksheet xmlns="{MAIN}"><sheetData/></worksheet>'.encode()
    parts[f"xl/worksheets/sheet{len(names)}.xml"] = (
        f'{head}<worksheet xmlns="{MAIN}"><sheetData>{sheet_data}</sheetData></worksheet>'
    ).encode()
    parts |= instead or {}
    return zipped({name: part for name, part in parts.items() if part is not None})


def zipped(parts: Mapping[str, bytes]) -> bytes:
    """Parts, packed."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, part in parts.items():
            archive.writestr(name, part)
    return out.getvalue()
